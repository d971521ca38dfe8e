"""Where the rays of a view meet the planned members.

A box is met by its three pairs of planes (Kay & Kajiya 1986, slabs), exactly, in perspective and with the lens's bend.

Frame: wall (in; x right, y up, z out of the wall).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from report.rays import Rays
from report.solids import MISS, PROFILE, PROFILE_AT, Box, Ring, Solids
from report.views import View, edges

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]
ROUNDS = 8  # of moulding: heights at which a ray is tried before it is interpolated
DONE = 1e9  # cuts: where a ray that has met something can meet nothing more
CUTS = 1024  # of the profile, for rays to look it up: to 0.002 of its thickness, for it climbs by 2.6 in its width
_CUT = np.interp((np.arange(CUTS) + 0.5) / CUTS, PROFILE_AT, PROFILE)
_PROFILE = np.array([MISS, *_CUT, MISS], np.float32)  # and none beside it


class Side(IntEnum):
    """Which way the surface looks that a ray meets."""

    NONE = 0
    FRONT = 1
    LEFT = 2
    RIGHT = 3
    DOWN = 4
    UP = 5


@dataclass
class Met:
    """What the rays of a window meet first: how high over the wall, and which way that surface looks.

    All arrays are of the shape of `rays.x0`.
    """

    rays: Rays
    z: Floats = field(init=False)
    side: NDArray[np.uint8] = field(init=False)
    index: Indices = field(init=False)  # of each among all

    def __post_init__(self) -> None:
        self.index = np.arange(self.rays.x0.size).reshape(self.rays.x0.shape)
        self.z = np.full(self.rays.x0.shape, MISS, np.float32)
        self.side = np.zeros(self.rays.x0.shape, np.uint8)

    @property
    def hit(self) -> Bools:
        """Which rays meet anything."""
        return self.side > 0

    def part(self, window: tuple[slice, slice]) -> tuple[Rays, Floats, NDArray[np.uint8]]:
        """Rays, heights and sides in a part of the window, to be written to."""
        rows, columns = window
        return self.rays.part(window), self.z[..., rows, columns], self.side[..., rows, columns]

    def at(self, window: tuple[slice, slice], which: Bools) -> Indices:
        """The indices of some rays of a window."""
        rows, columns = window
        return self.index[..., rows, columns][which]

    def put(self, at: Indices, z: Floats, side: NDArray[np.int64]) -> None:
        """Single rays, by their indices, met something at a height."""
        self.z.put(at, z)
        self.side.put(at, side)


@dataclass(frozen=True)
class Reach:
    """A solid, and the pixels among which a view may show it, or one side of a moulding."""

    solid: Box | Ring
    low: tuple[int, int]  # first column and row, px
    high: tuple[int, int]  # and those after the last


def reaches_of(solids: Solids, view: View) -> list[Reach]:
    """Where a view may show each of the solids that it shows; boxes first."""
    parts: list[tuple[Box | Ring, Box, float, float]] = [(box, box, box.back, box.front) for box in solids.boxes]
    for ring in solids.rings:
        parts += [(ring, strip, ring.back, ring.back + ring.thickness) for strip in _strips(ring)]
    rims = [_rims(box, back, front) for _, box, back, front in parts]
    pixels, good = view.pixels(np.concatenate(rims))
    ends = np.cumsum([len(rim) for rim in rims])[:-1]
    each = zip(parts, np.split(pixels, ends), np.split(good, ends), strict=True)
    return [_reach(part[0], at, seen) for part, at, seen in each if seen.any()]


def _reach(solid: Box | Ring, pixels: Array, good: Bools) -> Reach:
    low, high = reach_of(pixels, good)
    (left, top), (right, bottom) = np.floor(low), np.ceil(high) + 1
    return Reach(solid, (int(left), int(top)), (int(right), int(bottom)))


def _rims(box: Box, back: float, front: float) -> Array:
    """Points (N, 3) round the outline of a box at two heights."""
    corners = [(box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)]
    flat = edges(np.array(corners))
    return np.concatenate([np.column_stack([flat, np.full(len(flat), z)]) for z in (back, front)])


def meet_shown(reaches: Iterable[Reach], rays: Rays, corner: tuple[int, int]) -> Met:
    """Let the rays of a window meet what the view of it shows.

    Parameters
    ----------
    reaches
        The solids, and where the view shows them.
    rays
        Of the window.
    corner
        The window's first pixel.
    """
    met = Met(rays)
    for reach in reaches:
        window = _window(reach, corner, rays.sx.shape)
        if window is not None and isinstance(reach.solid, Box):
            _meet_box(met, window, reach.solid)
        elif window is not None and isinstance(reach.solid, Ring):
            _meet_ring(met, window, reach.solid)
    return met


def _strips(ring: Ring) -> Iterator[Box]:
    """The four sides of a moulding, so that the field inside is not looked at."""
    left, bottom, right, top, width = ring.left, ring.bottom, ring.right, ring.top, ring.width
    yield Box(left, bottom, left + width, top, 0, 0)
    yield Box(right - width, bottom, right, top, 0, 0)
    yield Box(left, bottom, right, bottom + width, 0, 0)
    yield Box(left, top - width, right, top, 0, 0)


def _window(reach: Reach, corner: tuple[int, int], shape: tuple[int, ...]) -> tuple[slice, slice] | None:
    """The pixels of a window among which a solid may be seen."""
    rows, columns = (
        slice(max(reach.low[k] - corner[k], 0), min(reach.high[k] - corner[k], size))
        for k, size in ((1, shape[0]), (0, shape[1]))
    )
    return (rows, columns) if rows.start < rows.stop and columns.start < columns.stop else None


def reach_of(pixels: Array, good: NDArray[np.bool_]) -> tuple[Array, Array]:
    """The pixels among which something lies whose edges are at `pixels` (N, 2), the good ones; first and last (2,).

    What is not good lies beyond the picture: behind the camera, or where the lens model folds back. The good ones reach
    almost there.
    """
    low, high = pixels[good].min(axis=0), pixels[good].max(axis=0)
    beyond = 2 + (0 if good.all() else 0.25) * (high - low)
    return low - beyond, high + beyond


def _slab(start: Floats, slope: Floats, low: float, high: float) -> tuple[Floats, Floats]:
    """Between which heights a ray is between two planes."""
    steep = np.where(np.abs(slope) < 1e-7, np.float32(1e-7), slope)
    a, b = (low - start) / steep, (high - start) / steep
    return np.minimum(a, b), np.maximum(a, b)


def _meet_box(met: Met, window: tuple[slice, slice], box: Box) -> None:
    """Its face by where the rays are at that height; only those that pass beside the face can meet a side."""
    rays, z, side = met.part(window)
    x, y = rays.at(box.front)
    face = (x >= box.left) & (x <= box.right) & (y >= box.bottom) & (y <= box.top)
    nearer = face & (z < np.float32(box.front))
    np.copyto(z, np.float32(box.front), where=nearer)
    np.copyto(side, np.uint8(Side.FRONT), where=nearer)
    if box.front > box.back and (beside := _beside(rays, box) & ~face).any():
        _meet_sides(met, met.at(window, beside), box)


def _beside(rays: Rays, box: Box) -> Bools:
    """Which rays meet the wall below a box, or so near it that they may pass through it."""
    near: Bools = np.ones(rays.x0.shape, bool)
    for start, slope, low, high in ((rays.x0, rays.sx, box.left, box.right), (rays.y0, rays.sy, box.bottom, box.top)):
        near &= start >= low - max(0.0, float(slope.max()) * box.front)
        near &= start <= high - min(0.0, float(slope.min()) * box.front)
    return near


def _meet_sides(met: Met, at: Indices, box: Box) -> None:
    """Let single rays meet a box."""
    rays = met.rays.pick(at)
    x_low, x_high = _slab(rays.x0, rays.sx, box.left, box.right)
    y_low, y_high = _slab(rays.y0, rays.sy, box.bottom, box.top)
    enter = np.minimum(np.minimum(x_high, y_high), np.float32(box.front))
    leave = np.maximum(np.maximum(x_low, y_low), np.float32(box.back))
    hit = (enter >= leave) & (enter > met.z.take(at))
    across = np.where(rays.sx > 0, Side.RIGHT, Side.LEFT)
    along = np.where(rays.sy > 0, Side.UP, Side.DOWN)
    seen = np.where(enter == np.float32(box.front), Side.FRONT, np.where(x_high < y_high, across, along))
    met.put(at[hit], enter[hit], seen[hit])


def _meet_ring(met: Met, window: tuple[slice, slice], ring: Ring) -> None:
    """March the rays down through the moulding; where each dips below the profile is interpolated."""
    part, z, _ = met.part(window)
    top = ring.back + ring.thickness
    at = met.at(window, _near_ring(part, ring, top) & (z < top))
    rays = met.rays.pick(at)
    share, edge = _marched(rays, ring)
    found = np.float32(ring.back) + np.float32(ring.thickness) * share
    hit = (share > 0) & (found > met.z.take(at))
    seen = np.where(edge, _outward(ring, *rays.at(found)), int(Side.FRONT))
    met.put(at[hit], found[hit], seen[hit])


def _marched(rays: Rays, ring: Ring) -> tuple[Floats, Bools]:
    """At which share of its thickness rays meet a moulding, `MISS` if not; which of them come in by its outer edge."""
    x, across, half_width = _in_cuts(rays.x0, rays.sx, ring, ring.left, ring.right)
    y, along, half_height = _in_cuts(rays.y0, rays.sy, ring, ring.bottom, ring.top)
    found, edge = np.full(x.shape, MISS, np.float32), np.zeros(x.shape, bool)
    before, step = np.ones_like(x), np.float32(1 / ROUNDS)
    for rise in np.linspace(1, 0, ROUNDS + 1, dtype=np.float32):
        cut = np.minimum(half_width - np.abs(x), half_height - np.abs(y)).astype(np.intp)
        height = _PROFILE.take(cut, mode="clip")
        under = np.flatnonzero(height >= rise)
        above = rise + step - before[under]
        dipped = rise + step - step * above / np.maximum(above + height[under] - rise, 1e-6)
        edge[under] = before[under] == MISS
        found[under] = np.where(edge[under], rise, dipped)
        before = height
        x -= across
        y -= along
        x[under] = DONE
    return found, edge


def _in_cuts(start: Floats, slope: Floats, ring: Ring, low: float, high: float) -> tuple[Floats, Floats, np.float32]:
    """Rays across a moulding, in cuts of its profile, for `_PROFILE`: from the middle of its panel, at its top.

    How they move from one height to the next; and half the panel as well.
    """
    cut = np.float32(ring.width / CUTS)
    at_top = (start + slope * np.float32(ring.back + ring.thickness) - np.float32((low + high) / 2)) / cut
    half = (high - low) / 2 / ring.width * CUTS
    return at_top, slope * (np.float32(ring.thickness / ROUNDS) / cut), np.float32(half + 1)


def _near_ring(rays: Rays, ring: Ring, top: float) -> Bools:
    """Which rays pass through the space of the moulding, neither beside it nor over the field alone."""
    near: Bools = np.ones(rays.x0.shape, bool)
    over_field = near.copy()
    for start, slope, low, high in (
        (rays.x0, rays.sx, ring.left, ring.right),
        (rays.y0, rays.sy, ring.bottom, ring.top),
    ):
        a, b = start + slope * ring.back, start + slope * top
        least, most = np.minimum(a, b), np.maximum(a, b)
        near &= (most >= low) & (least <= high)
        over_field &= (least > low + ring.width) & (most < high - ring.width)
    return near & ~over_field


def _outward(ring: Ring, x: Floats, y: Floats) -> NDArray[np.int64]:
    """Which side of a moulding's outer edge a ray came in by; its inner one is too low to count as a side."""
    away = np.stack([x - ring.left, ring.right - x, y - ring.bottom, ring.top - y])
    return np.where(away.min(axis=0) < ring.width / 2, np.argmin(away, axis=0) + Side.LEFT, int(Side.FRONT))
