"""What an elevation costs over the bare library call, and what memory it takes."""

import time
import tracemalloc
from collections.abc import Callable

import cv2
import numpy as np

from capture.camera import Camera
from capture.mosaic import View, elevation
from tests.synthetic import look

EXTENT = (0.0, 0.0, 168.0, 96.0)  # a wall 14 ft wide and 8 ft high
SCALE = 18.0


def elevation_ratio() -> list[tuple[str, ...]]:
    """Time of an elevation over `cv2.remap` of one photo with the map at hand; memory beyond the photos."""
    wall = cv2.resize(np.random.default_rng(0).integers(60, 200, (48, 84, 3), np.uint8), None, fx=24, fy=24)
    cameras = [look(at=(84.0 + 8 * (k - 3.5), 50.0, 130.0), yaw=2.0 * (k - 3.5), pitch=2.0) for k in range(8)]
    views = [View(f"photo {k + 1}", photo_of(wall, camera), camera) for k, camera in enumerate(cameras)]
    width, height = round(168 * SCALE), round(96 * SCALE)
    x, y = (np.arange(width) + 0.5) / SCALE, 96.0 - (np.arange(height) + 0.5) / SCALE
    points = np.stack([*np.meshgrid(x, y), np.zeros((height, width))], axis=-1).reshape(-1, 3)
    at = cameras[3].project(points).reshape(height, width, 2).astype(np.float32)
    table: list[tuple[str, ...]] = [("12 MP photos, 14 × 8 ft, 18 px/in", "over bare cv2.remap", "peak memory, MB")]
    for chosen in (views[3:4], views[::7], views):
        over = ratio(
            lambda chosen=chosen: elevation(chosen, EXTENT, SCALE),
            lambda: cv2.remap(views[3].rgb, at, None, cv2.INTER_CUBIC),
        )
        tracemalloc.start()
        elevation(chosen, EXTENT, SCALE)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        table.append((str(len(chosen)), f"{over:.2f}", f"{peak / 1e6:.0f}"))
    return table


def photo_of(wall: np.ndarray, camera: Camera) -> np.ndarray:
    """A photo of a wall that is painted with a picture over `EXTENT`, grey beyond it."""
    width, height = camera.size
    pixels = np.stack(np.meshgrid(np.arange(-8, width + 8, 8.0), np.arange(-8, height + 8, 8.0)), axis=-1)
    met = camera.meet(pixels.reshape(-1, 2))[:, :2].reshape(pixels.shape)
    scale = wall.shape[1] / (EXTENT[2] - EXTENT[0])
    at = (met * (scale, -scale) + (-0.5, EXTENT[3] * scale - 0.5)).astype(np.float32)
    fine = cv2.resize(at, (8 * at.shape[1], 8 * at.shape[0]), interpolation=cv2.INTER_LINEAR)[
        4 : 4 + height, 4 : 4 + width
    ]
    return cv2.remap(wall, np.ascontiguousarray(fine), None, cv2.INTER_LINEAR, borderValue=(128, 128, 128))


def ratio(ours: Callable[[], object], theirs: Callable[[], object], times: int = 5) -> float:
    """Least time of one over least time of the other, taken in turns so that a busy machine slows both."""
    spent: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for work, times_of in zip((ours, theirs), spent, strict=True):
            start = time.perf_counter()
            work()
            times_of.append(time.perf_counter() - start)
    return min(spent[0]) / min(spent[1])


if __name__ == "__main__":
    for row in elevation_ratio():
        print(*row, sep=" | ")
