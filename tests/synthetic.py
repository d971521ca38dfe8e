"""Pictures of cards with known truth, drawn by area sampling: each pixel is the mean of what falls on it."""

import cv2
import numpy as np

from capture import cards
from capture.camera import Camera

OVERSAMPLE = 6


PAPER, INK = 0.9, 0.04  # reflectance


def card_paint(number: int, xy: np.ndarray) -> np.ndarray:
    """Reflectance (N,) of card `number` at card points (N, 2) in inches; NaN off the sheet."""
    sheet = (-4.25, -5.5, 4.25, 5.5)
    squares = np.array([sheet, *cards.black_squares(number)])
    xs, ys = np.unique(squares[:, 0::2]), np.unique(squares[:, 1::2])
    paint = np.full((len(ys) + 1, len(xs) + 1), np.nan)  # one cell between each two neighbouring edges
    for (left, bottom, right, top), colour in zip(squares, [PAPER] + [INK] * (len(squares) - 1), strict=True):
        rows, columns = np.searchsorted(ys, (bottom, top)) + 1, np.searchsorted(xs, (left, right)) + 1
        paint[slice(*rows), slice(*columns)] = colour
    return paint[np.searchsorted(ys, xy[:, 1], side="right"), np.searchsorted(xs, xy[:, 0], side="right")]


def place(number_at: tuple[float, float, float], points: np.ndarray, scale=(1.0, 1.0)) -> np.ndarray:
    """Wall points (N, 3) of card points (N, 2): card at (x, y) turned by `angle` degrees, printed at `scale`."""
    x, y, angle = number_at
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    flat = (points * scale) @ np.array([[c, s], [-s, c]]) + (x, y)
    return np.column_stack([flat, np.zeros(len(flat))])


def photograph(camera: Camera, placed: dict[int, tuple[float, float, float]], *, blur=0.7, exposure=1.0, noise=1.5,
               sharpen=0.0, quality=92, seed=0, scale=(1.0, 1.0), wall=0.45) -> np.ndarray:  # fmt: skip
    """A grey photograph (height, width) uint8 of cards on a plain wall: `light` made into a picture by `develop`."""
    return develop(
        light(camera, placed, scale=scale, wall=wall),
        blur=blur, exposure=exposure, noise=noise, sharpen=sharpen, quality=quality, seed=seed,
    )  # fmt: skip


def light(camera: Camera, placed: dict[int, tuple[float, float, float]], *, scale=(1.0, 1.0), wall=0.45) -> np.ndarray:
    """The light (height, width) that falls on each pixel, 1 for a white sheet in full exposure, before any blur."""
    width, height = camera.size
    linear = np.full((height, width), wall)
    for number, at in placed.items():
        outline = camera.project(place(at, np.array([(-4.3, -5.6), (4.3, -5.6), (4.3, 5.6), (-4.3, 5.6)]), scale))
        left, top = np.maximum(np.floor(outline.min(axis=0)).astype(int) - 2, 0)
        right, bottom = np.minimum(np.ceil(outline.max(axis=0)).astype(int) + 3, (width, height))
        if left >= right or top >= bottom:
            continue
        card = _area_sampled(camera, number, at, scale, left, top, right, bottom)
        linear[top:bottom, left:right] += np.nan_to_num(card - wall).mean(axis=(1, 3))
    return linear


def develop(linear: np.ndarray, *, blur=0.7, exposure=1.0, noise=1.5, sharpen=0.0, quality=92, seed=0) -> np.ndarray:
    """A grey photograph (height, width) uint8 of linear light.

    Gaussian blur of `blur` px, `exposure` above 1 burns the paper out, noise in grey levels, unsharp mask, JPEG.
    """
    rng = np.random.default_rng(seed)
    linear = cv2.GaussianBlur(linear, (0, 0), blur) if blur else linear
    tone = np.clip(linear * exposure, 0, 1) ** (1 / 2.2) * 255
    if sharpen:
        tone = tone + sharpen * (tone - cv2.GaussianBlur(tone, (0, 0), 1.5))
    tone = np.clip(tone + rng.normal(0, noise, tone.shape), 0, 255).round().astype(np.uint8)
    _, coded = cv2.imencode(".jpg", tone, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)


def _area_sampled(camera, number, at, scale, left, top, right, bottom):
    """Reflectance of one card, (rows, OVERSAMPLE, columns, OVERSAMPLE); NaN where the sample misses the sheet."""
    sub = (np.arange(OVERSAMPLE) + 0.5) / OVERSAMPLE - 0.5  # a pixel's square has its centre at whole numbers
    u = (np.arange(left, right)[:, None] + sub).ravel()
    v = (np.arange(top, bottom)[:, None] + sub).ravel()
    grid = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
    # Jittered, or an edge along the pixel rows would be placed no finer than the sampling grid.
    grid += np.random.default_rng(0).uniform(-0.5 / OVERSAMPLE, 0.5 / OVERSAMPLE, grid.shape)
    x, y, angle = at
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    on_card = ((camera.meet(grid)[:, :2] - (x, y)) @ np.array([[c, -s], [s, c]])) / scale
    return card_paint(number, on_card).reshape(bottom - top, OVERSAMPLE, right - left, OVERSAMPLE)


def look(size=(4032, 3024), f=2917.0, at=(70.0, 48.0, 126.0), yaw=0.0, pitch=0.0, roll=0.0, k1=0.05, k2=-0.07,
         centre=(9.3, -6.1)) -> Camera:  # fmt: skip
    """A camera standing at `at` (wall inches), turned from square-on by yaw (to the right), pitch (down), roll."""
    lens = np.array([f, (size[0] - 1) / 2 + centre[0], (size[1] - 1) / 2 + centre[1], k1, k2])
    square_on = np.diag([1.0, -1.0, -1.0])  # camera x right, y down, z into the wall
    a, b, c = np.radians([yaw, pitch, roll])
    turn_y = np.array([[np.cos(a), 0, -np.sin(a)], [0, 1, 0], [np.sin(a), 0, np.cos(a)]])
    turn_x = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    turn_z = np.array([[np.cos(c), np.sin(c), 0], [-np.sin(c), np.cos(c), 0], [0, 0, 1]])
    R = turn_z @ turn_x @ turn_y @ square_on
    return Camera.from_matrix(size, lens, R, -R @ np.array(at, float))


def saddles_px(camera: Camera, at, scale=(1.0, 1.0)) -> np.ndarray:
    """True pixels (8, 2) of a card's saddle points."""
    return camera.project(place(at, cards.saddle_points(), scale))
