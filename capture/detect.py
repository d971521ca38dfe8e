"""From pixels to card points: the marker finds a card, its saddle points measure it.

A saddle point is the point about which its target looks the same when turned by half a turn: the two black
squares change places, and no exposure, blur or sharpening can tell them apart. Those near the marker are sought
first, since the marker's corners are off by a pixel or more and that error grows towards the card's corners. Points
that wander, are faint, or disagree with the other points of their card are dropped.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from capture import cards
from capture.markers import FAINTEST, find_markers, mapped
from capture.survey import Finding

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

LEAST_POINTS = 6  # four fix a homography; each one more can disagree twice, and chance seldom agrees four times
DISAGREE = 0.6  # px: ten times the scatter of a sound saddle point, yet far below a wrong corner
DOUBTFUL = 0.15  # px: three times the scatter; where points miss by more, one of them may be the cause
ODD = 3.0  # times less that the others miss by without it; distortion is in all points, and no one's leaving halves it
UNLIKE = 0.15  # RMS difference of a target's halves, part of its range of grey: above it something lies on the target
LEAST_SQUARE = 2.0  # px: of smaller ones, points more than 1 px off were seen to agree
FINE = 0.8  # px of blur before sampling, so that interpolation adds no bias
_QUADRANTS = np.array([(1, 1), (-1, -1), (-1, 1), (1, -1)]) * cards.SQUARE / 2  # two white, two black
REACH = 1.3 * cards.SQUARE  # in: takes in the squares' outer edges and the white round them
_grid = np.linspace(-REACH, REACH, 27)


def _pairs(along: Array) -> Array:
    """Opposite points (2, M, 2) of a square grid."""
    half = np.array([(x, y) for y in along for x in along if (y, x) > (0, 0)])
    return np.stack([half, -half])


_PAIRS, _FEWER = _pairs(_grid), _pairs(_grid[::2])  # the coarse look's picture is too smooth for more to tell more
_CELL_PX = 8  # px: a cell of a marker as drawn to be laid over the picture; blur and noise leave no finer detail


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
    markers = find_markers(gray)
    times = Counter(number for number, _ in markers)
    sightings = measure_cards(gray, [(n, corners) for n, corners in markers if times[n] == 1])
    found = [card for card in sightings if len(card.which) >= LEAST_POINTS]
    twice = [_twice(number, photo) for number in times if times[number] > 1]
    lacking = [_covered(card.number, photo, len(card.which)) for card in sightings if len(card.which) < LEAST_POINTS]
    if not found:
        lacking = why_none(gray, photo, bool(markers)) or lacking
    return Detection(tuple(sorted(found, key=lambda card: card.number)), (*twice, *lacking))


def measure_cards(gray: Gray, markers: Sequence[tuple[int, Array]]) -> list[CardSighting]:
    """Refine the saddle points of cards, all at a time: step by step with one alone takes twice as long.

    Parameters
    ----------
    gray
        Upright luma.
    markers
        The number of each card, and its marker's corners (4, 2) px.
    """
    saddles = cards.saddle_points()
    H = np.array([_aligned(gray, *marker) for marker in markers]).reshape(-1, 3, 3)
    points = half_turn(gray, H, saddles, coarse=True)
    found = np.isfinite(points[..., 0])
    again = np.flatnonzero(~found.all(axis=1))
    for i in again.tolist():  # those found say better where the others are
        known = np.vstack([cards.marker_corners(), saddles[found[i]]])
        H[i] = _homography(known, np.vstack([mapped(H[i], cards.marker_corners()), points[i, found[i]]]))
    points[again] = half_turn(gray, H[again], saddles, coarse=True)
    kept = [_agreeing(saddles, p, LEAST_POINTS - 1) for p in points]  # the fine look makes up for one
    fine = [i for i, which in enumerate(kept) if len(which)]
    H = np.array([_homography(saddles[kept[i]], points[i, kept[i]]) for i in fine]).reshape(-1, 3, 3)
    for i, seen in zip(fine, half_turn(gray, H, saddles), strict=True):
        points[i], kept[i] = seen, _agreeing(saddles, seen)
    return [CardSighting(n, which, p[which], m) for (n, m), which, p in zip(markers, kept, points, strict=True)]


def _homography(card: Array, pixels: Array) -> Array:
    return np.asarray(cv2.findHomography(card, pixels, 0)[0], float)


def _aligned(gray: Gray, number: int, marker: Array) -> Array:
    """Card inches to px, (3, 3), as the whole printed marker says rather than its four corners.

    Blur and over-exposure move a marker's corners by a pixel or more, and that error grows towards the card's
    corners; its cells' edges move both ways, and most of that cancels. By correlation (Evangelidis and Psarakis 2008,
    "Parametric image alignment using enhanced correlation coefficient maximization"); the corners' own homography
    where that finds no agreement.
    """
    corners = cards.marker_corners().astype(np.float32), marker.astype(np.float32)
    first = np.asarray(cv2.getPerspectiveTransform(*corners), float)
    pattern, to_inches = _pattern(number)
    low, high = marker.min(axis=0), marker.max(axis=0)
    finer = max(1.0, float((high - low).max()) / len(pattern))  # look no finer than the pattern is drawn
    edge = 0.25 * (high - low)
    left, top = np.maximum(low - edge, 0).astype(int)
    right, bottom = np.ceil(high + edge).astype(int) + 1
    box = gray[top:bottom, left:right]
    small = np.asarray(cv2.resize(box, None, fx=1 / finer, fy=1 / finer, interpolation=cv2.INTER_AREA), np.uint8)
    scale = np.array([small.shape[1] / box.shape[1], small.shape[0] / box.shape[0]])
    shrink = np.array(
        [[scale[0], 0, (0.5 - left) * scale[0] - 0.5], [0, scale[1], (0.5 - top) * scale[1] - 0.5], [0, 0, 1]]
    )
    start = shrink @ first @ to_inches
    try:
        _, found = cv2.findTransformECC(
            pattern, small, (start / start[2, 2]).astype(np.float32), cv2.MOTION_HOMOGRAPHY,
            (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 30, 1e-4), np.ones_like(small), 3,
        )  # fmt: skip
    except cv2.error:
        return first
    return np.asarray(np.linalg.inv(shrink) @ found.astype(float) @ np.linalg.inv(to_inches))


@cache
def _pattern(number: int) -> tuple[Gray, Array]:
    """Marker `number` with a quarter of a cell of white round it, `_CELL_PX` px a cell; and its px to card inches."""
    cells = cv2.aruco.generateImageMarker(cards.dictionary(), number, cards.CELLS, borderBits=1)
    drawn = np.kron(cells, np.ones((_CELL_PX, _CELL_PX), np.uint8))
    pattern = np.pad(drawn, _CELL_PX // 4, constant_values=255)
    inch, half = cards.CELL / _CELL_PX, (len(pattern) - 1) / 2 * cards.CELL / _CELL_PX
    return pattern, np.array([[inch, 0, -half], [0, -inch, half], [0, 0, 1]])


def half_turn(gray: Gray, H: Array, saddles: Array, *, coarse: bool = False) -> Array:
    """Refine saddle points as centres of half-turn symmetry.

    Minimises the sum over opposite card points ±d round a saddle s of (I(H(s + d) + δ) - I(H(s - d) + δ))² by
    Gauss-Newton on the shift δ. Taking the pairs through the homography keeps perspective out of it.

    Parameters
    ----------
    gray
        Upright luma.
    H : (N, 3, 3) card inches to px, of each card
    saddles : (K, 2) card inches
    coarse
        `H` may be off by half a square, rather than by a pixel: look at a smoother picture.

    Returns
    -------
    (N, K, 2) px
        A point that is faint, runs off, or whose target is small, covered or not whole in the picture is NaN.
    """
    starts = mapped(H, saddles)
    pairs = mapped(H, saddles[:, None, None] + (_FEWER if coarse else _PAIRS)) - starts[:, :, None, None]
    reach = np.abs(pairs).max(axis=(2, 3, 4))
    square = reach * cards.SQUARE / REACH
    farthest = np.maximum(2.0, square / 2) if coarse else np.full(square.shape, 1.5)
    pad = (np.ceil(reach + farthest) + 2)[..., None]
    whole = (np.round(starts) - pad >= 0) & (np.round(starts) + pad < gray.shape[::-1])
    tried = (square >= LEAST_SQUARE) & whole.all(axis=2)
    boxes, corner = [], np.zeros((len(H), 2))
    for i in np.flatnonzero(tried.any(axis=1)):
        low = np.round(starts[i] - pad[i])[tried[i]].min(axis=0).astype(int)
        high = np.round(starts[i] + pad[i])[tried[i]].max(axis=0).astype(int) + 1
        sigma = max(FINE, float(square[i, tried[i]].min()) / 8) if coarse else FINE
        boxes.append(cv2.GaussianBlur(gray[low[1] : high[1], low[0] : high[0]].astype(np.float32), (0, 0), sigma))
        corner[i] = low
    out = np.full_like(starts, np.nan)
    if boxes:
        at = pairs[tried] + (starts - corner[:, None])[tried][:, None, None]
        whose = np.unique(np.nonzero(tried)[0], return_inverse=True)[1]
        shifts, unlike = _settle(boxes, whose, at, farthest[tried], 0.05 if coarse else 1e-3)
        contrast = _contrast(gray, mapped(H, saddles[:, None] + _QUADRANTS)[tried] + shifts[:, None])
        shifts[(contrast < FAINTEST) | ((unlike > UNLIKE) & (not coarse))] = np.nan
        out[tried] = starts[tried] + shifts
    return out


def _contrast(gray: Gray, quadrants: Array) -> Array:
    """White less black, grey levels (T,), of targets whose quadrants' middles lie at pixels (T, 4, 2)."""
    at = quadrants.astype(np.float32)
    levels = cv2.remap(gray, at[..., 0].copy(), at[..., 1].copy(), cv2.INTER_LINEAR).astype(float)
    return np.asarray((levels[:, :2] - levels[:, 2:]).mean(axis=1))


def _settle(
    boxes: Sequence[MatLike], whose: NDArray[np.intp], pairs: Array, farthest: Array, still: float
) -> tuple[Array, Array]:
    """The shifts (T, 2) px of pairs (T, 2, M, 2) px at which both halves look most alike, and how much they differ.

    Of each box, which is `whose` (T,) in order, until none moves by `still` px; NaN where it would be over `farthest`.
    The difference (T,) is an RMS, as a part of the range of grey.
    """
    ways = ((1, 0), (0, 1))
    layers = [cv2.merge([box, *(cv2.Sobel(box, cv2.CV_32F, *way, scale=1 / 8) for way in ways)]) for box in boxes]
    pairs = np.ascontiguousarray(np.moveaxis(pairs, -1, 0))
    shifts, unlike = np.zeros((len(whose), 2)), np.zeros(len(whose))
    now = np.arange(len(whose))
    for _ in range(20):
        samples = _sampled(layers, whose[now], (pairs[:, now] + shifts[now].T[..., None, None]).astype(np.float32))
        difference = (samples[:, 0] - samples[:, 1]).astype(float)
        normal = difference.transpose(0, 2, 1) @ difference
        steps = -np.linalg.solve(normal[:, 1:, 1:] + 1e-6 * np.eye(2), normal[:, 1:, :1])[..., 0]  # an even box stays
        spread = np.ptp(samples[..., 0], axis=(1, 2))
        unlike[now] = np.sqrt(normal[:, 0, 0] / pairs.shape[3]) / np.maximum(1.0, spread)
        shifts[now] += steps
        shifts[np.hypot(*shifts.T) > farthest] = np.nan
        moving = (np.hypot(*steps.T) >= still) & np.isfinite(shifts[now, 0])
        now = now[np.isin(whose[now], whose[now][moving])]
        if not len(now):
            break
    return shifts, unlike


def _sampled(layers: Sequence[MatLike], whose: NDArray[np.intp], at: NDArray[np.float32]) -> NDArray[np.float32]:
    """The layers at pixels (2, T, 2, M), each in its box: (T, 2, M, 3)."""
    out = np.empty((*at.shape[1:], 3), np.float32)
    for i in np.unique(whose):
        mine = slice(*np.searchsorted(whose, (i, i + 1)))
        x, y = at[:, mine].reshape(2, -1, at.shape[3])  # in long rows, which is many times faster than one by one
        out[mine] = cv2.remap(layers[i], x, y, cv2.INTER_CUBIC).reshape(out[mine].shape)
    return out


def _agreeing(saddles: Array, points: Array, least: int = LEAST_POINTS) -> NDArray[np.intp]:
    """The largest set of points, `least` or more, that one homography explains to `DISAGREE`; of equals the closest.

    A point that is off by a pixel pulls the homography after it, so that all miss by half of that: it is known by how
    well the others agree without it.
    """
    found = np.flatnonzero(np.isfinite(points[:, 0]))

    def closest(among: NDArray[np.intp], size: int) -> tuple[float, NDArray[np.intp]]:
        sets = np.array(list(combinations(among, size)))
        misses = _misses(saddles[sets], points[sets])
        return float(misses.min()), sets[misses.argmin()]

    for size in range(len(found), least - 1, -1):
        miss, best = closest(found, size)
        if miss <= DISAGREE:
            without, others = closest(best, size - 1) if miss > DOUBTFUL and size > least else (miss, best)
            return others if without < miss / ODD else best
    return found[:0]


def _misses(card: Array, pixels: Array) -> Array:
    """The most, px, by which a point of each set (S, K, 2) inches and px misses the homography of all in its set: (S,).

    By linear least squares, all sets in one go: each point counts by its distance from the camera, which differs by a
    few percent over a card. The last element is 1, for the middle of a card is never at the horizon.
    """
    (x, y), (u, v) = np.moveaxis(card, -1, 0), np.moveaxis(pixels - pixels.mean(axis=1, keepdims=True), -1, 0)
    one, none = np.ones_like(x), np.zeros_like(x)
    across, down = (x, y, one, none, none, none, -u * x, -u * y), (none, none, none, x, y, one, -v * x, -v * y)
    rows = np.concatenate([np.stack(across, axis=-1), np.stack(down, axis=-1)], axis=1)  # (S, 2 K, 8)
    transposed = rows.swapaxes(1, 2)
    h = np.linalg.solve(transposed @ rows, transposed @ np.concatenate([u, v], axis=1)[..., None])
    depth = 1 + h[:, 6] * x + h[:, 7] * y
    to_u, to_v = ((h[:, i] * x + h[:, i + 1] * y + h[:, i + 2]) / depth for i in (0, 3))
    return np.asarray(np.hypot(to_u - u, to_v - v).max(axis=1))


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
    step = max(1, len(gray) // 1000, gray.size // MOST_LOOKED_AT)
    rows = _blur_rows(gray[::step].astype(np.float32), first)
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
MOST_LOOKED_AT = 6_000_000  # px, of which the blur is told: a picture of few and endless rows must not fill the memory


def why_none(gray: Gray, photo: str, seen: bool) -> list[Finding]:
    """The likely reasons why no card could be measured; none where some are `seen` and the picture itself is good."""
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
    if not seen and (small := _too_small(gray)):
        reasons.append(("too-small", f"the cards are too small in it (about {small:.0f} pixels)", "Come closer."))
    if not seen and not reasons:
        reasons.append(
            ("no-card", "no card is in it, or none is whole", "Show one card whole, arrows up; or mark by tape.")
        )
    return [Finding(code, photo, f"No card was found in “{photo}”: {why}.", remedy) for code, why, remedy in reasons]


def _too_small(gray: Gray) -> float:
    """Side of the markers, px, where they come out only in an enlarged picture; else 0."""
    if gray.size > 16_000_000:
        return 0.0
    doubled = np.asarray(cv2.resize(gray, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC), np.uint8)
    sides = [np.linalg.norm(c - np.roll(c, 1, axis=0), axis=1).min() / 2 for _, c in find_markers(doubled)]
    return float(np.median(sides)) if sides else 0.0
