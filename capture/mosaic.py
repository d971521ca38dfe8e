"""The elevation picture: one square-on picture of a wall at a stated scale, joined from all its photos.

Each pixel comes from one photo: `seams` tells which, the finer and squarer one where there is a choice; `exposure`
evens their light; `rectify` redraws them. The first two work on a small raster of the whole wall.
"""

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import ceil
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.camera import Array, Camera
from capture.detect import CardSighting, blur
from capture.exposure import gained, gains, levelled, shades
from capture.rectify import (
    Mask,
    Nodes,
    Pixels,
    Raster,
    Tile,
    between,
    look,
    redraw,
    resolution,
    sample,
    seen,
    spaced,
)
from capture.seams import NOBODY, Label, by_worth, choose

S = TypeVar("S")
R = TypeVar("R")
T = TypeVar("T", np.uint8, np.float32)
Box = tuple[float, float, float, float]  # left, bottom, right, top; wall inches

SEAM_SCALE = 2.0  # px per inch of the small pictures in which the seams are sought
HALO = 1.5  # in: seams stay this far from what is to stay whole
EVEN_OVER = 6.0  # in: how softly the last difference in light is shared out
FINENESS_STEP = 4  # px of the small raster: over two inches fineness changes all but evenly
OUTLINE_STEP = 4  # px of the photo: how finely outlines of what stands in front are kept
HALF_LEVEL = 1 / 512  # a factor nearer to 1 moves no sRGB value by more than half a level
SMALLEST_CARD = 60  # px across: a smaller one has too few edges to tell

_CODES = np.repeat(np.arange(256, dtype=np.uint8)[None, :, None], 3, axis=2)  # every sRGB value, (1, 256, 3)


@dataclass(frozen=True)
class View:
    """One solved photo of the wall."""

    name: str
    rgb: Pixels  # (height, width, 3), upright
    camera: Camera
    blur: Callable[[], float] = float  # px, standard deviation: how unsharp it is (`blur_of`), when asked; else 0
    in_front: tuple[Array, ...] = ()  # outlines (N, 2) px of what stands before the wall


@dataclass(frozen=True)
class Elevation:
    """A wall to scale: row 0 is at the top, and the picture's left top corner lies at (`left`, `top`)."""

    rgb: Pixels  # (height, width, 3); white where no photo looked
    source: Label  # (height, width): which view each pixel is from, or NOBODY
    px_per_inch: float
    left: float  # wall inches
    top: float
    fineness: NDArray[np.float32]  # (rows, columns), coarser: px per inch that the photos really gave; 0 where unseen
    gain: Array  # (K, 3): what each view's light was multiplied by

    @property
    def seen(self) -> Mask:
        """Where any photo looked, (height, width)."""
        return np.asarray(self.source != NOBODY)


def blur_of(photo: Pixels, cards: Sequence[CardSighting]) -> float:
    """How unsharp a photo is, px: the median over its cards, whose edges are known to be sharp; 0 if not known.

    Of a photo in red, green, blue, (height, width, 3), or in luma alone.
    """
    found = []
    for card in cards:
        low, high = np.floor(card.points.min(axis=0)).astype(int), np.ceil(card.points.max(axis=0)).astype(int)
        part = photo[max(low[1], 0) : high[1] + 1, max(low[0], 0) : high[0] + 1]
        if min(part.shape[:2]) >= SMALLEST_CARD:
            found.append(blur(part if part.ndim == 2 else np.asarray(cv2.cvtColor(part, cv2.COLOR_RGB2GRAY))))
    return float(np.median(found)) if found else 0.0


def elevation(views: Sequence[View], extent: Box, px_per_inch: float, whole: Sequence[Box] = ()) -> Elevation:
    """Draw a wall square-on from its photos.

    Parameters
    ----------
    views
        One to 254 solved photos.
    extent
        Left, bottom, right, top of what to show, wall inches; everything is taken as lying in the wall.
    px_per_inch
        Scale of the picture. Where no photo gives so much the picture stays as blurred as the photo is.
    whole
        What no seam may cut: each is drawn from one photo, if one shows all of it.
    """
    raster, small = Raster.over(extent, px_per_inch), Raster.over(extent, min(SEAM_SCALE, px_per_inch))
    rgb = np.empty((raster.height, raster.width, 3), np.uint8)
    source = np.empty((raster.height, raster.width), np.uint8)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        asked = [pool.submit(_fineness, view, small) for view in views]
        alone = len(views) == 1  # it is drawn meanwhile, for nothing hangs on how fine it is
        joint = _alone(small) if alone else _join(views, small, np.array([one.result() for one in asked]), whole)
        drawn = pool.map(lambda tile: _draw(views, joint, raster, small, tile, rgb[tile], source[tile]), raster.tiles())
        fineness = np.array([one.result() for one in asked])
        list(drawn)  # tells what went wrong with any of them
    given = np.where(joint.label == np.arange(len(views))[:, None, None], fineness, 0).sum(axis=0)
    return Elevation(rgb, source, px_per_inch, raster.left, raster.top, given, joint.gain)


def _at_once(work: Callable[[S], R], items: Iterable[S]) -> list[R]:
    """The work on all items, in their order, on all processors: OpenCV lets other threads run while it works."""
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, items))


@dataclass(frozen=True)
class _Joint:
    """What is drawn from which photo, on the small raster, and how its light is changed."""

    label: Label
    order: list[int]  # views, from the one that is worth most
    gain: Array  # (K, 3)
    shade: list[NDArray[np.float32]]  # K of (rows, columns, 3); none for a photo alone


def _alone(small: Raster) -> _Joint:
    return _Joint(np.zeros((small.height, small.width), np.uint8), [0], np.ones((1, 3)), [])


def _fineness(view: View, raster: Raster) -> NDArray[np.float32]:
    """Pixels per inch that a photo gives (rows, columns), 0 where it did not look.

    Of an unsharp photo, as if its pixels were so much larger: Gaussian spots run together where they are closer than
    twice their standard deviation (Sparrow 1916), those of a sharp photo where they are closer than two pixels.
    """
    everything = slice(0, raster.height), slice(0, raster.width)
    at = spaced(everything, FINENESS_STEP)
    given = resolution(view.camera, raster.points(*at)).reshape(len(at[0]), len(at[1]))
    fineness = between(given, FINENESS_STEP, everything) * seen(view.camera, raster)
    return np.asarray(fineness / np.float32(max(1.0, view.blur())), np.float32)


# How the photos are joined.


def _join(views: Sequence[View], small: Raster, fineness: Array, whole: Sequence[Box]) -> _Joint:
    pixels = _at_once(lambda view: _small_picture(view, small), views)
    free = (fineness > 0) & ~np.array([_covered(view, small) for view in views])
    gain, group = gains(pixels, list(free))
    # What is lifted is noisier, by the root of the gain; what is seen aslant is shifted further where it is proud.
    squareness = np.array([_squareness(view.camera, small) for view in views])
    worth = fineness * squareness / np.sqrt(gain.mean(axis=1))[:, None, None]
    boxes = [(_cells(box, small), _cells(box, small, HALO)) for box in whole]
    label = choose(worth, fineness > 0, free, _evened(pixels, gain), boxes)
    gain = levelled(gain, group, int(np.bincount(label.ravel(), minlength=NOBODY)[:NOBODY].argmax()))
    shade = shades(_evened(pixels, gain), list(free), label, EVEN_OVER * small.px_per_inch)
    return _Joint(label, by_worth(worth), gain, shade)


def _evened(pixels: Sequence[Pixels], gain: Array) -> list[NDArray[np.float32]]:
    return [gained(p, g) for p, g in zip(pixels, gain, strict=True)]


def _small_picture(view: View, small: Raster) -> Pixels:
    picture = np.zeros((small.height, small.width, 3), np.uint8)
    for tile in small.tiles():
        drawn = redraw(view.rgb, view.camera, small, tile)
        if drawn is not None:
            picture[tile] = drawn[0]
    return picture


def _covered(view: View, small: Raster) -> Mask:
    """Where something stands before the wall (rows, columns)."""
    if not view.in_front:
        return np.zeros((small.height, small.width), bool)
    points = small.centres()
    seen = view.camera.sees(points)
    outlines = [(np.asarray(outline) / OUTLINE_STEP).round().astype(np.int32) for outline in view.in_front]
    width, height = (side // OUTLINE_STEP + 1 for side in view.camera.size)
    mask = cv2.fillPoly(np.zeros((height, width), np.uint8), outlines, 1)
    column, row = (view.camera.project(points[seen]) / OUTLINE_STEP).round().astype(int).T
    covered = np.zeros(len(points), np.uint8)
    covered[seen] = mask[row, column]
    # One pixel more all round, since outlines are tapped by hand.
    return np.asarray(cv2.dilate(covered.reshape(small.height, small.width), np.ones((3, 3), np.uint8))) > 0


def _squareness(camera: Camera, raster: Raster) -> Array:
    """Cosine of the angle between the line of sight and square-on (rows, columns)."""
    away = camera.centre - raster.centres()
    return np.asarray(away[:, 2] / np.linalg.norm(away, axis=1)).reshape(raster.height, raster.width)


def _cells(box: Box, raster: Raster, round_about: float = 0.0) -> Tile:
    """The pixels of a raster that a box touches, within `round_about` inches."""
    left, bottom, right, top = np.array(box) + np.array([-1, -1, 1, 1]) * round_about
    rows = np.clip(raster.px_per_inch * (raster.top - np.array([top, bottom])), 0, raster.height)
    columns = np.clip(raster.px_per_inch * (np.array([left, right]) - raster.left), 0, raster.width)
    return slice(int(rows[0]), ceil(rows[1])), slice(int(columns[0]), ceil(columns[1]))


# The picture.


def _draw(
    views: Sequence[View], joint: _Joint, raster: Raster, small: Raster, tile: Tile, rgb: Pixels, source: Pixels
) -> None:
    """Draw one tile into `rgb` and `source`: each pixel from the photo it is meant to be from, else from any."""
    ratio = small.px_per_inch / raster.px_per_inch
    looks: dict[int, tuple[Nodes, Mask] | None] = {}
    source.fill(NOBODY)
    for i, where in [*_meant(joint, ratio, tile), *((i, None) for i in joint.order)]:
        blank = source == NOBODY
        if where is not None:
            blank &= where
        if not blank.any():
            continue
        if i not in looks:
            looks[i] = look(views[i].camera, raster, tile)
        if found := looks[i]:
            # From NOBODY to i: many times faster than by a mask.
            source -= (blank & found[1]).view(np.uint8) * np.uint8(NOBODY - i)
    if (source == NOBODY).any():
        rgb.fill(255)
    for i, found in looks.items():
        mine = source == i
        if found and not joint.shade and mine.all():
            sample(views[i].rgb, found[0], rgb)
        elif found and mine.any():
            pixels = _toned(sample(views[i].rgb, found[0]), joint, i, ratio, tile)
            cv2.copyTo(pixels, mine.view(np.uint8), rgb)


def _meant(joint: _Joint, ratio: float, tile: Tile) -> list[tuple[int, Mask | None]]:
    """Which photos a tile is meant to be from, and where (rows, columns), None for everywhere."""
    if len(joint.order) == 1:
        return []
    under = _under(joint.label, ratio, tile)
    if (under == under[0, 0]).all():
        return [(int(under[0, 0]), None)] if under[0, 0] != NOBODY else []
    label = _enlarged(joint.label, ratio, tile, cv2.INTER_NEAREST)
    return [(i, where) for i in joint.order if (where := label == i).any()]


def _toned(pixels: Pixels, joint: _Joint, i: int, ratio: float, tile: Tile) -> Pixels:
    if not joint.shade:
        return pixels
    if np.abs(_under(joint.shade[i], ratio, tile) - 1).max() < HALF_LEVEL:
        return np.asarray(cv2.LUT(pixels, gained(_CODES, joint.gain[i]).round().astype(np.uint8)), np.uint8)
    factor = _enlarged(joint.shade[i], ratio, tile, cv2.INTER_LINEAR)
    return np.asarray(cv2.multiply(gained(pixels, joint.gain[i]), factor, dtype=cv2.CV_8U), np.uint8)


def _under(values: NDArray[T], ratio: float, tile: Tile) -> NDArray[T]:
    """The values of a small raster's pixels that a tile touches, one more all round."""
    rows, columns = (
        slice(min(max(int(part.start * ratio) - 1, 0), side - 1), ceil(part.stop * ratio) + 1)
        for part, side in zip(tile, values.shape[:2], strict=True)
    )
    return values[rows, columns]


def _enlarged(values: NDArray[T], ratio: float, tile: Tile, how: int) -> NDArray[T]:
    """The part of a small raster's values that lies under a tile, at the size of the tile."""
    first = [(part.start + 0.5) * ratio - 0.5 for part in tile]
    matrix = np.array([[ratio, 0, first[1]], [0, ratio, first[0]]])
    size = (tile[1].stop - tile[1].start, tile[0].stop - tile[0].start)
    flags = how | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpAffine(values, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), dtype=values.dtype
    )
