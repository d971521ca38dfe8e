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
from capture.edges import Line, Plane, Traced, beside, moved, patch, trace, turned
from capture.record import At, Kind
from capture.rectangles import BEYOND, FAINT, NEAR, PLATES, SIDES, Rectangle, Search, Thing, rectangles, search_of

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

# How far down towards the wall a thing's outline lies, as part of its projection: a plate's edges are eased or slope to
# the wall (common practice, no source); a casing or a register has a square rim.
EASED = {Kind.RECEPTACLE: 0.4, Kind.SWITCH: 0.4, Kind.JACK: 0.4, Kind.THERMOSTAT: 0.1}
WEAK = 6.0  # times the noise: an edge no steeper than this is told as weak
EASE_SD = 0.018  # in: shade on an eased edge moves its steepest point by this much (tests/test_snap.py)
RIM_SD = 0.012  # in: the same of a square rim
SIDE_SEEN = 3.0  # px: a side narrower than this melts into the edge
SHADOW = 0.5  # in: how far a shadow or a joint's dark reaches past what throws it
RIVAL = 0.3  # of a score that reaches about 5
UNSURE = NEAR / 1.5  # in: one standard deviation, beyond which an edge is told as unsure
ODD = 0.06  # in: no plate is off its size by this


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
    traced = shifted(traced, 0.0, EASE_SD if part else RIM_SD)
    if wide <= 0:
        return [shifted(traced, -part * wide, part / 2 * abs(wide))]
    unsure = [shifted(traced, -k * wide, wide / s) for k, s in ((0.5, np.sqrt(12)), (0.0, 8), (0.75, 8))]
    if wide * traced.per_inch < SIDE_SEEN:
        return unsure
    inner, at, outer = beside(plane, traced.line, wide)
    least = max(3 * traced.noise, 0.15 * traced.strength * traced.noise)
    if max(inner, outer) < least:
        return unsure
    if outer > inner:
        return [traced, *unsure]
    return [shifted(traced, (at - wide) / 2 if part else at, wide / 8)]


def shifted(traced: Traced, shift: float, sd: float) -> Traced:
    """An edge moved outwards by `shift` [in], and less sure by `sd` [in]."""
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
        Edge(side, ends_of(t.line, plane), t.sd * t.per_inch, t.strength, t.unbroken)
        for side, t in zip(SIDES, rims, strict=True)
    )


def ends_of(line: Line, plane: Plane) -> Array:
    """Both ends of an edge, (2, 2) px."""
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
        doubts.append(f"Its {' and '.join(unsure)} edge may be off by 1/16 in (2 mm) or more: its side is in view.")
    if len(thing.usual):
        width, height = (
            float((rims[2 * i + 1].line.point - rims[2 * i].line.point) @ rims[2 * i + 1].line.out) for i in (0, 1)
        )
        if np.abs(thing.usual - (width, height)).max(axis=1).min() > ODD:
            doubts.append(
                f"It comes out {width:.2f} × {height:.2f} in ({width * 25.4:.0f} × {height * 25.4:.0f} mm), "
                f"which is no usual size of a {thing.gangs}-gang plate."
            )
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
