"""Walls adjusted together: one lens for all photos of a phone and zoom, one printed scale, corners turned.

Helmert blocking: what belongs to one wall alone is eliminated wall by wall, so that the time grows with the number of
walls and not with its cube; what walls share is solved from what remains, and put back (Wolf 1978, *The Helmert block
method*; by orthogonal transformations, Golub & Plemmons 1980, *Linear Algebra Appl.* 34).
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from capture.adjust import Solution, solution_of, triangle
from capture.corner import CORNER, tie
from capture.equations import Block, observation_blocks
from capture.net import Net, Slots

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

SETTLED = 1e-3  # standard deviations: a step that moves nothing by more is the last
MOST_STEPS = 30


@dataclass(frozen=True)
class Tied:
    """One camera that stands in the nets of two walls: by wall and shot, and the corner between the walls."""

    corner: Hashable
    left: tuple[int, int]
    right: tuple[int, int]


@dataclass
class Common:
    """The unknowns that walls share, and what is known of them apart from the walls' own observations."""

    start: list[float] = field(default_factory=list)
    where: dict[Hashable, int] = field(default_factory=dict)  # key of a group of unknowns: its first column
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)  # terms, value, sd
    shares: dict[tuple[int, int], int] = field(default_factory=dict)  # wall and local unknown: column
    tied: list[Tied] = field(default_factory=list)

    def add(self, key: Hashable, start: Iterable[float]) -> int:
        """The first column of a group of unknowns, made if it is new."""
        if key not in self.where:
            self.where[key] = len(self.start)
            self.start += [float(value) for value in start]
        return self.where[key]

    def share(self, wall: int, local: Iterable[int], first: int) -> None:
        """Unknowns of a wall that are columns of the common ones, from `first` on."""
        self.shares |= {(wall, int(i)): first + n for n, i in enumerate(local)}

    def know(self, terms: dict[int, float], value: float, sd: float) -> None:
        """One linear observation of common unknowns."""
        self.rows.append((terms, value, sd))

    def evaluate(self, c: Array) -> tuple[Array, Array]:
        """Weighted residuals and derivatives of all that only common unknowns take part in."""
        v, J = [np.zeros(0)], [np.zeros((0, len(c)))]
        for terms, value, sd in self.rows:
            row = np.zeros((1, len(c)))
            row[0, list(terms)] = np.array(list(terms.values())) / sd
            J.append(row)
            v.append(row @ c - value / sd)
        for t in self.tied:
            columns = [np.arange(k, k + CORNER) for k in (self.where[t.corner], *map(self._pose, (t.left, t.right)))]
            residual, *derivatives = tie(*(c[k] for k in columns))
            block = np.zeros((len(residual), len(c)))
            for k, d in zip(columns, derivatives, strict=True):
                block[:, k] = d
            v.append(residual)
            J.append(block)
        return np.concatenate(v), np.concatenate(J)

    def _pose(self, shot: tuple[int, int]) -> int:
        return self.where[("pose", *shot)]


@dataclass(frozen=True)
class _Part:
    """One wall among others: which of its unknowns are its own, and where the rest lie among the common ones."""

    net: Net
    blocks: list[Block]
    own: Indices
    shared: Indices  # local
    common: Indices  # columns, in the order of `shared`

    def evaluate(self, x: Array) -> tuple[Array, Array]:
        pairs = [block(x) for block in self.blocks]
        return np.concatenate([v for v, _ in pairs]), np.concatenate([J for _, J in pairs])


@dataclass(frozen=True)
class Joint:
    """Walls adjusted together."""

    walls: list[Solution]  # in each wall's own unknowns, with its part of the joint covariance
    corners: dict[Hashable, tuple[Array, Array]]  # unknowns (6,) of each corner and their covariance


def adjust_together(alone: Sequence[Solution], common: Common) -> Joint:
    """Adjust walls with what they share, starting from each wall's own adjustment.

    Gauss-Newton; a step that makes things worse is halved.

    Parameters
    ----------
    alone
        Every wall adjusted by itself.
    common
        What they share.

    """
    parts = [_part(w, s.net, common) for w, s in enumerate(alone)]
    xs, c = [s.unknowns.copy() for s in alone], np.array(common.start)
    cost, converged = np.inf, False
    for _ in range(MOST_STEPS):
        step = _step(parts, xs, c, common)
        taken, cost_after = _best_along(parts, xs, c, common, step, cost)
        if taken is None:
            break
        xs, c, cost = *taken, cost_after
        if step.largest < SETTLED:
            converged = True
            break
    final = _step(parts, xs, c, common)
    words = "joint steps fell below the noise" if converged else "joint steps did not settle"
    walls = [_solution(p, x, final, i, words, converged) for i, (p, x) in enumerate(zip(parts, xs, strict=True))]
    corners = {}
    for key in dict.fromkeys(t.corner for t in common.tied):
        k = np.arange(common.where[key], common.where[key] + CORNER)
        corners[key] = c[k], final.half[k] @ final.half[k].T
    return Joint(walls, corners)


def _part(wall: int, net: Net, common: Common) -> _Part:
    size = Slots.of(net).size
    shared = [i for w, i in common.shares if w == wall]
    own = np.setdiff1d(np.arange(size), shared).astype(np.intp)
    columns = [common.shares[wall, i] for i in shared]
    return _Part(net, observation_blocks(net, alone=False), own, np.array(shared, np.intp), np.array(columns, np.intp))


@dataclass(frozen=True)
class _Step:
    """One step of all unknowns, with what gives the covariance at the point it starts from."""

    own: list[Array]
    common: Array
    upper: list[tuple[Array, Array]]  # R of each wall's own unknowns, and its rows over the common ones
    half: Array  # half @ half.T is the covariance of the common unknowns
    evaluated: list[tuple[Array, Array]]
    largest: float  # in standard deviations of the common unknowns


def _step(parts: Sequence[_Part], xs: Sequence[Array], c: Array, common: Common) -> _Step:
    v, J = common.evaluate(c)
    lower, upper, evaluated = [np.column_stack([J, v])], [], []
    for part, x in zip(parts, xs, strict=True):
        v, J = part.evaluate(x)
        evaluated.append((v, J))
        # Where the wall's copy of a common unknown is not at its value yet, the residual is carried over to it.
        v = v + J[:, part.shared] @ (c[part.common] - x[part.shared])
        n = len(part.own)
        R = triangle(np.column_stack([J[:, part.own], J[:, part.shared], v]))
        upper.append((R[:n, :n], R[:n, n:]))
        rest = np.zeros((len(R) - n, len(c) + 1))
        rest[:, [*part.common, -1]] = R[n:, n:]
        lower.append(rest)
    R = triangle(np.concatenate(lower))[: len(c)]
    half = solve_triangular(R[:, :-1], np.eye(len(c)))
    dc = -half @ R[:, -1]
    own = [-solve_triangular(U, T[:, :-1] @ dc[p.common] + T[:, -1]) for p, (U, T) in zip(parts, upper, strict=True)]
    largest = float(np.max(np.abs(dc) / np.linalg.norm(half, axis=1), initial=0.0))
    return _Step(own, dc, upper, half, evaluated, largest)


def _best_along(
    parts: Sequence[_Part], xs: Sequence[Array], c: Array, common: Common, step: _Step, cost: float
) -> tuple[tuple[list[Array], Array] | None, float]:
    """The longest of the halved steps that lowers the cost, or None; the first step is taken as it is."""
    for part in 0.5 ** np.arange(8):
        there = c + part * step.common
        moved = []
        for p, x, own in zip(parts, xs, step.own, strict=True):
            y = x.copy()
            y[p.own] += part * own
            y[p.shared] = there[p.common]
            moved.append(y)
        residuals = [common.evaluate(there)[0], *(p.evaluate(y)[0] for p, y in zip(parts, moved, strict=True))]
        now = float(sum(v @ v for v in residuals))
        if now <= cost * (1 + 1e-12):
            return (moved, there), now
    return None, cost


def _solution(part: _Part, x: Array, step: _Step, wall: int, words: str, converged: bool) -> Solution:
    U, T = step.upper[wall]
    half = np.zeros((len(x), len(part.own) + step.half.shape[1]))
    inverse = solve_triangular(U, np.eye(len(U)))
    shared = step.half[part.common]
    half[part.own, : len(U)] = inverse
    half[part.own, len(U) :] = -inverse @ T[:, :-1] @ shared
    half[part.shared, len(U) :] = shared
    v, J = step.evaluated[wall]
    return solution_of(part.net, x, half, v, J, words, converged, alone=False)
