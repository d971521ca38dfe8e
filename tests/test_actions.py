"""What a person can do with a job, one function each, on one small photographed wall."""

import re
import shutil
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from capture.errors import PlainError, UnknownNameError
from capture.record import Along, At, Conditions, Kind, Mark, Side, Sight, Tape
from layout.scheme import Pin, SchemeError
from tests.conftest import PLACED, WALL, pixels_of
from wainscribe import actions, seen
from wainscribe.actions import ActionError
from wainscribe.papers import make_papers


def sight(photo: str, xy, at: At = At.CENTRE) -> Sight:
    (u, v) = pixels_of([xy])[0]
    return Sight(photo=photo, u=float(u), v=float(v), at=at)


def box(*sights: Sight, name: str = "receptacle 1", kind: Kind = Kind.RECEPTACLE, **more) -> Mark:
    return Mark(name=name, kind=kind, sights=sights, **more)


def marks(folder) -> dict[str, Mark]:
    return {m.name: m for m in folder.load().wall(WALL).marks}


def taped(start: str, end: str, length, along: Along = Along.STRAIGHT, **more) -> Tape:
    return Tape(start=start, end=end, length=Fraction(length), along=along, **more)


@pytest.fixture
def second_photo(folder, photos) -> str:
    return actions.add_photo(folder, WALL, photos["cards 5 and 8"])[0].name


# Marks


def test_sights_of_the_same_photo_are_replaced_and_those_of_others_stay(folder, second_photo):
    first = [sight("wall.jpg", (50, 40), At.TOP_LEFT), sight("wall.jpg", (53, 36), At.BOTTOM_RIGHT)]
    actions.add_mark(folder, WALL, box(*first))
    actions.add_mark(folder, WALL, box(sight(second_photo, (51, 38))))
    again = sight("wall", (51.5, 38))  # the ending may be left off
    whole = actions.add_mark(folder, WALL, box(again))
    assert [(s.photo, s.at) for s in whole.sights] == [(second_photo, At.CENTRE), ("wall.jpg", At.CENTRE)]
    assert marks(folder)["receptacle 1"] == whole


def test_marking_again_keeps_what_is_not_given_anew(folder, second_photo):
    actions.add_mark(folder, WALL, box(gangs=2, note="half hot", cable_slack=Fraction(6), stud_side=Side.LEFT))
    actions.add_mark(folder, WALL, box(sight(second_photo, (51, 38)), note="dead"))
    actions.add_mark(folder, WALL, box(cable_slack=None))
    now = marks(folder)["receptacle 1"]
    assert (now.gangs, now.note, now.cable_slack, now.stud_side) == (2, "dead", None, Side.LEFT)
    assert [s.photo for s in now.sights] == [second_photo]


def test_a_mark_cannot_change_its_kind(folder):
    actions.add_mark(folder, WALL, box())
    with pytest.raises(ActionError, match="“receptacle 1” on “long wall” is a receptacle, not a switch; use another"):
        actions.add_mark(folder, WALL, box(kind=Kind.SWITCH))


def test_a_pixel_outside_the_photo_is_refused(folder):
    with pytest.raises(ActionError, match=r"Pixel 1600,20 lies outside “wall\.jpg”, which is 1600 × 1200"):
        actions.add_mark(folder, WALL, box(Sight(photo="wall.jpg", u=1600, v=20)))
    assert marks(folder) == {}


def test_a_pixel_of_an_unknown_photo_offers_the_nearest(folder):
    with pytest.raises(UnknownNameError, match=r"No photo of “long wall” is called “wal”; did you mean “wall\.jpg”"):
        actions.add_mark(folder, WALL, box(Sight(photo="wal", u=1, v=1)))


@pytest.mark.parametrize("what", ["width", "height"])
def test_a_mark_without_extent_is_refused(folder, what):
    with pytest.raises(ActionError, match=f"The {what} of “receptacle 1” cannot be nothing; tape it, or leave it out"):
        actions.add_mark(folder, WALL, box(**{what: Fraction(0)}))


def test_free_names_count_on(folder):
    assert actions.free_name(folder.load().wall(WALL), Kind.STUD) == "stud 1"
    for n in (1, 3):
        actions.add_mark(folder, WALL, box(name=f"stud {n}", kind=Kind.STUD))
    assert actions.free_name(folder.load().wall(WALL), Kind.STUD) == "stud 2"


def test_taking_a_mark_away_takes_its_tapes_and_no_others(folder):
    actions.add_mark(folder, WALL, box(), [taped("left end", "receptacle 1", 40, Along.ACROSS)])
    actions.add_mark(folder, WALL, box(name="receptacle 10"))
    actions.add_tape(folder, WALL, taped("receptacle 1 left", "receptacle 10 right", 12, Along.ACROSS))
    actions.add_tape(folder, WALL, taped("floor", "receptacle 10", 16, Along.UP))
    actions.add_tape(folder, WALL, taped("card 3", "card 8", 58))
    actions.remove_mark(folder, WALL, "receptacle 1")
    wall = folder.load().wall(WALL)
    assert [m.name for m in wall.marks] == ["receptacle 10"]
    assert [(t.start, t.end) for t in wall.tapes] == [("floor", "receptacle 10"), ("card 3", "card 8")]
    folder.undo()
    assert len(folder.load().wall(WALL).tapes) == 4


def test_taking_away_what_is_not_there_offers_the_nearest(folder):
    actions.add_mark(folder, WALL, box())
    with pytest.raises(UnknownNameError, match="No mark on “long wall” is called “recptacle 1”; did you mean"):
        actions.remove_mark(folder, WALL, "recptacle 1")


# Tapes


def test_a_tape_to_an_unknown_place_offers_the_nearest(folder):
    actions.add_mark(folder, WALL, box())
    for wrong, right in (("receptcle 1", "receptacle 1"), ("lft end", "left end"), ("crd 8", "card 8")):
        with pytest.raises(
            UnknownNameError, match=f"No place on “long wall” is called “{wrong}”; did you mean “{right}"
        ):
            actions.add_tape(folder, WALL, taped("card 3", wrong, 40))
    with pytest.raises(UnknownNameError, match="called “card 4”"):  # not in any photo
        actions.add_tape(folder, WALL, taped("card 3", "card 4", 40))
    assert folder.load().wall(WALL).tapes == ()


def test_a_second_reading_between_two_places_takes_the_place_of_the_first(folder):
    actions.add_tape(folder, WALL, taped("card 3", "card 8", 58))
    actions.add_tape(folder, WALL, taped("card 8", "card 3", 59))
    assert [t.length for t in folder.load().wall(WALL).tapes] == [59]
    actions.remove_tape(folder, WALL, "card 3", "card 8")
    assert folder.load().wall(WALL).tapes == ()
    with pytest.raises(UnknownNameError, match="No tape reading on “long wall” is called “card 3 to card 8”"):
        actions.remove_tape(folder, WALL, "card 3", "card 8")


@pytest.mark.parametrize(
    ("tape", "sentence"),
    [
        (taped("card 3", "card 3", 4), "must have a length between two places"),
        (taped("card 3", "card 8", 0), "must have a length between two places"),
        (taped("left end", "floor", 4), "A tape laid straight from “left end” to “floor” tells nothing"),
        (taped("left end", "card 3", 4, Along.UP), "A tape laid up from “left end” to “card 3” tells nothing"),
        (taped("floor", "card 3", 4, Along.ACROSS), "A tape laid across from “floor” to “card 3” tells nothing"),
    ],
)
def test_a_tape_that_tells_nothing_is_refused(folder, tape, sentence):
    with pytest.raises(ActionError, match=sentence):
        actions.add_tape(folder, WALL, tape)


@pytest.mark.parametrize(
    ("ends", "along"),
    [
        (("floor", "receptacle 1"), Along.UP),
        (("receptacle 1 top", "receptacle 2 bottom"), Along.UP),
        (("left end", "receptacle 1"), Along.ACROSS),
        (("receptacle 1 left", "right end"), Along.ACROSS),
        (("card 3", "card 8"), Along.STRAIGHT),
    ],
)
def test_the_ends_tell_how_a_tape_lay(ends, along):
    assert actions.usual_along(*ends) is along
    assert actions.usual_along(*reversed(ends)) is along


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Left End", "left end"), (" FLOOR ", "floor"), ("card 03", "card 3"), ("Card#3", "card 3"),
        ("card3", "card 3"), ("Receptacle 1", "Receptacle 1"), ("card table", "card table"), ("card ²", "card ²"),
    ],
)  # fmt: skip
def test_places_are_read_as_people_type_them(typed, meant):
    assert actions.place_name(typed) == meant


# Print runs


@pytest.mark.parametrize(
    ("across", "up", "told"),
    [(Fraction(11, 2), None, "6 in bar reads 5.500 in, 91.7%"), (None, Fraction(93, 10), "9 in bar reads 9.300 in")],
)
def test_a_check_bar_off_by_more_than_3_percent_is_refused(folder, across, up, told):
    with pytest.raises(ActionError, match=rf"{told}.*print the cards again at 100 %"):
        actions.set_print_run(folder, "first", across, up)
    assert folder.load().print_run.across is None


def test_the_two_bars_can_be_noted_one_after_the_other_and_a_new_run_starts_fresh(folder):
    actions.set_print_run(folder, "first", Fraction(383, 64), None)
    actions.set_print_run(folder, "first", None, Fraction(9))
    assert folder.load().print_run.across == Fraction(383, 64)
    assert folder.load().print_run.up == 9
    actions.set_print_run(folder, "second", None, Fraction(9))
    assert folder.load().print_run.across is None


def test_a_print_out_at_nine_tenths_is_found_out_by_one_long_tape(folder):
    apart = float(np.hypot(*np.subtract(PLACED[8][:2], PLACED[3][:2])))
    actions.add_tape(folder, WALL, taped("card 3", "card 8", Fraction(round(apart * 0.9 * 16), 16)))
    found = {f.code: f for f in actions.solve_wall(folder, folder.load(), WALL).findings}
    told = r"The cards on “long wall” seem printed at (\d+\.\d)% of their size\."
    assert 89.5 < float(re.fullmatch(told, found["print-scale"].sentence)[1]) < 92
    assert found["print-scale"].remedy.startswith("Print them again at 100 %")


# Photos


def test_a_photo_without_cards_is_kept_as_a_record_photo_with_reasons(folder, photos):
    photo, measured = actions.add_photo(folder, WALL, photos["no card"], caption="north wall")
    assert (photo.record_only, photo.caption) == (True, "north wall")
    assert measured.cards == ()
    assert all(f.sentence.startswith("No card was found in “no card.jpg”: ") and f.remedy for f in measured.told())
    assert len(measured.told()) >= 1
    assert folder.load().wall(WALL).photos[-1] == photo
    assert folder.read_photo(photo.file) == photos["no card"].read_bytes()
    with pytest.raises(ActionError, match=r"“no card\.jpg” is a record photo, nothing is measured in it"):
        actions.add_mark(folder, WALL, box(Sight(photo="no card", u=4, v=4)))


def test_one_card_twice_in_a_photo_is_left_out_and_told(folder, photos):
    _, measured = actions.add_photo(folder, WALL, photos["card 5 twice"])
    assert [c.number for c in measured.cards] == [3, 8]
    (finding,) = measured.told()
    assert finding.sentence == "Card 5 is in “twice.jpg” twice, so it was left out."
    assert finding.remedy == "Give every card on a wall its own number."


def test_photos_that_share_no_card_are_named_and_the_rest_is_measured(tmp_path, photos):
    folder = actions.new_job(tmp_path / "apart", "apart")
    actions.set_wall(folder, WALL, None, {})
    actions.add_photo(folder, WALL, photos["card 3"])
    actions.add_photo(folder, WALL, photos["cards 5 and 8"])
    solved = actions.solve_wall(folder, folder.load(), WALL)
    # The photo that shows more stays.
    assert [s.name for s in solved.measured.solution.net.shots] == ["cards 5 and 8.jpg"]
    (unjoined,) = (f for f in solved.findings if f.code == "photo-not-joined")
    assert unjoined.place == "card 3.jpg"
    with pytest.raises(ActionError, match=r"shares no card with the other photos .* So nothing can be measured in it"):
        actions.locate(folder, WALL, "card 3", np.array([[800.0, 700.0]]), np.zeros(1), 0.0)


def test_the_same_photo_taken_in_twice_is_one_photo(folder, wall_photo):
    actions.add_mark(folder, WALL, box(sight("wall.jpg", (51, 38))))
    actions.add_photo(folder, WALL, wall_photo, caption="again")
    assert [(p.name, p.caption) for p in folder.load().wall(WALL).photos] == [("wall.jpg", "again")]
    assert len(marks(folder)["receptacle 1"].sights) == 1


def test_another_picture_of_the_same_name_does_not_inherit_the_marks(folder, photos, tmp_path):
    other = tmp_path / "wall.jpg"
    shutil.copy(photos["cards 5 and 8"], other)
    actions.add_mark(folder, WALL, box(sight("wall.jpg", (51, 38))))
    photo, _ = actions.add_photo(folder, WALL, other)
    assert photo.name == "wall (2).jpg"
    assert [p.name for p in folder.load().wall(WALL).photos] == ["wall.jpg", "wall (2).jpg"]
    assert marks(folder)["receptacle 1"].sights[0].photo == "wall.jpg"


def test_a_photo_taken_off_takes_its_sights_and_leaves_the_original(folder, second_photo):
    actions.add_mark(folder, WALL, box(sight("wall.jpg", (51, 38)), sight(second_photo, (51, 38))))
    assert actions.remove_photo(folder, WALL, "wall") == "wall.jpg"
    assert [s.photo for s in marks(folder)["receptacle 1"].sights] == [second_photo]
    assert (folder.photos / "wall.jpg").exists()


def test_a_photo_is_searched_once_and_again_when_its_file_changes(folder, photos, monkeypatch):
    searched = []
    real = seen.detect
    monkeypatch.setattr(seen, "detect", lambda gray, name: searched.append(name) or real(gray, name))
    photo = folder.load().wall(WALL).photos[0]
    assert [c.number for c in seen.search_photo(folder, photo).cards] == [3, 5, 8]
    assert searched == []
    (folder.photos / photo.file).write_bytes(photos["card 3"].read_bytes())
    assert [c.number for c in seen.search_photo(folder, photo).cards] == [3]
    shutil.rmtree(folder.measured)
    assert [c.number for c in seen.search_photo(folder, photo).cards] == [3]
    (folder.measured / f"{photo.file}.json").write_text("{ damaged")
    assert [c.number for c in seen.search_photo(folder, photo).cards] == [3]
    assert searched == ["wall.jpg"] * 3


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("note.jpg", b"this is a shopping list, not a picture, however long it may be" * 9, "“note.jpg” is"),
        ("empty.jpg", b"", "“empty.jpg” is"),
    ],
)
def test_a_file_that_is_no_photo_is_refused_and_not_kept(folder, tmp_path, name, data, sentence):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(PlainError, match=sentence):
        actions.add_photo(folder, WALL, tmp_path / name)
    assert [p.name for p in folder.photos.iterdir()] == ["wall.jpg"]


def test_a_photo_cut_short_is_told(folder, wall_photo, tmp_path):
    (tmp_path / "cut.jpg").write_bytes(wall_photo.read_bytes()[:5000])
    with pytest.raises(
        PlainError, match=r"“cut\.jpg” is damaged or cut short and cannot be read; copy it from the phone"
    ):
        actions.add_photo(folder, WALL, tmp_path / "cut.jpg")


def test_a_folder_or_a_missing_file_is_no_photo(folder, tmp_path):
    with pytest.raises(ActionError, match=r"is a folder; name the photos in it, such as .*\*\.jpg"):
        actions.add_photo(folder, WALL, tmp_path)
    with pytest.raises(ActionError, match=r"gone\.jpg cannot be read \(No such file or directory\); check its name"):
        actions.add_photo(folder, WALL, tmp_path / "gone.jpg")


# The scheme and the facts


def test_scheme_settings_are_read_as_lengths_and_an_empty_value_goes_back_to_the_usual(folder):
    wanted = actions.set_scheme(folder, {"stile": "89mm", "panel": "sheet", "panels.long wall": "5"})
    assert (wanted.stile, wanted.panel, wanted.panels) == (Fraction(445, 127), "sheet", {"long wall": 5})
    wanted = actions.set_scheme(folder, {"stile": "", "panels.long wall": ""})
    assert (wanted.stile, wanted.panel, wanted.panels) == (Fraction(7, 2), "sheet", {})
    assert folder.load().wanted == wanted


@pytest.mark.parametrize(
    ("wishes", "error", "sentence"),
    [
        ({"stle": "3"}, UnknownNameError, "No scheme setting is called “stle”; did you mean “stile”"),
        ({"unit": "mm"}, UnknownNameError, "No scheme setting is called “unit”"),
        ({"stile": "broad"}, ActionError, "“stile” cannot be “broad”: “broad” is not a length; write it like 36 1/2"),
        ({"stile": "0"}, ActionError, r"“stile” cannot be “0”: must be more than nothing\.$"),
        ({"panel": "steel"}, ActionError, "“panel” cannot be “steel”: it must be 'painted wall' or 'sheet'"),
        ({"panels.long wall": "0"}, ActionError, "for “long wall” must be a whole number from 1 to 100, not “0”"),
        ({"panels.long wall": "²"}, ActionError, "for “long wall” must be a whole number from 1 to 100, not “²”"),
        ({"panels.lng wall": "4"}, UnknownNameError, "No run is called “lng wall”; did you mean “long wall”"),
        ({"top": "9"}, SchemeError, "are taller than the wainscot"),
    ],
)
def test_scheme_settings_that_cannot_be_are_refused_and_nothing_changes(folder, wishes, error, sentence):
    before = folder.load()
    with pytest.raises(error, match=sentence):
        actions.set_scheme(folder, {"reveal": "1/2", **wishes})
    assert folder.load() == before


def test_a_decision_that_could_be_about_several_walls_is_asked_about(folder):
    for wall in ("east wall", "west wall"):
        actions.set_wall(folder, wall, None, {"width": "120"})
        actions.add_mark(folder, wall, Mark(name="receptacle 1", kind=Kind.RECEPTACLE))
    with pytest.raises(
        ActionError, match="“receptacle 1” stands on 2 walls; say which: east wall: receptacle 1 or west"
    ):
        actions.set_scheme(folder, {"pin.receptacle 1": "move"})
    with pytest.raises(UnknownNameError, match="did you mean “west wall: receptacle 1”"):
        actions.set_scheme(folder, {"pin.west wall receptacle 1": "move"})
    wanted = actions.set_scheme(folder, {"pin.west wall: receptacle 1": "move"})
    assert (wanted.pin("west wall", "receptacle 1"), wanted.pin("east wall", "receptacle 1")) == (Pin.MOVE, None)


def test_the_plan_speaks_in_the_units_of_the_job(folder):
    actions.set_about(folder, {"units": "mm"})
    assert folder.load().wanted.show(Fraction(7, 2)) == "89 mm"
    assert actions.plan_job(folder, folder.load())[1].scheme.show(Fraction(7, 2)) == "89 mm"


def test_what_was_found_wrong_speaks_in_the_units_of_the_job(folder):
    pairs = list(combinations(sorted(PLACED), 2))
    for i, pair in enumerate(pairs):
        far = float(np.hypot(*np.subtract(*(PLACED[n][:2] for n in pair)))) + (i == 0)
        actions.add_tape(folder, WALL, taped(*(f"card {n}" for n in pair), round(far * 16) / 16))
    for units, told in (("in", '"'), ("mm", " mm, disagrees by ")):
        actions.set_about(folder, {"units": units})
        (wrong,) = [f for f in actions.solve_wall(folder, folder.load(), WALL).findings if f.code == "tape-disagrees"]
        assert told in wrong.sentence
        assert ('"' in wrong.sentence) == (units == "in")


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ({"name": ""}, "“name” cannot be “”: it must not be empty"),
        ({"year_built": "old"}, "“year_built” cannot be “old”: it must be a whole number"),
        ({"year_built": "1066"}, "“year_built” cannot be “1066”: it must be 1500 or more"),
        ({"date": "31 May"}, "“date” cannot be “31 May”: a day is written like 2026-05-31"),
        ({"date": "2026-02-30"}, "a day is written like 2026-05-31"),
        ({"units": "ft"}, "“units” cannot be “ft”: it must be 'in' or 'mm'"),
        ({"customer": "x" * 3000}, "“customer” cannot be “x{40}…”: it must be no longer than 2000 letters"),
        ({"colour": "red"}, "No fact about the job is called “colour”; did you mean|known: name"),
        ({"customer": "a\x1b[31mb"}, "holds characters that cannot be printed"),
    ],
)
def test_facts_that_cannot_be_are_refused(folder, facts, sentence):
    before = folder.load()
    with pytest.raises(PlainError, match=sentence):
        actions.set_about(folder, facts)
    assert folder.load() == before


def test_facts_are_cleared_by_an_empty_value(folder):
    actions.set_about(folder, {"year_built": "1962", "customer": "E. L."})
    now = actions.set_about(folder, {"year_built": ""})
    assert (now.year_built, now.customer) == (None, "E. L.")


# Walls


def test_a_wall_changes_only_where_told_and_none_clears(folder):
    actions.set_wall(folder, WALL, None, {"ceiling": "96", "note": "lath"})
    wall = actions.set_wall(folder, WALL, None, {"width": None})
    assert (wall.width, wall.ceiling, wall.note, len(wall.photos)) == (None, 96, "lath", 1)
    with pytest.raises(ActionError, match="The width of “long wall” cannot be nothing; tape it, or leave it out"):
        actions.set_wall(folder, WALL, None, {"width": Fraction(0)})


def test_a_wall_taken_away_is_gone_until_undone(folder):
    before = folder.load()
    actions.remove_wall(folder, WALL)
    assert folder.load().walls == []
    with pytest.raises(UnknownNameError, match="No wall is called “long wall”; there is none yet"):
        actions.remove_wall(folder, WALL)
    folder.undo()
    assert folder.load() == before


def test_a_job_without_a_wall_cannot_be_planned(tmp_path):
    folder = actions.new_job(tmp_path / "bare", "bare")
    with pytest.raises(ActionError, match=r"bare has no wall yet; add one with “wainscribe wall .*bare NAME”"):
        actions.plan_job(folder, folder.load())


@pytest.fixture
def taped_only(tmp_path):
    """A wall that nobody photographed: its width, and one receptacle reached by tape."""
    folder = actions.new_job(tmp_path / "taped", "taped")
    actions.set_wall(folder, WALL, "den", {"width": "100", "ceiling": "96"})
    reached = [taped("left end", "receptacle 1", 50, Along.ACROSS), taped("floor", "receptacle 1", 16, Along.UP)]
    actions.add_mark(folder, WALL, box(), reached)
    return folder


def test_a_wall_by_tape_alone_plans(taped_only):
    (solved,), plan = actions.plan_job(taped_only, taped_only.load())
    receptacle = solved.measured.survey.feature("receptacle 1")
    assert solved.measured.survey.level == "the tape alone"
    assert receptacle.across.value == pytest.approx(50, abs=1e-6)
    assert receptacle.up.value == pytest.approx(16, abs=1e-6)
    # tape to 30 ft: 1/32 as a standard deviation, and reading to 1/16: 1/16/√12
    assert receptacle.across.sd == pytest.approx(np.hypot(1 / 32, 1 / 16 / np.sqrt(12)), rel=0.5)
    (frame,) = plan.wall(WALL).frames
    assert frame.run.right - frame.run.left <= 100
    assert frame.count * frame.panel_width + (frame.count + 1) * plan.scheme.stile == pytest.approx(
        float(frame.run.width), abs=1e-9
    )
    assert [j.feature for j in plan.wall(WALL).judgements] == ["receptacle 1"]


def test_a_wall_by_tape_alone_makes_its_papers(taped_only, tmp_path):
    actions.set_wall(taped_only, "long-wall", "den", {"width": "60"})  # its files must not take those of the first
    said = []
    files = make_papers(taped_only, tmp_path / "out", said.append)
    names = [f.name for f in files]
    assert names[0] == "site-report.pdf"
    assert files[0].read_bytes().startswith(b"%PDF")
    assert {"plan.json", "measured.csv", "long-wall-1-existing.svg", "long-wall-2-existing.svg"} <= set(names)
    assert len(set(names)) == len(names)
    assert all(f.stat().st_size > 0 for f in files)
    assert said[0] == "measuring"


@pytest.mark.parametrize(
    ("top_left", "bottom_right", "words"),
    [
        ((900, 600), (840, 700), "left corner lies right of a right one"),
        ((840, 700), (900, 600), "top corner lies below a bottom one"),
    ],
)
def test_corners_the_wrong_way_round_are_refused(folder, top_left, bottom_right, words):
    swapped = tuple(
        Sight(photo="wall.jpg", u=u, v=v, at=at)
        for at, (u, v) in ((At.TOP_LEFT, top_left), (At.BOTTOM_RIGHT, bottom_right))
    )
    with pytest.raises(ActionError, match=words):
        actions.add_mark(folder, WALL, Mark(name="box", kind=Kind.RECEPTACLE, sights=swapped))
    assert folder.load().wall(WALL).marks == ()


def test_a_wall_end_at_a_casing_is_seen_at_the_casings_face(folder):
    actions.set_wall(folder, WALL, None, {"left": "casing"})
    sights = (Sight(photo="wall.jpg", u=100, v=600, at=At.POINT),)
    mark = actions.add_mark(folder, WALL, Mark(name="left end", kind=Kind.WALL_END, side=Side.LEFT, sights=sights))
    assert mark.projection == Fraction(11, 16)  # common practice: casings are 9/16 to 11/16 thick


def test_a_plate_that_no_maker_sells_is_told(folder):
    corners = pixels_of([(40, 50), (46.7, 45.5)])
    sights = tuple(
        Sight(photo="wall.jpg", u=u, v=v, at=at)
        for at, (u, v) in zip((At.TOP_LEFT, At.BOTTOM_RIGHT), corners, strict=True)
    )
    actions.add_mark(folder, WALL, Mark(name="box", kind=Kind.RECEPTACLE, sights=sights))
    (odd,) = [f for f in actions.solve_wall(folder, folder.load(), WALL).findings if f.code == "odd-size"]
    assert "wide; a plate of 1 gang is 2 3/4" in odd.sentence


def test_what_is_noted_of_the_house_reaches_what_is_measured_and_planned(tmp_path):
    folder = actions.new_job(tmp_path / "house", "house")
    actions.set_wall(folder, "hall", None, {"left": "open end", "right": "casing", "width": Fraction(120)})
    actions.set_conditions(folder, None, {"wiring": "aluminium", "casing": "1/2"})
    actions.set_conditions(folder, "hall", {"level": "3/8, laser"})
    (solved,), plan = actions.plan_job(folder, folder.load())
    assert solved.measured.survey.conditions == Conditions.model_validate(
        {"wiring": "aluminium", "casing": "1/2", "level": "3/8, laser"}
    )
    assert solved.wall.conditions.wiring is None  # what was noted of the wall itself stays as it is
    notes = " ".join((*plan.wall("hall").notes, *plan.wall("hall").runs[0].notes))
    assert 'noted 3/8" out of level' in notes
    assert 'stands 1/4" proud of the casing at the right end: return' in notes
