"""What to do next, on a wall where one box is too close to tell."""

from fractions import Fraction

import numpy as np
import pytest

from capture.advise import proposals
from capture.measure import measure_wall
from capture.record import Along, At, Kind, Mark, PrintRun, Side, Sight, Tape, Wall
from layout.next_steps import next_steps, undecided
from layout.plan import plan_walls
from layout.scheme import Scheme
from layout.verdicts import Verdict
from tests.scenes import observe
from tests.synthetic import look

CAMERA = look(at=(70, 50, 126), yaw=3, pitch=3)
CARDS = {1: (9.5, 24.6, 1.0), 2: (66.2, 26.1, -1.3), 3: (123.0, 46.5, 0.6), 4: (9.9, 62.0, -0.4)}
SCHEME = Scheme(panel_width=Fraction(24))


def sights(*points):
    pixels = [CAMERA.project(np.array([p]))[0] for _, p in points]
    return tuple(
        Sight(photo="photo", u=float(u), v=float(v), at=at) for (at, _), (u, v) in zip(points, pixels, strict=True)
    )


def box(name, x, y=14.0):
    z = 5 / 32
    corners = ((At.TOP_LEFT, (x - 1.375, y + 2.25, z)), (At.BOTTOM_RIGHT, (x + 1.375, y - 2.25, z)))
    return Mark(name=name, kind=Kind.RECEPTACLE, sights=sights(*corners))


def wall(*boxes, tapes=()):
    marks = (
        Mark(name="left", kind=Kind.WALL_END, side=Side.LEFT, sights=sights((At.POINT, (0, 18, 0)))),
        Mark(name="floor", kind=Kind.FLOOR_POINT, projection=Fraction(0), sights=sights((At.POINT, (30, 0, 0)))),
        *boxes,
    )
    return Wall(name="wall", width=Fraction(140), marks=marks, tapes=tapes, bow=Fraction(0))


def planned(noted):
    seen = observe(CAMERA, CARDS, (1.0, 1.0), np.random.default_rng(0), "photo")
    measured = measure_wall(noted, [seen], PrintRun())
    return measured, plan_walls([measured.survey], SCHEME).wall("wall")


@pytest.fixture(scope="module")
def edge():
    """Where a box would just touch the moulding left of the second stile."""
    _, plan = planned(wall())
    (frame,) = plan.frames
    return float(frame.panels[0].field.right)


def test_the_reading_that_settles_a_box_comes_first_with_what_it_brings(edge):
    noted = wall(box("receptacle 1", edge - 1.375 - 0.15), box("receptacle 2", edge - 12))
    measured, plan = planned(noted)
    assert undecided(plan) == ["receptacle 1"]
    steps = next_steps(plan, proposals(noted, measured, undecided(plan)), SCHEME)
    first = steps[0]
    assert first.what == "tape from the left end to receptacle 1"
    assert first.settles == ("receptacle 1",)
    assert first.after < first.before / 2
    assert first.told().startswith("tape from the left end to receptacle 1: ± ")
    assert first.told().endswith("likely settles receptacle 1")
    assert len(steps) == 1  # nothing else is undecided


def test_taking_the_reading_settles_it_as_foretold(edge):
    x = edge - 1.375 - 0.15
    reading = Tape(start="left end", end="receptacle 1", along=Along.ACROSS, length=Fraction(x).limit_denominator(32))
    _, plan = planned(wall(box("receptacle 1", x), tapes=(reading,)))
    assert undecided(plan) == []
    assert plan.judgements[0].verdict in (Verdict.TIGHT, Verdict.CLEAR)


def test_one_reading_that_settles_two_boxes_is_worth_more_than_one_that_settles_one(edge):
    noted = wall(box("receptacle 1", edge - 1.375 - 0.15), box("receptacle 2", edge - 1.375 - 0.15, 20.5))
    measured, plan = planned(noted)
    assert set(undecided(plan)) == {"receptacle 1", "receptacle 2"}
    steps = next_steps(plan, proposals(noted, measured, undecided(plan)), SCHEME)
    settled = [name for step in steps for name in step.settles]
    assert set(settled) == {"receptacle 1", "receptacle 2"}
    assert len(settled) == len(set(settled))
    assert [len(s.settles) for s in steps] == sorted((len(s.settles) for s in steps), reverse=True)


def test_where_all_is_plain_there_is_nothing_to_do(edge):
    noted = wall(box("receptacle 1", edge - 12))
    measured, plan = planned(noted)
    assert next_steps(plan, proposals(noted, measured, ["receptacle 1"]), SCHEME) == []


def test_a_box_that_was_never_measured_is_no_doubt_that_a_reading_could_halve(edge):
    noted = wall(box("receptacle 1", edge - 12), Mark(name="receptacle 2", kind=Kind.RECEPTACLE))
    measured, plan = planned(noted)
    assert any(j.feature == "receptacle 2" and j.verdict is Verdict.TOO_CLOSE for j in plan.judgements)
    assert undecided(plan) == []
    assert next_steps(plan, proposals(noted, measured, []), SCHEME) == []
