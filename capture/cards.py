"""What is printed on a reference card, in card inches.

Card frame: origin at the middle of the marker, x right, y up, inches at the nominal scale of the print. The
marker tells which card it is; the saddle points, where two black squares meet at a corner, are what is
measured: over-exposure and blur move a marker's own corners all outward or all inward, but leave a saddle
point where it is, since the two squares swell alike on both sides of it.
"""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

FAMILY = "AprilTag 36h11"  # Olson 2011, Wang & Olson 2016: open and published
LARGEST_NUMBER = 586  # ids 0 to 586 exist; a card's number is its marker's id, and no card is number 0
CELLS = 8  # 6 × 6 of data inside a black border one cell wide
CELL = 0.55  # in
MARKER = CELLS * CELL  # 4.4 in; 66 px at 16 ft with a 2,900 px focal length, 8 px a cell
SQUARE = 0.5  # side of each saddle square, in
BAR = 6.0  # check bar across the sheet, between its end ticks, in
BAR_UP = 9.0  # between the upper and the lower corner targets, in

Rectangle = tuple[float, float, float, float]  # left, bottom, right, top
Points = NDArray[np.float64]


def saddle_points() -> Points:
    """The saddle points, (8, 2) card inches: two columns of four, corners first.

    Four to a side rather than two, so that a point that wandered disagrees with the others and is dropped.
    """
    corners = [(x, y) for y in (4.5, -4.5) for x in (-3.375, 3.375)]
    inner = [(x, y) for y in (1.5, -1.5) for x in (-3.375, 3.375)]
    return np.array(corners + inner)


def marker_corners() -> Points:
    """The marker's own corners, (4, 2) card inches: top left, then clockwise, as OpenCV gives them."""
    h = MARKER / 2
    return np.array([(-h, h), (h, h), (h, -h), (-h, -h)])


@cache
def dictionary() -> cv2.aruco.Dictionary:
    """The marker family as OpenCV knows it."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def black_squares(number: int) -> list[Rectangle]:
    """All that is black in the measured part of card `number`: marker cells row by row, and saddle squares."""
    if not 1 <= number <= LARGEST_NUMBER:
        raise ValueError(f"a card's number is 1 to {LARGEST_NUMBER} (got {number})")
    cells = cv2.aruco.generateImageMarker(dictionary(), number, CELLS, borderBits=1)
    squares = [
        (c * CELL - MARKER / 2, MARKER / 2 - (r + 1) * CELL, (c + 1) * CELL - MARKER / 2, MARKER / 2 - r * CELL)
        for r, c in zip(*np.nonzero(cells == 0), strict=True)
    ]
    for x, y in saddle_points():
        squares += [(x - SQUARE, y, x, y + SQUARE), (x, y - SQUARE, x + SQUARE, y)]
    return [(float(a), float(b), float(c), float(d)) for a, b, c, d in squares]
