"""Rectangles of steep lines in a patch of a photo redrawn square-on, and how convincing each is."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.edges import Patch, Plane
from capture.record import GANG_SPACING, At, Kind

Array = NDArray[np.float64]

SIDES = ("left", "right", "bottom", "top")
PLATES = (Kind.RECEPTACLE, Kind.SWITCH, Kind.JACK)
# in: ANSI/NEMA WD 6 as reported, then the midway and oversize that makers sell (nominal)
CLASSES = ((2.75, 4.5), (3.13, 4.88), (3.5, 5.25))
THUMB = 0.5  # in: how far a tap may be off
NEAR = 1 / 16  # in: answers nearer than this are one
SEGMENTS = 12  # parts of a side that are looked at each on its own
CAP = 60.0  # a slope this many times the noise says all that a slope can say
KEPT = 12  # rectangles of a turn and a sign that are looked at further
SEEN_SIZE_SD = 0.06  # in: makers' spread, and candidates no finer than the patch
FAINT = 2.5  # times the noise of a slope: what a side must show, all along
BEYOND = 0.5  # in past its corners a side is looked at, where it should have ended

# From least to most, in inches: what a thing of a kind may measure across and up.
SIZES = {
    Kind.THERMOSTAT: ((2.0, 8.0), (2.0, 7.0)),
    Kind.REGISTER: ((4.0, 32.0), (2.5, 16.0)),
    Kind.RETURN_GRILLE: ((6.0, 32.0), (4.0, 32.0)),
    Kind.ACCESS_PANEL: ((4.0, 32.0), (4.0, 32.0)),
    Kind.WINDOW: ((10.0, 140.0), (10.0, 110.0)),
    Kind.OTHER: ((1.5, 24.0), (1.5, 24.0)),
}


@dataclass(frozen=True)
class Thing:
    """What is sought."""

    kind: Kind
    proud: float = 0.0  # in
    gangs: int = 1

    @property
    def usual(self) -> Array:
        """Standard sizes (K, 2), in; none for a kind that has none."""
        if self.kind not in PLATES:
            return np.zeros((0, 2))
        return np.array([(w + float(GANG_SPACING) * (self.gangs - 1), h) for w, h in CLASSES])

    @property
    def sizes(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """What it may measure across, and up: from least to most, in."""
        if self.kind not in PLATES:
            return SIZES[self.kind]
        width, height = self.usual[0]
        return (width - 0.4, width + 2.0), (height - 0.6, height + 2.5)


@dataclass(frozen=True)
class Search:
    """Where the sides may lie, from the pivot, in: [least, most] of left, right, bottom, top; and what is sought."""

    thing: Thing
    pivot: Array  # (2,) in the plane
    windows: Array  # (4, 2)
    centred: bool  # by one tap in the middle, rather than by corners


def search_of(thing: Thing, plane: Plane, taps: Mapping[At, tuple[float, float]]) -> Search:
    """Where to look, by one tap in the middle or by corners."""
    xy = {at: plane.meet(np.array([pixel]))[0] for at, pixel in taps.items()}
    pivot = np.mean(list(xy.values()), axis=0)
    reach = THUMB + 0.05
    if At.CENTRE in xy:
        slack = [max(reach, 0.06 * most) for _, most in thing.sizes]
        windows = [
            (sign * (most if sign < 0 else least) / 2 - s, sign * (least if sign < 0 else most) / 2 + s)
            for (least, most), s in zip(thing.sizes, slack, strict=True)
            for sign in (-1, 1)
        ]
        return Search(thing, pivot, np.array(windows), True)
    sides = []
    for axis, side in enumerate(SIDES):
        on = [p[axis // 2] - pivot[axis // 2] for at, p in xy.items() if side in at.value.split()]
        sides.append((np.mean(on) - reach, np.mean(on) + reach))
    return Search(thing, pivot, np.array(sides), False)


@dataclass(frozen=True)
class Rectangle:
    """A rectangle of candidates: its sides from the pivot in axes turned by `turn`."""

    sides: Array  # (4,) in
    strength: Array  # (4,) how steep, over the noise
    unbroken: Array  # (4,) share of its parts that show it
    turn: float  # radians
    sign: int  # 1 where it is lighter than what lies round it
    score: float
    noise: float  # of a slope, grey levels a px


class Slopes:
    """How steep the patch is along lines, capped, and summed up for every stretch of every line."""

    def __init__(self, slopes: Array, low: Array, step: float) -> None:
        self.low, self.step = low, step  # low: along, across
        capped = np.clip(slopes, -3.0, CAP)  # a cord that crosses a side the wrong way about counts little against it
        self.total = np.vstack([np.zeros((1, slopes.shape[1])), np.cumsum(capped, axis=0)])

    def mean(self, across: Array, start: Array, end: Array) -> Array:
        """Mean slope at lines `across` from `start` to `end`, in; any shapes that go together."""
        rows, columns = self.total.shape
        c = np.clip(np.round((across - self.low[1]) / self.step).astype(int), 0, columns - 1)
        a, b = (np.clip(np.round((v - self.low[0]) / self.step).astype(int), 0, rows - 1) for v in (start, end))
        b = np.maximum(b, a + 1).clip(max=rows - 1)
        return np.asarray((self.total[b, c] - self.total[a, c]) / np.maximum(b - a, 1))

    def side(self, across: Array, start: Array, end: Array) -> tuple[Array, Array, Array]:
        """Strength, unbroken share, and how far it runs on beyond its ends, of sides given as arrays of one shape."""
        inset = 0.06 * (end - start)
        parts = np.linspace(start + inset, end - inset, SEGMENTS + 1)
        means = self.mean(across[None], parts[:-1], parts[1:])
        strength = np.maximum(np.median(means, axis=0), 0.0)
        unbroken = np.mean(means > np.maximum(0.7, 0.4 * strength), axis=0)
        ends = np.stack([self.mean(across, start - BEYOND, start - 0.12), self.mean(across, end + 0.12, end + BEYOND)])
        return strength, unbroken, np.clip(ends / np.maximum(strength, 0.7), 0.0, 1.0).mean(axis=0)

    def candidates(self, window: Array, start: float, end: float, most: int) -> Array:
        """The steepest lines in a window (2,), seen between `start` and `end`, in."""
        first, last = (int(np.clip(round((v - self.low[1]) / self.step), 0, self.total.shape[1] - 1)) for v in window)
        across = self.low[1] + self.step * np.arange(first, last + 1)
        parts = np.linspace(start, end, 7)
        means = self.mean(across[None], parts[:-1, None], parts[1:, None])
        steep = 0.5 * np.mean(means, axis=0) + 0.5 * np.median(means, axis=0)
        padded = np.pad(steep, 1, constant_values=-np.inf)
        peaks = np.flatnonzero((steep >= padded[:-2]) & (steep > padded[2:]) & (steep > 0.3))
        return np.asarray(across[peaks[np.argsort(-steep[peaks])][:most]])


def rectangles(look: Patch, search: Search, turn: float) -> list[Rectangle]:
    """The best rectangles of a patch, lighter and darker ones."""
    found = []
    for sign in (1, -1):
        maps = [
            Slopes(sign * outward * look.slopes[axis], look.low[::-1] if axis == 0 else look.low, look.step)
            for axis in (0, 1)
            for outward in (1, -1)
        ]  # left, right, bottom, top: positive where the inner side is the lighter
        found += _of_sign(maps, look, search, turn, sign)
    return found


def _of_sign(maps: list[Slopes], look: Patch, search: Search, turn: float, sign: int) -> list[Rectangle]:
    w = search.windows
    most = 10 if search.thing.kind in PLATES or not search.centred else 24
    bands = [(w[2, 1], w[3, 0])] * 2 + [(w[0, 1], w[1, 0])] * 2  # surely between the other two sides
    lines = [m.candidates(w[i], *bands[i], most) for i, m in enumerate(maps)]
    across, up = (_pairs(lines[2 * i], lines[2 * i + 1], search, i) for i in (0, 1))
    if not len(across) or not len(up):
        return []
    sides = np.broadcast_arrays(*across.T[:, :, None], *up.T[:, None, :])  # each (pairs across, pairs up)
    seen = [m.side(sides[i], *(sides[2:] if i < 2 else sides[:2])) for i, m in enumerate(maps)]
    strength, unbroken, beyond = (np.stack([s[k] for s in seen]) for k in range(3))
    score = _score(np.stack(sides), strength, unbroken, beyond, search)
    flat = [a.reshape(4, -1).T for a in (np.stack(sides), strength, unbroken)]
    best = np.argsort(-score, axis=None)[:KEPT]
    return [Rectangle(flat[0][i], flat[1][i], flat[2][i], turn, sign, float(score.flat[i]), look.noise) for i in best]


def _pairs(low: Array, high: Array, search: Search, axis: int) -> Array:
    """Pairs (N, 2) of opposite sides that are of a possible size and lie about the taps."""
    a, b = (p.ravel() for p in np.meshgrid(low, high, indexing="ij"))
    least, most = search.thing.sizes[axis]
    good = (b - a > least) & (b - a < most)
    if search.centred:
        good &= np.abs(a + b) / 2 < np.maximum(THUMB + 0.05, 0.06 * (b - a))
    return np.column_stack([a, b])[good][:300]


def _score(sides: Array, strength: Array, unbroken: Array, beyond: Array, search: Search) -> Array:
    """How convincing rectangles are: sides (4, ...) in; the rest as `Slopes.side` has it.

    The weights were set on close-ups (tests/closeups.py) and judged on others: a side counts up to 1 and loses up to
    half where it runs on past its corners; a usual size is worth 0.4. Of what has no usual size the larger is the
    likelier: the rim of a register, not the field of louvres in it.
    """
    each = unbroken * strength / (strength + 3.0)  # a side three times as steep as the noise counts half
    size = np.stack([sides[1] - sides[0], sides[3] - sides[2]])
    score = each.sum(axis=0) + 0.5 * each.min(axis=0) - 0.5 * beyond.sum(axis=0)
    if not len(search.thing.usual):
        return np.asarray(score + 0.1 * np.log(size[0] * size[1]))
    for usual in search.thing.usual:
        off = (size - usual.reshape(2, 1, 1)) / SEEN_SIZE_SD
        score = score + 0.4 * np.exp(-np.square(off).sum(axis=0) / 2)
    return np.asarray(score)
