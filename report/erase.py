"""The cards taken off a photo: the wall goes on where they hung, with the photo's own grain."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from report.light import Floats, filled

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

HALF_SHEET = 4.6, 6.7  # in: half of the widest and the tallest sheet, and the tape that holds it
PATCH = 96  # px: of bare wall that lends its grain
MOST_ACROSS = 42  # patches that are looked at in a row
LAST = 8  # patches, the quietest in grey, that are looked at in colour
COARSE = 4  # px
ROUNDS = 300  # of smoothing; on cells of twice the size, a quarter of them go as far
LAST_ROUNDS = 10  # for what only the smaller cells show
FLAT = 3.0  # px: what is smoother than that is shading, not grain


def sheet_corners() -> Array:
    """The corners of a sheet with its tape about the card's middle, (4, 2) inches."""
    w, h = HALF_SHEET
    return np.array([(-w, h), (w, h), (w, -h), (-w, -h)])


def without_cards(pixels: Pixels, sheets: Sequence[Array], kept: NDArray[np.bool_], grain: Floats) -> Pixels:
    """The picture with the wall going on where sheets hung.

    Parameters
    ----------
    pixels : (h, w, 3)
        The picture.
    sheets
        Outlines (4, 2) px.
    kept : (h, w)
        What hangs over a sheet and stays.
    grain : (h, w) or (h, w, 3)
        Of the photo, to be laid on what is filled in.
    """
    clean = pixels.copy()
    hidden: Pixels = np.zeros(pixels.shape[:2], np.uint8)
    for sheet in sheets:
        cv2.fillConvexPoly(hidden, np.rint(np.clip(sheet, -1e4, 1e4)).astype(np.int32), 1)
    for sheet in sheets:
        window = _round(sheet, pixels.shape)
        gone = (hidden[window] > 0) & ~kept[window]
        if not gone.any() or gone.all():
            continue
        whole = _membrane(pixels[window], ~_wider(gone))
        np.copyto(clean[window], cv2.add(whole, grain[window], dtype=cv2.CV_8U), where=gone[..., None])
    return clean


def _membrane(pixels: Pixels, known: NDArray[np.bool_]) -> Floats:
    """The picture with its holes spanned as by a soap film (Laplace), grain taken off; on a quarter of the pixels."""
    size = -(-pixels.shape[1] // COARSE), -(-pixels.shape[0] // COARSE)
    share = cv2.resize(known.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    sure = share > 0.99
    soft = cv2.GaussianBlur(pixels, (0, 0), FLAT).astype(np.float32)
    start = filled(cv2.resize(soft, size, interpolation=cv2.INTER_AREA), sure)
    small = -(-size[0] // 2), -(-size[1] // 2)
    rough = np.asarray(cv2.resize(start, small, interpolation=cv2.INTER_AREA), np.float32)
    moved = _relaxed(rough, cv2.resize(share, small, interpolation=cv2.INTER_AREA) > 0.99, ROUNDS // 4) - rough
    film = start + np.where(sure[..., None], 0, cv2.resize(moved, size, interpolation=cv2.INTER_LINEAR))
    film = _relaxed(film, sure, LAST_ROUNDS)
    return np.asarray(cv2.resize(film, pixels.shape[1::-1], interpolation=cv2.INTER_LINEAR), np.float32)


def _relaxed(film: Floats, sure: NDArray[np.bool_], rounds: int) -> Floats:
    """A film after some rounds of smoothing, held where it is sure."""
    held, fixed = film, sure.astype(np.uint8)
    for _ in range(rounds):
        film = np.asarray(cv2.copyTo(held, fixed, cv2.blur(film, (3, 3))), np.float32)
    return film


def _wider(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool))


def _round(sheet: Array, shape: tuple[int, ...]) -> tuple[slice, slice]:
    margin = 0.4 * np.ptp(sheet, axis=0)
    low = np.clip(np.floor(sheet.min(axis=0) - margin), 0, shape[1::-1]).astype(int)
    high = np.clip(np.ceil(sheet.max(axis=0) + margin), 0, shape[1::-1]).astype(int)
    return slice(low[1], high[1]), slice(low[0], high[0])


def grain_of(pixels: Pixels, bare: NDArray[np.bool_]) -> Floats:
    """The grain of a photo over its whole size, (h, w, 3) in sRGB steps: that of its quietest bare patch, mirrored on.

    Parameters
    ----------
    pixels : (h, w, 3)
        The picture.
    bare : (h, w)
        Where it shows nothing but wall.
    """
    height, width = bare.shape
    step = max(PATCH // 2, width // MOST_ACROSS)
    gray, free = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), bare.astype(np.uint8)
    rough = cv2.absdiff(gray, cv2.GaussianBlur(gray, (0, 0), FLAT))
    windows = [
        (slice(row, row + PATCH), slice(column, column + PATCH))
        for row in range(0, height - PATCH, step)
        for column in range(0, width - PATCH, step)
    ]
    windows = [window for window in windows if cv2.countNonZero(free[window]) == PATCH**2]
    if not windows:
        return np.zeros(pixels.shape, np.float32)
    windows.sort(key=lambda window: cv2.norm(rough[window], cv2.NORM_L1))
    quietest = min((_rough(pixels[window]) for window in windows[:LAST]), key=lambda part: float(np.abs(part).mean()))
    inner = quietest[4:-4, 4:-4]
    beyond = max(0, height - len(inner)), max(0, width - len(inner))
    whole = cv2.copyMakeBorder(inner, 0, beyond[0], 0, beyond[1], cv2.BORDER_REFLECT)
    return np.asarray(whole, np.float32)


def _rough(part: Pixels) -> Floats:
    whole = part.astype(np.float32)
    return np.asarray(whole - cv2.GaussianBlur(whole, (0, 0), FLAT), np.float32)
