"""Random walls with cards and photos of them, as observations: truth drawn from what the program takes for granted."""

from dataclasses import dataclass, replace

import numpy as np

from capture import cards
from capture.beliefs import CENTRE_SD, K1_SD, K2_SD, PRINT_SD
from capture.camera import Camera
from capture.detect import LEAST_POINTS, LEAST_SQUARE, CardSighting
from capture.net import Seen
from capture.photos import focal_prior
from tests.synthetic import look, place

SIZE = (4032, 3024)
CORNER_NOISE = 0.05  # px


@dataclass(frozen=True)
class Scene:
    cameras: tuple[Camera, ...]
    placed: dict[int, tuple[float, float, float]]  # number: x, y [in], angle [degrees]
    printed: tuple[float, float]
    seen: tuple[Seen, ...]


def lens_from_prior(rng) -> dict:
    mean, sd = focal_prior(SIZE, 26.0)
    return {
        "f": rng.normal(mean, sd),
        "centre": rng.normal(0, CENTRE_SD * SIZE[0], 2),
        # half the beforehand spread: strong barrel terms of both signs at once would fold the picture's corners
        "k1": rng.normal(0, K1_SD / 2),
        "k2": rng.normal(0, K2_SD / 2),
    }


def random_scene(seed: int, n_cards: int | None = None, n_photos: int | None = None) -> Scene:
    """A wall 100 to 170 in wide, 3 to 8 cards, 1 to 3 photos of one lens from 7 to 14 ft, yaw up to 35 degrees."""
    rng = np.random.default_rng(seed)
    width = rng.uniform(100, 170)
    n_cards = n_cards or int(rng.integers(3, 9))
    xs = np.linspace(10, width - 10, n_cards) + rng.uniform(-4, 4, n_cards)
    placed = {
        i + 1: (float(x), float(rng.uniform(20, 35) if i % 2 else rng.uniform(50, 70)), float(rng.normal(0, 1)))
        for i, x in enumerate(xs)
    }
    printed = tuple(rng.normal(1, PRINT_SD, 2))
    lens = lens_from_prior(rng)
    cameras, seen = [], []
    for k in range(n_photos or int(rng.integers(1, 4))):
        yaw = rng.uniform(-35, 35)
        distance = rng.uniform(84, 168)
        at = (width / 2 - distance * np.tan(np.radians(yaw)), rng.uniform(45, 65), distance)
        camera = look(SIZE, at=at, yaw=yaw, pitch=rng.uniform(-3, 8), roll=rng.uniform(-3, 3), **lens)
        cameras.append(camera)
        seen.append(observe(camera, placed, printed, rng, f"photo {k + 1}"))
    return Scene(tuple(cameras), placed, printed, tuple(seen))


def observe(camera, placed, printed, rng, name, noise=CORNER_NOISE) -> Seen:
    """What a photo shows of the cards, with noise on every saddle point."""
    sightings = []
    for number, at in placed.items():
        points = place(at, cards.saddle_points(), printed)
        which = np.flatnonzero(camera.sees(points))
        if len(which) >= 5:
            pixels = camera.project(points[which]) + rng.normal(0, noise, (len(which), 2))
            marker = camera.project(place(at, cards.marker_corners(), printed))
            sightings.append(CardSighting(number, which, pixels, marker))
    return Seen(name, camera.size, 26.0, "phone", tuple(sightings))


def any_stand(seed: int) -> Scene:
    """Whatever a person may do: 1 to 8 cards, 1 to 4 photos from 4 to 20 ft, yaw to 60, pitch to 20 degrees.

    Main lenses of 24 to 52 mm with or without their tag, k1 all over its beforehand spread. The phone is held upright
    or on its side; one picture in seven of the latter was left lying on its side. One job in five has small copies, as
    messages send them. In three jobs of ten, cards hang any way up. Every photo shows a card.
    """
    rng = np.random.default_rng(seed)
    spread = 1.0 if rng.random() < 0.7 else 180.0  # degrees
    placed = {
        number: (float(x), float(rng.uniform(15, 75)), float(spread * rng.uniform(-1, 1)))
        for number, x in enumerate(np.cumsum(rng.uniform(12, 30, rng.integers(1, 9))), start=1)
    }
    printed = tuple(rng.normal(1, PRINT_SD, 2))
    tagged, focal, upright = rng.random() < 0.7, float(rng.uniform(24, 52)), rng.random() < 0.3
    long, short = (1600, 1200) if rng.random() < 0.2 else SIZE
    size = (short, long) if upright else (long, short)
    centre, k1 = rng.normal(0, CENTRE_SD * long, 2), rng.uniform(-K1_SD, K1_SD)
    lens = {"f": rng.normal(*focal_prior(size, focal)), "centre": centre, "k1": k1, "k2": 0.0}
    cameras, seen = [], []
    photos = int(rng.integers(1, 5))
    while len(seen) < photos:
        lying = 0 if upright else rng.choice([0, 0, 0, 0, 0, 90, -90])
        camera = _toward(rng, placed, size, lens, lying)
        photo = observe(camera, placed, printed, rng, f"photo {len(seen) + 1}")
        whole = tuple(c for c in photo.cards if _measurable(c, camera, place(placed[c.number], cards.saddle_points())))
        if whole:
            cameras.append(camera)
            seen.append(replace(photo, cards=whole, focal_35=focal if tagged else None))
    return Scene(tuple(cameras), placed, printed, tuple(seen))


LEAST_SIDE = LEAST_SQUARE * cards.MARKER / cards.SQUARE  # px: smaller markers' targets are not measured


def _measurable(card: CardSighting, camera: Camera, truth: np.ndarray) -> bool:
    """Whether a detector would measure it: large enough, and no ghost from beyond where a barrel lens folds over."""
    side = np.linalg.norm(np.roll(card.marker, 1, axis=0) - card.marker, axis=1).min()
    if len(card.which) < LEAST_POINTS or side < LEAST_SIDE:
        return False
    return float(np.abs(camera.meet(card.points) - truth[card.which]).max()) < 1.0  # in: the print's scale and noise


def _toward(rng, placed, size, lens, lying: float) -> Camera:
    """A camera 4 to 20 ft off that looks at one of the cards or between two."""
    a, b = (placed[int(n)] for n in rng.choice(sorted(placed), 2))
    yaw, pitch, distance = rng.uniform(-60, 60), rng.uniform(-20, 20), rng.uniform(48, 240)
    aside, down = distance * np.tan(np.radians(yaw)), distance / np.cos(np.radians(yaw)) * np.tan(np.radians(pitch))
    at = ((a[0] + b[0]) / 2 - aside, (a[1] + b[1]) / 2 + down, distance)
    return look(size, at=at, yaw=yaw, pitch=pitch, roll=lying + rng.uniform(-5, 5), **lens)
