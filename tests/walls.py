"""Whole walls drawn at random from what the program takes for granted: cards, bow, plates, taps, tapes."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from capture import cards
from capture.beliefs import BOW_SD, PRINT_SD, TAP_SD, tape_sd
from capture.bow import bow_covariance
from capture.camera import Camera
from capture.detect import CardSighting
from capture.equations import card_points
from capture.net import CORNER_SD, Seen
from capture.record import TRAITS, Along, At, Kind, Mark, Side, Sight, Tape, Wall
from tests.scenes import SIZE, lens_from_prior
from tests.synthetic import look

HEIGHT, WIDE = 4.5, 2.75  # of a plate, in


@dataclass(frozen=True)
class Made:
    """A wall as noted and seen, and the truth."""

    wall: Wall
    seen: list[Seen]
    plates: dict[str, tuple[float, float]]  # true middles
    cards: dict[int, tuple[float, float, float]]  # x, y [in], angle [rad]


def random_wall(
    seed: int, *, noise: float = 1.0, n_cards: int | None = None, n_photos: int | None = None,
    n_tapes: int | None = None, n_plates: int = 4,
) -> Made:  # fmt: skip
    """A wall with 1 to 8 cards, 1 to 4 photos of one lens from 5 to 16 ft, yaw up to 45 degrees, tapes or none.

    `noise` scales what is drawn afresh at each observation: corners, taps, tapes; 0 leaves them exact.
    """
    rng = np.random.default_rng(seed)
    n_cards = n_cards or int(rng.integers(1, 9))
    n_photos = n_photos or int(rng.integers(1, 5))
    distance = rng.uniform(60, 192, n_photos)
    width = float(rng.uniform(0.55, 0.95) * distance.max())
    xs = np.linspace(8, max(width - 8, 9), n_cards) + rng.uniform(-3, 3, n_cards)
    ys = np.where(np.arange(n_cards) % 2, rng.uniform(18, 34, n_cards), rng.uniform(44, 62, n_cards))
    turned = rng.normal(0, np.radians(1), n_cards)
    hung = {i + 1: (float(x), float(y), float(t)) for i, (x, y, t) in enumerate(zip(xs, ys, turned, strict=True))}
    apart = (width - 20) / max(n_plates - 1, 1)
    middles = np.linspace(10, width - 10, n_plates) + rng.uniform(-1, 1, n_plates) * min(4.0, 0.3 * apart)
    plates = {f"plate {i + 1}": (float(x), float(rng.uniform(12, 20))) for i, x in enumerate(middles)}
    bow = _bow(rng, hung, plates, (0.0, 18.0))
    printed = rng.normal(1, PRINT_SD, 2)
    lens = lens_from_prior(rng)
    proud = {name: 5 / 32 + rng.normal(0, TRAITS[Kind.RECEPTACLE].projection_sd) for name in plates}
    eyes = [_eye(rng, width, d, lens) for d in distance]
    afresh = np.random.default_rng([seed, 1])
    seen = [_see(eye, hung, bow, printed, afresh, noise, f"photo {i}") for i, eye in enumerate(eyes, 1)]
    names = [s.name for s in seen if s.cards]
    looks = {s.name: eye for s, eye in zip(seen, eyes, strict=True) if s.cards}
    marks = [_left_end(looks, bow, afresh, noise)]
    marks += [_plate(name, plates[name], proud[name] + bow[name], looks, afresh, noise) for name in plates]
    marks.append(_floor_point(looks, bow, afresh, noise, width))
    n_tapes = int(rng.integers(0, 4)) if n_tapes is None else n_tapes
    tapes = _tapes(rng, afresh, noise, plates, n_tapes)
    wall = Wall(name="wall", marks=tuple(m for m in marks if m.sights), tapes=tapes)
    return Made(wall, [s for s in seen if s.name in names], plates, hung)


def _bow(rng, hung, plates, end):
    """True bow: (height, slope, slope) at each card, height at each plate, the left end and the floor point."""
    marks = [*plates.values(), end, (30.0, 0.0)]
    covariance = bow_covariance(np.array([p[:2] for p in hung.values()]), np.array(marks), BOW_SD)
    drawn = np.linalg.cholesky(covariance) @ rng.normal(size=len(covariance))
    at_cards = {n: drawn[3 * i : 3 * i + 3] for i, n in enumerate(hung)}
    at_marks = dict(zip([*plates, "left", "floor"], drawn[3 * len(hung) :], strict=True))
    return at_cards | at_marks


def _eye(rng, width, distance, lens) -> Camera:
    yaw = rng.uniform(-45, 45)
    aside, away = distance * np.sin(np.radians(yaw)), distance * np.cos(np.radians(yaw))
    at = (width * rng.uniform(0.35, 0.65) - aside, rng.uniform(40, 62), away)
    return look(SIZE, at=at, yaw=yaw, pitch=rng.uniform(0, 10), roll=rng.uniform(-3, 3), **lens)


def _see(eye, hung, bow, printed, afresh, noise, name) -> Seen:
    found = []
    for number, place in hung.items():
        points = card_points(np.array(place), printed, cards.saddle_points(), bow[number])[0]
        which = np.flatnonzero(eye.sees(points))
        pixels = eye.project(points[which]) + afresh.normal(0, CORNER_SD * noise, (len(which), 2))
        if len(which) >= 6:
            found.append(CardSighting(number, which, pixels, pixels[:4]))
    return Seen(name, eye.size, 26.0, "phone", tuple(found))


def _tap(eye, point, afresh, noise):
    """A tap on a wall point, or None where the photo does not show it."""
    point = np.array([point])
    if not eye.sees(point)[0]:
        return None
    return eye.project(point)[0] + afresh.normal(0, TAP_SD * noise, 2)


def _sights(looks, points, afresh, noise):
    """Sights of named points in all photos that show them all."""
    sights = []
    for photo, eye in looks.items():
        taps = [(at, _tap(eye, point, afresh, noise)) for at, point in points]
        if all(tap is not None for _, tap in taps):
            sights += [Sight(photo=photo, u=float(tap[0]), v=float(tap[1]), at=at) for at, tap in taps]
    return tuple(sights)


def _left_end(looks, bow, afresh, noise):
    # Where uprights are said to stand, so that no lean comes in.
    return Mark(name="left", kind=Kind.WALL_END, side=Side.LEFT,
                sights=_sights(looks, [(At.POINT, (0.0, 18.0, bow["left"]))], afresh, noise))  # fmt: skip


def _floor_point(looks, bow, afresh, noise, width):
    proud = TRAITS[Kind.FLOOR_POINT]
    z = float(proud.projection) + bow["floor"] + afresh.normal(0, proud.projection_sd)
    return Mark(name="floor", kind=Kind.FLOOR_POINT,
                sights=_sights(looks, [(At.POINT, (min(30.0, width / 2), 0.0, z))], afresh, noise))  # fmt: skip


def _plate(name, middle, z, looks, afresh, noise):
    (x, y), half = middle, (WIDE / 2, HEIGHT / 2)
    corners = [(At.TOP_LEFT, (x - half[0], y + half[1], z)), (At.BOTTOM_RIGHT, (x + half[0], y - half[1], z))]
    return Mark(name=name, kind=Kind.RECEPTACLE, sights=_sights(looks, corners, afresh, noise))


def _tapes(rng, afresh, noise, plates, count):
    """Readings across from the left end to plates' left edges, and between plates."""
    places = [("left end", 0.0), *((f"{name} left", x - WIDE / 2) for name, (x, _) in plates.items())]
    pairs = [(a, b) for i, a in enumerate(places) for b in places[i + 1 :]]
    chosen = rng.choice(len(pairs), size=min(count, len(pairs)), replace=False)
    tapes = []
    for i in sorted(chosen, key=lambda i: -abs(pairs[i][1][1] - pairs[i][0][1])):
        (start, a), (end, b) = pairs[i]
        length = b - a + afresh.normal(0, tape_sd(b - a) * noise)
        tapes.append(Tape(start=start, end=end, length=Fraction(length).limit_denominator(10**6), along=Along.ACROSS))
    return tuple(tapes)
