"""The planned members as solids, and where the rays of a view meet them.

A ray is told by its height z over the wall: it passes (x0 + sx z, y0 + sy z, z), for a pinhole sees straight lines. So
a box is met by its three pairs of planes (Kay & Kajiya 1986, slabs), exactly, in perspective and with the lens's bend.

Frame: wall (in; x right, y up, z out of the wall).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from enum import IntEnum
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.record import EndKind
from layout.frames import Panel, Rect, Role
from layout.plan import WallPlan
from report.views import View, edges

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
STEP = 8  # px between rays that are worked out; between them they are straight to 0.01 px
MISS = -1e6  # the height of a ray that meets nothing
ROUNDS = 8  # of moulding: heights at which a ray is tried before it is interpolated
# Across a panel moulding from its outer edge to the field, height over its thickness: a fillet, a cove, a bead and a
# small step down. Common practice, no source: each maker has his own.
PROFILE_AT = np.array([0.0, 0.1, 0.16, 0.24, 0.36, 0.5, 0.6, 0.66, 0.76, 0.86, 0.94, 1.0])
PROFILE = np.array([0.72, 0.98, 1.0, 0.97, 0.78, 0.6, 0.53, 0.5, 0.56, 0.5, 0.3, 0.04])


class Side(IntEnum):
    """Which way the surface looks that a ray meets."""

    NONE = 0
    FRONT = 1
    LEFT = 2
    RIGHT = 3
    DOWN = 4
    UP = 5


@dataclass(frozen=True)
class Box:
    """An upright block on the wall, inches."""

    left: float
    bottom: float
    right: float
    top: float
    back: float
    front: float


@dataclass(frozen=True)
class Ring:
    """The moulding of one panel, mitred, between two rectangles one inside the other; inches."""

    left: float
    bottom: float
    right: float
    top: float
    width: float
    back: float
    thickness: float


@dataclass(frozen=True)
class Solids:
    """All that is built on one wall."""

    boxes: tuple[Box, ...]
    rings: tuple[Ring, ...]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of all of it, inches."""
        low = [min(getattr(box, side) for box in self.boxes) for side in ("left", "bottom")]
        high = [max(getattr(box, side) for box in self.boxes) for side in ("right", "top")]
        return low[0], low[1], high[0], high[1]

    @property
    def front(self) -> float:
        """How far the foremost face stands off the wall."""
        return max(box.front for box in self.boxes)


def solids_of(plan: WallPlan, behind: float = 0.0) -> Solids:
    """The solids of a wall's frames, on a sheet of thickness `behind`; they go on into inside corners."""
    boxes, rings = [], []
    for frame in plan.frames:
        boxes += [_box(panel.opening, 0.0, behind) for panel in frame.panels]
        boxes += [_box(m.rect, 0.0, _stands(m.role, behind) + float(m.thickness)) for m in frame.members]
        rings += [ring for panel in frame.panels if (ring := _ring(panel, behind)) is not None]
    return Solids(tuple(_into_corners(boxes, plan)), tuple(rings))


def _into_corners(boxes: list[Box], plan: WallPlan) -> Iterator[Box]:
    """Two walls' frames are planned to touch in a corner; a hair of old wall would show there."""
    first, last = min((b.left for b in boxes), default=0.0), max((b.right for b in boxes), default=0.0)
    survey = plan.survey
    start = min(0.0, first) if survey.left is EndKind.INSIDE_CORNER else first
    end = max(survey.width.value, last) if survey.right is EndKind.INSIDE_CORNER and survey.width else last
    for box in boxes:
        left = start if box.left == first else box.left
        yield replace(box, left=left, right=end if box.right == last else box.right)


def _stands(role: Role, behind: float) -> float:
    return 0.0 if role is Role.BASE else behind  # the sheet stops on the base


def _box(rect: Rect, back: float, front: float) -> Box:
    return Box(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top), back, front)


def _ring(panel: Panel, behind: float) -> Ring | None:
    if panel.moulding is None or not panel.mouldings:
        return None
    outer = panel.moulding
    width, thickness = float(panel.field.left - outer.left), float(panel.mouldings[0].thickness)
    left, bottom, right, top = (float(v) for v in (outer.left, outer.bottom, outer.right, outer.top))
    return Ring(left, bottom, right, top, width, behind, thickness)


def ring_height(ring: Ring, x: Floats, y: Floats) -> Floats:
    """Height of a moulding over the wall at places on it, inches; `MISS` outside it."""
    inside = np.minimum(np.minimum(x - ring.left, ring.right - x), np.minimum(y - ring.bottom, ring.top - y))
    share = inside / ring.width
    height = ring.back + ring.thickness * np.interp(share, PROFILE_AT, PROFILE)
    return np.where((share >= 0) & (share < 1), height, MISS).astype(np.float32)


@dataclass(frozen=True)
class Rays:
    """The rays of every sample of a window of a picture."""

    x0: Floats  # (h, w) where they meet the wall
    y0: Floats
    sx: Floats  # (h, w) how they move per inch off the wall
    sy: Floats

    def at(self, z: Floats | float) -> tuple[Floats, Floats]:
        """Their places at a height."""
        return self.x0 + self.sx * z, self.y0 + self.sy * z

    def part(self, window: tuple[slice, slice]) -> "Rays":
        """Those of a part of the window."""
        return Rays(self.x0[window], self.y0[window], self.sx[window], self.sy[window])


# Where the samples of a pixel lie, px from its middle, column and row; for two, on a turned grid, so that lines that
# are nearly upright or level come out smooth (Akenine-Möller et al. 2018, section 5.4.2).
TURNED = np.array([[(-1, -3), (3, -1)], [(-3, 1), (1, 3)]]) / 8


def rays_of(view: View, corner: tuple[int, int], size: tuple[int, int], samples: int = 1) -> Rays:
    """The rays of a window of a picture.

    Parameters
    ----------
    view
        Where wall places fall.
    corner, size
        First column and row, width and height of the window, px.
    samples
        To a pixel, each way: 1 in its middle, or 2.
    """
    width, height = size
    fine = np.empty((4, height * samples, width * samples), np.float32)
    places = TURNED if samples == 2 else np.zeros((1, 1, 2))
    for (row, column), place in np.ndenumerate(places[..., 0]):
        part = _rays(view, (corner[0] + place, corner[1] + places[row, column, 1]), size)
        fine[:, row::samples, column::samples] = part
    return Rays(*fine)


def _rays(view: View, first: tuple[float, float], size: tuple[int, int]) -> Floats:
    """Rays of pixels from `first` on, (4, h, w)."""
    u, v = (
        start + np.arange(-1, -(-n // STEP) + 1) * STEP + (STEP - 1) / 2 for n, start in zip(size, first, strict=True)
    )
    met = view.meets(np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)).reshape(len(v), len(u), 4)
    fine = cv2.resize(met.astype(np.float32), None, fx=STEP, fy=STEP, interpolation=cv2.INTER_LINEAR)
    return np.asarray(fine[STEP : STEP + size[1], STEP : STEP + size[0]].transpose(2, 0, 1), np.float32)


@dataclass
class Met:
    """What the rays of a window meet first: how high over the wall, and which way that surface looks."""

    rays: Rays
    z: Floats = field(init=False)
    side: NDArray[np.uint8] = field(init=False)

    def __post_init__(self) -> None:
        self.z = np.full(self.rays.x0.shape, MISS, np.float32)
        self.side = np.zeros(self.rays.x0.shape, np.uint8)

    @property
    def hit(self) -> NDArray[np.bool_]:
        """Which rays meet anything."""
        return self.side > 0

    @cached_property
    def places(self) -> tuple[Floats, Floats]:
        """Where on the wall they meet it; of those that meet nothing, where they meet the wall."""
        return self.rays.at(np.maximum(self.z, 0))


@dataclass(frozen=True)
class Reach:
    """A solid, and the pixels among which a view may show it, or one side of a moulding."""

    solid: Box | Ring
    low: Array  # (2,) px
    high: Array


def reaches_of(solids: Solids, view: View) -> list[Reach]:
    """Where a view may show each of the solids that it shows; boxes first."""
    parts: list[tuple[Box | Ring, Box, float, float]] = [(box, box, box.back, box.front) for box in solids.boxes]
    for ring in solids.rings:
        parts += [(ring, strip, ring.back, ring.back + ring.thickness) for strip in _strips(ring)]
    found = []
    for solid, box, back, front in parts:
        flat = np.array([(box.left, box.bottom), (box.right, box.bottom), (box.right, box.top), (box.left, box.top)])
        rims = [np.column_stack([flat, np.full(4, z)]) for z in (back, front)]
        pixels, good = view.pixels(np.concatenate([edges(rim) for rim in rims]))
        if good.any():
            found.append(Reach(solid, *reach_of(pixels, good)))
    return found


def meet(solids: Solids, view: View, rays: Rays, corner: tuple[int, int], samples: int) -> Met:
    """Let the rays of a window meet the solids."""
    return meet_shown(reaches_of(solids, view), rays, corner, samples)


def meet_shown(reaches: Iterable[Reach], rays: Rays, corner: tuple[int, int], samples: int) -> Met:
    """Let the rays of a window meet what the view of it shows.

    Parameters
    ----------
    reaches
        The solids, and where the view shows them.
    rays
        Of the window.
    corner, samples
        The window's first pixel, and rays to a pixel each way.
    """
    met = Met(rays)
    for reach in reaches:
        window = _window(reach, corner, rays.x0.shape, samples)
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


def _window(reach: Reach, corner: tuple[int, int], shape: tuple[int, ...], samples: int) -> tuple[slice, slice] | None:
    """The samples of a window among which a solid may be seen."""
    low, high = np.floor((reach.low - corner) * samples), np.ceil((reach.high - corner + 1) * samples)
    low, high = np.clip(low, 0, shape[1::-1]).astype(int), np.clip(high, 0, shape[1::-1]).astype(int)
    return (slice(low[1], high[1]), slice(low[0], high[0])) if (high > low).all() else None


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
    rays, z = met.rays.part(window), met.z[window]
    x_low, x_high = _slab(rays.x0, rays.sx, box.left, box.right)
    y_low, y_high = _slab(rays.y0, rays.sy, box.bottom, box.top)
    enter = np.minimum(np.minimum(x_high, y_high), np.float32(box.front))
    leave = np.maximum(np.maximum(x_low, y_low), np.float32(box.back))
    hit = (enter >= leave) & (enter > z)
    across = np.where(rays.sx > 0, Side.RIGHT, Side.LEFT)
    along = np.where(rays.sy > 0, Side.UP, Side.DOWN)
    side = np.where(enter == np.float32(box.front), Side.FRONT, np.where(x_high < y_high, across, along))
    z[hit] = enter[hit]
    met.side[window][hit] = side[hit]


def _meet_ring(met: Met, window: tuple[slice, slice], ring: Ring) -> None:
    """March the rays down through the moulding; where each dips below the profile is interpolated."""
    part, top = met.rays.part(window), ring.back + ring.thickness
    near = _near_ring(part, ring, top) & (met.z[window] < top)
    rays = Rays(part.x0[near], part.y0[near], part.sx[near], part.sy[near])
    found, edge = np.full(rays.x0.shape, MISS, np.float32), np.zeros(rays.x0.shape, bool)
    before: tuple[np.float32, Floats] | None = None
    for z in np.linspace(top, ring.back, ROUNDS + 1, dtype=np.float32):
        height = ring_height(ring, *rays.at(z))
        under = (height >= z) & (found == MISS)
        if before is None:
            found[under] = z
        else:
            above = before[0] - before[1]
            share = above / np.maximum(above + height - z, 1e-6)
            came_in = before[1] == MISS  # from beside it, through its outer edge
            found = np.where(under, np.where(came_in, z, before[0] - share * (before[0] - z)), found)
            edge |= under & came_in
        before = z, height
    hit = (found > met.z[window][near]) & (found > ring.back)
    at = np.flatnonzero(near)[hit]
    side = np.where(edge, _outward(ring, *rays.at(found)), int(Side.FRONT))[hit]
    for held, values in ((met.z[window], found[hit]), (met.side[window], side)):
        held[np.unravel_index(at, near.shape)] = values


def _near_ring(rays: Rays, ring: Ring, top: float) -> NDArray[np.bool_]:
    """Which rays pass through the space of the moulding, neither beside it nor over the field alone."""
    near: NDArray[np.bool_] = np.ones(rays.x0.shape, bool)
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
