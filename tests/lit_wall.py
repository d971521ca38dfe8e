"""A made-up photo of a wall whose paint, light and furniture are known exactly; the cards are white sheets."""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image
from skimage.color import rgb2xyz  # sRGB decoding of its own

from report.compose import OnWall, Scene
from report.light import to_srgb
from report.views import CameraView
from tests.test_report_wall import CHAIR, made_up_camera, made_up_plan

SIZE = (1200, 900)
WALL = np.array([0.42, 0.36, 0.27])  # reflectance, a tan
PAPER = 0.85
CARD_AT = ((24.0, 52.0), (60.0, 24.0), (132.0, 66.0))  # wall inches
LAMP = (40.0, 70.0, 60.0)
CHAIR_COLOUR = (60, 50, 44)


@dataclass(frozen=True)
class LitWall:
    """The scene, what light falls on the wall at each pixel, and where it is bare."""

    scene: Scene
    light: np.ndarray  # (h, w) linear
    x: np.ndarray
    y: np.ndarray
    sheets: tuple[np.ndarray, ...]

    @property
    def photo(self) -> np.ndarray:
        return np.asarray(self.scene.picture)


def light_at(x, y, lamp=LAMP, own=0.55, even=0.3):
    """Point light by the inverse square and the cosine, and something even."""
    r2 = (x - lamp[0]) ** 2 + (y - lamp[1]) ** 2 + lamp[2] ** 2
    return even + own * lamp[2] ** 3 / r2**1.5


def lit_wall(
    lamp=LAMP, own=0.55, even=0.3, colour=(1.0, 1.0, 1.0), noise=1.0, base=True, cards=CARD_AT, paint="white", plan=None
) -> LitWall:
    camera = made_up_camera(SIZE)
    pixels = np.stack(np.meshgrid(*(np.arange(n, dtype=float) for n in SIZE)), axis=-1).reshape(-1, 2)
    met = camera.meet(pixels)
    x, y = (met[:, k].reshape(SIZE[::-1]) for k in (0, 1))
    light = light_at(x, y, lamp, own, even)
    reflects = np.broadcast_to(WALL, (*x.shape, 3)).copy()
    reflects[(y < 0) & np.ones_like(x, bool)] = (0.25, 0.13, 0.06)
    if base:
        reflects[(y >= 0) & (y < 3.25)] = 0.8
    sheets = []
    for cx, cy in cards:
        reflects[(np.abs(x - cx) < 4.25) & (np.abs(y - cy) < 5.5)] = PAPER
        corners = [(cx - 4.6, cy + 6.7), (cx + 4.6, cy + 6.7), (cx + 4.6, cy - 6.7), (cx - 4.6, cy - 6.7)]
        sheets.append(camera.project(np.column_stack([corners, np.zeros(4)])))
    for feature in made_up_plan().survey.features:
        if feature.rectangle:
            inside = (x > feature.left.value) & (x < feature.right.value)
            reflects[inside & (y > feature.bottom.value) & (y < feature.top.value)] = 0.7
    shown = to_srgb((reflects * light[..., None] * np.array(colour)).astype(np.float32))
    cv2.fillPoly(shown, [np.array(CHAIR, np.int32)], CHAIR_COLOUR)
    shown += np.random.default_rng(3).normal(0, noise, (*x.shape, 1))
    picture = Image.fromarray(np.clip(np.rint(shown), 0, 255).astype(np.uint8))
    on = OnWall(CameraView(camera), plan or made_up_plan())
    scene = Scene(picture, (on,), tuple(sheets), (np.array(CHAIR),), paint)
    return LitWall(scene, light, x, y, tuple(sheets))


def linear(srgb) -> np.ndarray:
    """Linear light by scikit-image: Y of a grey is its linear value, and so channel by channel."""
    srgb = np.asarray(srgb, float) / 255
    return np.stack([rgb2xyz(np.repeat(srgb[..., k : k + 1], 3, axis=-1))[..., 1] for k in range(3)], axis=-1)
