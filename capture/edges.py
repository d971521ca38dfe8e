"""Straight edges in a photo: a patch redrawn square-on to look for them, and one edge traced to a part of a pixel.

Everything is reckoned in the plane at the height of a face: `across` an edge and `along` it, wall inches.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from capture.camera import Camera

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

BLOCKS = 16  # parts of an edge that are placed each on its own
FINE = 0.2  # px between samples across an edge
SMOOTH = 1.0  # px: of a slope, so that noise does not pass for an edge
FINEST = 30.0  # px an inch of a patch: finer shows no more edges, and tracing is done in the photo itself
REACH = 2.0  # px: how far a traced edge may lie from where it was seen in the patch
SCATTER_FLOOR = 0.15  # px: what blur, tone and sharpening move an edge by, found by simulation (tests/test_snap.py)


@dataclass(frozen=True)
class Plane:
    """A photo with its camera, looking at the plane z inches off the wall."""

    gray: Gray
    camera: Camera
    z: float

    def meet(self, pixels: Array) -> Array:
        """Where pixels (N, 2) lie in the plane, (N, 2) in."""
        return self.camera.meet(pixels, self.z)[:, :2]

    def pixels(self, xy: Array) -> Array:
        """Pixels (..., 2) of points (..., 2) in the plane."""
        flat = np.asarray(xy, float).reshape(-1, 2)
        return self.camera.project(np.column_stack([flat, np.full(len(flat), self.z)])).reshape(xy.shape)

    def levels(self, xy: Array) -> NDArray[np.float32]:
        """Grey levels (rows, columns) at points (rows, columns, 2) in the plane; the rim's where the photo ends."""
        at = self.pixels(xy)
        size = np.array(self.gray.shape[::-1])
        low = np.clip(np.floor(at.min(axis=(0, 1))).astype(int) - 3, 0, size - 8)
        high = np.clip(np.ceil(at.max(axis=(0, 1))).astype(int) + 4, low + 8, size)
        box = self.gray[low[1] : high[1], low[0] : high[0]].astype(np.float32)
        u, v = np.moveaxis((at - low).astype(np.float32), -1, 0)
        return np.asarray(cv2.remap(box, u, v, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE), np.float32)

    def per_inch(self, at: Array) -> Array:
        """Pixels an inch at a point (2,), across and up (2,)."""
        steps = self.pixels(at + np.array([(0.0, 0.0), (0.1, 0.0), (0.0, 0.1)]))
        return np.asarray(np.linalg.norm(steps[1:] - steps[0], axis=1) / 0.1)


@dataclass(frozen=True)
class Patch:
    """Slopes of brightness on a grid turned about a pivot: over the noise round them, px by px."""

    slopes: tuple[Array, Array]  # rising with x, (rows of y, columns of x); rising with y, (rows of x, columns of y)
    low: Array  # (2,) the first sample, in from the pivot along the turned axes
    step: float  # in
    noise: float  # grey levels a px


def patch(plane: Plane, pivot: Array, turn: float, box: Array) -> Patch:
    """Look at `box` (left, bottom, right, top; in from the pivot) turned counter-clockwise by `turn` radians."""
    step = 1 / min(float(plane.per_inch(pivot).max()), FINEST)
    x, y = (np.arange(box[i], box[i + 2], step) for i in (0, 1))
    levels = plane.levels(np.stack(np.meshgrid(x, y), axis=-1) @ turned(turn).T + pivot)
    smooth = np.asarray(cv2.GaussianBlur(levels, (0, 0), SMOOTH), float)
    up, across = np.gradient(smooth)
    noise = max(0.1, 1.4826 * float(np.median(np.abs([up, across]))))
    return Patch((across / noise, up.T / noise), np.array([x[0], y[0]]), step, noise)


def turned(angle: float) -> Array:
    """The rotation matrix (2, 2) that turns counter-clockwise."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]])


@dataclass(frozen=True)
class Line:
    """An edge in the plane."""

    point: Array  # (2,) in, its middle
    along: Array  # (2,) unit
    out: Array  # (2,) unit, across it, away from the thing
    half: float  # in, half the length that is looked at


@dataclass(frozen=True)
class Traced:
    """An edge as traced, and how sure that is."""

    line: Line
    sd: float  # in, across
    strength: float  # slope over noise, median of its blocks
    unbroken: float  # share of its blocks that show it
    per_inch: float  # px an inch across it
    noise: float  # of slopes beside it, grey levels a px


def trace(plane: Plane, line: Line, sign: int, noise: float) -> Traced | None:
    """Trace an edge in the photo; None where it is lost.

    Each of `BLOCKS` parts is placed at the steepest point of its mean profile, by a parabola, and a straight line is
    fitted to them that gives those far off no weight (Tukey's biweight). The sd is their scatter about it over the
    root of their number, and a floor.

    Parameters
    ----------
    plane, line
        Where the edge was seen, good to `REACH` px.
    sign
        1 where its inner side is the lighter, -1 where it is the darker.
    noise
        Of the slope, grey levels a px.
    """
    for _ in range(3):
        at, places, slopes, per_inch = _blocks(plane, line, sign)
        shift, lean, kept, scatter = _fit(at, places, slopes, 0.5 / per_inch)
        if kept.sum() < BLOCKS / 4:
            return None
        line = moved(line, shift, lean)
    sd = float(np.hypot(1.25 * scatter / np.sqrt(kept.sum()), SCATTER_FLOOR / per_inch))
    return Traced(line, sd, float(np.median(slopes[kept])) / noise, float(kept.mean()), per_inch, noise)


def moved(line: Line, shift: float, lean: float) -> Line:
    """The line moved outwards by `shift` in, and leaning by `lean` in an in."""
    along = line.along + lean * line.out
    along /= np.linalg.norm(along)
    out = line.out - (line.out @ along) * along
    return Line(line.point + shift * line.out, along, out / np.linalg.norm(out), line.half)


def _blocks(plane: Plane, line: Line, sign: int) -> tuple[Array, Array, Array, float]:
    """Where along the blocks lie, how far out each one's edge is [in], how steep [levels a px]: (K,); px an inch."""
    per_inch = per_inch_of(plane, line)
    rows = BLOCKS * max(1, int(2 * line.half * per_inch) // BLOCKS)
    along = ((np.arange(rows) + 0.5) / rows * 2 - 1) * line.half
    out = np.arange(-REACH - 4, REACH + 4 + FINE / 2, FINE) / per_inch
    grid = line.point + along[:, None, None] * line.along + out[None, :, None] * line.out
    profiles = plane.levels(grid).reshape(BLOCKS, -1, len(out)).mean(axis=1)
    slopes = -sign * gaussian_filter1d(profiles.astype(float), SMOOTH / FINE, order=1) / FINE
    inside = np.abs(out) <= REACH / per_inch
    place, height = _peaks(slopes[:, inside])
    return along.reshape(BLOCKS, -1).mean(axis=1), out[inside][0] + place * FINE / per_inch, height, per_inch


def _peaks(rows: Array) -> tuple[Array, Array]:
    """Where each row (K, N) is highest, in parts of a column, by a parabola; and how high."""
    top = np.clip(rows.argmax(axis=1), 1, rows.shape[1] - 2)
    before, here, after = (rows[np.arange(len(rows)), top + k] for k in (-1, 0, 1))
    bend = before - 2 * here + after
    shift = np.divide(before - after, 2 * bend, out=np.zeros(len(rows)), where=bend < -1e-12)
    return top + np.clip(shift, -1, 1), here


def _fit(at: Array, places: Array, slopes: Array, least: float) -> tuple[float, float, NDArray[np.bool_], float]:
    """Shift at the middle, lean, which blocks hold to the line, and their scatter; within `least` none is far off."""
    weight = np.where(slopes >= 0.35 * np.median(slopes), 1.0, 0.0)  # never none: half of them reach the median
    basis = np.column_stack([np.ones(len(at)), at])
    fit, width = np.array([np.median(places), 0.0]), np.inf
    for _ in range(12):
        off = places - basis @ fit
        width = max(4.0 * 1.4826 * float(np.median(np.abs(off[weight > 0]))), least)
        bi = np.where(np.abs(off) < width, (1 - (off / width) ** 2) ** 2, 0.0) * weight
        if np.count_nonzero(bi) < 3:
            break
        root = np.sqrt(bi)[:, None]
        fit = np.linalg.lstsq(basis * root, places * root[:, 0], rcond=None)[0]
    off = places - basis @ fit
    kept = (np.abs(off) < width) & (weight > 0)
    scatter = float(np.sqrt(np.mean(off[kept] ** 2))) if kept.any() else np.inf
    return float(fit[0]), float(fit[1]), kept, scatter


def beside(plane: Plane, line: Line, wide: float) -> tuple[float, float, float]:
    """Lines about `wide` in inside and outside an edge: how steep the inner, where it lies, how steep the outer."""
    out, profile, per_inch = _profile(plane, line, -1.5 * wide, 1.5 * wide)
    slopes = np.abs(gaussian_filter1d(profile, SMOOTH / FINE, order=1)) / FINE
    far = np.abs(out) > max(0.5 * wide, 2.2 / per_inch)
    inner, outer = (np.where(far & (out * hand > 0) & (np.abs(out) < 1.5 * wide), slopes, 0.0) for hand in (-1, 1))
    return float(inner.max()), float(out[inner.argmax()]), float(outer.max())


def per_inch_of(plane: Plane, line: Line) -> float:
    """Pixels an inch across a line, at its middle."""
    ends = plane.pixels(np.array([line.point, line.point + 0.1 * line.out]))
    return float(np.linalg.norm(ends[1] - ends[0]) / 0.1)


def _profile(plane: Plane, line: Line, low: float, high: float) -> tuple[Array, Array, float]:
    """The median profile across a line, from `low` to `high` in out: where (K,), levels (K,), and px an inch."""
    per_inch = per_inch_of(plane, line)
    along = np.linspace(-line.half, line.half, max(BLOCKS, int(2 * line.half * per_inch)))
    out = np.arange(low - 3 / per_inch, high + 3 / per_inch, FINE / per_inch)
    grid = line.point + along[:, None, None] * line.along + out[None, :, None] * line.out
    return out, np.median(plane.levels(grid), axis=0).astype(float), per_inch
