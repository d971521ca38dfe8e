"""Which photo each part of a wall is drawn from, and where the seams between them run.

A photo that is worth clearly more than the others is taken. Where several are about as good the seam runs where it
shows least, by a graph cut (Kwatra et al. 2003, "Graphcut textures"), and never through a thing that is to stay
whole, since what stands proud of the wall is shifted by another amount in each photo.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.camera import Array
from capture.rectify import Mask, Tile

NOBODY = 255  # no photo looked there
MUCH_BETTER = 1.15  # a photo that is worth so much more is taken whatever the seam
OPENING = 5  # px: narrower strips of wall behind what stands in front are not worth a cut
Label = NDArray[np.uint8]  # (rows, columns): which photo, or NOBODY


def choose(
    worth: Array,
    looked: Mask,
    free: Mask,
    toned: Sequence[NDArray[np.float32]],
    whole: Sequence[tuple[Tile, Tile]],
) -> Label:
    """Choose a photo for each pixel of a small raster.

    Parameters
    ----------
    worth : (K, rows, columns)
        What each photo is worth where it looked: any scale, the same for all.
    looked, free : (K, rows, columns)
        Where each looked, and where it showed the wall itself.
    toned : K of (rows, columns, 3)
        The photos redrawn, evened in light.
    whole
        The pixels of each thing that is to stay whole, and those of it with its halo.
    """
    worth = worth * _usable(looked, free)
    held = _held(worth, whole)
    _hold_hidden(held, worth, np.asarray(looked.any(axis=0) & ~free.any(axis=0)))
    return _cut(toned, _allowed(worth, held), by_worth(worth))


def by_worth(worth: Array) -> list[int]:
    """The photos (K, rows, columns), from the one that is worth most all over."""
    return [int(i) for i in np.argsort(-worth.sum(axis=(1, 2)), kind="stable")]


def _usable(looked: Mask, free: Mask) -> Mask:
    """Where each photo may be drawn from, (K, rows, columns): not what stands in front, if another shows the wall.

    A strip of wall that is narrower than `OPENING` is not worth cutting up what stands in front of it.
    """
    opening = np.ones((OPENING, OPENING), np.uint8)
    instead = looked & ~free & free.any(axis=0)
    for i in range(len(instead)):
        instead[i] = cv2.morphologyEx(instead[i].astype(np.uint8), cv2.MORPH_OPEN, opening) > 0
    return np.asarray(looked & ~instead)


def _held(worth: Array, whole: Sequence[tuple[Tile, Tile]]) -> Label:
    """From which photo what is to stay whole is drawn (rows, columns), NOBODY elsewhere and where no photo shows it."""
    held = np.full(worth.shape[1:], NOBODY, np.uint8)
    for box, halo in sorted(whole, key=lambda pair: -held[pair[0]].size):
        showing = np.flatnonzero((worth[:, *box] > 0).all(axis=(1, 2)))
        if not held[box].size or not len(showing):
            continue
        near = np.intersect1d(showing, held[halo])  # what stands close together comes from one photo
        best = max(near if len(near) else showing, key=lambda i: worth[i][box].sum())
        held[halo][(held[halo] == NOBODY) & (worth[best][halo] > 0)] = best
        held[box] = best
    return held


def _hold_hidden(held: Label, worth: Array, hidden: Mask) -> None:
    """Hold what stands in front of the wall in all photos, each patch from one of them."""
    count, patch = cv2.connectedComponents((hidden & (held == NOBODY)).astype(np.uint8))
    for number in range(1, count):
        cells = patch == number
        best = int((worth * cells).sum(axis=(1, 2)).argmax())
        held[cells & (worth[best] > 0)] = best


def _allowed(worth: Array, held: Label) -> Mask:
    """Between which photos each pixel may choose, (K, rows, columns): as few photos as will do, so as few seams."""
    good = (worth > 0) & (worth * MUCH_BETTER >= worth.max(axis=0))
    chosen = [int(i) for i in np.unique(held[held != NOBODY])]
    wanting = good.any(axis=0) & ~good[chosen].any(axis=0)
    while wanting.any():
        chosen.append(int((good & wanting).sum(axis=(1, 2)).argmax()))
        wanting &= ~good[chosen[-1]]
    allowed = np.zeros_like(good)
    for i in chosen:
        allowed[i] = np.where(held == NOBODY, good[i], held == i)
    return np.asarray(allowed)


def _cut(toned: Sequence[NDArray[np.float32]], allowed: Mask, order: Sequence[int]) -> Label:
    """Which photo each pixel is from, NOBODY where none may be; where no cut settles it, the first in `order`."""
    used = [i for i in order if allowed[i].any()]
    parts = [_around(allowed[i]) for i in used]
    masks = [allowed[i][part].astype(np.uint8) for i, part in zip(used, parts, strict=True)]
    if len(used) > 1:
        finder = cv2.detail.GraphCutSeamFinder("COST_COLOR")
        pictures = [_lent(toned[i][part]) for i, part in zip(used, parts, strict=True)]
        corners = [(part[1].start, part[0].start) for part in parts]
        masks = [np.asarray(m.get(), np.uint8) for m in finder.find(pictures, corners, [_lent(m) for m in masks])]
    label = np.full(allowed.shape[1:], NOBODY, np.uint8)
    for i, part, mask in reversed(list(zip(used, parts, masks, strict=True))):
        label[part][mask > 0] = i
    return label


def _lent(values: NDArray[np.float32] | NDArray[np.uint8]) -> cv2.UMat:
    lent: cv2.UMat = cv2.UMat(np.ascontiguousarray(values))  # type: ignore[call-overload]  # OpenCV's stubs lack it
    return lent


def _around(mask: Mask) -> Tile:
    """The least part of a raster that holds all of a mask."""
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    return slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1)
