"""How much is in the way: one number, whatever paper, command or page tells it."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from capture.record import Mark, Wall
from layout.next_steps import undecided as worth_measuring
from layout.plan import Plan, WallPlan, plan_walls
from layout.scheme import Pin, Scheme
from layout.verdicts import Verdict
from report.boxes import decision
from report.brief import electricians_brief
from report.changes import changes, moves_of, undecided
from report.numbers import in_the_way
from report.papers import ReportFacts, WallPages
from report.sheets import planned_sheet
from report.site_report import site_report
from report.wall_part import tape_first
from tests.papers import quietly, read, words
from tests.test_layout_room import box, demo_room, taped
from tests.test_layout_room import wall as a_wall
from wainscribe import told
from wainscribe.desk.decisions import conflicts
from wainscribe.job import Job

STRUCK = {"receptacle 1", "receptacle 3", "receptacle 4", "register", "receptacle 5"}
PINS = {"receptacle 4": Pin.MOVE, "register": Pin.BLOCK_OUT, "receptacle 1": Pin.LEAVE}


def planned(pins: dict[str, Pin]) -> Plan:
    return plan_walls(demo_room(), Scheme(pins=pins))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return planned(PINS)


def names(plan: Plan, which: str) -> set[str]:
    return {judgement.feature for wall in plan.walls for judgement in getattr(wall, which)}


def test_what_is_decided_is_still_in_the_way_where_it_stands(plan):
    assert names(planned({}), "conflicts") == names(planned({}), "undecided") == STRUCK
    assert names(plan, "conflicts") == STRUCK
    assert names(plan, "undecided") == STRUCK - set(PINS)


@pytest.mark.parametrize(("slack", "open_yet"), [(Fraction(24), False), (Fraction(1), True), (None, False)])
def test_a_move_beyond_the_cable_is_to_decide_anew(slack, open_yet):
    walls = [
        replace(
            survey,
            features=tuple(
                replace(f, mark=f.mark.model_copy(update={"cable_slack": slack})) if f.name == "receptacle 4" else f
                for f in survey.features
            ),
        )
        for survey in demo_room()
    ]
    plan = plan_walls(walls, Scheme(pins=PINS))
    assert ("receptacle 4" in names(plan, "undecided")) is open_yet
    assert plan.choices[0].told(plan.scheme).count(f"{2 + open_yet} to decide") == 1


def test_every_paper_tells_the_same_numbers(plan):
    """5 of the room are in the way; 4 of these are wired boxes, of which 2 are decided."""
    facts = ReportFacts("Room", scheme=plan.scheme)
    walls = [WallPages(Wall(name=wall.name, marks=_marks(wall)), wall) for wall in plan.walls]
    report = words(read(quietly(site_report, facts, walls)))
    counts = {wall.name: _row(report, wall.name) for wall in plan.walls}
    assert counts == {"long wall": (3, 1, 2, 1, 1), "passage wall": (3, 2, 1, 0, 1), "window wall": (2, 0, 2, 2, 0)}
    for wall in plan.walls:
        told_in_words = in_the_way(wall.conflicts, wall.undecided)
        assert f"what could be done: {told_in_words}" in report
        assert f"{told_in_words}." in planned_sheet(wall).description
    assert "Wired boxes: 4 in the way, 2 decided, 2 to decide" in words(read(quietly(electricians_brief, facts, walls)))


def _marks(wall: WallPlan) -> tuple[Mark, ...]:
    return tuple(feature.mark for feature in wall.survey.features)


def _row(text: str, wall: str) -> tuple[int, ...]:
    """Things, clear, in the way, decided and to decide of a wall on the report's first page."""
    found = re.search(rf"{wall} [^.]*?((?: \d+){{5}})(?= [^\d]|$)", text)
    assert found, text
    return tuple(int(number) for number in found[1].split())


def test_pages_and_json_tell_the_same_numbers(plan):
    verdicts = [verdict for wall in told.planned(plan)["walls"] for verdict in wall["verdicts"]]
    assert {v["feature"] for v in verdicts if v["in_the_way"]} == STRUCK
    assert {v["feature"] for v in verdicts if v["decided"]} == set(PINS)
    page = conflicts(Job(name="Room"), plan, "")
    assert {one["thing"] for one in page if one["decided"]} == set(PINS)
    assert [one["decided"] for one in page] == [False, False, True, True, True]  # the most urgent to decide first


def test_of_two_moves_that_one_is_chosen_which_the_plan_makes(plan):
    """The pin says no side; either may be chosen by its own."""
    (four,) = (one for one in conflicts(Job(name="Room"), plan, "") if one["thing"] == "receptacle 4")
    moves = [one for one in four["remedies"] if one["way"] == "move the box"]
    (wall,) = (wall for wall in plan.walls if wall.name == four["wall"])
    assert len(moves) > 1
    assert [one["pinned"] for one in moves] == [True, False]
    (first, other) = (next(iter(one["pin"].values())) for one in moves)
    assert {first, other} == {"move left", "move right"}
    assert f"to the {first.removeprefix('move ')}" in moves[0]["sentence"]
    assert wall.moves["receptacle 4"].by == wall.remedies["receptacle 4"][0].move


def test_the_command_tells_how_much_is_in_the_way_wall_by_wall(cli, tmp_path):
    """A receptacle on the middle of a wall of two panels sits on its one stile between."""
    job = tmp_path / "job"
    cli("new", job)
    cli("wall", job, "north", "--width", "60")
    cli("mark", job, "north", "receptacle", "--across", "30", "--up", "16")
    cli("scheme", job, "panels.north=2")
    assert "\n  1 in the way\n" in cli("plan", job).output
    cli("scheme", job, "pin.receptacle 1=leave")
    told_of = cli("plan", job).output
    assert "\n  1 in the way, 1 decided\n" in told_of
    assert " 0 to decide" in told_of


def test_what_is_too_close_to_tell_and_decided_needs_no_reading_and_changes_as_decided():
    name = "receptacle 5"
    open_yet, moved, stays = (planned(pins).wall("passage wall") for pins in ({}, {name: Pin.MOVE}, {name: Pin.LEAVE}))
    assert {one.verdict for wall in (open_yet, moved, stays) for one in wall.conflicts} == {Verdict.TOO_CLOSE}
    assert worth_measuring(open_yet) == [name]
    assert any(name in reading for reading in tape_first(open_yet, Scheme().unit))
    for wall in (moved, stays):
        assert worth_measuring(wall) == []
        assert not any(name in reading for reading in tape_first(wall, Scheme().unit))
    assert list(moves_of(moved)) == [name]
    assert not moves_of(open_yet)
    assert not moves_of(stays)


@pytest.mark.parametrize("pin", [None, Pin.MOVE, Pin.LEAVE])
def test_the_customer_reads_of_each_thing_once_what_becomes_of_it_or_that_it_is_open(pin):
    plan = planned({"receptacle 5": pin} if pin else {})
    open_yet = [line for line in undecided(plan, 2001) if "passage wall" in line]
    becomes = [change.becomes for change in changes(plan) if change.wall == "passage wall"]
    assert len(open_yet) + len(becomes) == 1
    assert len(open_yet) == (pin is None)


def test_the_customer_does_not_read_of_photos_where_all_is_taped():
    at = Fraction("25.75")  # its right edge on that of the clear field of the first of two panels
    on_tape = replace(box("r", float(at), 14), left=taped(at - Fraction("1.375")), right=taped(at + Fraction("1.375")))
    (told, *_) = undecided(plan_walls([a_wall(on_tape, width=taped(60))], Scheme()), 2001)
    assert told.endswith(" on the wall can stay: too close to tell, so it is measured once more first.")


def test_a_decision_that_cannot_be_done_is_not_told_as_decided():
    """No panel is as high as the box stands: every place at its height is rail."""
    (survey,) = (s for s in demo_room() if s.name == "window wall")
    plan = plan_walls([survey], Scheme(pins={"register": Pin.MOVE})).walls[0]
    assert "register" in {one.feature for one in plan.undecided}
    assert decision(plan, "register", Scheme(pins={"register": Pin.MOVE})) == ""


def test_what_is_too_close_to_tell_is_wanted_elsewhere_only_if_at_all():
    plan = planned({})
    walls = [WallPages(Wall(name=wall.name, marks=_marks(wall)), wall) for wall in plan.walls]
    brief = words(read(quietly(electricians_brief, ReportFacts("Room", scheme=plan.scheme), walls)))
    assert brief.count("if at all: see its card") == 1
