"""The elevation picture: a photo of a wall redrawn square-on, to scale."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera

BAND = 256  # rows redrawn at a time, so that memory stays small whatever the size of the wall


@dataclass(frozen=True)
class Elevation:
    """A wall to scale: row 0 is at the top, and the picture's left top corner lies at (`left`, `top`)."""

    rgb: NDArray[np.uint8]  # (height, width, 3)
    seen: NDArray[np.bool_]  # (height, width): where the photo looked at all
    px_per_inch: float
    left: float  # wall inches
    top: float
    finest: float  # px per inch that the photo itself gives where it is coarsest, inside the wall


def elevation(
    rgb: NDArray[np.uint8], camera: Camera, extent: tuple[float, float, float, float], px_per_inch: float
) -> Elevation:
    """Redraw a wall square-on through the solved camera.

    Parameters
    ----------
    rgb : (height, width, 3)
        The upright photo.
    camera
        Solved, in the frame of this wall.
    extent
        Left, bottom, right, top of what to show, wall inches; everything is taken as lying in the wall, so what
        stands proud of it leans away from the camera's foot.
    px_per_inch
        Scale of the picture; it is lowered to what the photo can give, since detail is never invented.
    """
    left, bottom, right, top = extent
    finest = resolution(camera, extent)
    scale = min(px_per_inch, finest * 1.25)
    width, height = max(2, round((right - left) * scale)), max(2, round((top - bottom) * scale))
    picture = np.full((height, width, 3), 255, np.uint8)
    seen = np.zeros((height, width), bool)
    x = left + (np.arange(width) + 0.5) / scale
    for first in range(0, height, BAND):
        y = top - (np.arange(first, min(first + BAND, height)) + 0.5) / scale
        points = np.stack([*np.meshgrid(x, y), np.zeros((len(y), width))], axis=-1).reshape(-1, 3)
        looked = camera.sees(points).reshape(len(y), width)
        at = camera.project(points).reshape(len(y), width, 2).astype(np.float32)
        band = cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        picture[first : first + len(y)][looked] = band[looked]
        seen[first : first + len(y)] = looked
    return Elevation(picture, seen, scale, left, top, finest)


def resolution(camera: Camera, extent: tuple[float, float, float, float]) -> float:
    """Pixels per inch that the photo gives on the wall where it is coarsest (median over the rim that it sees)."""
    left, bottom, right, top = extent
    x, y = np.meshgrid(np.linspace(left, right, 9), np.linspace(bottom, top, 9))
    points = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    points = points[camera.sees(points)]
    if not len(points):
        return 1.0
    step = 0.1
    here = camera.project(points)
    across = np.linalg.norm(camera.project(points + np.array([step, 0, 0])) - here, axis=1) / step
    up = np.linalg.norm(camera.project(points + np.array([0, step, 0])) - here, axis=1) / step
    return float(np.percentile(np.minimum(across, up), 10))
