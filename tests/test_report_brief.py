"""The electrician's brief read back: every box once, where it is, where it may go, and what nobody knows."""

import re
from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np
import pytest
from PIL import Image

from capture.lengths import Unit
from capture.record import TRAITS, BoxKind, Conditions, Kind, Photo, Side, Wall, Wiring
from capture.survey import WallSurvey
from layout.floorline import REACH
from layout.scheme import Pin
from report.boxes import electrician_rows, spacing_rows, staying_rows, window_wanted
from report.brief import electricians_brief
from report.crops import crop_of
from report.drawing import Dimension
from report.moves_sheet import moves_sheet
from report.papers import PhotoPage, ReportFacts, WallPages
from tests.papers import HOSTILE, page_words, quietly, read, tagged, words
from tests.test_report_papers import FACTS, wall_pages
from tests.test_report_wall import (
    SCHEME,
    line,
    made_up_camera,
    made_up_picture,
    made_up_plan,
    made_up_survey,
    thing,
)

F = Fraction


def survey_with(*more, drop=()) -> WallSurvey:
    base = made_up_survey()
    kept = tuple(feature for feature in base.features if feature.name not in drop)
    return replace(base, features=(*kept, *more))


@pytest.fixture(scope="module")
def crowded():
    """Boxes of every wired kind, some in the way."""
    return made_up_plan(survey_with(
        thing("jack 1", Kind.JACK, 26.0, 16.0), thing("thermostat 1", Kind.THERMOSTAT, 60.0, 58.0),
        thing("receptacle 3", Kind.RECEPTACLE, 95.2, 16.4), thing("receptacle 4", Kind.RECEPTACLE, 118.4, 31.5),
    ))  # fmt: skip


@pytest.fixture(scope="module")
def brief():
    return read(quietly(electricians_brief, FACTS, [wall_pages()]))


def test_every_wired_box_is_told_once_and_nothing_else(crowded):
    moving = [row.what for row in electrician_rows(crowded)]
    staying = [row.what for row in staying_rows(crowded, Unit.INCH, SCHEME)]
    wired = [f.name for f in crowded.survey.features if TRAITS[f.kind].wired]
    assert len(moving) > 1
    assert sorted(what.split(" (")[0] for what in moving + staying) == sorted(wired)


def test_every_wired_box_has_one_card_or_one_line_on_its_walls_pages(crowded):
    reader = read(quietly(electricians_brief, FACTS, [WallPages(Wall(name="North wall"), crowded)]))
    told = " ".join(page_words(page) for page in reader.pages[1:-1])
    rows = [*electrician_rows(crowded), *staying_rows(crowded, Unit.INCH, SCHEME)]
    counts = {row.what: len(re.findall(rf"(?<!\d){row.number} {re.escape(row.what)}", told)) for row in rows}
    assert counts == dict.fromkeys(counts, 1)


def test_a_card_tells_present_centre_window_and_wanted_place_at_the_height_of_the_others(brief):
    told = words(brief)
    # 71.9 and 16.3 in to the nearest 1/16: 71 7/8 and 16 5/16; ± 1.96 · 0.05 = 0.098, up to 1/8.
    assert "Now 71 7⁄8″ ± 1⁄8″ from the left end" in told
    assert "Height 16 5⁄16″ ± 1⁄8″ above the floor, to the centre" in told
    assert re.search(r"Wanted 67 3⁄16″ from the left end, same height: 4 11⁄16″ to the left", told)
    assert "May stand 53 5⁄8″ to 67 1⁄4″" in told
    assert "Why Receptacle 2 sits whole on stile 4" in told


def test_the_place_wanted_lies_in_its_window_clear_of_moulding_and_box(crowded):
    """By hand: half a plate, the clear field, the reveal and the moulding away from every stile."""
    clear = 2.75 / 2 + float(SCHEME.plate_clear + SCHEME.moulding + SCHEME.reveal)
    names = [row.what.split(" (")[0] for row in electrician_rows(crowded)]
    moving = [name for name in names if crowded.wanted.get(name) is not None]
    assert "receptacle 2" in moving
    for name in moving:
        wanted, window = crowded.wanted[name], window_wanted(crowded, name)
        assert window.left <= wanted <= window.right
        (frame,) = crowded.frames
        panels = [(float(p.opening.left), float(p.opening.right)) for p in frame.panels]
        assert any(left + clear <= wanted <= right - clear for left, right in panels)


def test_what_nobody_knows_is_printed_as_unknown(brief):
    told = words(brief)
    for fact in ("Stud", "Cable slack", "Wiring", "Set back now"):
        assert f"{fact} not known" in told
    assert "1 gang, box kind not known" in told
    assert "Decision not decided" in told


def test_what_is_known_is_printed_and_the_depth_of_the_box_counts():
    known = thing(
        "receptacle 2", Kind.RECEPTACLE, 71.9, 16.3, stud_side=Side.RIGHT, cable_slack=F(6), box=BoxKind.OLD_WORK,
        wiring=Wiring.CONDUIT, set_back=F(1, 4),
    )  # fmt: skip
    plan = made_up_plan(survey_with(known, drop=("receptacle 2",)))
    (row,) = electrician_rows(plan, Unit.INCH, SCHEME)
    assert (row.stud, row.cable_slack, row.wiring, row.set_back) == ("on its right", '6"', "conduit", '1/4"')
    assert row.box == "old-work"
    # Set back 1/4 in already and 3/4 in of wood in front: 1 in to the new face, NEC 2023 314.20.
    assert 'bring the box forward 1"' in row.surface


def test_there_is_room_for_the_electricians_answers(brief):
    told = words(brief)
    for blank in ("Agreed (electrician)", "can go to", "cannot, because", "circuit, size of cable", "volume, depth"):
        assert blank in told
    assert "Electrician, licence" in told


def test_spacing_is_told_before_and_after(brief):
    # By hand: 144 in to the corner; the last receptacle at 71.9 now, 67 3/16 wanted (72 1/8, 76 13/16), 6 ft allowed.
    told = words(brief)
    assert "72 1⁄8″ at 144″ of North wall: MORE than 72″, by 1⁄8″" in told
    assert "76 13⁄16″ at 144″ of North wall: MORE than 72″, by 4 13⁄16″" in told
    (row,) = spacing_rows([made_up_plan()], Unit.INCH)
    assert float(REACH) == 72
    assert (row.space, row.length) == ("North wall", '144"')


def test_a_wall_space_within_reach_says_so():
    near = thing("receptacle 9", Kind.RECEPTACLE, 130.0, 16.0)
    (row,) = spacing_rows([made_up_plan(survey_with(near))], Unit.INCH)
    # 12.4, 71.9 and 130: half the wider gap is 29.75; before the first 12.4; after the last 14.
    assert row.before.startswith('29 3/4" at 42 1/8"')
    assert "within reach" in row.before


def test_the_cautions_that_touch_wiring_are_there_and_those_of_the_saw_are_not(brief):
    told = words(brief)
    for caution in ("Not a wiring plan", "proved dead", "Aluminium wiring", "Lead paint", "licensed electrician",
                    "authority having jurisdiction", "locally adopted"):  # fmt: skip
        assert caution in told
    assert "Narrow rips" not in told
    for page in brief.pages:
        assert "Not a wiring plan." in page_words(page)


def test_a_job_with_nothing_in_the_way_says_that_no_box_has_to_move():
    plan = made_up_plan(survey_with(drop=("receptacle 2", "register 1")))
    told = words(read(quietly(electricians_brief, FACTS, [WallPages(Wall(name="North wall"), plan)])))
    assert "No box has to move for the planned wainscot." in told
    assert "Stay where they are" in told
    assert "In the way" not in told


NO_BOX = made_up_plan(survey_with(drop=("receptacle 1", "receptacle 2", "switch 1")))


@pytest.mark.parametrize("walls", [[], [WallPages(Wall(name="North wall"), NO_BOX)]], ids=["no wall", "no box"])
def test_a_job_without_boxes_makes_a_brief(walls):
    told = words(read(quietly(electricians_brief, ReportFacts(""), walls)))
    assert "No box, switch, thermostat or jack has been marked yet." in told
    assert "The year built is not known." in told


def test_a_box_that_no_photo_shows_has_a_card_without_a_picture():
    bare = replace(wall_pages(), photos=())
    reader = read(quietly(electricians_brief, FACTS, [bare]))
    assert "No photo shows it." in words(reader)


def test_the_crop_shows_the_box_in_its_middle():
    """The plate painted into the photo by OpenCV's own projection is what the crop shows."""
    feature, camera = made_up_survey().feature("receptacle 2"), made_up_camera()
    left, bottom, right, top = (m.value for m in (feature.left, feature.bottom, feature.right, feature.top))
    f, cx, cy, k1, k2 = camera.lens
    K = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    corners = np.array([(left, bottom, 0), (right, bottom, 0), (right, top, 0), (left, top, 0)], float)
    seen, _ = cv2.projectPoints(corners, camera.pose[:3], camera.pose[3:], K, np.array([k1, k2, 0.0, 0.0]))
    pixels = np.full((900, 1200, 3), 150, np.uint8)
    cv2.fillPoly(pixels, [np.round(seen[:, 0]).astype(np.int32)], (255, 0, 0))
    page = PhotoPage(Photo(name="p", file="p.jpg"), Image.fromarray(pixels), camera)
    crop = crop_of(feature, [page], None, 3)
    red = np.asarray(crop.picture).astype(int)
    rows, columns = np.nonzero((red[..., 0] > 200) & (red[..., 1] < 90))
    assert len(rows) > 20
    height, width = red.shape[:2]
    # Cut at whole pixels, and the lines of the outline hide some of it: within 2 px of the middle.
    assert (columns.mean(), rows.mean()) == pytest.approx((width / 2, height / 2), abs=2)


def test_the_pictures_alt_text_names_box_photo_and_place(brief):
    alts = [str(figure["/Alt"]) for figure in tagged(brief, "/Figure")]
    assert any("receptacle 2 as photo north 1 shows it" in alt and '67 3/16"' in alt for alt in alts)


def test_of_a_box_whose_height_is_not_known_the_height_is_taped_first():
    low = replace(thing("receptacle 5", Kind.RECEPTACLE, 71.9, 16.3), bottom=None, top=None)
    plan = made_up_plan(survey_with(low, drop=("receptacle 2", "register 1")))
    (row,) = electrician_rows(plan, Unit.INCH, SCHEME)
    assert (row.height, row.may_stand) == ("not known", "tape its height first")
    told = words(read(quietly(electricians_brief, FACTS, [WallPages(Wall(name="North wall"), plan)])))
    assert told.count("tape its height first") == 2  # in the list and on its card
    assert "no place at this height" not in told


def test_a_decision_is_told():
    scheme = decided_scheme(Pin.EXTEND)
    (row,) = electrician_rows(made_up_plan(scheme=scheme), Unit.INCH, scheme)
    assert row.decided == "decided: it stays and is brought forward"


def test_two_boxes_that_could_come_to_stand_too_close_name_each_other():
    near = thing("receptacle 2", Kind.RECEPTACLE, 71.9, 16.3), thing("jack 1", Kind.JACK, 71.0, 16.3)
    plan = made_up_plan(replace(made_up_survey(), features=near))
    rows = electrician_rows(plan, Unit.INCH, SCHEME)
    assert len(rows) == 2
    # Two plates of 2 3/4 in and 1/2 in between.
    for row, other in zip(rows, reversed(rows), strict=True):
        assert f'its centre and that of {other.number}, where they go, at least 3 1/4" apart' in row.note
    alone = electrician_rows(made_up_plan(replace(made_up_survey(), features=near[:1])), Unit.INCH, SCHEME)
    assert all("apart" not in row.note for row in alone)


@pytest.mark.parametrize("pin", [Pin.EXTEND, Pin.LEAVE, Pin.BLOCK_OUT])
def test_a_box_that_is_decided_to_stay_is_wanted_nowhere_else(pin):
    """On no line, in no drawing, and not along the floor either."""
    open_ = made_up_plan()
    decided = made_up_plan(scheme=decided_scheme(pin))
    assert open_.wanted.get("receptacle 2") is not None
    assert decided.wanted.get("receptacle 2") is window_wanted(decided, "receptacle 2") is None
    (row,) = (
        row for row in electrician_rows(decided, scheme=decided_scheme(pin)) if row.what.startswith("receptacle 2")
    )
    assert (row.may_stand, row.wanted, row.note) == ("stays, as decided", "not known", "")
    assert row.decided.startswith("decided: it stays")
    assert "stays as it is" not in row.decided  # its card asks that it be brought forward
    told = words(read(quietly(electricians_brief, FACTS, [replace(wall_pages(), plan=decided)])))
    assert "stays, as decided" in told
    assert "stays, as decided comes forward" in told
    assert all(before.before == before.after for before in spacing_rows([decided], Unit.INCH))
    drawn = [item.label.text for item in moves_sheet(decided).items if isinstance(item, Dimension)]
    assert drawn
    assert not any("NEW" in text for text in drawn)


def decided_scheme(pin):
    return SCHEME.model_copy(update={"pins": {"receptacle 2": pin}})


@pytest.mark.parametrize(("slack", "said"), [(F(1), True), (F(24), False), (None, False)])
def test_a_place_that_the_cable_does_not_reach_is_not_simply_wanted(slack, said):
    box = thing("receptacle 2", Kind.RECEPTACLE, 71.9, 16.3, cable_slack=slack)
    plan = made_up_plan(survey_with(box, drop=("receptacle 2",)))
    told = words(read(quietly(electricians_brief, FACTS, [replace(wall_pages(), plan=plan)])))
    assert ("if at all: see its card" in told) is said
    assert ("same height, if at all : 4" in told or "same height, if at all: 4" in told) is said


def test_a_stud_where_a_box_else_may_stand_is_named():
    """One and seven eighths inches from a stud's middle to that of a box beside it: common practice, no source."""

    def minds(across):
        plan = made_up_plan(survey_with(line("stud 2", Kind.STUD, across)))
        return next(row.note for row in electrician_rows(plan, scheme=SCHEME) if row.what.startswith("receptacle 2"))

    assert 'not within 1 7/8" of stud 2, at 60"' in minds(60.0)  # the box may stand from 53 5/8 to 67 1/4
    assert "stud 2" not in minds(50.0)
    assert 'stud 2 at 69" is in the way of the move' in minds(69.0)
    assert "not within" not in minds(69.0)


def test_hostile_names_are_only_words():
    survey = WallSurvey(
        HOSTILE[:80], made_up_survey().left, made_up_survey().right, made_up_survey().width,
        (thing("<b>&" + "x" * 70, Kind.RECEPTACLE, 71.9, 16.3, note=HOSTILE),),
    )  # fmt: skip
    page = PhotoPage(Photo(name=HOSTILE[:80], file="f.jpg"), made_up_picture(), made_up_camera())
    facts = ReportFacts(HOSTILE + "L" * 500, "A" * 500, HOSTILE, HOSTILE, scheme=SCHEME)
    reader = read(quietly(electricians_brief, facts, [WallPages(Wall(name="w"), made_up_plan(survey), (page,))]))
    assert '<script>alert("x")</script>' in words(reader)
    assert "<b>&xx" in words(reader).replace(" ", "")
    assert len(reader.pages) < 10


@pytest.mark.slow
def test_three_hundred_boxes_on_one_wall_make_a_sound_brief():
    many = tuple(thing(f"receptacle {k}", Kind.RECEPTACLE, 3 + 0.46 * k, 16.0) for k in range(300))
    plan = made_up_plan(replace(made_up_survey(), features=many))
    reader = read(quietly(electricians_brief, FACTS, [WallPages(Wall(name="North wall"), plan)]))
    told = words(reader)
    assert all(f"receptacle {k}" in told for k in range(300))
    assert len(reader.pages) < 140


def test_the_wiring_noted_of_the_house_reaches_the_boxes_of_which_nothing_was_marked():
    survey = replace(made_up_survey(), conditions=Conditions(wiring=Wiring.ALUMINIUM))
    rows = electrician_rows(made_up_plan(survey), Unit.INCH, SCHEME)
    assert {row.wiring for row in rows} == {"aluminium, by the conditions noted"}
    marked = replace(survey, features=(thing("receptacle 2", Kind.RECEPTACLE, 71.9, 16.3, wiring=Wiring.CONDUIT),))
    assert [row.wiring for row in electrician_rows(made_up_plan(marked), Unit.INCH, SCHEME)] == ["conduit"]


def test_a_box_that_stands_lower_than_the_others_is_wanted_at_their_height():
    others = [thing(f"receptacle {n}", Kind.RECEPTACLE, x, 16.3) for n, x in ((3, 20.0), (4, 45.0), (5, 130.0))]
    low = thing("receptacle 2", Kind.RECEPTACLE, 71.9, 13.0)
    survey = replace(made_up_survey(), features=(low, *others))
    told = words(read(quietly(electricians_brief, FACTS, [WallPages(Wall(name="North wall"), made_up_plan(survey))])))
    assert re.search(r"Wanted 67 3⁄16″ from the left end, 16 5⁄16″ high, as the others: 4", told)
