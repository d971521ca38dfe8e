"""How light falls on the relief: lit and turned-away sides, the shadows of what stands proud, and dark corners.

All as shares of the light that the bare wall gets at the same place. Frame: wall (in; x right, y up, z out of it).

The shares of light below have no source: they are judged by eye on the demo's photos, and no measurement rests on them.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from report.light import Lamp
from report.relief import MISS, Box, Met, Ring, Side, Solids, ring_height

Floats = NDArray[np.float32]

PER_INCH = 12  # cells of the map of heights
MARGIN = 2.0  # in round the solids
SHADOW_STEPS = 10
SOFT = 0.35  # how fast a shadow's edge softens: radius of the light over its distance
AROUND = 8  # ways in which dark corners are looked for
HORIZON = np.array([0.125, 0.25, 0.5, 0.9, 1.5, 2.4])  # in: how far off
FROM_ABOVE = 0.22  # how much more of the light from all round comes from above than from the side: ceilings are white
HALF_ROOM = 0.55  # of the light from all round reaches a side that stands at right angles to the wall
DEEP = 0.17  # and so much more where it is an inch or more off the wall
STEEPEST = 2.0  # slope of a moulding as shaded


@dataclass(frozen=True)
class Shade:
    """The share of the wall's light that surfaces seen from the front get, over the solids."""

    share: Floats  # (h, w), rows upwards
    heights: Floats
    left: float
    bottom: float
    lamp: Lamp
    bounce: float  # the paint's own reflectance, which lights its corners

    def of(self, met: Met) -> Floats:
        """The share at each place that was met, 0 where none."""
        x, y = met.places
        u, v = (x - self.left) * PER_INCH - 0.5, (y - self.bottom) * PER_INCH - 0.5
        share = cv2.remap(self.share, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for side in (Side.LEFT, Side.RIGHT, Side.DOWN, Side.UP):
            here = met.side == side
            if here.any():
                share[here] = self._turned(side, x[here], y[here], met.z[here])
        share[met.side == Side.NONE] = 0
        return np.asarray(share, np.float32)

    def _turned(self, side: Side, x: Floats, y: Floats, z: Floats) -> Floats:
        """The share that the sides of members get, which stand at right angles to the wall."""
        to = self.lamp.direction(x, y)
        along = {Side.LEFT: -to[0], Side.RIGHT: to[0], Side.DOWN: -to[1], Side.UP: to[1]}[side]
        above = {Side.UP: FROM_ABOVE, Side.DOWN: -FROM_ABOVE}.get(side, 0.0)
        depth = np.clip(z, 0, 1)  # the deeper in the corner, the less it sees
        own = self.lamp.share * np.clip(along / to[2], 0, 1.3)
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
    x, y = np.meshgrid(
        (left + (np.arange(size[1]) + 0.5) / PER_INCH).astype(np.float32),
        (bottom + (np.arange(size[0]) + 0.5) / PER_INCH).astype(np.float32),
    )
    to = lamp.direction(x, y)
    up, across = (np.clip(part * PER_INCH, -STEEPEST, STEEPEST) for part in np.gradient(_eased(heights)))
    steep = np.sqrt(1 + up * up + across * across)
    own = np.clip((to[2] - across * to[0] - up * to[1]) / steep / to[2], 0, 1.6) * _lit(heights, to, x, y, left, bottom)
    open_sky = _open_sky(heights)
    open_sky = open_sky / (1 - 0.7 * bounce * (1 - open_sky))  # what the paint itself throws back into its corners
    around = (0.75 + 0.25 / steep - FROM_ABOVE * up / steep) * open_sky
    share = lamp.share * own + (1 - lamp.share) * around
    return Shade(share.astype(np.float32), heights, left, bottom, lamp, bounce)


def _eased(heights: Floats) -> Floats:
    """The heights with edges as a plane and paint leave them, not sharp."""
    return np.asarray(cv2.GaussianBlur(heights, (0, 0), 0.9), np.float32)


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


def _lit(
    heights: Floats, to: tuple[Floats, Floats, Floats], x: Floats, y: Floats, left: float, bottom: float
) -> Floats:
    """How much of the light each cell sees past what stands proud: 1 all, 0 none; a shadow softens with its length."""
    across, along = to[0] / to[2], to[1] / to[2]  # in per inch of rise
    column, row = (x - left) * PER_INCH - 0.5, (y - bottom) * PER_INCH - 0.5
    tallest = float(heights.max())
    lit = np.ones_like(heights)
    for rise in (tallest * (np.arange(SHADOW_STEPS) + 0.5) / SHADOW_STEPS).tolist():
        over = cv2.remap(heights, column + across * rise * PER_INCH, row + along * rise * PER_INCH, cv2.INTER_LINEAR)
        hidden = np.clip((over - heights - rise) / (SOFT * rise + 0.04) + 0.5, 0, 1)
        np.minimum(lit, 1 - np.where(over > heights + 1e-3, hidden, 0), out=lit)
    return lit * lit * (3 - 2 * lit)


def _open_sky(heights: Floats) -> Floats:
    """The share of the half-sphere that each cell sees, weighed by the cosine: 1 on an open wall.

    By the highest thing in each way: an angle h hides sin² h of it (Bavoil & Sainz 2008, horizon-based).
    """
    total = np.zeros_like(heights)
    padded = int(HORIZON[-1] * PER_INCH) + 1
    around = cv2.copyMakeBorder(heights, padded, padded, padded, padded, cv2.BORDER_REPLICATE)
    steepest, slope = np.empty_like(heights), np.empty_like(heights)  # made once: new memory costs more than the sums
    for angle in np.arange(AROUND) * 2 * np.pi / AROUND:
        steepest[:] = 0
        for far in HORIZON:
            du, dv = round(far * PER_INCH * np.cos(angle)), round(far * PER_INCH * np.sin(angle))
            there = around[padded + dv :, padded + du :][: heights.shape[0], : heights.shape[1]]
            np.multiply(np.subtract(there, heights, out=slope), np.float32(1 / far), out=slope)
            np.maximum(steepest, slope, out=steepest)
        np.multiply(steepest, steepest, out=steepest)
        steepest += 1
        total += np.divide(1, steepest, out=steepest)
    return np.asarray(total / AROUND, np.float32)
