"""A tap made exact: the true edges near a thumb, to a part of a pixel.

In a patch of the photo redrawn square-on, steep lines are candidates for left, right, bottom and top. A rectangle of
them is scored by how steep and unbroken its sides are, whether they end at its corners, how near it lies to the taps,
and how near to a standard size, which can tip the scales but moves no edge. A plate is lighter than what lies round it,
or darker, on all four sides: so the far side of a shadow, which is the other way about, is not taken for its edge. The
best rectangle is then traced in the photo itself, side by side. A wrong edge is worse than none: where nothing
convinces, the tap stays.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera
from capture.edges import Line, Patch, Plane, Traced, beside, moved, patch, trace, turned
from capture.record import GANG_SPACING, At, Kind, Side

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

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
# How far down towards the wall a thing's outline lies, as part of its projection: a plate's edges are eased or slope to
# the wall (common practice, no source); a casing or a register has a square rim.
EASED = {Kind.RECEPTACLE: 0.4, Kind.SWITCH: 0.4, Kind.JACK: 0.4, Kind.THERMOSTAT: 0.1}


@dataclass(frozen=True)
class Edge:
    """One edge as found: a straight line in the photo."""

    side: str
    ends: Array  # (2, 2) px
    sd: float  # px, across it
    strength: float  # how steep it is, over the noise round it
    unbroken: float  # share of its length that shows it


@dataclass(frozen=True)
class Snap:
    """What a tap is on: places in px with their sd, and what is doubtful; no places where nothing convinced."""

    places: Mapping[At, tuple[float, float, float]] = field(default_factory=dict)
    edges: tuple[Edge, ...] = ()
    doubt: str = ""


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


# ---- candidates, and rectangles of them ----


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


# ---- the best rectangle, traced ----


def snap_rectangle(gray: Gray, camera: Camera, thing: Thing, taps: Mapping[At, tuple[float, float]]) -> Snap:
    """Find the four edges of a thing by one tap near its middle, or by taps near two opposite corners.

    Parameters
    ----------
    gray
        Upright luma.
    camera
        Of this photo, in the frame of the wall.
    thing
        Its kind, and how proud its face is.
    taps
        Pixels by what was tapped: `At.CENTRE`, or corners that name all four sides; each good to `THUMB` on the wall.

    Returns
    -------
    Snap
        The four corners in px, where the rays through them meet the plane at the height of the face.
    """
    plane = Plane(gray, camera, thing.proud)
    search = search_of(thing, plane, taps)
    best, others = _search(plane, search)
    if best is None or not _convincing(best):
        return Snap(doubt=NOTHING)
    traced = _traced(plane, search, best)
    if isinstance(traced, str):
        return Snap(doubt=traced)
    wide = np.array([in_view(t.line, plane) for t in traced])
    if any(r.score > best.score - RIVAL and not _explained(r, best, wide) for r in others):
        return Snap(doubt=TWO)
    choices = [_rims(t, plane, thing) for t in traced]
    rims = [rim for i in (0, 2) for rim in _likely(choices[i], choices[i + 1], thing.usual[:, i // 2])]
    return Snap(_corners(rims, plane), _edges(rims, plane), " ".join(_doubts(best, rims, thing)))


def _likely(low: list[Traced], high: list[Traced], usual: Array) -> tuple[Traced, Traced]:
    """Of what two opposite sides may be, the pair that comes to a usual size; the first of each where none does."""

    def off(pair: tuple[Traced, Traced]) -> float:
        size = (pair[1].line.point - pair[0].line.point) @ pair[1].line.out
        return float(np.abs(usual - size).min(initial=np.inf))

    best = min(product(low, high), key=off)
    return best if off(best) < NEAR else (low[0], high[0])


TWO = "Two rectangles here are as good as one another, so the tap stays as it is; tap two opposite corners, nearer."
NOTHING = "No rectangle shows here clearly enough, so the tap stays as it is."


def _convincing(best: Rectangle) -> bool:
    """Whether all sides show for most of their length, and no more than one is faint."""
    return bool(best.unbroken.min() > 0.5 and np.sort(best.strength)[1] > FAINT and best.strength.min() > FAINT / 2)


def _search(plane: Plane, search: Search) -> tuple[Rectangle | None, list[Rectangle]]:
    """The best rectangle, and those that are another answer."""
    w, margin = search.windows, BEYOND + 0.2
    box = np.array([w[0, 0] - margin, w[2, 0] - margin, w[1, 1] + margin, w[3, 1] + margin])
    found = [
        r for turn in _turns(search.thing) for r in rectangles(patch(plane, search.pivot, turn, box), search, turn)
    ]
    if not found:
        return None, []
    best = _lighter(max(found, key=lambda r: r.score), found)
    return best, [r for r in found if np.abs(r.sides - best.sides).max() > NEAR + 0.04]


def _turns(thing: Thing) -> Array:
    """How crooked it may hang, radians: steps as fine as its size asks for."""
    return np.asarray(np.radians(np.arange(-2.5, 2.6, 1.0) if thing.kind in PLATES else np.arange(-1.0, 1.1, 0.5)))


def _traced(plane: Plane, search: Search, best: Rectangle) -> list[Traced] | str:
    axes = turned(best.turn)
    left, right, bottom, top = best.sides
    middle = np.array([left + right, bottom + top]) / 2
    share = 0.7 if search.thing.kind is Kind.THERMOSTAT else 0.88  # its corners are round
    traced = []
    for i, side in enumerate(SIDES):
        axis, sign = i // 2, -1.0 if i % 2 == 0 else 1.0
        out, along = np.eye(2)[axis] * sign, np.eye(2)[1 - axis]
        point = np.where(np.arange(2) == axis, best.sides[i], middle)
        half = share / 2 * (best.sides[3 - 2 * axis] - best.sides[2 - 2 * axis])
        line = Line(search.pivot + axes @ point, axes @ along, axes @ out, half)
        found = trace(plane, line, best.sign, best.noise)
        if found is None:
            return f"Its {side} edge is lost on the way, so the tap stays as it is."
        traced.append(found)
    return traced


def _rims(traced: Traced, plane: Plane, thing: Thing) -> list[Traced]:
    """The rim of the face as if it were sharp, from the outline that is seen; where not sure, all that it may be.

    Where the side below an edge is in view, the outline may be the rim or the foot of that side: a second line on one
    or the other hand of it tells. Where the side is hidden, the outline is that of an eased edge.
    """
    part, wide = EASED.get(thing.kind, 0.0), in_view(traced.line, plane)
    traced = _shifted(traced, 0.0, EASE_SD if part else RIM_SD)
    if wide <= 0:
        return [_shifted(traced, -part * wide, part / 2 * abs(wide))]
    unsure = [_shifted(traced, -k * wide, wide / s) for k, s in ((0.5, np.sqrt(12)), (0.0, 8), (0.75, 8))]
    if wide * traced.per_inch < SIDE_SEEN:
        return unsure
    inner, at, outer = beside(plane, traced.line, wide)
    least = max(3 * traced.noise, 0.15 * traced.strength * traced.noise)
    if max(inner, outer) < least:
        return unsure
    if outer > inner:
        return [traced, *unsure]
    return [_shifted(traced, (at - wide) / 2 if part else at, wide / 8)]


WEAK = 6.0  # times the noise: an edge no steeper than this is told as weak
EASE_SD = 0.018  # in: shade on an eased edge moves its steepest point by this much (tests/test_snap.py)
RIM_SD = 0.012  # in: the same of a square rim
SIDE_SEEN = 3.0  # px: a side narrower than this melts into the edge


def _shifted(traced: Traced, shift: float, sd: float) -> Traced:
    return replace(traced, line=moved(traced.line, shift, 0.0), sd=float(np.hypot(traced.sd, sd)))


def in_view(line: Line, plane: Plane) -> float:
    """How wide the side below an edge is seen in the plane, in; negative where the face hides it."""
    centre = plane.camera.centre
    return float((centre[:2] - line.point) @ line.out * plane.z / centre[2])


def _corners(rims: Sequence[Traced], plane: Plane) -> dict[At, tuple[float, float, float]]:
    places = {}
    for at, (one, other) in CORNERS.items():
        u, v = plane.pixels(_meet(rims[one].line, rims[other].line)[None])[0]
        # Each edge is told by two corners: its sd times √2, so that both together say no more than it does.
        places[at] = (float(u), float(v), float(np.sqrt(2) * max(rims[k].sd * rims[k].per_inch for k in (one, other))))
    return places


CORNERS = {At.TOP_LEFT: (0, 3), At.TOP_RIGHT: (1, 3), At.BOTTOM_LEFT: (0, 2), At.BOTTOM_RIGHT: (1, 2)}


def _meet(one: Line, other: Line) -> Array:
    t = np.linalg.solve(np.column_stack([one.along, -other.along]), other.point - one.point)
    return np.asarray(one.point + t[0] * one.along)


def _edges(rims: Sequence[Traced], plane: Plane) -> tuple[Edge, ...]:
    return tuple(
        Edge(side, _ends(t.line, plane), t.sd * t.per_inch, t.strength, t.unbroken)
        for side, t in zip(SIDES, rims, strict=True)
    )


def _ends(line: Line, plane: Plane) -> Array:
    return plane.pixels(line.point + np.outer(np.array([-line.half, line.half]), line.along))


def _doubts(best: Rectangle, rims: Sequence[Traced], thing: Thing) -> list[str]:
    """What a person should look at again."""
    doubts = []
    if weak := [
        side
        for side, t, u in zip(SIDES, rims, best.unbroken, strict=True)
        if min(t.unbroken, u) < 0.6 or t.strength < WEAK
    ]:
        doubts.append(f"Its {' and '.join(weak)} edge is weak.")
    if unsure := [side for side, t in zip(SIDES, rims, strict=True) if t.sd > UNSURE]:
        doubts.append(f"Its {' and '.join(unsure)} edge may be off by 1/16 in or more: its side is in view.")
    if len(thing.usual):
        width, height = (
            float((rims[2 * i + 1].line.point - rims[2 * i].line.point) @ rims[2 * i + 1].line.out) for i in (0, 1)
        )
        if np.abs(thing.usual - (width, height)).max(axis=1).min() > ODD:
            doubts.append(f"It comes out {width:.2f} × {height:.2f} in, which is no usual size.")
    return doubts


OUT = np.array([-1.0, 1.0, -1.0, 1.0])  # which way is out, of left, right, bottom, top


def _explained(other: Rectangle, best: Rectangle, wide: Array) -> bool:
    """Whether another rectangle is part of the best one, the far side of its shadow, or the foot of a side in view."""
    out = (other.sides - best.sides) * OUT
    part = bool(np.all(out < NEAR)) and float(best.unbroken.min()) > 0.85
    shadow = best.sign == 1 and other.sign == -1 and bool(np.all(out > -NEAR)) and float(out.max()) < SHADOW
    foot = (np.abs(out) <= NEAR + 0.04) | ((out > 0) & (out < 1.3 * wide + NEAR))
    return part or shadow or bool(np.all(foot))


def _lighter(best: Rectangle, found: list[Rectangle]) -> Rectangle:
    """The lighter rectangle just inside a darker one, if it is nearly as good: the dark is its shadow."""
    inside = [
        r
        for r in found
        if best.sign == -1
        and r.sign == 1
        and r.score > best.score - 0.5
        and np.all((best.sides - r.sides) * OUT > -0.03)
        and np.all((best.sides - r.sides) * OUT < SHADOW)
    ]
    return max(inside, key=lambda r: r.score, default=best)


SHADOW = 0.5  # in: how far a shadow or a joint's dark reaches past what throws it
RIVAL = 0.3  # of a score that reaches about 5
UNSURE = NEAR / 1.5  # in: one standard deviation, beyond which an edge is told as unsure
ODD = 0.06  # in: no plate is off its size by this


# ---- one straight edge ----


@dataclass(frozen=True)
class Streak:
    """A steep line near a tap: how far from it across, in; its turn, and how convincing it is."""

    across: float
    turn: float
    sign: int  # 1 where it is lighter to the left, or below
    score: float
    noise: float


STRETCH = 4.0  # in each way along an edge that is looked at
LEAST_STRETCH = 1.5


def snap_line(
    gray: Gray, camera: Camera, proud: float, tap: tuple[float, float], upright: bool, out: Side | None = None
) -> Snap:
    """Find the straight edge nearest a tap: one that runs up the wall, or across it.

    Parameters
    ----------
    gray, camera
        The upright luma, and its camera in the frame of the wall.
    proud
        How far off the wall the edge lies, in.
    tap
        Pixel, good to `THUMB` on the wall.
    upright
        Whether the edge runs up the wall.
    out
        On which side of the edge the bare wall lies, where that is known.

    Returns
    -------
    Snap
        `At.POINT`: the point of the edge level with the tap (or above or below it).
    """
    plane = Plane(gray, camera, proud)
    pivot = plane.meet(np.array([tap]))[0]
    half = _stretch(plane, pivot, upright)
    streaks = sorted(_streaks(plane, pivot, half, upright), key=lambda s: -s.score) if half >= LEAST_STRETCH else []
    if not streaks or streaks[0].score < 0.5:
        return Snap(doubt="No straight edge shows here clearly enough, so the tap stays as it is.")
    best = _settled(streaks, plane, pivot, out if upright else None)
    if best is None:
        return Snap(doubt="Two edges lie within a thumb's reach of this tap, so it stays as it is; tap nearer.")
    traced = trace(plane, _line(best, pivot, 0.9 * half, upright), best.sign, best.noise)
    if traced is None or traced.strength < WEAK or traced.unbroken < 0.6:
        return Snap(doubt="The edge here is too weak or too crooked to trace, so the tap stays as it is.")
    traced = _shifted(traced, 0.0, RIM_SD)
    t = (pivot - traced.line.point) @ traced.line.along
    u, v = plane.pixels((traced.line.point + t * traced.line.along)[None])[0]
    sd = traced.sd * traced.per_inch
    edge = Edge("edge", _ends(traced.line, plane), sd, traced.strength, traced.unbroken)
    return Snap({At.POINT: (float(u), float(v), sd)}, (edge,))


def _stretch(plane: Plane, pivot: Array, upright: bool) -> float:
    """How far each way along the edge the photo shows, in, up to `STRETCH`."""
    along = np.eye(2)[1 if upright else 0]
    for half in np.arange(STRETCH, 0.0, -0.5):
        ends = np.array([pivot - half * along, pivot + half * along])
        if plane.camera.sees(np.column_stack([ends, np.full(2, plane.z)])).all():
            return float(half)
    return 0.0


def _streaks(plane: Plane, pivot: Array, half: float, upright: bool) -> list[Streak]:
    reach = np.array([THUMB + 0.6, half] if upright else [half, THUMB + 0.6])
    found = []
    for turn in np.radians(np.arange(-2.0, 2.1, 0.5)):
        look = patch(plane, pivot, turn, np.concatenate([-reach, reach]))
        for sign in (1, -1):
            slopes = -sign * look.slopes[0 if upright else 1]
            lines = Slopes(slopes, look.low[::-1] if upright else look.low, look.step)
            across = lines.candidates(np.array([-1, 1]) * (THUMB + 0.05), -0.9 * half, 0.9 * half, 6)
            strength, unbroken, _ = lines.side(across, np.full(across.shape, -half), np.full(across.shape, half))
            score = unbroken * strength / (strength + 3.0)
            found += [Streak(float(a), turn, sign, float(s), look.noise) for a, s in zip(across, score, strict=True)]
    return found


def _settled(streaks: list[Streak], plane: Plane, pivot: Array, out: Side | None) -> Streak | None:
    """The streak that is meant; None where another is nearly as good."""
    best = streaks[0]
    rivals = [s for s in streaks[1:] if abs(s.across - best.across) > NEAR and s.score > best.score - 0.25]
    if out is None or not rivals:
        return None if rivals else best
    hand = 1.0 if out is Side.RIGHT else -1.0
    wide = hand * float(plane.camera.centre[0] - pivot[0]) * plane.z / float(plane.camera.centre[2])
    pair = [best, rivals[0]]
    inner, outer = sorted(pair, key=lambda s: hand * s.across)
    apart = abs(inner.across - outer.across)
    others = [r for r in rivals if min(abs(r.across - p.across) for p in pair) > NEAR]
    if wide > NEAR and abs(apart - wide) < 0.3 * wide + 0.03 and not others:
        return inner  # rim and foot of a side in view
    return None


def _line(streak: Streak, pivot: Array, half: float, upright: bool) -> Line:
    axes = turned(streak.turn)
    along, out = (axes[:, 1], axes[:, 0]) if upright else (axes[:, 0], axes[:, 1])
    return Line(pivot + streak.across * out, along, out, half)
