"""A picture of one thing on the wall, cut from the photo that shows it best.

Frames: wall (in), image (px of the photo, the centre of the first pixel at (0, 0)).
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from PIL import Image

from capture.camera import Array, Camera
from capture.survey import Feature
from report.canvas import Canvas
from report.papers import PhotoPage
from report.pictures import Source, cut, size_of
from report.views import CameraView, edges

ACROSS, UP = 20.0, 16.0  # wall inches that a crop shows, more where the box moves farther
ROUND = 12.0  # wall inches left free round the two places together
WORK_WIDTH = 700  # px: two and a half inches of print
DASHES = 14  # round a plate


class Crop(NamedTuple):
    """The picture, and the photo that it comes from."""

    picture: Source
    photo: str


def crop_of(feature: Feature, photos: Sequence[PhotoPage], wanted: float | None, number: int) -> Crop | None:
    """A thing as the photo shows it that has most pixels of it, outlined; None where no solved photo shows it whole.

    Parameters
    ----------
    feature
        What to show, measured.
    photos
        The wall's photos.
    wanted
        Where its centre should go, wall inches from the left end, drawn dashed; None for nowhere.
    number
        Its number on all papers.
    """
    if not feature.rectangle:
        return None
    corners = _corners(feature)
    fit = [(_size(page.camera, corners), page) for page in photos if page.camera is not None]
    size, page = max(fit, key=lambda one: one[0], default=(0.0, None))
    if page is None or page.camera is None or size <= 0:
        return None
    return Crop(_drawn(page.source, page.camera, corners, wanted, number), page.photo.name)


def _corners(feature: Feature) -> Array:
    left, bottom, right, top = (m.value for m in (feature.left, feature.bottom, feature.right, feature.top) if m)
    z = float(feature.mark.proud)
    return np.array([(left, bottom, z), (right, bottom, z), (right, top, z), (left, top, z)])


def _size(camera: Camera, corners: Array) -> float:
    """Pixels of the photo that lie on the thing; 0 where the photo does not show all of it."""
    if not camera.sees(corners).all():
        return 0.0
    x, y = camera.project(corners).T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def _drawn(photo: Source, camera: Camera, corners: Array, wanted: float | None, number: int) -> Image.Image:
    by = np.array([0.0 if wanted is None else wanted - corners[:, 0].mean(), 0.0, 0.0])
    box = _window(camera, corners.mean(axis=0) + by / 2, max(ACROSS, abs(by[0]) + ROUND), size_of(photo))
    part = cut(photo, box)
    factor = min(1.0, WORK_WIDTH / part.width)
    size = (max(1, round(part.width * factor)), max(1, round(part.height * factor)))
    canvas = Canvas(part.resize(size, Image.Resampling.LANCZOS))

    def pixels(points: Array) -> Array:
        seen, good = CameraView(camera).pixels(edges(points))
        return (seen[good] - box[:2] + 0.5) * factor - 0.5

    canvas.unit *= 2.2  # a small picture: its lines and numbers as heavy as on a large one
    canvas.outline(pixels(corners))
    if wanted is not None:
        for dash in dashes(pixels(corners + by)):
            canvas.outline(dash, closed=False)
    top = pixels(corners).min(axis=0)
    canvas.flag((float(pixels(corners)[:, 0].mean()), float(top[1]) - 24 * canvas.unit), number)
    return canvas.picture()


def dashes(polygon: Array) -> list[Array]:
    """Pieces of the way round a polygon of pixels, as long as the gaps between them; none of what is not seen."""
    if len(polygon) < 2:
        return []
    closed = np.concatenate([polygon, polygon[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    stops = np.linspace(0.0, way[-1], 2 * DASHES + 1)
    ends = np.column_stack([np.interp(stops, way, closed[:, k]) for k in range(2)])
    return [ends[k : k + 2] for k in range(0, 2 * DASHES, 2)]


def _window(camera: Camera, centre: Array, shown: float, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """The part of the photo `shown` wall inches wide round a wall point, within the photo."""
    half = np.array([shown / 2, 0.0, 0.0])
    across = float(np.linalg.norm(np.subtract(*camera.project(np.array([centre - half, centre + half])))))
    wide, high = min(across, size[0]), min(across * UP / ACROSS, size[1])
    u, v = camera.project(centre[None])[0]
    left = min(max(u - wide / 2, 0), size[0] - wide)
    upper = min(max(v - high / 2, 0), size[1] - high)
    return int(left), int(upper), int(left + wide), int(upper + high)
