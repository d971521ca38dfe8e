"""How light falls on the relief: lit and turned-away sides, the shadows of what stands proud, and dark corners.

All as shares of the light that the bare wall gets at the same place. Frame: wall (in; x right, y up, z out of it).

The shares of light below have no source: they are judged by eye on the demo's photos, and no measurement rests on them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from report.light import Lamp
from report.relief import Side
from report.solids import MISS, Box, Ring, Solids, ring_height

Floats = NDArray[np.float32]

PER_INCH = 12  # cells of the map of heights
MARGIN = 2.0  # in round the solids
SHADOW_STEPS = 10
SOFT = 0.35  # how fast a shadow's edge softens: radius of the light over its distance
LEAST_RISE = 0.03  # in: no shadow is looked for lower, for there every face would lie in its own
BAND = 32  # rows of cells lit at a time, which the processor's cache holds
ROW = 1024  # of places that OpenCV takes at a time
ONE = np.ones(1)
AROUND = 8  # ways in which dark corners are looked for
HORIZON = np.array([0.125, 0.25, 0.5, 0.9, 1.5, 2.4])  # in: how far off
FAR_OFF = int(HORIZON[-1] * PER_INCH) + 1  # cells
FROM_ABOVE = 0.22  # how much more of the light from all round comes from above than from the side: ceilings are white
HALF_ROOM = 0.55  # of the light from all round reaches a side that stands at right angles to the wall
DEEP = 0.17  # and so much more where it is an inch or more off the wall
STEEPEST = 2.0  # slope of a moulding as shaded


@dataclass(frozen=True)
class Shade:
    """The share of the wall's light that surfaces seen from the front get, over the solids."""

    share: Floats  # (h, w), rows upwards
    left: float
    bottom: float
    lamp: Lamp

    def at(self, x: Floats, y: Floats) -> Floats:
        """The share that faces get at places (h, w)."""
        u, v = (x - self.left) * PER_INCH - 0.5, (y - self.bottom) * PER_INCH - 0.5
        share = cv2.remap(self.share, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(share, np.float32)

    def of(self, x: Floats, y: Floats, z: Floats, sides: NDArray[np.uint8]) -> Floats:
        """The share at places, all of one shape, of whatever side; 0 where there is none."""
        share = self.at(*(np.resize(part, (x.size // ROW + 1, ROW)) for part in (x, y)))
        for side in (Side.LEFT, Side.RIGHT, Side.DOWN, Side.UP):
            here = np.flatnonzero(sides == side)
            share.put(here, self._turned(side, x.take(here), y.take(here), z.take(here)))
        return np.where(sides != Side.NONE, share.ravel()[: x.size].reshape(x.shape), 0)

    def _turned(self, side: Side, x: Floats, y: Floats, z: Floats) -> Floats:
        """The share that the sides of members get, which stand at right angles to the wall."""
        across, up = self.lamp.slopes(x, y)
        along = {Side.LEFT: -across, Side.RIGHT: across, Side.DOWN: -up, Side.UP: up}[side]
        above = {Side.UP: FROM_ABOVE, Side.DOWN: -FROM_ABOVE}.get(side, 0.0)
        depth = np.clip(z, 0, 1)  # the deeper in the corner, the less it sees
        own = self.lamp.share * np.clip(along, 0, 1.3)
        return np.asarray(own + (1 - self.lamp.share) * (HALF_ROOM + above + DEEP * depth), np.float32)


def shade_of(
    solids: Solids, lamp: Lamp, bounce: float, others: tuple[Box, ...] = (), seen: tuple[float, float] | None = None
) -> Shade:
    """Light the solids of a wall.

    Parameters
    ----------
    solids
        What is built.
    lamp
        The light.
    bounce
        The paint's reflectance, 0 to 1.
    others
        What stands on the wall as well and is not drawn, such as plates, for its shadows.
    seen
        From where to where along the wall a picture shows it, inches; None is all of it.
    """
    left, bottom, right, top = solids.extent
    if seen is not None:
        left, right = max(left, seen[0]), min(right, seen[1])
    left, bottom = left - MARGIN, bottom - MARGIN
    size = round((top + MARGIN - bottom) * PER_INCH), max(2, round((right + MARGIN - left) * PER_INCH))
    heights = _heights(solids, others, left, bottom, size)
    across, up = lamp.slopes(
        (left + (np.arange(size[1]) + 0.5) / PER_INCH).astype(np.float32),
        (bottom + (np.arange(size[0]) + 0.5) / PER_INCH).astype(np.float32),
    )
    steep_across, steep_up = _slopes(heights)
    foot = (lamp.place[0] - left) * PER_INCH - 0.5, (lamp.place[1] - bottom) * PER_INCH - 0.5
    rises = np.maximum(heights.max() * (np.arange(SHADOW_STEPS) + 0.5) / SHADOW_STEPS, LEAST_RISE).tolist()
    padded = np.asarray(cv2.copyMakeBorder(heights, *(FAR_OFF,) * 4, cv2.BORDER_REPLICATE), np.float32)
    share = np.empty_like(heights)
    for start in range(0, size[0], BAND):
        rows = slice(start, start + BAND)
        climb, rise = steep_across[rows], steep_up[rows]
        steep = np.sqrt(1 + rise * rise + climb * climb)
        own = np.clip((1 - climb * across - rise * up[rows, None]) / steep, 0, 1.6)
        own *= _lit(heights, rows, rises, foot, lamp.place[2])
        open_sky = _open_sky(heights[rows], padded[start:])
        open_sky /= 1 - 0.7 * bounce * (1 - open_sky)  # what the paint itself throws back into its corners
        around = (0.75 + (0.25 - FROM_ABOVE * rise) / steep) * open_sky
        share[rows] = lamp.share * own + (1 - lamp.share) * around
    return Shade(share, left, bottom, lamp)


def _slopes(heights: Floats) -> tuple[Floats, Floats]:
    """How the heights climb to the right and up, with edges as a plane and paint leave them, not sharp."""
    eased = cv2.GaussianBlur(heights, (0, 0), 0.9)
    difference = np.array([-0.5, 0, 0.5]) * PER_INCH
    across = cv2.sepFilter2D(eased, -1, difference, ONE, borderType=cv2.BORDER_REPLICATE)
    up = cv2.sepFilter2D(eased, -1, ONE, difference, borderType=cv2.BORDER_REPLICATE)
    return np.clip(across, -STEEPEST, STEEPEST), np.clip(up, -STEEPEST, STEEPEST)


def _heights(solids: Solids, others: tuple[Box, ...], left: float, bottom: float, size: tuple[int, int]) -> Floats:
    heights = np.zeros(size, np.float32)
    for box in (*solids.boxes, *others):
        part = heights[_cells(box, left, bottom)]
        np.maximum(part, box.front, out=part)
    for ring in solids.rings:
        window = _cells(ring, left, bottom)
        part = heights[window]
        x = left + (np.arange(window[1].start, window[1].start + part.shape[1]) + 0.5) / PER_INCH
        y = bottom + (np.arange(window[0].start, window[0].start + part.shape[0]) + 0.5) / PER_INCH
        height = ring_height(ring, *np.meshgrid(x.astype(np.float32), y.astype(np.float32)))
        np.maximum(part, np.where(height == MISS, 0, height), out=part)
    return heights


def _cells(box: Box | Ring, left: float, bottom: float) -> tuple[slice, slice]:
    x = [max(0, round((getattr(box, side) - left) * PER_INCH)) for side in ("left", "right")]
    y = [max(0, round((getattr(box, side) - bottom) * PER_INCH)) for side in ("bottom", "top")]
    return slice(y[0], y[1]), slice(x[0], x[1])


def _lit(heights: Floats, rows: slice, rises: Sequence[float], foot: tuple[float, float], lamp: float) -> Floats:
    """How much of the light each cell sees past what stands proud: 1 all, 0 none; a shadow softens with its length.

    The way to the lamp is, at a rise over a cell (in), that much nearer to the lamp's foot (in cells) as the rise is of
    the lamp's distance (in): what stands there, for all cells together, is the map of heights grown about the foot.
    """
    here = heights[rows]
    shadow, over = np.zeros_like(here), np.empty_like(here)
    for rise in rises:
        by = rise / lamp
        seen = np.array([[1 - by, 0, foot[0] * by], [0, 1 - by, rows.start * (1 - by) + foot[1] * by]])
        cv2.warpAffine(heights, seen, here.shape[::-1], dst=over, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        sharp = 1 / (SOFT * rise + 0.04)
        cv2.addWeighted(over, sharp, here, -sharp, 0.5 - rise * sharp, dst=over)
        np.maximum(shadow, over, out=shadow)
    lit = 1 - np.minimum(shadow, 1)
    return np.asarray(lit * lit * (3 - 2 * lit), np.float32)


def _open_sky(heights: Floats, around: Floats) -> Floats:
    """The share of the half-sphere that each cell sees, weighed by the cosine: 1 on an open wall.

    By the highest thing in each way: an angle h hides sin² h of it (Bavoil & Sainz 2008, horizon-based). `around`
    begins `FAR_OFF` rows and columns before the first of `heights`.
    """
    total = np.zeros_like(heights)
    steepest, slope = np.empty_like(heights), np.empty_like(heights)  # made once: new memory costs more than the sums
    for angle in np.arange(AROUND) * 2 * np.pi / AROUND:
        steepest[:] = 0
        for far in HORIZON:
            du, dv = round(far * PER_INCH * np.cos(angle)), round(far * PER_INCH * np.sin(angle))
            there = around[FAR_OFF + dv :, FAR_OFF + du :][: heights.shape[0], : heights.shape[1]]
            cv2.addWeighted(there, 1 / far, heights, -1 / far, 0, dst=slope)
            np.maximum(steepest, slope, out=steepest)
        np.multiply(steepest, steepest, out=steepest)
        steepest += 1
        total += np.divide(1, steepest, out=steepest)
    total /= AROUND
    return total
