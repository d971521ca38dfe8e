"""The customer sheet read back, its words, and its colours on paper."""

import re
from dataclasses import replace
from datetime import date
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from capture.errors import PlainError
from capture.record import Conditions, EndKind, Kind, Suspect, Wall, Wiring
from capture.survey import WallSurvey
from layout.paint import WORDS, srgb_of
from layout.plan import Plan, plan_walls
from layout.scheme import Pin, Scheme
from report.changes import SEEN, changes, differs, in_short, moves_of, shifts_of, undecided
from report.customer import PIXEL, SHEET_WIDTH, BeforeAfter, SchemeShown, customer_sheet, picture_width
from report.papers import MOST_BYTES, ReportFacts, WallPages
from tests.papers import HOSTILE, contrast, tagged
from tests.test_report_wall import SCHEME, made_up_picture, made_up_survey, measured, thing
from wainscribe.actions import new_job, set_alternative, set_scheme, set_wall
from wainscribe.folder import JobFolder

FACTS = ReportFacts("Miller dining room", "1 Sample Road", "A. Miller", "Trim & Co.", date(2026, 11, 25))


def planned(scheme: Scheme = SCHEME, survey: WallSurvey | None = None) -> Plan:
    return plan_walls([survey or made_up_survey()], scheme)


def shown(plan: Plan, name: str = "As planned", picture: bool = True) -> SchemeShown:
    photo = made_up_picture((400, 300))
    return SchemeShown(name, plan, (BeforeAfter("North wall", photo, photo),) if picture else ())


def read(*schemes: SchemeShown, facts: ReportFacts = FACTS) -> PdfReader:
    return PdfReader(BytesIO(customer_sheet(facts, schemes)))


def words(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


@pytest.fixture(scope="module")
def sheet() -> PdfReader:
    navy = planned(SCHEME.model_copy(update={"paint": "navy", "panel_width": Fraction(30)}))
    return read(shown(planned()), shown(navy, "Wider, navy"))


def test_it_is_tagged_titled_and_says_whose_it_is_on_each_page(sheet):
    assert sheet.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert sheet.trailer["/Root"]["/Lang"] == "en"
    assert "Miller dining room" in sheet.metadata.title
    for page in sheet.pages:
        assert "Miller dining room" in " ".join(page.extract_text().split())


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595.28, 841.89))])  # ISO 216: 210 × 297
def test_pages_have_the_size_of_the_paper(paper, size):
    reader = read(shown(planned()), facts=replace(FACTS, paper=paper))
    for page in reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)


def test_a_drawn_wall_has_none_of_the_crews_signs():
    told = words(read(shown(planned(), picture=False)))
    assert "the drawing shows it" in told
    for sign in ("printed at full size", "inside corner", "cap", "rail", "±"):
        assert not re.search(rf"(?<!\w){sign}(?!\w)", told.split("What will change")[0]), sign


def test_it_says_what_moves_who_does_it_and_what_is_not_decided(sheet):
    text = words(sheet)
    for part in ("What will change for you", "licensed electrician", "What is not decided yet", "Today.", "As planned"):
        assert part in text
    for jargon in ("receptacle", "stile", "reveal", "judgement", "verdict", "NEC"):
        assert not re.search(rf"\b{jargon}\b", text), jargon


def test_schemes_stand_side_by_side_with_a_sentence_each(sheet):
    page = next(page for page in sheet.pages if "Ways to do it" in page.extract_text())
    text = " ".join(page.extract_text().split())
    assert "1. As planned" in text
    assert "2. Wider, navy" in text
    assert text.count("panels on the North wall") == 2


def test_ways_without_photos_stand_side_by_side_in_lines_and_say_what_differs():
    """The same wall each time; once more, larger, on its own page."""
    other = planned(SCHEME.model_copy(update={"paint": "navy", "top": Fraction(42), "moulding": Fraction(0)}))
    reader = read(shown(planned(), picture=False), shown(other, "Tall", picture=False))
    drawn = [str(figure.get("/Alt")) for figure in tagged(reader, "/Figure")]
    assert sum(alt.startswith("Planned elevation") and "North wall" in alt for alt in drawn) == 3
    text = next(t for page in reader.pages if "Ways to do it" in (t := " ".join(page.extract_text().split())))
    assert "Colour: navy, not white." in text
    assert "Moulding in the panels: none, not 7⁄8″." in text
    assert text.count("Top above the floor") == 1


def test_of_ways_that_cannot_all_be_drawn_on_one_wall_the_words_are_left():
    narrow = replace(made_up_survey(), width=measured(6.0), features=())
    text = words(read(shown(planned(), picture=False), shown(planned(survey=narrow), "No room", picture=False)))
    assert "2. No room" in text
    assert "Panels, how wide: none, not" in text


def test_everything_that_one_sees_of_a_scheme_is_told_where_it_differs():
    """The rest is how panels are divided and how it is built, which shows in their number and width, or not at all."""
    unseen = {
        "panel_width", "proportion", "panels", "equal", "mirrored", "nudge", "matched", "match_within", "width_within",
        "stile_at", "no_stile", "preferences", "pins", "goes_first", "stock_length", "plate_clear", "register_clear",
        "heater_clear", "filler", "filler_width", "unit", "base_thickness", "panel_thickness", "moulding_thickness",
    }  # fmt: skip
    assert set(SEEN) == set(Scheme.model_fields) - unseen
    plan = planned()
    for key in SEEN:
        value = getattr(plan.scheme, key)
        changed = {"paint": "navy", "panel": "sheet"}.get(key, value + 1 if isinstance(value, Fraction) else None)
        other = replace(plan, scheme=plan.scheme.model_copy(update={key: changed}))
        told, *panels = differs(plan, other)  # wider stiles leave narrower panels
        assert told.lower().startswith(SEEN[key])
        assert all(more.startswith("Panels, how wide") for more in panels)
        assert " not " in told
    assert differs(plan, plan) == []


def test_one_scheme_alone_is_no_choice():
    assert "Ways to do it" not in words(read(shown(planned())))


def test_a_wall_without_a_solved_photo_has_a_sentence_and_the_drawing():
    reader = read(shown(planned(), picture=False))
    assert "the drawing shows it" in words(reader)
    assert "From the left" not in words(reader)
    page = pypdfium2.PdfDocument(customer_sheet(FACTS, [shown(planned(), picture=False)]))[1]
    assert np.asarray(page.render(scale=1).to_pil().convert("L")).min() < 100  # something is drawn


def test_a_wall_that_cannot_be_planned_says_why():
    narrow = replace(made_up_survey(), width=measured(6.0), features=())
    text = words(read(shown(planned(survey=narrow), picture=False)))
    assert "not planned yet" in text


def test_no_wall_at_all_makes_a_paper():
    assert "No wall has been measured yet" in words(read(SchemeShown("As planned", Plan(Scheme(), ()))))


def test_three_hundred_marks_and_none_make_a_sound_paper():
    many = tuple(thing(f"receptacle {k}", Kind.RECEPTACLE, 3 + 0.46 * k, 16.0) for k in range(300))
    crowded = replace(made_up_survey(), features=many)
    assert 4 < len(read(shown(planned(survey=crowded)), facts=FACTS).pages) < 40
    assert "stay where they are" in words(read(shown(planned(survey=replace(made_up_survey(), features=())))))


def test_hostile_names_are_only_words():
    facts = replace(FACTS, job='<b>"R&D"</b> ' + "x" * 500, customer="O'Neil <script>")
    text = words(read(shown(planned(), name='=1+1 & "co" <i>'), shown(planned(), name="b"), facts=facts))
    strange = words(read(shown(planned(), name=HOSTILE), shown(planned(), name="b"), facts=replace(facts, job=HOSTILE)))
    assert strange.count('<script>alert("x")</script>') > 2
    for part in ('<b>"R&D"</b>', "O'Neil <script>", '=1+1 & "co" <i>'):
        assert part in text
    assert customer_sheet(replace(FACTS, job="مرحبا 🏠", customer="\x00\ud800"), [shown(planned())]).startswith(b"%PDF")


def test_its_cautions_know_what_was_found_in_the_house():
    plan = planned()
    pages = [WallPages(Wall(name="North wall"), plan.walls[0])]

    def told(year: int, house: Conditions) -> str:
        facts = replace(FACTS, year_built=year, conditions=house)
        return words(PdfReader(BytesIO(customer_sheet(facts, [shown(plan)], pages))))

    new = told(2005, Conditions())
    assert "Lead paint" not in new
    assert "Old joint compound" not in new
    assert "It WAS FOUND on this job" in told(2005, Conditions(compound=Suspect.FOUND))
    assert "Knob and tube was seen" in told(2005, Conditions(wiring=Wiring.KNOB_AND_TUBE))
    assert "Houses built before 1978" in told(1920, Conditions())
    assert "Houses built before 1978" not in told(1920, Conditions(paint=Suspect.FREE))


# The words.


def test_what_is_in_the_way_and_can_move_moves_unless_decided_otherwise():
    plan = planned()
    (name,) = moves_of(plan.walls[0])
    best = next(way for way in plan.walls[0].remedies[name] if way.move is not None)
    (by,) = shifts_of(plan)["North wall"].values()
    assert abs(by - float(best.move)) <= 1 / 32  # to a place that a tape shows
    for pin in (Pin.LEAVE, Pin.EXTEND, Pin.BLOCK_OUT):
        pinned = planned(SCHEME.model_copy(update={"pins": {name: pin}}))
        assert name not in moves_of(pinned.walls[0])
        assert any("stays where it is" in change.becomes for change in changes(pinned))


def test_a_move_that_is_decided_is_no_longer_open():
    name = "receptacle 2"
    open_ones = undecided(planned(), 2001)
    decided = undecided(planned(SCHEME.model_copy(update={"pins": {name: Pin.MOVE}})), 2001)
    assert len(decided) == len(open_ones) - 1


@pytest.mark.parametrize(("year", "told"), [(None, True), (1964, True), (1977, True), (1978, False), (2001, False)])
def test_old_paint_is_open_before_1978(year, told):
    """40 CFR 745: houses built before 1978."""
    assert any("lead" in line for line in undecided(planned(), year)) is told


def test_in_short_counts_panels_and_boxes():
    plan = planned()
    count = plan.walls[0].frames[0].count
    assert f"{sum(f.count for f in plan.walls[0].frames)} panels on the North wall".lower() in in_short(plan).lower()
    assert count > 1


@pytest.mark.parametrize("walls", [0, 1, 3, 23, 24, 40, 200])
@pytest.mark.parametrize("size", [(4032, 3024), (3024, 4032), (6000, 1000)])
def test_the_pictures_of_all_walls_together_can_be_mailed_and_are_no_coarser_than_that_asks(walls, size):
    width = picture_width(walls, size)
    weight = walls * 2 * width * width * size[1] / size[0] * PIXEL
    assert weight <= MOST_BYTES
    assert width == SHEET_WIDTH or weight > 0.99 * MOST_BYTES


def test_in_short_names_no_more_walls_than_a_sentence_holds():
    plan = planned()
    count = sum(f.count for f in plan.walls[0].frames)
    many = replace(plan, walls=plan.walls[:1] * 7)
    assert in_short(replace(plan, walls=plan.walls[:1] * 6)).count("North wall") == 6
    assert in_short(many).startswith(f"{7 * count} panels on 7 walls; ")


# Colour.


def test_all_text_colours_have_the_contrast_that_wcag_asks_of_text():
    """WCAG 2.2, 1.4.3: at least 4.5 to 1, on white paper."""
    css = "".join(Path(f"report/templates/{name}").read_text() for name in ("paper.css", "customer.css"))
    colours = {f"#{c * 2}" if len(c) == 3 else f"#{c}" for c in re.findall(r"[^-]color: #([0-9a-f]{3,6})", css)}
    full = {c if len(c) == 7 else "#" + "".join(d * 2 for d in c[1:4]) for c in colours}
    assert full
    assert all(contrast(colour, "#ffffff") >= 4.5 for colour in full)


def test_the_frame_of_the_colour_patch_shows_in_grey():
    """WCAG 2.2, 1.4.11: at least 3 to 1 for what is no text; the patch itself may be white."""
    assert contrast("#111111", "#ffffff") >= 3


def test_wcag_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21, abs=0.01)


@given(st.from_regex(r"#?[0-9a-fA-F]{6}", fullmatch=True))
def test_six_digits_are_a_colour(text):
    red, green, blue = srgb_of(Scheme.model_validate({"paint": text}).paint)
    assert f"{red:02x}{green:02x}{blue:02x}" == text.removeprefix("#").lower()


@pytest.mark.parametrize("word", [*WORDS, "  Navy ", "Light Gray"])
def test_words_are_colours(word):
    assert Scheme.model_validate({"paint": word}).paint in WORDS


@pytest.fixture
def folder(tmp_path) -> JobFolder:
    folder = new_job(tmp_path / "job", "Miller")
    set_wall(folder, "North wall", None, {"width": "144", "left": EndKind.INSIDE_CORNER})
    return folder


@pytest.mark.parametrize("nonsense", ["reddish", "#12", "#1234567", "rgb(1,2,3)", "12 34 56", "#gggggg"])
def test_nonsense_is_no_colour_and_the_sentence_says_what_is(folder, nonsense):
    with pytest.raises(PlainError, match=r"“paint” cannot be .* is white, .* or six digits of sRGB such as #e8e4da"):
        set_scheme(folder, {"paint": nonsense})


def test_another_way_notes_only_what_differs(folder):
    set_scheme(folder, {"top": "42"})
    set_alternative(folder, "two rows", {"middle_rail_at": "20", "paint": "navy"})
    set_scheme(folder, {"stile": "3"})
    job = folder.load()
    other = job.other_scheme("two rows")
    assert (other.top, other.stile, other.paint) == (42, 3, "navy")
    assert job.wanted.middle_rail_at == 0
    assert set_alternative(folder, "two rows", {"paint": ""}).paint == "white"
    assert set_alternative(folder, "two rows", {}) is None
    assert folder.load().alternatives == {}


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ({"pant": "navy"}, "did you mean “paint”"),
        ({"paint": "mauvish"}, "six digits"),
        ({"top": "9"}, "taller than the wainscot"),
        ({"stile": "x"}, "“stile” cannot be “x”"),
    ],
)
def test_another_way_that_cannot_be_is_refused_in_a_sentence(folder, wishes, words):
    with pytest.raises(PlainError, match=words):
        set_alternative(folder, "other", wishes)
    assert folder.load().alternatives == {}


def test_forgetting_a_way_that_is_not_there_says_so(folder):
    with pytest.raises(PlainError, match="alternative"):
        set_alternative(folder, "nothing", {})


def test_a_scheme_that_breaks_another_way_is_refused(folder):
    set_alternative(folder, "low", {"top": "24"})
    with pytest.raises(PlainError, match="the alternative “low” cannot be planned"):
        set_scheme(folder, {"top_rail": "20", "top": "60"})


def test_pictures_are_printed_no_finer_than_paper_needs():
    big = Image.fromarray(np.random.default_rng(0).integers(0, 255, (3000, 4000, 3), np.uint8))
    scheme = SchemeShown("As planned", planned(), (BeforeAfter("North wall", big, big),))
    assert len(customer_sheet(FACTS, [scheme])) < 3_000_000
