"""What is taken for granted before anything is seen, each with its standard deviation and why it is that big."""

from math import hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from capture.cards import BAR, BAR_UP
from capture.photos import focal_prior
from capture.record import Lens, PrintRun

Array = NDArray[np.float64]

TAP_SD = 1.5  # px: a thumb with a loupe on a 12 MP photo (common practice)
CENTRE_SD = 0.005  # of the picture's long side: how far a phone's optical axis misses the middle of the picture
K1_SD, K2_SD = 0.1, 0.15  # what is left of a phone lens's distortion after the phone's own correction
FOCUS_MOVES = 0.003  # of the focal length, between focus near and far (from memory)
CENTRE_MOVES = 0.002  # of the long side: the stabiliser shifts lens or sensor (from memory)
DISTORTION_MOVES = 0.005  # of k1 and k2, with focus (from memory)
PRINT_SD = 0.003  # printers and paper miss true size by some 0.3 % (from memory)
BAR_READING_SD = 1 / 64 / sqrt(3)  # a rule read to 1/64: uniform to half a division either way, both ends
CARD_UP_SD = radians(1.0)  # stuck by eye with the arrows up
LEVEL_SD = 1 / 32  # a laser line good to 1/8 in at 30 ft over a wall, and its width (makers' habit)
FLOOR_SD = 1 / 4  # floors run out of level by 1/4 in in 10 ft (Handbook of Construction Tolerances as reported)
LEAN = 0.005  # of the height: casings and corners lean, 1/4 in in 4 ft
USUAL_SIZE_SD = 1 / 32  # plates of one standard size differ by this much between makers (common practice, no source)
LEAN_FROM = 18.0  # in above the floor: half-way up a wainscot, where it matters least how an upright leans
STOOL_PROUD, STOOL_PROUD_SD = 1.5, 0.5  # in: how far a stool stands into the room (common practice)
BOW_SD = 1 / 8  # drywall stays within 1/4 in in 10 ft (common plumb line in wallboard specifications), as a 95 % limit
BOW_REACH = 32.0  # in: over which bow changes; builders' guidelines state bow over 32 in (NAHB, from memory)
BOW_ROUGH = 1 / 64  # in: tape, paint and paper under one card or plate (common practice, no source)
CORNER_TURN_SD = radians(2.0)  # corners are out of square by a degree or two (common practice, no source)
CORNER_LEAN_SD = radians(0.3)  # two walls out of plumb against each other: 1/4 in in 4 ft (common practice, no source)
CORNER_PLACE_SD = 1 / 16  # in: a wall's right end is the next wall's left end
CORNER_STEP_SD = 0.5  # in: the floor at one wall's first floor point against the other's
DATUM_SD = 1e-5  # in or rad: where the frame is held by choice, not by observation; far below any corner noise
LOOSE = 1e4  # in: keeps an unmeasured length finite; far above any wall


def tape_sd(length: float) -> float:
    """Standard deviation of a tape reading, inches.

    Half the tape's tolerance (NIST Handbook 44 section 5.52: 1/32 in to 6 ft, 1/16 to 30 ft, 1/8 to 55 ft, then
    3/16 and 1/4) taken as a 95 % limit, and a reading to the nearest 1/16 (uniform, 1/16 / √12).
    """
    limits = ((72, 1 / 32), (360, 1 / 16), (660, 1 / 8), (960, 3 / 16))
    tolerance = next((t for reach, t in limits if length <= reach), 1 / 4)
    return hypot(tolerance / 2, 1 / 16 / sqrt(12))


def lens_belief(size: tuple[int, int], focal_35: float | None, kept: Lens | None = None) -> tuple[Array, Array]:
    """Lens (f, cx, cy, k1, k2) before this job's photos are measured, and its standard deviations, (5,) each.

    Parameters
    ----------
    size
        Of the picture, px, as the lens is wanted: upright, or as on the sensor.
    focal_35
        FocalLengthIn35mmFilm, mm, or None.
    kept
        The lens as calibrated, in pictures of this size; what changes from picture to picture is added.
    """
    if kept is not None:
        terms = (kept.f, kept.cx, kept.cy, kept.k1, kept.k2)
        moves = np.array([FOCUS_MOVES * kept.f.value, *2 * (CENTRE_MOVES * max(size),), *2 * (DISTORTION_MOVES,)])
        return np.array([t.value for t in terms]), np.hypot([t.sd for t in terms], moves)
    focal, focal_sd = focal_prior(size, focal_35)
    centre = CENTRE_SD * max(size)
    mean = np.array([focal, (size[0] - 1) / 2, (size[1] - 1) / 2, 0.0, 0.0])
    return mean, np.array([focal_sd, centre, centre, K1_SD, K2_SD])


def print_belief(printed: PrintRun) -> tuple[Array, Array]:
    """Printed over nominal size, across and up, beforehand: its mean (2,), and a root of its information (2, 2).

    Printers in general, the bars as read and what each earlier job taught, their information added up.
    """
    information, vector = np.eye(2) / PRINT_SD**2, np.ones(2) / PRINT_SD**2
    for i, (reading, bar) in enumerate(((printed.across, BAR), (printed.up, BAR_UP))):
        if reading is not None:
            weight = (bar / BAR_READING_SD) ** 2
            information[i, i] += weight
            vector[i] += weight * float(reading) / bar
    for one in printed.learnt:
        information += np.array(one.information)
        vector += np.array(one.vector)
    return np.asarray(np.linalg.solve(information, vector)), np.asarray(np.linalg.cholesky(information).T)
