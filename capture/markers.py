"""Which cards a photo shows, and roughly where: squares are sought in the picture at half size, read in the whole one.

At half size a square tells where a marker may be. One that is small there is sought once more, in its part of the whole
picture. OpenCV finds the squares; it reads them one by one, which takes as long as all else, so here all are read in
one go.
"""

from functools import cache
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from capture import cards

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
Marker = tuple[int, Array]  # its number and its corners (4, 2) px, its top left first, then clockwise

FAINTEST = 24  # grey levels between white and black
SMALL = 100  # px: beyond it a cell is 6 px in the half picture, and the corners are known well enough to read it
LEAST = 0.02  # of the picture's longer side: the least that goes round a marker
MOST_WRONG = 3  # cells: of random squares one in 3,000 is that near a number
SHARPEN = (0.0, 0.2)  # part of a cell's difference from each neighbour: read most in the sweep of made pictures
LOOKS = 4  # places in the middle of each cell, each way, of eight across it
WITHIN = cards.CELLS - 2  # cells across that tell the number


class Look(NamedTuple):
    """What passes for a dark square."""

    sizes: tuple[int, int]  # px, of the neighbourhoods whose mean tells black from white
    darker: int  # grey levels by which black is darker than that
    rounder: float  # how far an outline may be from that of a square, as a part of its length


# Two sizes of neighbourhood, one a processor: a third found no more in the sweep of made pictures
# (tests/test_detect.py). In the half picture a square may be fainter and rounder: it only tells where to look.
IN_HALF, IN_WHOLE = Look((5, 13), 4, 0.05), Look((7, 21), 7, 0.03)


def find_markers(gray: Gray) -> list[Marker]:
    """The markers in an upright picture's luma (height, width); a number may be there twice, in two places."""
    half = np.asarray(cv2.resize(gray, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.uint8)
    scale = np.array(gray.shape[::-1]) / half.shape[::-1]
    least = LEAST * max(gray.shape)
    squares = (_squares(half, least / 2, IN_HALF) + 0.5) * scale - 0.5
    found = _apart(_read(gray, squares))
    again = [_squares_round(gray, s, least) for s in squares if _side(s) < SMALL and not _taken(s, found)]
    return _apart(found + _read(gray, np.concatenate([squares[:0], *again])))


def _squares(gray: Gray, least: float, look: Look) -> Array:
    """Dark squares in a picture, corners (N, 4, 2) px, whose outline is at least so many px long."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE  # the saddle points do the measuring
    parameters.minMarkerPerimeterRate = least / max(gray.shape)
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = look.sizes
    parameters.adaptiveThreshWinSizeStep = look.sizes[1] - look.sizes[0]
    parameters.adaptiveThreshConstant = look.darker
    parameters.polygonalApproxAccuracyRate = look.rounder
    rejected = cv2.aruco.ArucoDetector(_nobodys(), parameters).detectMarkers(gray)[2]
    return np.asarray(rejected, float).reshape(-1, 4, 2)


@cache
def _nobodys() -> cv2.aruco.Dictionary:
    """For OpenCV to read by: number 0 alone, which no card has, so that it hands over all other squares unread."""
    return cv2.aruco.Dictionary(cards.dictionary().bytesList[:1], WITHIN, 0)


def _squares_round(gray: Gray, square: Array, least: float) -> Array:
    """The squares in a picture's part that one (4, 2) px fills for the most, in px of the picture."""
    low, high = square.min(axis=0), square.max(axis=0)
    edge = 0.3 * (high - low).max() + 8
    left, top = np.maximum(low - edge, 0).astype(int)
    right, bottom = np.ceil(high + edge).astype(int)
    part = np.ascontiguousarray(gray[top:bottom, left:right])
    return np.asarray(_squares(part, least, IN_WHOLE) + np.array([left, top]))


def _read(gray: Gray, squares: Array) -> list[Marker]:
    """Those of squares (N, 4, 2) px that have a number.

    Blur mixes each cell with its neighbours, so part of what they differ by is added back, as AprilTag 3 does
    (Krogius, Haggenmiller and Olson 2019, "Flexible layouts for fiducial tags"); the paper round it is white. Read
    both ways, a marker is what fewer cells contradict.
    """
    if not len(squares):
        return []
    levels = _cell_levels(gray, squares)
    white = np.percentile(levels, 95, axis=(1, 2))[:, None, None]
    framed = np.pad(levels - white, ((0, 0), (1, 1), (1, 1))) + white
    around = framed[:, :-2, 1:-1] + framed[:, 2:, 1:-1] + framed[:, 1:-1, :-2] + framed[:, 1:-1, 2:]
    wrong, code = np.array([_nearest(levels + part * (4 * levels - around)) for part in SHARPEN]).swapaxes(0, 1)
    best = wrong.argmin(axis=0)
    markers = []
    for i in np.flatnonzero(wrong.min(axis=0) <= MOST_WRONG):
        number, turned = divmod(int(code[best[i], i]), 4)
        if number > 0:
            markers.append((number, np.roll(squares[i], turned, axis=0)))
    return markers


def _cell_levels(gray: Gray, squares: Array) -> Array:
    """Mean grey level in the middle of each cell of markers that fill `squares` (N, 4, 2) px: (N, row, column)."""
    n, first = cards.CELLS, (8 - LOOKS) / 2 + 0.5
    along = (np.arange(n)[:, None] + (first + np.arange(LOOKS)) / 8).ravel()
    looks = np.stack(np.meshgrid(along, along), axis=-1).reshape(-1, 2)
    corners = np.array([(0, 0), (n, 0), (n, n), (0, n)], np.float32)
    H = np.array([cv2.getPerspectiveTransform(corners, square) for square in squares.astype(np.float32)])
    at = mapped(H, looks).astype(np.float32)
    seen = np.asarray(cv2.remap(gray, at[..., 0].copy(), at[..., 1].copy(), cv2.INTER_LINEAR), float)
    return np.asarray(seen.reshape(-1, n, LOOKS, n, LOOKS).mean(axis=(2, 4)))


def _nearest(levels: Array) -> tuple[Array, Array]:
    """How many cells (N,) contradict the likeliest number of each marker, and that number and way up, as in `_codes`.

    Infinitely many where there is no black border, or black and white are alike.
    """
    border = np.pad(np.zeros((WITHIN, WITHIN), bool), 1, constant_values=True)
    black, bright = np.median(levels[:, border], axis=1), np.percentile(levels, 90, axis=(1, 2))
    cells = levels > ((black + bright) / 2)[:, None, None]
    likely = (bright - black >= FAINTEST) & (cells[:, border].mean(axis=1) <= 1 / 3)
    signs = np.where(cells[:, 1:-1, 1:-1].reshape(len(cells), -1), 1, -1).astype(np.float32)
    wrong = (signs.shape[1] - signs @ _codes().T) / 2
    return np.where(likely, wrong.min(axis=1), np.inf), wrong.argmin(axis=1).astype(float)


@cache
def _codes() -> NDArray[np.float32]:
    """Each number's cells, 1 white and -1 black, each of four ways up: row 4 n + k is number n turned k times."""
    family = cards.dictionary()
    bits = [family.getBitsFromByteList(family.bytesList[n : n + 1], WITHIN) for n in range(len(family.bytesList))]
    turned = np.stack([np.rot90(bits, k, axes=(1, 2)) for k in range(4)], axis=1)
    return np.where(turned.reshape(4 * len(bits), -1), 1, -1).astype(np.float32)


def mapped(H: Array, points: Array) -> Array:
    """Points (..., 2) through homographies (..., 3, 3): (*those of H, *those of the points, 2)."""
    flat = points.reshape(-1, 2) @ H[..., :2].swapaxes(-1, -2) + H[..., None, :, 2]
    with np.errstate(all="ignore"):
        return np.asarray(flat[..., :2] / flat[..., 2:]).reshape(*H.shape[:-2], *points.shape)


def _apart(markers: list[Marker]) -> list[Marker]:
    """Each marker once, though several squares may be one."""
    kept: list[Marker] = []
    for number, corners in markers:
        if not _taken(corners, [one for one in kept if one[0] == number]):
            kept.append((number, corners))
    return kept


def _taken(square: Array, markers: list[Marker]) -> bool:
    """Whether the middle of a square, (4, 2) px, lies in the reach of a marker."""
    middle = square.mean(axis=0)
    centres = [(corners.mean(axis=0), corners) for _, corners in markers]
    return any(np.linalg.norm(middle - c) < np.linalg.norm(corners - c, axis=1).max() for c, corners in centres)


def _side(square: Array) -> float:
    """The longest side of a square (4, 2) px."""
    return float(np.linalg.norm(square - np.roll(square, 1, axis=0), axis=1).max())
