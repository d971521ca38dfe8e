"""The camera model: wall inches to pixels and back, with exact derivatives.

Pinhole with two radial terms, as OpenCV and Zhang (2000, section 3.3) have it:

    X_c = R X + t,  (x, y) = (X_c / Z_c, Y_c / Z_c),  r² = x² + y²,  d = 1 + k1 r² + k2 r⁴,
    u = f d x + cx,  v = f d y + cy.

Frames: wall (in; x right, y up, z out of the wall into the room), camera (in; x right, y down, z forward),
image (px; the centre of the first pixel at (0, 0), of the photo as stored upright).
"""

from dataclasses import dataclass
from typing import Self

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LENS = 5  # f, cx, cy, k1, k2
POSE = 6  # Rodrigues vector, translation


def rotation(rvec: Array) -> tuple[Array, Array]:
    """Rotation matrix (3, 3) of a Rodrigues vector, and its derivative (3, 3, 3): d R[i, j] / d rvec[k]."""
    matrix, jacobian = cv2.Rodrigues(np.asarray(rvec, dtype=float).reshape(3, 1))
    return np.asarray(matrix, float), np.asarray(jacobian, float).reshape(3, 3, 3).transpose(1, 2, 0)


def project_with_derivatives(lens: Array, pose: Array, points: Array) -> tuple[Array, Array, Array, Array]:
    """Project wall points, with derivatives.

    Parameters
    ----------
    lens : (5,) f, cx, cy [px], k1, k2
    pose : (6,) Rodrigues vector and translation [in], wall to camera
    points : (N, 3) wall points [in]

    Returns
    -------
    pixels : (N, 2)
    d_lens : (N, 2, 5)
    d_pose : (N, 2, 6)
    d_points : (N, 2, 3)
        Points behind the camera give meaningless pixels; `Camera.sees` tells.
    """
    f, cx, cy, k1, k2 = lens
    R, dR = rotation(pose[:3])
    Xc = points @ R.T + pose[3:]
    iz = 1.0 / Xc[:, 2]
    xy = Xc[:, :2] * iz[:, None]
    r2 = np.einsum("ni,ni->n", xy, xy)
    d = 1.0 + r2 * (k1 + r2 * k2)
    pixels = f * d[:, None] * xy + (cx, cy)

    n = len(points)
    d_lens = np.zeros((n, 2, LENS))
    d_lens[:, :, 0] = d[:, None] * xy
    d_lens[:, 0, 1] = d_lens[:, 1, 2] = 1.0
    d_lens[:, :, 3] = f * r2[:, None] * xy
    d_lens[:, :, 4] = f * (r2 * r2)[:, None] * xy

    slope = 2.0 * (k1 + 2.0 * k2 * r2)  # d d / d r², times 2 for r² = x² + y²
    d_xy = f * (d[:, None, None] * np.eye(2) + slope[:, None, None] * xy[:, :, None] * xy[:, None, :])
    d_Xc = np.empty((n, 2, 3))
    d_Xc[:, :, :2] = d_xy * iz[:, None, None]
    d_Xc[:, :, 2] = -np.einsum("nij,nj->ni", d_xy, xy) * iz[:, None]

    d_pose = np.empty((n, 2, POSE))
    d_pose[:, :, :3] = np.einsum("nci,ijk,nj->nck", d_Xc, dR, points)
    d_pose[:, :, 3:] = d_Xc
    return pixels, d_lens, d_pose, d_Xc @ R


def project(lens: Array, pose: Array, points: Array) -> Array:
    """Pixels (N, 2) of wall points (N, 3), without the derivatives: for pictures, where points are millions."""
    f, cx, cy, k1, k2 = lens
    Xc = points @ rotation(pose[:3])[0].T + pose[3:]
    xy = Xc[:, :2] / Xc[:, 2:]
    r2 = np.einsum("ni,ni->n", xy, xy)
    return np.asarray((f * (1.0 + r2 * (k1 + r2 * k2)))[:, None] * xy + (cx, cy))


def project_grid(lens: Array, pose: Array, x: Array, y: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Pixels (R, C, 2) of the wall's points at z = 0 at all of x (C,) and y (R,), and which are faced (R, C).

    As `project` and `Camera.faces` have it, but many times faster: what depends on x or y alone is worked out once.
    """
    f, cx, cy, k1, k2 = lens
    R = rotation(pose[:3])[0]
    X, Y, Z = (np.add.outer(row[1] * y + shift, row[0] * x) for row, shift in zip(R, pose[3:], strict=True))
    with np.errstate(all="ignore"):
        X, Y = X / Z, Y / Z
        r2 = X * X + Y * Y
        bent = f * (1.0 + r2 * (k1 + r2 * k2))
        return np.stack([bent * X + cx, bent * Y + cy], axis=-1), (Z > 1.0) & (r2 < fold(lens))


def undistort(lens: Array, pixels: Array) -> Array:
    """Ideal image coordinates (N, 2), x/z and y/z in the camera frame, of pixels (N, 2): Newton on the radius."""
    f, cx, cy, k1, k2 = lens
    distorted = (np.asarray(pixels, float) - (cx, cy)) / f
    rd = np.hypot(distorted[:, 0], distorted[:, 1])
    r = rd.copy()
    for _ in range(20):
        r2 = r * r
        step = (r * (1 + r2 * (k1 + r2 * k2)) - rd) / (1 + r2 * (3 * k1 + 5 * r2 * k2))
        r -= step
        if np.all(np.abs(step) < 1e-14 * (1 + rd)):
            break
    shrink = np.divide(r, rd, out=np.ones_like(r), where=rd > 0)
    return np.asarray(distorted * shrink[:, None])


def meet_plane(lens: Array, pose: Array, pixels: Array, z: Array | float = 0.0) -> Array:
    """Where the viewing rays of pixels (N, 2) meet the plane at height z [in]: wall points (N, 3)."""
    R, _ = rotation(pose[:3])
    rays = np.column_stack([undistort(lens, pixels), np.ones(len(pixels))]) @ R  # camera to wall: Rᵀ ray
    centre = -R.T @ pose[3:]
    along = (np.broadcast_to(np.asarray(z, float), (len(rays),)) - centre[2]) / rays[:, 2]
    return np.asarray(centre + along[:, None] * rays)


def fold(lens: Array) -> float:
    """The squared ideal radius at which the radial terms turn back: beyond it a lens (5,) would draw things twice.

    Where the derivative of r d is 0, so 1 + 3 k1 r² + 5 k2 r⁴ = 0; infinite where it never is.
    """
    _, _, _, k1, k2 = lens
    inner = 9 * k1 * k1 - 20 * k2
    down = -3 * k1 + np.sqrt(inner) if inner >= 0 else 0.0
    return float(2 / down) if down > 1e-9 else np.inf  # no view reaches as far as 2e9


@dataclass(frozen=True)
class Camera:
    """One solved camera, in the frame of one wall."""

    size: tuple[int, int]  # width, height of the upright photo, px
    lens: Array  # (5,)
    pose: Array  # (6,)

    @classmethod
    def from_matrix(cls, size: tuple[int, int], lens: Array, R: Array, t: Array) -> Self:
        """A camera from a rotation matrix (3, 3) and a translation (3,)."""
        rvec = np.asarray(cv2.Rodrigues(np.asarray(R, float))[0], float).ravel()
        return cls(size, np.asarray(lens, float), np.concatenate([rvec, np.asarray(t, float).ravel()]))

    @property
    def R(self) -> Array:
        """Rotation, wall to camera (3, 3)."""
        return rotation(self.pose[:3])[0]

    @property
    def centre(self) -> Array:
        """Where the camera stood, wall inches (3,)."""
        return np.asarray(-self.R.T @ self.pose[3:])

    def project(self, points: Array) -> Array:
        """Pixels (N, 2) of wall points (N, 3) in inches."""
        return project(self.lens, self.pose, np.asarray(points, float))

    def meet(self, pixels: Array, z: Array | float = 0.0) -> Array:
        """Wall points (N, 3) where the rays of pixels (N, 2) meet the plane z inches off the wall."""
        return meet_plane(self.lens, self.pose, np.asarray(pixels, float), z)

    def faces(self, points: Array) -> NDArray[np.bool_]:
        """Which wall points (N, 3) lie before the camera, and not so far aside that the lens terms fold them in."""
        Xc = np.asarray(points, float) @ self.R.T + self.pose[3:]
        with np.errstate(all="ignore"):
            r2 = np.einsum("ni,ni->n", Xc[:, :2], Xc[:, :2]) / Xc[:, 2] ** 2
        return np.asarray((Xc[:, 2] > 1.0) & (r2 < fold(self.lens)))

    def sees(self, points: Array) -> NDArray[np.bool_]:
        """Which wall points (N, 3) lie in front of the camera and inside the picture."""
        with np.errstate(all="ignore"):
            pixels = self.project(points)
        inside = np.all((pixels >= -0.5) & (pixels <= np.array(self.size) - 0.5), axis=1)
        return np.asarray(self.faces(points) & inside)
