"""Walls adjusted together: one lens for all photos of a phone and zoom, one printed scale, corners turned.

Helmert blocking: what belongs to one wall alone is eliminated wall by wall, then what belongs to one room (its corners)
room by room, so that the time grows with the number of walls and not with its cube; what all rooms share is solved from
what remains, and put back (Wolf 1978, *The Helmert block method*; by orthogonal transformations, Golub & Plemmons 1980,
*Linear Algebra Appl.* 34).

A room is linearised anew only once it has moved from where that was done: a room whose walls did not change gives the
others what is left of its equations, a handful of rows.
"""

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from capture.adjust import Solution, solution_of, triangle
from capture.corner import CORNER, tie
from capture.equations import Block, observation_blocks
from capture.net import Net, Slots
from capture.wanted import still_wanted

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Row = tuple[dict[int, float], float, float]  # terms, value, sd

SETTLED = 1e-4  # standard deviations: what moved no more from where it was linearised is at rest, to a millionth or two
FAR = 1.0  # the same for rooms that nobody looks at: measured, no edge at hand moves by 1/20,000 of its own for it
MOST_STEPS = 30
WORSE = 1e-6  # part of the square sum by which a step may raise it: no more than linearising leaves out


@dataclass(frozen=True)
class Tied:
    """One camera that stands in the nets of two walls: by wall and shot, and the corner between the walls."""

    corner: Hashable
    left: tuple[int, int]
    right: tuple[int, int]


@dataclass
class Common:
    """The unknowns that walls of a room share, and what is known of them apart from the walls' own observations."""

    start: list[float] = field(default_factory=list)
    where: dict[Hashable, int] = field(default_factory=dict)  # key of a group of unknowns: its first column
    wide: dict[Hashable, tuple[range, list[Row]]] = field(default_factory=dict)  # columns that all rooms share; known
    rows: list[Row] = field(default_factory=list)
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

    def evaluate(self, c: Array, *, wide: bool = True) -> tuple[Array, Array]:
        """Weighted residuals and derivatives of all that only common unknowns take part in.

        Not `wide`, what is known of unknowns that all rooms share is left out.
        """
        rows = [*self.rows, *(row for _, known in self.wide.values() if wide for row in known)]
        J = np.zeros((len(rows), len(c)))
        for row, (terms, _, sd) in zip(J, rows, strict=True):
            row[list(terms)] = np.array(list(terms.values())) / sd
        residuals, blocks = [J @ c - np.array([value / sd for _, value, sd in rows])], [J]
        for t in self.tied:
            columns = [np.arange(k, k + CORNER) for k in (self.where[t.corner], *map(self._pose, (t.left, t.right)))]
            residual, *derivatives = tie(*(c[k] for k in columns))
            block = np.zeros((len(residual), len(c)))
            for k, d in zip(columns, derivatives, strict=True):
                block[:, k] = d
            residuals.append(residual)
            blocks.append(block)
        return np.concatenate(residuals), np.concatenate(blocks)

    def _pose(self, shot: tuple[int, int]) -> int:
        return self.where[("pose", *shot)]


@dataclass(frozen=True)
class Linked:
    """The walls of a room, each adjusted by itself, and what they share."""

    alone: Sequence[Solution]
    common: Common


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


def _part(wall: int, net: Net, common: Common) -> _Part:
    size = Slots.of(net).size
    shared = [i for w, i in common.shares if w == wall]
    own = np.setdiff1d(np.arange(size), shared).astype(np.intp)
    columns = [common.shares[wall, i] for i in shared]
    return _Part(net, observation_blocks(net, alone=False), own, np.array(shared, np.intp), np.array(columns, np.intp))


@dataclass(frozen=True)
class _Reduced:
    """Equations over unknowns of one's own and shared ones, the own ones eliminated by orthogonal transformations."""

    upper: Array  # (n, n) R of the own ones
    over: Array  # (n, k + 1) its rows over the shared ones and the residuals
    rest: Array  # (r, k + 1) what remains, over the shared ones and the residuals

    @classmethod
    def of(cls, rows: Array, n: int) -> "_Reduced":
        """Of rows (m, n + k + 1): derivatives by the n own unknowns, by the k shared ones, and residuals."""
        R = triangle(rows)
        return cls(R[:n, :n], R[:n, n:], R[n:, n:])

    @property
    def off(self) -> Array:
        """(n,) the step of the own unknowns while the shared ones stay, in standard deviations."""
        return self.over[:, -1]

    def step(self, shared: Array, part: float = 1.0) -> Array:
        """The step (n,) of the own unknowns that follows one of the shared ones, and part of what is due besides."""
        return -np.asarray(solve_triangular(self.upper, self.over[:, :-1] @ shared + part * self.off))

    def half(self, shared: Array) -> Array:
        """A factor (n, n + h) of the covariance of the own unknowns, from one (k, h) of the shared ones."""
        inverse = solve_triangular(self.upper, np.eye(len(self.upper)))
        return np.hstack([inverse, -inverse @ self.over[:, :-1] @ shared])


@dataclass(frozen=True)
class _Room:
    """The equations of one room."""

    alone: Sequence[Solution]
    parts: list[_Part]
    common: Common
    own: Indices  # columns of its common unknowns that no other room has
    wide: Indices  # the others
    places: list[Indices]  # of each wall's `common`, in the order own, wide

    @classmethod
    def of(cls, linked: Linked) -> "_Room":
        common = linked.common
        wide = _indices(columns for columns, _ in common.wide.values())
        own = np.setdiff1d(np.arange(len(common.start)), wide).astype(np.intp)
        order = np.argsort(np.concatenate([own, wide])).astype(np.intp)
        parts = [_part(w, s.net, common) for w, s in enumerate(linked.alone)]
        return cls(linked.alone, parts, common, own, wide, [order[part.common] for part in parts])

    def start(self, shared: Array, last: "_Linear | None") -> "_Point":
        """Where each wall alone came to rest, moved on by as much as the walls of this room were last."""
        c, walls = np.array(self.common.start), [s.unknowns for s in self.alone]
        if last is not None and last.room.alike(self):
            before = [s.unknowns for s in last.room.alone]
            c += last.point.common - np.array(last.room.common.start)
            walls = [x + (y - z) for x, y, z in zip(walls, last.point.walls, before, strict=True)]
        c[self.wide] = shared
        return self.point(c, walls)

    def alike(self, other: "_Room") -> bool:
        """Whether the unknowns of both are the same ones."""
        columns, sizes = (self.common.where, self.common.shares), [Slots.of(s.net) for s in self.alone]
        return columns == (other.common.where, other.common.shares) and sizes == [Slots.of(s.net) for s in other.alone]

    def point(self, c: Array, walls: Sequence[Array]) -> "_Point":
        """The walls with the common unknowns in their places."""
        xs = [x.copy() for x in walls]
        for part, x in zip(self.parts, xs, strict=True):
            x[part.shared] = c[part.common]
        return _Point(c, xs)

    def linearised(self, point: "_Point") -> "_Linear":
        """The equations at a point, all but what all rooms share eliminated."""
        still_wanted()
        v, J = self.common.evaluate(point.common, wide=False)
        rows, walls = [np.column_stack([J[:, self.own], J[:, self.wide], v])], []
        for part, place, x in zip(self.parts, self.places, point.walls, strict=True):
            v, J = part.evaluate(x)
            wall = _Reduced.of(np.column_stack([J[:, part.own], J[:, part.shared], v]), len(part.own))
            wider = np.zeros((len(wall.rest), len(point.common) + 1))
            wider[:, [*place, -1]] = wall.rest
            walls.append(wall)
            rows.append(wider)
        return _Linear(self, point, walls, _Reduced.of(np.concatenate(rows), len(self.own)))


@dataclass(frozen=True)
class _Point:
    """Where a room stands: its common unknowns, and all unknowns of each wall."""

    common: Array
    walls: list[Array]


@dataclass(frozen=True)
class _Linear:
    """A room as linearised at a point."""

    room: _Room
    point: _Point
    walls: list[_Reduced]
    reduced: _Reduced

    def by(self, shared: Array) -> Array:
        """How far what all share, as this room has it, lies from where this was linearised."""
        return shared - self.point.common[self.room.wide]

    def at(self, by: Array, part: float = 1.0) -> _Point:
        """Where the room stands when what all share lies that far from there; by part of what is due besides."""
        step = np.zeros(len(self.point.common))
        step[self.room.own], step[self.room.wide] = self.reduced.step(by, part), by
        walls = []
        for p, x, wall in zip(self.room.parts, self.point.walls, self.walls, strict=True):
            y = x.copy()
            y[p.own] += wall.step(step[p.common], part)
            walls.append(y)
        return self.room.point(self.point.common + step, walls)

    @property
    def off(self) -> float:
        """Square sum of the steps that are due while what all share stays, in standard deviations."""
        return float(sum(each.off @ each.off for each in (self.reduced, *self.walls)))

    def moved(self, by: Array, upper: Array) -> float:
        """How far the room then stands from where it was linearised: nothing in it by more standard deviations.

        Whitened, the steps of own and shared unknowns are at right angles; their length bounds that of every function.
        """
        whitened = upper @ by
        return float(np.sqrt(self.off + whitened @ whitened))

    def cost(self, by: Array) -> float:
        """The square sum of its residuals when what all share lies that far from there."""
        left = self.reduced.rest @ np.append(by, 1.0)
        return float(left @ left) + self.off


def _indices(ranges: Iterable[range]) -> Indices:
    return np.fromiter(chain.from_iterable(ranges), np.intp)


class _House:
    """What all rooms share, and what is known of it beforehand, which counts once."""

    def __init__(self, commons: Iterable[Common], kept: Mapping[Hashable, Array]) -> None:
        self.where: dict[Hashable, int] = {}
        start: list[float] = []
        known: list[tuple[int, Row]] = []
        for common in commons:
            for key, (columns, rows) in common.wide.items():
                if key not in self.where:
                    self.where[key] = len(start)
                    known += [(len(start) - columns.start, row) for row in rows]
                    start += list(kept.get(key, common.start[columns.start : columns.stop]))
        self.start = np.array(start)
        self.rows, self.values = np.zeros((len(known), len(start))), np.zeros(len(known))
        for i, (by, (terms, value, sd)) in enumerate(known):
            self.rows[i, [column + by for column in terms]] = np.array(list(terms.values())) / sd
            self.values[i] = value / sd

    def residuals(self, shared: Array) -> Array:
        """Of what is known beforehand."""
        return self.rows @ shared - self.values

    def columns(self, common: Common) -> Indices:
        """Where that which all rooms share lies, in the order in which a room has it."""
        return _indices(range(self.where[key], self.where[key] + len(own)) for key, (own, _) in common.wide.items())

    def reduced(self, linear: "Sequence[_Linear]", shared: Array) -> _Reduced:
        """All equations, with only what all rooms share left in them."""
        blocks = [np.column_stack([self.rows, self.residuals(shared)])]
        for one in linear:
            columns, rest = self.columns(one.room.common), one.reduced.rest
            block = np.zeros((len(rest), len(shared) + 1))
            block[:, [*columns, -1]] = rest
            block[:, -1] += rest[:, :-1] @ one.by(shared[columns])
            blocks.append(block)
        return _Reduced.of(np.concatenate(blocks), len(shared))

    def far(self, linear: "Sequence[_Linear]", shared: Array, upper: Array, limits: Sequence[float]) -> list[int]:
        """The rooms that stand further from where they were linearised than their limit."""
        columns = [self.columns(one.room.common) for one in linear]
        found = zip(linear, columns, limits, strict=True)
        return [i for i, (one, k, limit) in enumerate(found) if one.moved(one.by(shared[k]), upper[:, k]) > limit]

    def apart(self, shared: Array) -> dict[Hashable, Array]:
        """What all rooms share, by its keys."""
        ends = [*self.where.values(), len(shared)]
        return {key: shared[a:b] for key, a, b in zip(self.where, ends[:-1], ends[1:], strict=True)}


class Kept:
    """What an adjustment leaves for the next: every room as it was linearised last, and what all rooms share."""

    def __init__(self) -> None:
        self.linear: Sequence[_Linear] = ()
        self.shared: dict[Hashable, Array] = {}


@dataclass(frozen=True)
class Joint:
    """Rooms adjusted together."""

    linear: Sequence[_Linear]
    shared: Sequence[Array]  # what all rooms share, as each room has it
    half: Sequence[Array]  # half @ half.T is the covariance of that
    converged: bool

    def wall(self, room: int, wall: int) -> Solution:
        """A wall of a room, in its own unknowns, with its part of the joint covariance."""
        part, common = self.linear[room].room.parts[wall], self._half(room)
        x = self._at(room).walls[wall]
        own = self.linear[room].walls[wall].half(common[part.common])
        half = np.zeros((len(x), own.shape[1]))
        half[part.own], half[part.shared, len(part.own) :] = own, common[part.common]
        words = "joint steps fell below the noise" if self.converged else "joint steps did not settle"
        return solution_of(part.net, x, half, *part.evaluate(x), words, self.converged, alone=False)

    def corner(self, room: int, key: Hashable) -> tuple[Array, Array] | None:
        """Unknowns (6,) of a corner and their covariance; None where no photo sees both sides of it."""
        common = self.linear[room].room.common
        if key not in {t.corner for t in common.tied}:
            return None
        k = np.arange(common.where[key], common.where[key] + CORNER)
        half = self._half(room)[k]
        return self._at(room).common[k], half @ half.T

    def _at(self, room: int) -> _Point:
        one = self.linear[room]
        return one.at(one.by(self.shared[room]))

    def _half(self, room: int) -> Array:
        """A factor of the covariance of a room's common unknowns."""
        one, shared = self.linear[room], self.half[room]
        own = one.reduced.half(shared)
        half = np.zeros((len(one.room.common.start), own.shape[1]))
        half[one.room.own], half[one.room.wide, len(one.room.own) :] = own, shared
        return half


def adjust_together(linked: Sequence[Linked], kept: Kept | None = None, near: Collection[int] | None = None) -> Joint:
    """Adjust rooms with what they share, from where they stood last, else from each wall's own adjustment.

    Gauss-Newton; a step that makes things worse is halved.

    Parameters
    ----------
    linked
        The walls of each room.
    kept
        What the last adjustment left; this one leaves its own there.
    near
        The rooms that are looked at; None is all. The others only give what all share, and are linearised anew when
        they stand `FAR` from where that was done, not from `SETTLED` on.
    """
    kept = Kept() if kept is None else kept
    house = _House((one.common for one in linked), kept.shared)
    shared = house.start
    linear = []
    for i, one in enumerate(linked):
        last = kept.linear[i] if i < len(kept.linear) else None
        if last is None or last.room.common is not one.common:
            room = _Room.of(one)
            last = room.linearised(room.start(shared[house.columns(one.common)], last))
        linear.append(last)
    limits = [SETTLED if near is None or i in near else FAR for i in range(len(linked))]
    cost, converged = np.inf, False
    for _ in range(MOST_STEPS):
        whole = house.reduced(linear, shared)
        step = whole.step(np.zeros(0))
        far = house.far(linear, shared + step, whole.upper, limits)
        if converged := not far:
            shared = shared + step
            break
        taken = _best_along(house, linear, shared, step, far, cost)
        if taken is None:
            break
        shared, linear, cost = taken
    kept.linear = list(linear)
    kept.shared = house.apart(shared)
    columns, half = [house.columns(one.common) for one in linked], whole.half(np.zeros((0, 0)))
    return Joint(linear, [shared[k] for k in columns], [half[k] for k in columns], converged)


def _best_along(
    house: _House, linear: Sequence[_Linear], shared: Array, step: Array, far: Collection[int], cost: float
) -> tuple[Array, list[_Linear], float] | None:
    """The longest of the halved steps that lowers the cost, with the rooms that are far linearised there, or None."""
    for part in 0.5 ** np.arange(8):
        there = shared + part * step
        moved, now = list(linear), float(np.sum(house.residuals(there) ** 2))
        for i, one in enumerate(linear):
            by = one.by(there[house.columns(one.room.common)])
            if i in far:
                moved[i], by = one.room.linearised(one.at(by, part)), np.zeros_like(by)
            now += moved[i].cost(by)
        if now <= cost * (1 + WORSE):
            return there, moved, now
    return None
