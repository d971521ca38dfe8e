"""Random walls with cards and photos of them, as observations: truth drawn from what the program takes for granted."""

from dataclasses import dataclass

import numpy as np

from capture import cards
from capture.beliefs import CENTRE_SD, K1_SD, K2_SD, PRINT_SD
from capture.camera import Camera
from capture.detect import CardSighting
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
