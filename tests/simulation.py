"""Whole walls drawn at random, measured, and compared with the truth: what the stated plus-or-minus is worth."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from scipy import stats

from capture.measure import MeasuredWall, measure_wall
from capture.record import PrintRun
from tests.walls import Made, random_wall

PRINTED = PrintRun()


@dataclass
class Trials:
    """Distances between plates, over many walls."""

    errors: list[float] = field(default_factory=list)  # in
    sds: list[float] = field(default_factory=list)  # as stated
    bounds: list[float] = field(default_factory=list)  # Cramér-Rao: the stated sd had the observations been exact
    squares: list[tuple[float, int]] = field(default_factory=list)  # eᵀ C⁻¹ e of each wall, and its size
    walls: int = 0
    failed: list[int] = field(default_factory=list)  # seeds of walls that were not solved, or said so

    @property
    def inside(self) -> float:
        """Part of the distances inside their 95 % interval."""
        return float(np.mean(np.abs(self.errors) < 1.959964 * np.array(self.sds)))

    @property
    def over_bound(self) -> float:
        """RMS error over the Cramér-Rao bound."""
        return float(np.sqrt(np.mean((np.array(self.errors) / np.array(self.bounds)) ** 2)))

    @property
    def square(self) -> float:
        """Normalised error squared per degree of freedom."""
        return sum(s for s, _ in self.squares) / sum(n for _, n in self.squares)

    @property
    def chance(self) -> float:
        """Of a sum of squares at least as far from what is expected, on the same side."""
        total, degrees = sum(s for s, _ in self.squares), sum(n for _, n in self.squares)
        return float(min(stats.chi2.sf(total, degrees), stats.chi2.cdf(total, degrees)))


def try_walls(seeds: Iterable[int], **of: int) -> Trials:
    """Measure one wall a seed."""
    trials = Trials()
    for seed in seeds:
        made = random_wall(seed, **of)
        if not made.seen:
            continue
        trials.walls += 1
        measured = measure_wall(made.wall, made.seen, PRINTED)
        spans = _spans(made, measured)
        if spans is None:
            continue
        error, covariance = spans
        square = float(error @ np.linalg.solve(covariance, error))
        told = {f.code for f in measured.survey.findings}
        if told & {"not-solved", "print-scale", "odd-size", "poor-fit"}:
            trials.failed.append(seed)  # said so: a person would look again
            continue
        exact = random_wall(seed, noise=0.0, **of)
        bound = _spans(exact, measure_wall(exact.wall, exact.seen, PRINTED))
        if bound is None or len(bound[0]) != len(error):
            continue
        trials.errors += list(error)
        trials.sds += list(np.sqrt(np.diag(covariance)))
        trials.bounds += list(np.sqrt(np.diag(bound[1])))
        trials.squares.append((square, len(error)))
    return trials


def _spans(made: Made, measured: MeasuredWall):
    """Errors of the distances from the first plate to the others, and their covariance; None for less than two."""
    survey, solution = measured.survey, measured.solution
    names = [n for n in made.plates if any(f.name == n and f.left is not None for f in survey.features)]
    if len(names) < 2 or not solution.converged:
        return None
    index = {name: i for i, name in enumerate(solution.net.coordinates.names)}
    rows = np.zeros((len(names) - 1, len(index)))
    for row, name in zip(rows, names[1:], strict=True):
        row[index[f"{name}/across"]], row[index[f"{names[0]}/across"]] = 1.0, -1.0
    true = [made.plates[n][0] - made.plates[names[0]][0] for n in names[1:]]
    q = solution.slots.q
    return rows @ solution.unknowns[q] - true, rows @ solution.covariance[q, q] @ rows.T


def inch_among_six(seeds: Iterable[int]) -> tuple[int, int, list[int]]:
    """Walls with six tapes, one off by an inch: how many, in how many it was rightly named, seeds of the others."""
    cases, right, missed = 0, 0, []
    for seed in seeds:
        rng = np.random.default_rng([seed, 9])
        made = random_wall(seed, n_tapes=6, n_cards=int(rng.integers(4, 9)), n_photos=int(rng.integers(1, 4)))
        if not usable(made):
            continue
        tapes = list(made.wall.tapes)
        i, off = int(rng.integers(len(tapes))), int(rng.choice([-1, 1]))
        tapes[i] = tapes[i].model_copy(update={"length": tapes[i].length + Fraction(off)})
        if tapes[i].length <= 0:
            continue
        wall = made.wall.model_copy(update={"tapes": tuple(tapes)})
        told = [f for f in measure_wall(wall, made.seen, PRINTED).survey.findings if f.code == "tape-disagrees"]
        cases += 1
        if told and told[0].subject == f"tape {tapes[i].start} to {tapes[i].end}":
            right += 1
        else:
            missed.append(seed)
    return cases, right, missed


def usable(made: Made) -> bool:
    """Whether all tapes of a made wall lead to things that its photos show."""
    names = {m.name for m in made.wall.marks}
    ends = [p for t in made.wall.tapes for p in (t.start, t.end)]
    return "left" in names and all(p == "left end" or p.removesuffix(" left") in names for p in ends)
