"""What hangs on a wall or stands before it, left in front of what is built behind it.

Frame: image (px; the centre of the first pixel at (0, 0)).
"""

from collections.abc import Sequence
from itertools import chain, compress

import cv2
import numpy as np
from numpy.typing import NDArray

from report.light import Field, to_srgb
from report.rays import rays_of
from report.views import View

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]
Pixels = NDArray[np.uint8]

RIM = 0.001  # of the picture's width: how far from its outline a thing's true edge may lie
ALIKE = 5.0, 16.0  # sRGB steps: so near the bare wall's colour is wall, so far from it is the thing
DIM = 0.75  # of its sRGB value: a shadow beside a thing is no darker, or it is the thing
BESIDE = 12  # px round an outline in which the wall next to it is looked for


def kept_in_front(view: View, clean: Pixels, picture: Pixels, wall: Field, outlines: Sequence[Array]) -> Pixels:
    """The photo's own pixels within outlines; near their rim only those that do not look like bare wall.

    A pixel that is part thing and part old wall becomes part thing and part new wall.
    """
    after = picture.copy()
    for group in _apart(outlines):
        window, cover = covered_by(group, picture.shape)
        if cover.any():
            new, here = picture[window].astype(np.float32), clean[window].astype(np.float32)
            inside = _inside(cover, RIM * picture.shape[1])
            share = np.where(inside, 1, cover * _unlike_wall(view, wall, here, cover, window))
            after[window] = np.rint(new + share[..., None] * (here - new)).astype(np.uint8)
    return after


def _apart(outlines: Sequence[Array]) -> list[list[Array]]:
    """Outlines in groups that have nothing to do with each other, for each to be looked at in a small window."""
    groups: list[list[Array]] = []
    for outline in (outline for outline in outlines if len(outline) >= 3):
        touched = [any(_touch(outline, other) for other in group) for group in groups]
        joined = [outline, *chain.from_iterable(compress(groups, touched))]
        groups = [*(group for group, near in zip(groups, touched, strict=True) if not near), joined]
    return groups


def _touch(one: Array, other: Array) -> bool:
    """Whether the windows round two outlines overlap."""
    apart = np.maximum(one.min(axis=0) - other.max(axis=0), other.min(axis=0) - one.max(axis=0))
    return bool((apart <= 2 * BESIDE + 2).all())


def _inside(cover: Floats, rim: float) -> Bools:
    """What lies inside an outline by `rim` pixels; a thing that the picture's edge cuts goes on beyond it."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * max(1, round(rim)) + 1,) * 2)
    return np.asarray(cv2.erode((cover >= 1).astype(np.uint8), kernel, borderType=cv2.BORDER_REPLICATE) > 0)


def _unlike_wall(view: View, wall: Field, here: Floats, cover: Floats, window: tuple[slice, slice]) -> Floats:
    """How unlike each pixel is to the bare wall, in shade or not, and to what lies next to the outline, 0 to 1."""
    ray = rays_of(view, (window[1].start, window[0].start), (here.shape[1], here.shape[0]))
    old = to_srgb(wall.at(ray.x0, ray.y0))
    shaded = np.clip(here.mean(axis=2) / np.maximum(old.mean(axis=2), 1), DIM, 1.0)[..., None]
    off = np.minimum(_off(here, shaded * old), _off(here, _nearest(here, ~widened(cover > 0, 1))))
    near, far = ALIKE
    return np.asarray(np.clip((off - near) / (far - near), 0, 1), np.float32)


def _nearest(here: Floats, known: Bools) -> Floats:
    """Each pixel's nearest known one, without its grain."""
    if not known.any():
        return here
    soft = cv2.GaussianBlur(here, (0, 0), 0.7)
    _, label = cv2.distanceTransformWithLabels(
        (~known).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    colours = np.zeros((int(label.max()) + 1, 3), np.float32)
    colours[label[known]] = soft[known]
    return np.asarray(colours[label], np.float32)


def _off(here: Floats, wall: Floats) -> Floats:
    """By how many steps pixels differ, without their grain."""
    return np.asarray(np.abs(cv2.GaussianBlur(here - wall, (0, 0), 0.7)).max(axis=2), np.float32)


def covered_by(outlines: Sequence[Array], shape: tuple[int, ...]) -> tuple[tuple[slice, slice], Floats]:
    """A window round outlines, and how far they together cover each of its pixels, 0 to 1."""
    drawn = [np.clip(outline, -2e4, 2e4) for outline in outlines if len(outline) >= 3]
    if not drawn:
        return (slice(0), slice(0)), np.zeros((0, 0), np.float32)
    points = np.concatenate(drawn)
    low = np.clip(np.floor(points.min(axis=0) - BESIDE), 0, shape[1::-1]).astype(int)
    high = np.clip(np.ceil(points.max(axis=0) + BESIDE), 0, shape[1::-1]).astype(int)
    mask: Pixels = np.zeros(np.maximum(high - low, 0)[::-1], np.uint8)
    if mask.size:
        for outline in drawn:
            cv2.fillPoly(mask, [np.rint((outline - low) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
        cv2.morphologyEx(
            mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8), dst=mask
        )  # hairs between outlines that touch
    return (slice(low[1], high[1]), slice(low[0], high[0])), (mask / 255).astype(np.float32)


def drawn_over(polygons: Sequence[Array], shape: tuple[int, ...]) -> Bools:
    """Which pixels of a picture lie in any of the outlines."""
    mask: Pixels = np.zeros(shape[:2], np.uint8)
    for polygon in polygons:
        if len(polygon) >= 3:
            cv2.fillPoly(mask, [np.rint(np.clip(polygon, -3e4, 3e4)).astype(np.int32)], 1)
    return mask > 0


def widened(mask: Bools, by: float) -> Bools:
    """The mask and what lies no further than `by` pixels from it, across or up."""
    kernel = np.ones((2 * round(by) + 1,) * 2, np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel).astype(bool))
