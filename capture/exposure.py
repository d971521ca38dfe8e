"""Exposure and white balance evened between photos of one wall, so that nothing shows where they meet.

First one gain a photo and channel, in linear light, as exposure and white balance are; then what is left, from lenses
that darken to the corners and walls that shine, is shared out smoothly round the seams.

OpenCV's exposure compensators take means of all sRGB values; here the light itself is compared, pixel by pixel, and
what one photo alone shows, or shows elsewhere, is left out.
"""

from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Values = NDArray[np.float32]

DARKEST, BRIGHTEST = 8, 245  # sRGB values: noise below, burnt out above
LEAST_SHARED = 50  # pixels that two photos must share before one is evened to the other
MOST_COMPARED = 5000  # pixels, spread evenly: a mean of so many is good to a seventieth of their spread
MOST_SHADE = 0.3  # of the logarithm: what gains leave is less, else it is not light but another thing
LEAST_SPREAD = 0.02  # of the logarithm: noise of a fair photo, averaged over a pixel of the small pictures

_code = np.arange(256) / 255
LINEAR = np.where(_code <= 0.04045, _code / 12.92, ((_code + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
LINEAR.flags.writeable = False


def coded(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """The sRGB values 0 to 255 of linear light 0 to 1 (IEC 61966-2-1)."""
    linear = np.clip(linear, 0, 1)
    return np.asarray(255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055))


def gains(small: list[Pixels], free: list[Mask]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """What each photo's light is multiplied by so that all agree where they overlap.

    Parameters
    ----------
    small : K of (height, width, 3)
        The photos redrawn on one small raster, sRGB.
    free : K of (height, width)
        Where each shows the wall itself.

    Returns
    -------
    gains : (K, 3)
        Their product over photos that hang together is 1; `levelled` chooses the photo that is left as it is.
    group : (K,)
        Which photos hang together by overlaps.

    Notes
    -----
    Least squares over log g_i - log g_j = log (light_j / light_i) as it is in the middle of the pixels that the two
    share, each pair weighted by the root of their number.
    """
    rows, ratios, links = [], [], np.eye(len(small), dtype=bool)
    good = [shows & _fair(pixels) for shows, pixels in zip(free, small, strict=True)]
    for i, j in combinations(range(len(small)), 2):
        shared = np.flatnonzero(good[i] & good[j])
        if (count := len(shared)) < LEAST_SHARED:
            continue
        links[i, j] = True
        row = np.zeros(len(small))
        row[i], row[j] = 1.0, -1.0
        rows.append(row * np.sqrt(count))
        told = shared[:: max(1, count // MOST_COMPARED)]
        one, other = (LINEAR[small[k].reshape(-1, 3)[told]] for k in (i, j))
        ratios.append(_middle(np.log(other / one)) * np.sqrt(count))
    group = connected_components(links, directed=False)[1]
    if not rows:
        return np.ones((len(small), 3)), group
    return np.exp(np.linalg.lstsq(np.array(rows), np.array(ratios), rcond=None)[0]), group


def levelled(gain: NDArray[np.float64], group: NDArray[np.intp], first: int) -> NDArray[np.float64]:
    """Gains (K, 3) by which photo `first` stays as it is, and with it those that do not hang together with it."""
    return np.where((group == group[first])[:, None], gain / gain[first], gain)


def gained(pixels: Pixels, gain: NDArray[np.float64]) -> Values:
    """Pixels (height, width, 3) with their light multiplied by a gain (3,): sRGB values, not rounded."""
    table = coded(LINEAR[:, None] * gain).astype(np.float32)
    return np.asarray(cv2.LUT(pixels, table[None]), np.float32)


def shades(small: list[Values], free: list[Mask], label: Pixels, reach: float) -> list[Values]:
    """The smooth factors, (height, width, 3) a photo, on sRGB values that take the last of a step from the seams.

    Parameters
    ----------
    small : K of (height, width, 3)
        The photos on one small raster, with their gains.
    free : K of (height, width)
        Where each shows the wall itself.
    label : (height, width)
        Which photo is drawn where.
    reach
        How far from a seam a photo is changed, and how smooth the change is; px of the small raster.

    Notes
    -----
    Photo i is moved to Σ_j w_j D_ij, with D_ij the smoothed logarithm of photo j over photo i where they overlap and
    w_j how much of the surroundings comes from j, 0 at the rim of what j shows. Since D_im - D_jm = D_ij, any two are
    moved to the same tone wherever they meet.
    """
    share = [_smooth((label == i).astype(np.float32), reach) * _rim(free[i], reach) for i in range(len(small))]
    total = np.maximum(sum(share), np.float32(1e-6))
    moved = [np.zeros_like(values) for values in small]
    for i, j in combinations(np.unique(label[label < len(small)]), 2):
        differs = _difference(small[i], small[j], free[i] & free[j], reach)
        moved[i] += (share[j] / total)[..., None] * differs
        moved[j] -= (share[i] / total)[..., None] * differs
    return [np.exp(np.clip(m, -MOST_SHADE, MOST_SHADE)) for m in moved]


def _middle(ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """The mean (3,) of what lies within three robust deviations of the median, which rounded values make too coarse."""
    off = np.abs(ratio - np.median(ratio, axis=0))
    kept = off < 3 * np.maximum(1.4826 * np.median(off, axis=0), LEAST_SPREAD)
    return np.asarray(np.mean(ratio, axis=0, where=kept))


def _fair(values: Pixels | Values) -> Mask:
    return np.asarray(cv2.inRange(values, (DARKEST,) * 3, (BRIGHTEST,) * 3)) > 0


def _smooth(values: Values, reach: float) -> Values:
    return np.asarray(cv2.GaussianBlur(values, (0, 0), reach, borderType=cv2.BORDER_REPLICATE), np.float32)


def _rim(free: Mask, reach: float) -> Values:
    """How far inside the photo, as a part of `reach`, up to 1."""
    inside = cv2.distanceTransform(free.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(np.minimum(inside / np.float32(reach), 1), np.float32)


def _difference(one: Values, other: Values, shared: Mask, reach: float) -> Values:
    """The smooth logarithm of `other` over `one`, (height, width, 3), from where they show the same thing."""
    shared = shared & _fair(one) & _fair(other)
    if shared.sum() < LEAST_SHARED:
        return np.zeros_like(one)
    ratio = np.log(np.maximum(other, 1) / np.maximum(one, 1))
    red, green, blue = cv2.split(np.abs(ratio - np.median(ratio[shared], axis=0)))
    off = np.maximum(np.maximum(red, green), blue)
    shared &= off < 3 * max(1.4826 * float(np.median(off[shared])), LEAST_SPREAD)
    weight = _smooth(shared.astype(np.float32), reach)[..., None]
    told = _smooth(np.where(shared[..., None], ratio, 0).astype(np.float32), reach)
    return np.asarray(told / np.maximum(weight, 1e-4))
