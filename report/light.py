"""How the wall is lit, learnt from the photo: how bright at each place, of what colour, and from where.

The wall's own pixels tell how its light changes from place to place; a printed card's paper, which is white, tells how
much of it is light and how much the old paint. Values are linear light, 1 where the photo is white (IEC 61966-2-1).

Frame: wall (in; x right, y up, z out of the wall).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from report.views import View

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Numbers = NDArray[np.integer[Any] | np.floating[Any]]
Bools = NDArray[np.bool_]

CELL = 0.5  # in: a field of light has no finer detail
MEDIAN = 41  # cells: wider than twice anything that hangs on a wall by chance
COLOUR_OFF = 0.07  # of ln: a cell whose colour differs by more from the wall's round it is not bare wall
BRIGHT_OFF = 0.3  # of ln: nor one that is brighter or darker by more
SMOOTH = 1.5  # cells
PAPER_WHITE = 0.85  # reflectance of printing paper; from memory, ISO brightness of office paper is mostly above that
WHITE_SHOWN = 0.75  # linear light of white in a photo that a phone exposed, where no card tells; from memory
LUMA = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709, linear

REACH = 60.0  # in: how far beside the wall the light is looked for
DISTANCE = (20.0, 150.0)  # in: and how far in front of it
TRIES = 4  # each way in that space, for where to look closely
FAIR = 0.05  # of the mean brightness: what differs by more is no longer believed wholly
EXPLAINED = 0.5  # share of the wall's shading that one light must explain to be believed
THIN = (slice(4, None, 8), slice(4, None, 8))  # of all cells, those that the light is told by
FEWEST = 30  # such cells, or nothing is told
EVEN = 0.02  # of its mean: a wall whose brightness differs by no more tells nothing
SHARE = (0.3, 0.6)  # of the wall's light that comes from the one light; the rest from all round


def to_linear(srgb: Numbers) -> Floats:
    """Linear light 0 to 1 of sRGB values 0 to 255 (IEC 61966-2-1)."""
    if srgb.dtype == np.uint8:
        return np.asarray(cv2.LUT(srgb, _LINEAR), np.float32).reshape(srgb.shape)
    value = np.asarray(srgb, np.float32) / 255
    return np.asarray(np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4), np.float32)


_LINEAR = to_linear(np.arange(256.0))


def to_srgb(linear: Numbers) -> Floats:
    """SRGB values 0 to 255, not rounded, of linear light 0 to 1."""
    nearest = (linear * np.float32(len(_SRGB) - 1) + np.float32(0.5)).astype(np.intp)
    return np.asarray(_SRGB.take(nearest, mode="clip"), np.float32)


def _srgb(value: Array) -> Floats:
    return np.asarray(255 * np.where(value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055), np.float32)


_SRGB = _srgb(np.linspace(0, 1, 2**18))  # within 0.006 of a step, where a power for each pixel takes six times as long


def filled(values: Numbers, known: Bools) -> Floats:
    """Values (h, w, C) with what is not known filled in smoothly from round it.

    By a pyramid of means (Gortler et al. 1996, the lumigraph, section 3.3.2: pull and push); what is known stays.
    """
    weight = known.astype(np.float32)
    if known.all() or not known.any() or min(known.shape) < 2:
        return np.asarray(values, np.float32)
    size = known.shape[1] // 2, known.shape[0] // 2
    small = cv2.resize(weight, size, interpolation=cv2.INTER_AREA)
    total = cv2.resize(values * weight[..., None], size, interpolation=cv2.INTER_AREA).reshape(*small.shape, -1)
    coarse = filled(total / np.maximum(small, 1e-6)[..., None], small > 0)
    up = cv2.resize(coarse, known.shape[::-1], interpolation=cv2.INTER_LINEAR).reshape(values.shape)
    return np.asarray(np.where(known[..., None], values, up), np.float32)


@dataclass(frozen=True)
class Field:
    """A smooth field over the wall; the centre of its first cell is half a cell right of `left` and above `bottom`."""

    values: Floats  # (h, w, C), rows upwards
    left: float
    bottom: float
    known: Bools  # (h, w): where the bare wall was seen

    def at(self, x: Floats, y: Floats) -> Floats:
        """Its values at wall places."""
        there = cv2.remap(self.values, *self._cells(x, y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(there, np.float32)

    def known_at(self, x: Floats, y: Floats) -> Floats:
        """How far the bare wall was seen round wall places (h, w), 0 to 1; 0 beyond the wall."""
        known = self.known.astype(np.float32)
        return np.asarray(cv2.remap(known, *self._cells(x, y), cv2.INTER_LINEAR), np.float32)

    def _cells(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Wall places in cells, from the centre of the first."""
        u, v = ((at - first) / CELL - 0.5 for at, first in ((x, self.left), (y, self.bottom)))
        return u.astype(np.float32), v.astype(np.float32)

    @property
    def centres(self) -> tuple[Floats, Floats]:
        """Wall places of all cells."""
        height, width = self.known.shape
        x = self.left + (np.arange(width, dtype=np.float32) + 0.5) * CELL
        y = self.bottom + (np.arange(height, dtype=np.float32) + 0.5) * CELL
        x, y = np.meshgrid(x, y)
        return x, y


def bare_wall(
    pixels: NDArray[np.uint8], covered: Bools, view: View, extent: tuple[float, float, float, float]
) -> Field | None:
    """What the wall would show if nothing hung on it or stood before it, linear light; None where it is not seen.

    Parameters
    ----------
    pixels : (h, w, 3)
        The picture, sRGB.
    covered : (h, w)
        Where something is known to hide the wall.
    view
        Where wall places fall in the picture.
    extent
        Left, bottom, right, top of the wall, inches.
    """
    left, bottom, right, top = extent
    size = max(2, round((top - bottom) / CELL)), max(2, round((right - left) / CELL))
    field = Field(np.zeros((*size, 3), np.float32), left, bottom, np.zeros(size, bool))
    x, y = field.centres
    at, good = view.pixels(np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)]))
    inside = good & (at >= 0).all(axis=1) & (at <= np.array(pixels.shape[1::-1]) - 1).all(axis=1)
    u, v = (np.where(inside, at[:, k], -1e4).reshape(size).astype(np.float32) for k in (0, 1))
    width = max(1.0, float(np.median(np.abs(np.diff(u, axis=1)))))  # px to a cell
    hidden = cv2.remap(covered.astype(np.float32), u, v, cv2.INTER_LINEAR, borderValue=1.0)
    known = inside.reshape(size) & (hidden < 0.01)
    if known.sum() < 50:
        return None
    seen = _softly(pixels, u, v, width)
    part = _window_round(known, MEDIAN)
    for _ in range(2):  # a base below a register is the rule there until the base beside it is known for what it is
        known[part] &= _like_the_rest(filled(seen, known)[part], known[part])
    smooth = cv2.GaussianBlur(filled(seen, known), (0, 0), SMOOTH, borderType=cv2.BORDER_REFLECT)
    return Field(np.asarray(smooth, np.float32), left, bottom, known)


def _softly(pixels: NDArray[np.uint8], u: Floats, v: Floats, width: float) -> Floats:
    """The linear light at places in a picture, each the mean over about `width` pixels; what is beyond it is nonsense.

    On the part of the picture that they lie in, and no finer than it needs.
    """
    fine, margin = max(1, round(width / 4)), int(2 * width) + 2
    left, top = (max(0, int(at[at >= 0].min()) - margin) for at in (u, v))
    right, bottom = (int(at.max()) + margin for at in (u, v))
    part = pixels[top:bottom, left:right]
    size = part.shape[1] // fine, part.shape[0] // fine
    small = cv2.resize(part[: size[1] * fine, : size[0] * fine], size, interpolation=cv2.INTER_AREA)
    soft = cv2.blur(to_linear(np.asarray(small)), (2 * round(width / fine / 2) + 1,) * 2)
    x, y = ((at - first + np.float32(0.5)) / np.float32(fine) - np.float32(0.5) for at, first in ((u, left), (v, top)))
    return np.asarray(cv2.remap(soft, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)


def _window_round(known: Bools, by: int) -> tuple[slice, slice]:
    rows, columns = (np.flatnonzero(known.any(axis=axis)) for axis in (1, 0))
    return slice(max(0, rows[0] - by), rows[-1] + by + 1), slice(max(0, columns[0] - by), columns[-1] + by + 1)


def _like_the_rest(values: Floats, known: Bools) -> Bools:
    """Which cells look as the wall round them: a base, a patch or a cable that nobody marked does not."""
    bright = np.log(np.maximum(values @ LUMA.astype(np.float32), 1e-4))
    red, blue = (np.log(np.maximum(values[..., k], 1e-4)) - bright for k in (0, 2))
    off = [np.abs(part - _median(part, known)) for part in (red, blue, bright)]
    odd = (off[0] > COLOUR_OFF) | (off[1] > 1.5 * COLOUR_OFF) | (off[2] > BRIGHT_OFF)
    return ~cv2.dilate(odd.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)


def _median(part: Floats, known: Bools) -> Floats:
    """The median round each cell, by OpenCV on 8 bits over the range that is met."""
    low, high = np.percentile(part[known], [0.5, 99.5])
    span = max(float(high - low), 1e-3) * 1.2
    coded = np.clip((part - low) / span * 230 + 12, 0, 255).astype(np.uint8)
    around = cv2.copyMakeBorder(coded, *(MEDIAN // 2,) * 4, cv2.BORDER_REFLECT)
    inner = slice(MEDIAN // 2, -(MEDIAN // 2))
    middle = np.asarray(cv2.medianBlur(around, MEDIAN)[inner, inner], np.float32)
    return np.asarray((middle - 12) / 230 * span + low, np.float32)


def white_over_wall(pixels: NDArray[np.uint8], sheets: Sequence[Array], view: View, wall: Field) -> Array | None:
    """How much more a perfect white would show than the wall does, by channel (3,): from cards that hang on it.

    None where no card tells.
    """
    found = []
    for sheet in sheets:
        middle = view.meets(sheet.mean(axis=0)[None])[0, :2]
        x, y = np.float32(middle).reshape(2, 1, 1)
        height, width = wall.known.shape
        on_wall = 0 < x - wall.left < width * CELL and 0 < y - wall.bottom < height * CELL
        if on_wall and (paper := _paper(pixels, sheet)) is not None:
            found.append(paper / PAPER_WHITE / np.maximum(wall.at(x, y)[0, 0], 1e-3))
    return np.asarray(np.median(found, axis=0)) if found else None


def usual_white(wall: Field) -> Array:
    """`white_over_wall` where nothing tells: the light neutral, white shown as usual and never darker than the wall."""
    middle_tone = np.median(wall.values[wall.known], axis=0)
    return np.asarray(max(WHITE_SHOWN, float(middle_tone @ LUMA)) / np.maximum(middle_tone, 1e-3))


def _paper(pixels: NDArray[np.uint8], sheet: Array) -> Array | None:
    """The linear light of a card's paper (3,); None where it is too small or too bright to tell."""
    low, high = np.floor(sheet.min(axis=0)).astype(int), np.ceil(sheet.max(axis=0)).astype(int)
    if (low < 0).any() or (high >= pixels.shape[1::-1]).any() or (high - low).min() < 12:
        return None
    part = pixels[low[1] : high[1], low[0] : high[0]]
    mask: NDArray[np.uint8] = np.zeros(part.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.rint((sheet - low - (high - low) / 2) * 0.8 + (high - low) / 2).astype(np.int32), 1)
    inside = part[mask > 0].astype(float)
    bright = inside @ LUMA
    paper = np.median(inside[bright > np.percentile(bright, [5, 95]).mean()], axis=0)
    return None if paper.max() > 250 else np.asarray(to_linear(paper), float)


@dataclass(frozen=True)
class Lamp:
    """One light before the wall, and what comes from all round besides."""

    place: tuple[float, float, float]  # wall inches
    share: float  # of the light where it is brightest on the wall that is the lamp's own
    found: bool  # in the photo; else it is the usual light of a room, from above

    def slopes(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """How far to the right and up the way to it goes from wall places, per inch off the wall."""
        return (self.place[0] - x) / self.place[2], (self.place[1] - y) / self.place[2]


def usual_lamp(extent: tuple[float, float, float, float]) -> Lamp:
    """The usual light of a room: from the ceiling, five feet before the wall's middle."""
    left, bottom, right, _ = extent
    return Lamp(((left + right) / 2, bottom + 90.0, 60.0), 0.4, False)


def find_lamp(wall: Field) -> Lamp:
    """The one light that explains best how the wall's brightness changes from place to place.

    A small light at (X, Y, Z) gives a matt wall Z / r³ of itself (Lambert; inverse square and cosine), and the rest of
    the room something even. Where that explains too little, the usual light of a room is taken.
    """
    height, width = wall.known.shape
    extent = wall.left, wall.bottom, wall.left + width * CELL, wall.bottom + height * CELL
    seen = wall.known[THIN]
    bright = (wall.values[THIN] @ LUMA.astype(np.float32))[seen].astype(float)
    if len(bright) < FEWEST or np.ptp(bright) < EVEN * bright.mean():
        return usual_lamp(extent)
    x, y = (part[THIN][seen].astype(float) for part in wall.centres)
    place = _best_place(x, y, bright, extent)
    left_over, even, own = _unexplained(place, x, y, bright)
    explained = 1 - left_over.var() / (bright / bright.mean()).var()
    if explained < EXPLAINED or own <= 0:
        return usual_lamp(extent)
    return Lamp((float(place[0]), float(place[1]), float(place[2])), float(np.clip(own / (even + own), *SHARE)), True)


def _best_place(x: Array, y: Array, bright: Array, extent: tuple[float, float, float, float]) -> Array:
    """The place of a light that leaves least over, from the best of many; soft, so that a shadow does not pull it."""
    low = np.array([extent[0] - REACH, extent[1], DISTANCE[0]])
    high = np.array([extent[2] + REACH, extent[3] + REACH, DISTANCE[1]])

    def left_over(place: Array) -> Array:
        return _unexplained(place, x, y, bright)[0]

    def soft(place: Array) -> float:
        return float(np.sqrt(1 + (left_over(place) / FAIR) ** 2).sum())

    tries = low + (high - low) * np.array(list(product((np.arange(TRIES) + 0.5) / TRIES, repeat=3)))
    start = min(tries, key=soft)
    fit = least_squares(left_over, start, bounds=(low, high), loss="soft_l1", f_scale=FAIR, max_nfev=60)
    return np.asarray(fit.x)


def _unexplained(place: Array, x: Array, y: Array, bright: Array) -> tuple[Array, float, float]:
    """What a light at a place leaves over, relative; and the even light and its own (at its foot) that fit best."""
    r2 = (place[0] - x) ** 2 + (place[1] - y) ** 2 + place[2] ** 2
    own = place[2] ** 3 / r2**1.5
    seen = bright / bright.mean()
    off = own - own.mean()
    slope = float(off @ seen) / max(float(off @ off), 1e-300)  # the least squares of a straight line
    even = float(seen.mean() - slope * own.mean())
    if slope < 0:  # no light is negative
        even, slope = 1.0, 0.0
    elif even < 0:
        even, slope = 0.0, float(own @ seen) / float(own @ own)
    return even + slope * own - seen, even, slope
