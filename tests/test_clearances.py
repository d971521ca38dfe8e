"""How sure a clearance is, for edge and member share their errors: a worked example, and the truth."""

from fractions import Fraction
from functools import cache
from math import cos, hypot, sin

import numpy as np
import pytest
from scipy import stats

from capture.measure import measure_wall
from capture.measured import Errors, Measured, Source, sd_of
from capture.record import PrintRun
from layout.chances import edge_sds
from layout.ends import RunEnd, Stop
from layout.runs import Run
from tests.walls import WIDE, random_wall

LEFT_EDGE = -WIDE / 2


def places(covariance: np.ndarray) -> list[Measured]:
    rows = np.eye(len(covariance))
    return [
        Measured(0.0, float(sd), Source.PHOTO, Errors(row, covariance))
        for row, sd in zip(rows, covariance.diagonal() ** 0.5, strict=True)
    ]


def test_a_published_worked_example_of_errors_that_hang_together():
    """Resistance from voltage, current and phase, measured together: JCGM 100:2008, H.2 (its figures from memory)."""
    volts, amperes, phase = 4.9990, 19.6610e-3, 1.04446
    sds = np.array([0.0032, 0.0095e-3, 0.00075])
    together = np.array([[1, -0.36, 0.86], [-0.36, 1, -0.65], [0.86, -0.65, 1]])
    measured = places(sds[:, None] * together * sds)
    resistance = volts / amperes * cos(phase)
    slopes = resistance / volts, -resistance / amperes, -volts / amperes * sin(phase)
    assert resistance == pytest.approx(127.732, abs=0.001)
    # 0.071 ohm there; from its inputs as printed, to two digits, 0.070.
    assert sd_of(*zip(slopes, measured, strict=True)) == pytest.approx(0.071, abs=0.0015)
    alone = [Measured(0.0, one.sd, one.source) for one in measured]
    assert sd_of(*zip(slopes, alone, strict=True)) == pytest.approx(0.195, abs=0.0015)  # root of the sum of squares


def test_lengths_of_two_adjustments_are_independent():
    (a, b), (c, _) = places(np.array([[4.0, 3.9], [3.9, 4.0]])), places(np.array([[9.0, 0.0], [0.0, 1.0]]))
    assert sd_of((1.0, a), (-1.0, b)) == pytest.approx((4 + 4 - 2 * 3.9) ** 0.5)
    assert sd_of((1.0, a), (-1.0, b), (1.0, c)) == pytest.approx((0.2 + 9) ** 0.5)


@cache
def trials() -> np.ndarray:
    """Of random walls without a tape: error of a clearance, its stated sd, and that of edge and member as independent.

    Members are spread from the wall's left end to the last plate, as they are to a casing; the clearance is that of a
    plate between, to a member that stands at the same share of the way.
    """
    found = []
    for seed in range(3000, 3160):
        made = random_wall(seed, n_tapes=0, n_cards=4 + seed % 3, n_photos=2)
        survey = measure_wall(made.wall, made.seen, PrintRun()).survey
        plates = [feature for feature in survey.features if feature.name in made.plates and feature.left]
        if survey.findings or len(plates) < 3:
            continue
        last, box = plates[-1], plates[1 + seed % (len(plates) - 2)]
        end = Fraction(last.left.value)
        run = Run("wall", "", Fraction(0), end, Fraction(36), RunEnd(Stop.OPEN), RunEnd(Stop.WINDOW, last.left))
        share = box.left.value / last.left.value
        true = made.plates[box.name][0] + LEFT_EDGE - share * (made.plates[last.name][0] + LEFT_EDGE)
        found.append((-true, edge_sds(box, run)[0], hypot(box.left.sd, share * last.left.sd)))
    return np.array(found)


def test_clearances_are_as_sure_as_stated():
    error, sd, _ = trials().T
    n = len(error)
    assert n > 100
    # Chance alone leaves these bounds once in a thousand.
    assert stats.chi2.ppf(0.0005, n) < np.sum((error / sd) ** 2) < stats.chi2.ppf(0.9995, n)
    assert stats.binom.ppf(0.0005, n, 0.95) <= np.sum(np.abs(error) < 1.959964 * sd) <= stats.binom.ppf(0.9995, n, 0.95)


def test_edge_and_member_taken_as_independent_would_be_too_careful():
    """What this is for: the error of the printed scale moves edge and member alike."""
    error, sd, alone = trials().T
    assert np.sum((error / alone) ** 2) < stats.chi2.ppf(0.0005, len(error))
    assert np.median(alone / sd) > 1.5
