"""From pixels to card points: the marker finds a card, its saddle points measure it.

A saddle point is the point about which its target looks the same when turned by half a turn: the two black
squares change places, and no exposure, blur or sharpening can tell them apart. Those near the marker are sought
first, since the marker's corners are off by a pixel or more and that error grows towards the card's corners. Points
that wander, are faint, or disagree with the other points of their card are dropped.
"""

from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.survey import Finding

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

LEAST_POINTS = 6  # four fix a homography; each one more can disagree twice, and chance seldom agrees four times
DISAGREE = 0.6  # px: ten times the scatter of a sound saddle point, yet far below a wrong corner
FAINTEST = 24  # grey levels between a target's white and its black
UNLIKE = 0.15  # RMS difference of a target's halves, part of its range of grey: above it something lies on the target
LEAST_SQUARE = 2.0  # px: of smaller ones, points more than 1 px off were seen to agree
FINE = 0.8  # px of blur before sampling, so that interpolation adds no bias
_QUADRANTS = np.array([(1, 1), (-1, -1), (-1, 1), (1, -1)]) * cards.SQUARE / 2  # two white, two black
REACH = 1.3 * cards.SQUARE  # in: takes in the squares' outer edges and the white round them
_grid = np.linspace(-REACH, REACH, 27)
_HALF = np.array([(x, y) for y in _grid for x in _grid if (y, x) > (0, 0)])  # one of each pair of opposite points


@dataclass(frozen=True)
class CardSighting:
    """One card in one photo."""

    number: int
    which: NDArray[np.intp]  # (K,) rows of `cards.saddle_points()`
    points: Array  # (K, 2) px
    marker: Array  # (4, 2) px: the marker's own corners, for finding only


@dataclass(frozen=True)
class Detection:
    """What was found in a photo, and what a person should know about it."""

    cards: tuple[CardSighting, ...]
    findings: tuple[Finding, ...]


def detect(gray: Gray, photo: str) -> Detection:
    """Find and measure the cards in a photo.

    Parameters
    ----------
    gray
        Upright luma, (height, width).
    photo
        Its name, for the findings.

    Returns
    -------
    Detection
        Cards in the order of their numbers; a card seen twice is left out, and a finding says so.
    """
    markers = _markers(gray)
    findings: list[Finding] = []
    found: list[CardSighting] = []
    for number in sorted({n for n, _ in markers}):
        corners = [c for n, c in markers if n == number]
        if len(corners) > 1:
            findings.append(_twice(number, photo))
            continue
        sighting = measure_card(gray, number, corners[0])
        if len(sighting.which) >= LEAST_POINTS:
            found.append(sighting)
        else:
            findings.append(_covered(number, photo, len(sighting.which)))
    if not markers:
        findings += why_none(gray, photo)
    return Detection(tuple(found), tuple(findings))


def _markers(gray: Gray) -> list[tuple[int, Array]]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE  # the saddle points do the measuring
    parameters.minMarkerPerimeterRate = 0.02
    detector = cv2.aruco.ArucoDetector(cards.dictionary(), parameters)
    corners, ids, _ = detector.detectMarkers(gray)
    numbers = [] if ids is None else np.asarray(ids).ravel().tolist()
    quads = [np.asarray(c, float).reshape(4, 2) for c in corners]
    return [(int(n), q) for n, q in zip(numbers, quads, strict=True) if n > 0]


def measure_card(gray: Gray, number: int, marker: Array) -> CardSighting:
    """Refine the saddle points of one card.

    Parameters
    ----------
    gray
        Upright luma.
    number, marker
        The card and its marker's corners (4, 2) px.
    """
    saddles = cards.saddle_points()
    points = half_turn(gray, _swell(gray, _homography(cards.marker_corners(), marker)), saddles, coarse=True)
    kept = _agreeing(saddles, points)
    if len(kept):
        points = half_turn(gray, _homography(saddles[kept], points[kept]), saddles)
        kept = _agreeing(saddles, points)
    return CardSighting(number, kept, points[kept], marker)


def _homography(card: Array, pixels: Array) -> Array:
    return np.asarray(cv2.findHomography(card, pixels, 0)[0], float)


def _map(H: Array, points: Array) -> Array:
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), H).reshape(-1, 2), float)


def _swell(gray: Gray, H: Array) -> Array:
    """`H`, card inches to px, stretched to where the targets look most like targets.

    Blur and over-exposure eat into a marker's black from all sides, by as many pixels along as across.
    """
    quadrants = (cards.saddle_points()[:, None] + _QUADRANTS).reshape(-1, 2)
    stretches = np.linspace(0.98, 1.24, 14)
    candidates = [H @ np.diag([x, y, 1.0]) for x in stretches for y in stretches]
    return max(candidates, key=lambda H: float(_contrast(gray, _map(H, quadrants)).sum()))


def _contrast(gray: Gray, quadrants: Array) -> Array:
    """White less black, grey levels (K,), of targets whose quadrants' middles lie at pixels (4 K, 2)."""
    x, y = quadrants.astype(np.float32).T
    levels = cv2.remap(gray, x.copy(), y.copy(), cv2.INTER_LINEAR).reshape(-1, 2, 2).astype(float)
    return np.asarray((levels[:, 0] - levels[:, 1]).mean(axis=1))


def half_turn(gray: Gray, H: Array, saddles: Array, *, coarse: bool = False) -> Array:
    """Refine saddle points as centres of half-turn symmetry.

    Minimises the sum over opposite card points ±d round a saddle s of (I(H(s + d) + δ) - I(H(s - d) + δ))² by
    Gauss-Newton on the shift δ. Taking the pairs through the homography keeps perspective out of it.

    Parameters
    ----------
    gray
        Upright luma.
    H : (3, 3) card inches to px
    saddles : (K, 2) card inches
    coarse
        `H` may be off by half a square, rather than by a pixel: look at a smoother picture.

    Returns
    -------
    (K, 2) px
        A point that is faint, runs off, or whose target is small, covered or not whole in the picture is NaN.
    """
    out = np.full_like(saddles, np.nan)
    for i, saddle in enumerate(saddles):
        start = _map(H, saddle[None])[0]
        pairs = [_map(H, saddle + sign * _HALF) - start for sign in (1, -1)]
        reach = np.abs(np.vstack(pairs)).max()
        square = reach * cards.SQUARE / REACH
        if square < LEAST_SQUARE:
            continue
        farthest = max(2.0, square / 2) if coarse else 1.5
        pad = int(np.ceil(reach + farthest)) + 2
        corner = np.round(start).astype(int) - pad
        box = gray[max(corner[1], 0) : corner[1] + 2 * pad + 1, max(corner[0], 0) : corner[0] + 2 * pad + 1]
        if box.shape != (2 * pad + 1, 2 * pad + 1):
            continue
        sigma = max(FINE, square / 8) if coarse else FINE
        smooth = np.asarray(cv2.GaussianBlur(box.astype(np.float32), (0, 0), sigma), np.float32)
        shift, unlike = _settle(smooth, pairs, start - corner, farthest)
        if np.isnan(shift[0]) or (unlike > UNLIKE and not coarse):
            continue
        if _contrast(gray, _map(H, saddle + _QUADRANTS) + shift)[0] >= FAINTEST:
            out[i] = start + shift
    return out


def _settle(box: NDArray[np.float32], pairs: list[Array], start: Array, farthest: float) -> tuple[Array, float]:
    """The shift (2,) px from `start` at which both halves look most alike, and how much they still differ.

    NaN where it would be over `farthest`; the difference is an RMS, as a part of the range of grey.
    """
    layers = (box, cv2.Sobel(box, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(box, cv2.CV_32F, 0, 1, scale=1 / 8))
    shift = np.zeros(2)
    for _ in range(20):
        at = [(p + start + shift).astype(np.float32) for p in pairs]
        samples = [
            [cv2.remap(layer, a[:, 0], a[:, 1], cv2.INTER_CUBIC).ravel().astype(float) for layer in layers] for a in at
        ]
        difference, *slopes = (one - other for one, other in zip(*samples, strict=True))
        step = np.linalg.lstsq(np.column_stack(slopes), -difference, rcond=None)[0]
        shift += step
        if np.hypot(*shift) > farthest:
            return np.full(2, np.nan), np.inf
        if np.hypot(*step) < 1e-3:
            break
    return shift, float(np.sqrt(np.mean(difference**2)) / max(1.0, np.ptp(samples[0][0])))


def _agreeing(saddles: Array, points: Array) -> NDArray[np.intp]:
    """The largest set of points that one homography explains to within `DISAGREE`; of equal ones the closest."""
    found = np.flatnonzero(np.isfinite(points[:, 0]))

    def miss(kept: NDArray[np.intp]) -> float:
        H = _homography(saddles[kept], points[kept])
        return float(np.linalg.norm(_map(H, saddles[kept]) - points[kept], axis=1).max())

    for size in range(len(found), LEAST_POINTS - 1, -1):
        best = min((np.array(kept) for kept in combinations(found, size)), key=miss)
        if miss(best) <= DISAGREE:
            return best
    return found[:0]


def _twice(number: int, photo: str) -> Finding:
    return Finding(
        "card-twice", photo, f"Card {number} is in “{photo}” twice, so it was left out.",
        "Give every card on a wall its own number.",
    )  # fmt: skip


def _covered(number: int, photo: str, points: int) -> Finding:
    return Finding(
        "card-unmeasurable", photo,
        f"Card {number} was seen in “{photo}”, but only {points} of its 8 black targets could be measured.",
        "See that nothing covers the card and no edge of the picture cuts it; come closer if it is small.",
    )  # fmt: skip


def blur(gray: Gray) -> float:
    """How far the steepest edges are blurred: the standard deviation of a Gaussian, px; the worse of along and across.

    Blurring once more by a known σ₀ lowers the slope of an edge blurred by σ to the part σ / √(σ² + σ₀²), whatever its
    height (Zhuo and Sim 2011, "Defocus map estimation from a single image"). 0 where there is no edge.
    """
    return max(_blur_along(gray), _blur_along(gray.T))


def _blur_along(gray: Gray) -> float:
    first, more = 1.0, 2.0  # px: the first keeps noise from passing for an edge
    rows = _blur_rows(gray[:: max(1, len(gray) // 1000)].astype(np.float32), first)
    slope, less = (np.abs(r[:, 2:] - r[:, :-2]).ravel() for r in (rows, _blur_rows(rows, more)))
    steepest = np.argpartition(slope, -300)[-300:]
    if slope[steepest].min() < FAINTEST / 3:
        return 0.0
    part = min(float(np.median(less[steepest] / slope[steepest])), 0.99)
    return float(np.sqrt(max(0.0, more**2 * part**2 / (1 - part**2) - first**2)))


def _blur_rows(rows: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    return np.asarray(cv2.GaussianBlur(rows, (0, 0), sigmaX=sigma, sigmaY=1e-3), np.float32)


# Up to each of these cards are found in made pictures (tests/test_detect.py); beyond it, it may be the reason.
DARK = 40  # level that the bright parts reach
GLARE = 0.15  # part burnt out
BLURRED = 2.0  # px


def why_none(gray: Gray, photo: str) -> list[Finding]:
    """The likely reasons why no card was found, measured."""
    reasons = []
    bright = float(np.percentile(gray, 95))
    blown = float(np.mean(gray >= 250))
    if bright < DARK:
        reasons.append(
            ("too-dark", f"it is too dark (the bright parts reach {bright:.0f} of 255)", "Turn the lights on.")
        )
    if blown > GLARE:
        reasons.append(
            ("glare", f"{blown:.0%} of it is burnt out by glare", "Keep lamps and windows out of the picture.")
        )
    if bright >= DARK and blur(gray) > BLURRED:
        reasons.append(("blurred", "it is blurred", "Hold still, tap to focus on a card, and take it again."))
    if small := _too_small(gray):
        reasons.append(("too-small", f"the cards are too small in it (about {small:.0f} pixels)", "Come closer."))
    if not reasons:
        reasons.append(("no-card", "no card is in it, or none is whole", "Show at least one card whole, arrows up."))
    return [Finding(code, photo, f"No card was found in “{photo}”: {why}.", remedy) for code, why, remedy in reasons]


def _too_small(gray: Gray) -> float:
    """Side of the markers, px, where they come out only in an enlarged picture; else 0."""
    if gray.size > 16_000_000:
        return 0.0
    doubled = np.asarray(cv2.resize(gray, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC), np.uint8)
    sides = [np.linalg.norm(c - np.roll(c, 1, axis=0), axis=1).min() / 2 for _, c in _markers(doubled)]
    return float(np.median(sides)) if sides else 0.0
