"""Where wall inches fall in a picture: through a solved camera, or straight on in a rectified elevation.

Frames: wall (in; x right, y up, z out of the wall), image (px; the centre of the first pixel at (0, 0)).
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from capture.camera import Array, Camera, undistort
from layout.plan import WallPlan

STEP = 3.0  # wall inches between samples of an edge, so that lens distortion bends it


class View(Protocol):
    """What a drawing on a picture needs to know."""

    @property
    def eye(self) -> Array:
        """Where it is seen from, wall inches (3,)."""
        ...

    def pixels(self, points: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Pixels (N, 2) of wall points (N, 3), and which of them can be trusted."""
        ...

    def meets(self, pixels: Array) -> Array:
        """The rays of pixels (N, 2): x and y where they meet the wall, and how both change per inch off it (N, 4)."""
        ...


@dataclass(frozen=True)
class CameraView:
    """The view of a solved camera."""

    camera: Camera

    @classmethod
    def scaled(cls, camera: Camera, factor: float) -> "CameraView":
        """The same view in a picture `factor` times as large; pixel centres are at whole numbers in both."""
        f, cx, cy, k1, k2 = camera.lens
        lens = np.array([f * factor, (cx + 0.5) * factor - 0.5, (cy + 0.5) * factor - 0.5, k1, k2])
        size = (round(camera.size[0] * factor), round(camera.size[1] * factor))
        return cls(Camera(size, lens, camera.pose))

    @property
    def eye(self) -> Array:
        """Where the camera stood."""
        return self.camera.centre

    def pixels(self, points: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Pixels of wall points; not to be trusted behind the camera or where the lens model folds back."""
        points = np.asarray(points, float)
        seen = points @ self.camera.R.T + self.camera.pose[3:]
        good = seen[:, 2] > 1.0
        with np.errstate(all="ignore"):
            r2 = (seen[:, 0] ** 2 + seen[:, 1] ** 2) / seen[:, 2] ** 2
            pixels = self.camera.project(points)
        k1, k2 = self.camera.lens[3:]
        # d(r·d)/dr = 1 + 3 k1 r² + 5 k2 r⁴ must stay positive from the middle outward, or rays cross.
        turns = [root.real for root in np.roots([5 * k2, 3 * k1, 1.0]) if abs(root.imag) < 1e-12 and root.real > 0]
        return pixels, good & (r2 < min(turns, default=np.inf)) & np.isfinite(pixels).all(axis=1)

    def meets(self, pixels: Array) -> Array:
        """The rays of pixels; far off the wall for those that leave it."""
        R, centre = self.camera.R, self.camera.centre
        rays = np.column_stack([undistort(self.camera.lens, pixels), np.ones(len(pixels))]) @ R
        slope = rays[:, :2] / np.minimum(rays[:, 2:], -1e-3)
        return np.column_stack([centre[:2] - slope * centre[2], slope])


@dataclass(frozen=True)
class FlatView:
    """A rectified elevation: the wall seen straight on, everything at one scale."""

    px_per_inch: float
    left: float  # wall inches at the left edge of the first pixel
    top: float  # wall inches at the upper edge of the first pixel

    @property
    def eye(self) -> Array:
        """Straight in front and very far away, a little above: so that no side of a member shows."""
        return np.array([0.0, 0.0, np.inf])

    def pixels(self, points: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Pixels of wall points; how proud they stand makes no difference."""
        points = np.asarray(points, float)
        u = (points[:, 0] - self.left) * self.px_per_inch - 0.5
        v = (self.top - points[:, 1]) * self.px_per_inch - 0.5
        return np.column_stack([u, v]), np.ones(len(points), bool)

    def meets(self, pixels: Array) -> Array:
        """The rays of pixels: all straight at the wall."""
        x = (pixels[:, 0] + 0.5) / self.px_per_inch + self.left
        y = self.top - (pixels[:, 1] + 0.5) / self.px_per_inch
        return np.column_stack([x, y, np.zeros((len(pixels), 2))])


def edges(corners: Array) -> Array:
    """Points (N, 3) round a polygon of wall corners (K, 3), no more than `STEP` inches apart, not closed."""
    corners = np.asarray(corners, float)
    parts = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(1, int(np.ceil(np.linalg.norm(end - start) / STEP)))
        parts.append(start + (end - start) * (np.arange(count) / count)[:, None])
    return np.concatenate(parts)


def framed_in(camera: Camera, plan: WallPlan) -> float:
    """How much of the planned frames a photo shows, times their length, inches: the longest wall counts most."""
    total = 0.0
    for frame in plan.frames:
        x = np.linspace(float(frame.rect.left), float(frame.rect.right), 25)
        for y in (float(frame.rect.bottom), float(frame.rect.top)):
            points = np.column_stack([x, np.full(25, y), np.zeros(25)])
            total += float(camera.sees(points).mean() * (x[-1] - x[0]))
    return total
