"""Two walls that meet: the turn between their frames, and one camera that sees both.

Where wall A's right end meets wall B's left end, a point of B's frame lies in A's frame at

    X_A = R(ω) X_B + t,

ω a Rodrigues vector close to a turn about the upright axis, t close to A's right end. The two walls need not be plumb
nor square, and their floors need not be level with each other.
"""

from dataclasses import dataclass
from math import radians

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.beliefs import CORNER_LEAN_SD, CORNER_PLACE_SD, CORNER_STEP_SD, CORNER_TURN_SD
from capture.camera import rotation
from capture.record import EndKind

Array = NDArray[np.float64]

CORNER = 6  # unknowns: ω, t
# Turn of the next wall's face, degrees, seen from above and counted as the Rodrigues vector about y (up) is.
TURNS = {EndKind.INSIDE_CORNER: -90.0, EndKind.OUTSIDE_CORNER: 90.0, EndKind.BULLNOSE: 90.0}
TIE_SD = 0.01  # in: both routes to a camera agree far closer than any corner is known, and still solve well
# Four points of wall B by which its camera is tied to that of wall A; no three in a row, not all in a plane.
_TIED = np.array([(0.0, 0.0, 0.0), (40.0, 0.0, 0.0), (0.0, 40.0, 0.0), (0.0, 0.0, 40.0)])


@dataclass(frozen=True)
class CornerBelief:
    """What is known of a corner before anything is seen; t without A's right end."""

    mean: Array  # (6,)
    sd: Array  # (6,)


def corner_belief(left_of_it: EndKind, right_of_it: EndKind, radius: float | None) -> CornerBelief | None:
    """The corner between a wall that ends in the one kind and a wall that begins in the other; None for no corner.

    Parameters
    ----------
    left_of_it, right_of_it
        Right end of the first wall, left end of the next.
    radius
        Of a bullnose, inches; its flats stop that far from where the faces would meet.
    """
    turn = TURNS.get(left_of_it)
    if turn is None or TURNS.get(right_of_it) != turn:
        return None
    round_off = (radius if radius is not None else 0.75) if EndKind.BULLNOSE in (left_of_it, right_of_it) else 0.0
    mean = np.array([0.0, radians(turn), 0.0, round_off, 0.0, -round_off])
    loose = CORNER_PLACE_SD if radius is not None or not round_off else round_off
    lean, about = CORNER_LEAN_SD, CORNER_TURN_SD
    return CornerBelief(mean, np.array([lean, about, lean, loose, CORNER_STEP_SD, loose]))


def tie(corner: Array, pose_a: Array, pose_b: Array) -> tuple[Array, Array, Array, Array]:
    """How far one camera, as known in both walls' frames, disagrees with itself, over `TIE_SD`.

    Parameters
    ----------
    corner : (6,) ω, t
    pose_a, pose_b : (6,) wall to camera

    Returns
    -------
    v : (12,)
    d_corner, d_a, d_b : (12, 6) each
    """
    R, dR = rotation(corner[:3])
    Ra, dRa = rotation(pose_a[:3])
    Rb, dRb = rotation(pose_b[:3])
    in_a = _TIED @ R.T + corner[3:]
    v = in_a @ Ra.T + pose_a[3:] - (_TIED @ Rb.T + pose_b[3:])
    d_corner, d_a, d_b = (np.zeros((len(_TIED), 3, 6)) for _ in range(3))
    d_corner[:, :, :3] = np.einsum("ci,ijk,nj->nck", Ra, dR, _TIED)
    d_corner[:, :, 3:] = Ra
    d_a[:, :, :3] = np.einsum("ijk,nj->nik", dRa, in_a)
    d_a[:, :, 3:] = np.eye(3)
    d_b[:, :, :3] = -np.einsum("ijk,nj->nik", dRb, _TIED)
    d_b[:, :, 3:] = -np.eye(3)
    by_corner, by_a, by_b = (d.reshape(-1, 6) / TIE_SD for d in (d_corner, d_a, d_b))
    return v.ravel() / TIE_SD, by_corner, by_a, by_b


def across(corner: Array, pose: Array, *, backward: bool = False) -> Array:
    """The pose (6,) in wall A's frame of a camera whose pose in wall B's is known; `backward`, from A's to B's."""
    R, t = rotation(corner[:3])[0], corner[3:]
    R, t = (R, t) if backward else (R.T, -R.T @ t)  # X_old = R X_new + t
    old = rotation(pose[:3])[0]
    return np.concatenate([np.ravel(cv2.Rodrigues(old @ R)[0]), old @ t + pose[3:]])
