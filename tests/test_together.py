"""Walls adjusted together: against one big adjustment by SciPy, against truth, and what they must not do."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import least_squares

from capture import joint as joint_module
from capture import memory as memory_module
from capture.adjust import adjust
from capture.beliefs import TAP_SD
from capture.joint import SETTLED, Linked, _part, adjust_together
from capture.measure import measure_walls
from capture.memory import Memory
from capture.network import assemble
from capture.record import Along, EndKind, PrintRun, Tape
from capture.together import Work, common_of, look_round_corners, meetings
from tests.rooms import corner_room

PRINTED = PrintRun()


def worked(room):
    works = [Work(a, adjust(a.net)) for a in (assemble(wall, seen, PRINTED) for wall, seen in room.walls)]
    corners = meetings(works)
    works, tied = look_round_corners(works, corners)
    return works, common_of(works, corners, tied)


def test_it_is_the_least_squares_solution_of_all_walls_at_once():
    """Helmert blocking against SciPy's solver on the same equations with all unknowns in one vector."""
    works, common = worked(corner_room(1))
    joint = adjust_together([Linked([w.solution for w in works], common)])
    # The common unknowns first, then each wall's own.
    parts = [_part(i, w.solution.net, common) for i, w in enumerate(works)]
    ends = np.cumsum([len(common.start), *(len(p.own) for p in parts)])

    def spread(x):
        local = []
        for i, p in enumerate(parts):
            y = np.zeros(len(works[i].solution.unknowns))
            y[p.own], y[p.shared] = x[ends[i] : ends[i + 1]], x[p.common]
            local.append(y)
        return local

    def residuals(x):
        own = [p.evaluate(y)[0] for p, y in zip(parts, spread(x), strict=True)]
        return np.concatenate([common.evaluate(x[: ends[0]])[0], *own])

    def jacobian(x):
        rows = [
            np.hstack(
                [common.evaluate(x[: ends[0]])[1], np.zeros((len(common.evaluate(x[: ends[0]])[0]), len(x) - ends[0]))]
            )
        ]
        for i, (p, y) in enumerate(zip(parts, spread(x), strict=True)):
            J = p.evaluate(y)[1]
            wide = np.zeros((len(J), len(x)))
            wide[:, ends[i] : ends[i + 1]] = J[:, p.own]
            wide[:, p.common] += J[:, p.shared]
            rows.append(wide)
        return np.concatenate(rows)

    start = np.concatenate([common.start, *(w.solution.unknowns[p.own] for w, p in zip(works, parts, strict=True))])
    found = least_squares(residuals, start, jac=jacobian, x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    J = jacobian(found.x)
    scale = np.linalg.norm(J, axis=0)
    covariance = np.linalg.pinv((J / scale).T @ (J / scale)) / np.outer(scale, scale)
    for i, local in enumerate(spread(found.x)):
        solution = joint.wall(0, i)
        sd = np.sqrt(np.diag(solution.covariance))
        # Ours stops when its last step is no longer than that.
        assert np.abs((solution.unknowns - local) / sd).max() < SETTLED
        at = np.empty(len(local), int)
        at[parts[i].own], at[parts[i].shared] = np.arange(ends[i], ends[i + 1]), parts[i].common
        np.testing.assert_allclose(sd, np.sqrt(np.diag(covariance))[at], rtol=2e-3)


@pytest.fixture(scope="module")
def corners():
    rooms = [corner_room(seed, turn=turn, level=True)
             for turn in (EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER) for seed in range(20)]  # fmt: skip
    return [(room, measure_walls([room.walls], PRINTED)) for room in rooms]


@pytest.mark.slow
def test_corners_come_out_as_well_as_they_claim(corners):
    turns, steps, boxes = [], [], []
    for room, (first, second) in corners:
        corner = first.survey.corner
        if corner is None:  # the corner photo shows too little of one wall
            continue
        assert corner.next_wall == "second"
        turns.append((corner.turn - room.turn) / corner.turn_sd)
        steps.append((corner.step.value - room.step) / corner.step.sd)
        for measured, (x, _) in zip((first, second), room.boxes, strict=True):
            box = measured.survey.feature("box")
            boxes.append((box.across.value - x) / box.across.sd)
    assert len(turns) >= 0.8 * len(corners)
    for z in (turns, steps, boxes):
        low, high = stats.chi2.interval(0.999, len(z))
        assert low < np.sum(np.square(z)) < high


def test_a_corner_seen_by_one_photo_is_measured_to_a_fraction_of_a_degree(corners):
    sds = [first.survey.corner.turn_sd for _, (first, _) in corners if first.survey.corner]
    # A try square 12 in long with 1/32 in at its end is off by 0.15 degrees.
    assert np.median(sds) < 0.15


def test_one_wall_alone_is_less_sure_of_the_lens_than_both():
    room = corner_room(2)
    alone = [measure_walls([[pair]], PRINTED)[0].solution for pair in room.walls]
    together = [m.solution for m in measure_walls([room.walls], PRINTED)]
    f = [np.sqrt(s.covariance[0, 0]) for s in alone]
    shared = [np.sqrt(s.covariance[0, 0]) for s in together]
    assert shared[0] == pytest.approx(shared[1])
    assert shared[0] < min(f)
    assert together[0].unknowns[0] == together[1].unknowns[0]


def test_a_level_line_round_the_corner_ties_the_floors():
    steps = []
    for level in (False, True):
        first, _ = measure_walls([corner_room(3, level=level).walls], PRINTED)
        steps.append(first.survey.corner.step.sd)
    assert steps[1] < steps[0] / 2


def test_a_wall_that_does_not_fit_together_harms_no_other():
    room = corner_room(4)
    (first, seen), second = room.walls
    tape = Tape(start="left end", end="box", length=Fraction(88), along=Along.ACROSS)  # a foot short
    right = Tape(start="card 1", end="card 3", length=Fraction(100), along=Along.ACROSS)  # 112 - 12
    wrong = first.model_copy(update={"tapes": (tape, right)})
    broken, whole = measure_walls([[(wrong, seen), second]], PRINTED)
    alone = measure_walls([[second]], PRINTED)[0]
    assert [f.code for f in broken.survey.findings] == ["tape-disagrees"]
    assert whole.survey.feature("box") == alone.survey.feature("box")


def test_walls_that_share_nothing_come_out_as_alone():
    """Another phone on the other wall, and no corner: only the print run is shared, and nothing tells of it."""
    a, b = corner_room(5).walls[0], corner_room(6).walls[0]
    other = [replace(s, phone="another phone") for s in b[1]]
    ends = {"right": EndKind.OPEN, "bow": Fraction(0)}
    pair = [(a[0].model_copy(update=ends), a[1]), (b[0].model_copy(update={**ends, "name": "other"}), other)]
    together = measure_walls([pair], PRINTED)
    alone = [measure_walls([[one]], PRINTED)[0] for one in pair]
    for x, y in zip(together, alone, strict=True):
        one, two = x.survey.feature("box").across, y.survey.feature("box").across
        assert one.value == pytest.approx(two.value, abs=0.2 * two.sd)
        assert x.survey.corner is None


def house(rooms):
    """Rooms like one another, in which every photo is through the one lens."""
    same = corner_room(7, level=True).walls
    return [[(wall.model_copy(update={"name": f"{wall.name} {n}"}), seen) for wall, seen in same] for n in range(rooms)]


def tapped_elsewhere(wall, rng):
    """The wall with its box tapped anew, a thumb's noise off."""
    marks = [
        m.model_copy(update={"sights": tuple(_tapped(s, rng) for s in m.sights)}) if m.name == "box" else m
        for m in wall.marks
    ]
    return wall.model_copy(update={"marks": tuple(marks)})


def _tapped(sight, rng):
    return sight.model_copy(update={"u": sight.u + rng.normal(0, TAP_SD), "v": sight.v + rng.normal(0, TAP_SD)})


def test_room_by_room_it_is_the_adjustment_of_all_walls_in_one():
    """Eliminated wall by wall and then room by room, against all walls' common unknowns in one system."""
    rooms = [[Work(a, adjust(a.net)) for a in (assemble(w, seen, PRINTED) for w, seen in room)] for room in house(2)]
    linked, flat, corners = [], [], []
    for room in rooms:
        met = meetings(room)
        works, tied = look_round_corners(room, met)
        linked.append(Linked([w.solution for w in works], common_of(works, met, tied)))
        corners += [replace(m, left=m.left + len(flat), right=m.right + len(flat)) for m in met]
        flat += room
    works, tied = look_round_corners(flat, corners)
    assert len(tied) == 2
    whole = adjust_together([Linked([w.solution for w in works], common_of(works, corners, tied))])
    joint = adjust_together(linked)
    for i in range(4):
        one, other = whole.wall(0, i), joint.wall(*divmod(i, 2))
        sd = np.sqrt(np.diag(one.covariance))
        assert np.abs((one.unknowns - other.unknowns) / sd).max() < SETTLED
        assert np.abs((one.covariance - other.covariance) / np.outer(sd, sd)).max() < SETTLED
    for i, room in enumerate(corners):
        turn, turn_of_room = whole.corner(0, ("corner", room.left)), joint.corner(i, ("corner", 0))
        np.testing.assert_allclose(turn[0], turn_of_room[0], atol=SETTLED * np.sqrt(np.diag(turn[1])).min())


@pytest.fixture
def linearised(monkeypatch):
    """How many rooms were linearised, counted."""
    count, work = [], joint_module._Room.linearised
    monkeypatch.setattr(joint_module._Room, "linearised", lambda *given: count.append(1) or work(*given))
    return count


def test_a_room_that_is_looked_at_stands_where_all_adjusted_anew_puts_it(linearised):
    """One tap after another in one of four rooms; the others are not linearised again, and harm it by nothing."""
    rng, rooms, memory = np.random.default_rng(0), house(4), Memory()
    measure_walls(rooms, PRINTED, memory=memory)
    for _ in range(4):
        wall, seen = rooms[1][0]
        rooms[1][0] = tapped_elsewhere(wall, rng), seen
        linearised.clear()
        looked_at = measure_walls(rooms, PRINTED, memory=memory, ahead=[wall.name for wall, _ in rooms[1]])
        assert 0 < len(linearised) < len(rooms) + 2  # this one room, a few times
        afresh = measure_walls(rooms, PRINTED)
        assert [m.survey.name for m in looked_at] == ["first 1", "second 1"]
        for mine, anew in zip(looked_at, afresh[2:4], strict=True):
            sd = np.sqrt(np.diag(anew.solution.covariance))
            assert np.abs((mine.solution.unknowns - anew.solution.unknowns) / sd).max() < SETTLED
            change = (mine.solution.covariance - anew.solution.covariance) / np.outer(sd, sd)
            assert np.abs(change).max() < SETTLED
        turns = [measured[0].survey.corner for measured in (looked_at, afresh[2:])]
        assert abs(turns[0].turn - turns[1].turn) < SETTLED * turns[1].turn_sd
    every = measure_walls(rooms, PRINTED, memory=memory)
    for mine, anew in zip(every, afresh, strict=True):
        sd = np.sqrt(np.diag(anew.solution.covariance))
        assert np.abs((mine.solution.unknowns - anew.solution.unknowns) / sd).max() < SETTLED


def test_what_moves_the_lens_has_every_room_linearised_anew(linearised):
    """A long tape moves the printed scale by more than a linearisation bears."""
    rooms, memory = house(3), Memory()
    before = measure_walls(rooms, PRINTED, memory=memory)
    (wall, seen), now = rooms[0][0], before[0].solution
    one, other = (now.unknowns[now.slots.card(now.net.cards.index(number))] for number in (1, 3))
    length = Fraction(float(np.hypot(*(other - one)[:2])) + 0.1).limit_denominator(1000)
    tape = Tape(start="card 1", end="card 3", length=length, along=Along.STRAIGHT)
    rooms[0][0] = wall.model_copy(update={"tapes": (tape,)}), seen
    linearised.clear()
    (first, _) = measure_walls(rooms, PRINTED, memory=memory, ahead=["first 0", "second 0"])
    assert first.survey.findings == before[0].survey.findings
    assert len(linearised) > len(rooms)
    anew = measure_walls(rooms, PRINTED)[0]
    sd = np.sqrt(np.diag(anew.solution.covariance))
    assert np.abs((first.solution.unknowns - anew.solution.unknowns) / sd).max() < SETTLED


def test_a_house_of_any_size_is_held_from_one_solve_to_the_next(monkeypatch):
    """Its walls read anew from disk are other objects, and equal ones: nothing of them is worked out again."""
    monkeypatch.setattr(memory_module, "LEAST", 8)  # what two walls leave: fewer than a house has
    memory, adjusted = Memory(), []
    monkeypatch.setattr(memory_module, "adjust", lambda net, **given: adjusted.append(1) or adjust(net, **given))
    measure_walls(_unlike(6), PRINTED, memory=memory)
    assert len(adjusted) >= 6
    adjusted.clear()
    measure_walls(_unlike(6), PRINTED, memory=memory)
    assert not adjusted


def _unlike(rooms):
    """A house whose rooms differ by their taps, made anew."""
    rng = np.random.default_rng(0)
    return [[(tapped_elsewhere(wall, rng), seen) for wall, seen in room] for room in house(rooms)]
