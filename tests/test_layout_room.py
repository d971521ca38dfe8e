"""An invented room and the story of its plan; and short words with which the other layout tests build walls."""

from dataclasses import replace
from fractions import Fraction

import pytest

from capture.errors import PlainError, UnknownNameError
from capture.measured import Measured, Source
from capture.record import EndKind, Kind, Mark, Side
from capture.survey import Feature, WallSurvey
from layout.plan import Plan, check_counts, plan_walls
from layout.remedies import Way
from layout.scheme import Scheme
from layout.verdicts import Verdict

PHOTO_SD = 0.06
TAPE_SD = 1 / 32


def seen(place: float, sd: float = PHOTO_SD) -> Measured:
    return Measured(float(place), sd, Source.PHOTO)


def taped(place: float | Fraction, sd: float = TAPE_SD) -> Measured:
    return Measured(float(place), sd, Source.TAPE)


def box(
    name: str,
    x: float,
    y: float,
    kind: Kind = Kind.RECEPTACLE,
    width: float = 2.75,
    height: float = 4.5,
    sd: float = PHOTO_SD,
    stud_side: Side | None = None,
    cable_slack: Fraction | None = None,
) -> Feature:
    mark = Mark(name=name, kind=kind, stud_side=stud_side, cable_slack=cable_slack)
    across = seen(x - width / 2, sd), seen(x + width / 2, sd)
    return Feature(mark, *across, seen(y - height / 2, sd), seen(y + height / 2, sd))


def casing(name: str, x: float, opening: Side | None) -> Feature:
    return Feature(Mark(name=name, kind=Kind.CASING_EDGE, side=opening), taped(x), taped(x), None, None)


def stud(name: str, x: float) -> Feature:
    return Feature(Mark(name=name, kind=Kind.STUD), seen(x), seen(x), None, None)


def window(
    name: str, left: float, right: float, stool: float | None = None, apron: float | None = None, bottom: float = 28.5
) -> Feature:
    return Feature(
        Mark(name=name, kind=Kind.WINDOW),
        taped(left),
        taped(right),
        taped(bottom),
        taped(80),
        None if stool is None else taped(stool),
        None if apron is None else taped(apron),
    )


def wall(
    *features: Feature,
    width: Measured | None = None,
    left: EndKind = EndKind.OPEN,
    right: EndKind = EndKind.OPEN,
    name: str = "wall",
) -> WallSurvey:
    return WallSurvey(name, left, right, taped(120) if width is None else width, features)


def demo_room() -> tuple[WallSurvey, WallSurvey, WallSurvey]:
    long_wall = wall(
        box("receptacle 1", 31.9, 14, stud_side=Side.LEFT),
        box("receptacle 2", 71.5, 14),
        box("receptacle 3", 110.3, 14),
        width=taped(143.375),
        left=EndKind.INSIDE_CORNER,
        right=EndKind.BULLNOSE,
        name="long wall",
    )
    passage_wall = wall(
        box("receptacle 5", 25.67, 14),
        box("receptacle 6", 53.7, 14),
        box("switch", 50, 46, Kind.SWITCH),
        width=seen(60),
        left=EndKind.BULLNOSE,
        name="passage wall",
    )
    window_wall = wall(
        box("receptacle 4", 22, 14),
        box("register", 62, 6.75, Kind.REGISTER, 12, 6),
        window("window", 44, 80, stool=28.5, apron=24.25),
        width=taped(112),
        left=EndKind.CASING,
        right=EndKind.INSIDE_CORNER,
        name="window wall",
    )
    return long_wall, passage_wall, window_wall


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_walls(demo_room(), Scheme())


def test_the_long_wall_takes_five_panels_between_the_corner_and_the_bullnose(plan: Plan) -> None:
    (frame,) = plan.wall("long wall").frames
    assert (frame.run.left, frame.run.right) == (Fraction(3, 4), Fraction("143.375"))
    assert frame.count == 5
    assert frame.panel_width == Fraction("24.325")  # (142.625 - 6 × 3.5) / 5
    assert frame.stiles[1].rect.left == Fraction("28.575")  # 0.75 + 3.5 + 24.325


def test_a_window_makes_three_runs_of_its_wall(plan: Plan) -> None:
    left, under, right = plan.wall("window wall").frames
    assert [frame.run.name for frame in (left, under, right)] == [
        "window wall, left of window",
        "window wall, under window",
        "window wall, right of window",
    ]
    assert (left.count, under.count, right.count) == (2, 1, 1)
    assert under.run.top == Fraction("24.25")
    assert right.run.right == Fraction("111.25")  # 112 less the thickness at the inside corner


@pytest.mark.parametrize(
    ("wall_name", "feature", "verdict", "against"),
    [
        pytest.param("long wall", "receptacle 1", Verdict.SPLIT, "stile 2", id="half on a stile"),
        pytest.param("long wall", "receptacle 2", Verdict.CLEAR, "moulding of panel 3, bottom", id="mid panel"),
        pytest.param("long wall", "receptacle 3", Verdict.STRIKES_MOULDING, "moulding of panel 4, right", id="struck"),
        pytest.param("passage wall", "receptacle 5", Verdict.TOO_CLOSE, "moulding of panel 1, right", id="0.08 away"),
        pytest.param("passage wall", "receptacle 6", Verdict.TIGHT, "moulding of panel 2, right", id="0.3 away"),
        pytest.param("passage wall", "switch", Verdict.CLEAR, "cap", id="above the cap"),
        pytest.param("window wall", "receptacle 4", Verdict.WHOLE, "stile 2", id="whole on a stile"),
        pytest.param("window wall", "register", Verdict.SPLIT, "bottom rail under window", id="register in the rail"),
    ],
)
def test_every_box_of_the_room_gets_its_verdict(
    plan: Plan, wall_name: str, feature: str, verdict: Verdict, against: str
) -> None:
    (judgement,) = [found for found in plan.wall(wall_name).judgements if found.feature == feature]
    assert (judgement.verdict, judgement.against) == (verdict, against)


def test_what_is_too_close_to_tell_becomes_tight_once_it_is_taped(plan: Plan) -> None:
    (doubt,) = [found for found in plan.conflicts if found.verdict is Verdict.TOO_CLOSE]
    assert doubt.tape_this == "tape from the left end to receptacle 5, to 1/16"
    long_wall, passage_wall, window_wall = demo_room()
    readings = (box("receptacle 5", 25.67, 14, sd=TAPE_SD), *passage_wall.features[1:])
    surer = wall(*readings, width=taped(60), left=EndKind.BULLNOSE, name="passage wall")
    settled = plan_walls((long_wall, surer, window_wall), Scheme()).wall("passage wall").judgements[0]
    assert settled.verdict is Verdict.TIGHT


def test_conflicts_are_told_for_the_room_and_each_has_something_that_can_be_done(plan: Plan) -> None:
    conflicts = {conflict.feature for conflict in plan.conflicts}
    assert conflicts == {"receptacle 1", "receptacle 3", "receptacle 5", "receptacle 4", "register"}
    offered = {name: ways for walls in plan.walls for name, ways in walls.remedies.items()}
    assert set(offered) == conflicts
    assert all(ways for ways in offered.values())


def test_another_count_that_leaves_nothing_in_the_way_comes_before_moving_a_box(plan: Plan) -> None:
    first = plan.wall("long wall").remedies["receptacle 1"][0]
    assert (first.kind, first.conflicts_left) == (Way.COUNT, 0)


def test_the_first_wall_hides_its_end_stile_at_the_closing_corner_and_the_last_does_not(plan: Plan) -> None:
    assert plan.wall("long wall").runs[0].left_hidden == Fraction(3, 4)
    assert plan.wall("window wall").runs[-1].right_hidden == 0


def test_in_a_room_of_inside_corners_just_one_wall_hides_its_stile_at_each() -> None:
    inside = EndKind.INSIDE_CORNER
    surveys = [wall(left=inside, right=inside, name=f"wall {n}") for n in "1234"]
    runs = [planned.runs[0] for planned in plan_walls(surveys, Scheme()).walls]
    corners = [(run.right_hidden, after.left_hidden) for run, after in zip(runs, runs[1:] + runs[:1], strict=True)]
    hidden, shown = Fraction(3, 4), Fraction(0)
    # The wall that comes first in order goes in first; at the last corner that is wall 1.
    assert corners == [(hidden, shown), (hidden, shown), (hidden, shown), (shown, hidden)]


def test_a_width_from_a_photo_is_planned_and_noted(plan: Plan) -> None:
    assert plan.wall("passage wall").runs[0].notes[0] == 'width 60" from photo only: tape before cutting'


def test_a_count_can_be_fixed_by_the_name_of_the_run() -> None:
    fixed = plan_walls(demo_room(), Scheme(panels={"window wall, left of window": 1}))
    check_counts(fixed)
    assert fixed.wall("window wall").frames[0].count == 1


def test_a_fixed_count_for_a_run_that_is_not_there_names_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="No run is called “long wal”; did you mean “long wall”"):
        check_counts(plan_walls(demo_room(), Scheme(panels={"long wal": 4})))


def test_a_count_for_another_room_does_not_stop_the_plan_of_this_one() -> None:
    planned = plan_walls(demo_room(), Scheme(panels={"hall": 3, "long wall": 4}))
    assert planned.wall("long wall").frames[0].count == 4


def test_one_wall_alone_is_planned_as_if_it_went_in_first() -> None:
    (only,) = plan_walls(demo_room()[:1], Scheme()).walls
    assert only.runs[0].left_hidden == Fraction(3, 4)


def test_a_wall_that_is_not_planned_is_named() -> None:
    with pytest.raises(PlainError, match="No planned wall is called “north”"):
        plan_walls(demo_room(), Scheme()).wall("north")


def test_a_wall_that_cannot_be_planned_leaves_the_others_planned():
    long_wall, passage, window_wall = demo_room()
    narrow = replace(passage, width=Measured(9.0, 0.02, Source.TAPE))
    planned = plan_walls((long_wall, narrow, window_wall), Scheme())
    assert planned.wall("long wall").refused == ""
    assert planned.wall("long wall").frames
    refused = planned.wall("passage wall")
    assert refused.frames == ()
    assert '9"' in refused.refused
    assert refused.notes == (refused.refused,)
