"""Walls adjusted together: against one big adjustment by SciPy, against truth, and what they must not do."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import least_squares

from capture.adjust import adjust
from capture.joint import _part, adjust_together
from capture.measure import measure_walls
from capture.network import assemble
from capture.record import Along, EndKind, PrintRun, Tape
from capture.together import Work, common_of, look_round_corners, meetings
from tests.rooms import corner_room

PRINTED = PrintRun()


def worked(room):
    works = [Work(a, adjust(a.net)) for a in (assemble(wall, seen, PRINTED) for wall, seen in room.walls)]
    corners = meetings([works])
    works, tied = look_round_corners(works, corners)
    return works, common_of(works, corners, tied)


def test_it_is_the_least_squares_solution_of_all_walls_at_once():
    """Helmert blocking against SciPy's solver on the same equations with all unknowns in one vector."""
    works, common = worked(corner_room(1))
    joint = adjust_together([w.solution for w in works], common)
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
    for i, (solution, local) in enumerate(zip(joint.walls, spread(found.x), strict=True)):
        sd = np.sqrt(np.diag(solution.covariance))
        # Ours stops when no step exceeds a thousandth of a standard deviation.
        assert np.abs((solution.unknowns - local) / sd).max() < 5e-3
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
