"""From pixels to card points: the marker finds a card, its saddle points measure it.

A saddle point is first sought where its two edges cross, those near the marker first, since the marker's corners
are off by half a pixel or more and that error grows towards the card's corners. Then it is refined as the point
about which its target looks the same when turned by half a turn: the two black squares change places, and no
exposure, blur or sharpening can tell them apart. Points that wander, are faint, or disagree with the other points
of their card are dropped.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.survey import Finding

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

LEAST_POINTS = 5  # four fix a homography; the fifth is what can disagree
DISAGREE = 0.6  # px: ten times the scatter of a sound saddle point, yet far below a wrong corner
FAINTEST = 24  # grey levels between dark and light in a saddle's window
SMALLEST_WINDOW, LARGEST_WINDOW = 2, 20  # half sizes, px


@dataclass(frozen=True)
class CardSighting:
    """One card in one photo."""

    number: int
    which: NDArray[np.intp]  # (K,) rows of `cards.saddle_points()`
    points: Array  # (K, 2) px
    marker: Array  # (4, 2) px: the marker's own corners, for finding only

    @property
    def marker_side(self) -> float:
        """Length of the marker's shortest side, px."""
        return float(np.linalg.norm(np.roll(self.marker, -1, axis=0) - self.marker, axis=1).min())


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
    H = _homography(cards.marker_corners(), marker)
    inner = np.arange(4, 8)
    near, kept = _refine(gray, H, saddles[inner])
    if len(kept) >= 3:
        H = _homography(
            np.vstack([cards.marker_corners(), saddles[inner[kept]]]),
            np.vstack([marker, near[kept]]),
            n_exact=len(kept),
        )
    points, kept = _refine(gray, H, saddles)
    kept = _agreeing(saddles, points, kept)
    if len(kept) >= LEAST_POINTS:
        points[kept] = half_turn(gray, _homography(saddles[kept], points[kept]), saddles[kept], points[kept])
        kept = _agreeing(saddles, points, kept)
    return CardSighting(number, kept, points[kept], marker)


def _homography(card: Array, pixels: Array, n_exact: int = 0) -> Array:
    # The marker's corners are rough (0.5 px), refined saddles fine: repeat the fine ones so that they lead.
    card = np.vstack([card, *[card[-n_exact:]] * 4]) if n_exact else card
    pixels = np.vstack([pixels, *[pixels[-n_exact:]] * 4]) if n_exact else pixels
    H, _ = cv2.findHomography(card, pixels, 0)
    return np.asarray(H, float)


def _map(H: Array, points: Array) -> Array:
    return np.asarray(cv2.perspectiveTransform(points.reshape(-1, 1, 2), H).reshape(-1, 2), float)


def _refine(gray: Gray, H: Array, saddles: Array) -> tuple[Array, NDArray[np.intp]]:
    """Saddle points (N, 2) px refined from where `H` puts them, and the indices of those that can be trusted."""
    start = _map(H, saddles)
    right = _map(H, saddles + np.array([cards.SQUARE, 0.0])) - start
    up = _map(H, saddles + np.array([0.0, cards.SQUARE])) - start
    # Half the window: 0.6 of the shorter arm, so that it sees only the two edges that cross in the point.
    arm = np.minimum(np.linalg.norm(right, axis=1), np.linalg.norm(up, axis=1))
    half = np.clip(np.round(0.6 * arm), SMALLEST_WINDOW, LARGEST_WINDOW).astype(int)
    height, width = gray.shape
    refined = start.copy()
    kept = []
    for i, (point, w) in enumerate(zip(start, half, strict=True)):
        x, y = np.round(point).astype(int)
        margin = int(w) + 3
        if not (margin <= x < width - margin and margin <= y < height - margin):
            continue
        window = gray[y - w : y + w + 1, x - w : x + w + 1]
        if int(window.max()) - int(window.min()) < FAINTEST:
            continue
        refined[i] = _saddle(gray, point, int(w))
        if np.hypot(*(refined[i] - point)) < max(2.0, 0.5 * arm[i]):
            kept.append(i)
    return refined, np.array(kept, dtype=np.intp)


def _saddle(gray: Gray, start: Array, half: int) -> Array:
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 1e-3)
    point = np.array(start, np.float32).reshape(1, 1, 2)
    cv2.cornerSubPix(gray, point, (half, half), (-1, -1), criteria)
    return np.asarray(point, float).reshape(2)


REACH = 1.3 * cards.SQUARE  # in: takes in the squares' outer edges and the white round them
_grid = np.linspace(-REACH, REACH, 27)
_HALF = np.array([(x, y) for y in _grid for x in _grid if (y, x) > (0, 0)])  # one of each pair of opposite points


def half_turn(gray: Gray, H: Array, saddles: Array, start: Array) -> Array:
    """Refine saddle points as centres of half-turn symmetry.

    Minimises the sum over opposite card points ±d round a saddle s of (I(H(s + d) + δ) - I(H(s - d) + δ))² by
    Gauss-Newton on the shift δ. Taking the pairs through the homography keeps perspective out of it.

    Parameters
    ----------
    gray
        Upright luma.
    H : (3, 3) card inches to px
    saddles : (K, 2) card inches
    start : (K, 2) px, good to about a pixel

    Returns
    -------
    (K, 2) px
        A point that runs off by more than a pixel comes back as NaN.
    """
    out = np.full_like(start, np.nan)
    for i, (saddle, point) in enumerate(zip(saddles, start, strict=True)):
        centre = _map(H, saddle[None])
        pairs = [_map(H, saddle + sign * _HALF) - centre for sign in (1, -1)]
        pad = int(np.ceil(np.abs(np.vstack(pairs)).max())) + 4
        corner = np.round(point).astype(int) - pad
        box = gray[max(corner[1], 0) : corner[1] + 2 * pad + 1, max(corner[0], 0) : corner[0] + 2 * pad + 1]
        if box.shape != (2 * pad + 1, 2 * pad + 1):
            out[i] = point  # too near the picture's edge for the whole target: keep the first finding
            continue
        smooth = np.asarray(
            cv2.GaussianBlur(box.astype(np.float32), (0, 0), 0.8), np.float32
        )  # so that interpolation adds no bias
        shift = _settle(smooth, pairs, point - corner)
        if shift is not None:
            out[i] = point + shift
    return out


def _settle(box: NDArray[np.float32], pairs: list[Array], point: Array) -> Array | None:
    layers = (box, cv2.Sobel(box, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(box, cv2.CV_32F, 0, 1, scale=1 / 8))
    shift = np.zeros(2)
    for _ in range(8):
        at = [(p + point + shift).astype(np.float32) for p in pairs]
        samples = [
            [cv2.remap(layer, a[:, 0], a[:, 1], cv2.INTER_CUBIC).ravel().astype(float) for layer in layers] for a in at
        ]
        difference, *slopes = (one - other for one, other in zip(*samples, strict=True))
        step = np.linalg.lstsq(np.column_stack(slopes), -difference, rcond=None)[0]
        shift += step
        if np.hypot(*shift) > 1.5:
            return None
        if np.hypot(*step) < 1e-3:
            break
    return shift


def _agreeing(saddles: Array, points: Array, kept: NDArray[np.intp]) -> NDArray[np.intp]:
    """The largest set that one homography explains to within `DISAGREE`; the worst goes first."""
    kept = kept[np.isfinite(points[kept]).all(axis=1)]
    while len(kept) >= LEAST_POINTS:
        H = _homography(saddles[kept], points[kept])
        miss = np.linalg.norm(_map(H, saddles[kept]) - points[kept], axis=1)
        if miss.max() <= DISAGREE:
            return kept
        kept = np.delete(kept, _culprit(saddles, points, kept))
    return kept[:0]


def _culprit(saddles: Array, points: Array, kept: NDArray[np.intp]) -> int:
    """The one point without which the others agree best."""

    def worst_without(i: int) -> float:
        rest = np.delete(kept, i)
        H = _homography(saddles[rest], points[rest])
        return float(np.linalg.norm(_map(H, saddles[rest]) - points[rest], axis=1).max())

    return int(np.argmin([worst_without(i) for i in range(len(kept))]))


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


def sharpness(gray: Gray) -> float:
    """How sharp the sharpest edges are: 1 is one pixel wide, 0 is mush.

    The steepest gradients of a sharp picture fall when it is blurred a little more; those of a blurred one
    hardly do (the idea of Crete et al. 2007, "The blur effect").
    """
    step = max(1, max(gray.shape) // 2000)
    strips = np.concatenate(
        [gray[i : i + 64].ravel() for i in range(0, gray.shape[0] - 64, 64 * step)] or [gray.ravel()]
    )
    rows = strips[: len(strips) // gray.shape[1] * gray.shape[1]].reshape(-1, gray.shape[1]).astype(np.float32)
    steepest = [float(np.percentile(np.abs(np.diff(r, axis=1)), 99.8)) for r in (rows, cv2.blur(rows, (9, 1)))]
    return float(np.clip(1 - steepest[1] / max(steepest[0], 1e-6), 0, 1))


DARK, GLARE, MUSH = 60, 0.15, 0.45  # calibrated on simulated photos, see tests/test_detect.py


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
    if bright >= DARK and sharpness(gray) < MUSH:
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
