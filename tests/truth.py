"""The exact truth of the demo's rendered photos. For tests and benchmarks only."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from capture import cards
from capture.camera import Camera
from capture.detect import CardSighting
from capture.photos import read_photo
from tests.synthetic import place

FIXTURES = Path(__file__).parent.parent / "fixtures"
DEMO = FIXTURES / "demo"
TRUTH = json.loads((FIXTURES / "truth.json").read_text())
WALLS = {wall["name"]: wall for wall in TRUTH["walls"]}
PHOTOS = {photo["file"]: photo for photo in TRUTH["photos"]}
MEASURED_PHOTOS = [file for file, photo in PHOTOS.items() if any(photo["cards"].values())]
PRINTED = (TRUTH["print_scale"]["across"], TRUTH["print_scale"]["up"])


def picture(file: str):
    """A demo photo, decoded."""
    return read_photo((DEMO / "photos" / file).read_bytes(), file)


def camera(file: str, wall: str) -> Camera:
    """The true camera of a photo in the frame of a wall."""
    photo = PHOTOS[file]
    lens = np.array([photo[k] for k in ("f", "cx", "cy", "k1", "k2")], float)
    pose = photo["walls"][wall]
    return Camera.from_matrix((photo["width"], photo["height"]), lens, np.array(pose["R"]), np.array(pose["t"]))


@dataclass(frozen=True)
class CornerErrors:
    """Found minus true pixels, (N, 2), of the cards of one photo."""

    saddle: np.ndarray
    marker: np.ndarray


def corner_errors(file: str, sightings: tuple[CardSighting, ...]) -> CornerErrors:
    """Errors of saddle points and of the markers' own corners, over all walls that the photo shows."""
    saddle, marker = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for wall in PHOTOS[file]["walls"]:
        eye = camera(file, wall)
        for card in WALLS[wall]["cards"]:
            for sighting in sightings:
                if sighting.number == card["number"]:
                    at = (card["x"], card["y"], card["angle"])
                    saddle.append(sighting.points - _seen(eye, at, cards.saddle_points()[sighting.which]))
                    marker.append(sighting.marker - _seen(eye, at, cards.marker_corners()))
    return CornerErrors(np.vstack(saddle), np.vstack(marker))


def _seen(eye: Camera, at, nominal) -> np.ndarray:
    points = place(at, nominal, PRINTED)
    points[:, 2] = TRUTH["card_lift"]
    return eye.project(points)


def rms(errors: np.ndarray) -> float:
    """Root mean square over all coordinates."""
    return float(np.sqrt(np.mean(np.square(errors))))
