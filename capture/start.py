"""Start values without any hint: where each camera stood and where each card hangs, good enough to converge.

A flat card seen at a slant has two poses that look nearly alike (Collins & Bartoli 2014, IPPE). A wall with
several cards decides: in the true one, the other cards come out as flat, rigid cards of the right size.
A card that no pose of the wall explains does not hang on this wall.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.camera import undistort
from capture.detect import CardSighting

Array = NDArray[np.float64]

FITS = 0.35  # in RMS: a card that hangs on the wall fits it within this though the lens is still rough
APART = np.radians(2.0)  # poses whose walls lean less than this from each other are one and the same


@dataclass(frozen=True)
class Stand:
    """A first pose of a camera, and the places of the cards that it explains."""

    pose: Array  # (6,) wall to camera
    places: dict[int, Array]  # number: x, y [in], angle [rad]
    strangers: tuple[int, ...]  # cards that do not lie in this wall
    miss: float  # in RMS over the cards it explains
    lens: Array  # (5,) the lens by which it explains them


def first_stand(sightings: tuple[CardSighting, ...], lens: Array, datum: int) -> Stand:
    """The best first pose for one photo, in the frame of card `datum`.

    Parameters
    ----------
    sightings
        At least one card.
    lens : (5,) px
    datum
        Number of the card whose middle is the origin and whose up is up, if this photo's wall holds it.

    Returns
    -------
    Stand
        The pose that explains most cards, perhaps none; among those, the one that fits best. Where two or more other
        cards lie in another wall, the wall that the camera faces counts for more.
    """
    stands = _judged([pose for card in sightings for pose in _poses(card, lens)], sightings, lens)
    best = max(stands, key=_explains)
    if not best.places:
        return best  # no card is even like itself: torn, bent, or seen through a lens unlike any
    others = [s for s in stands if len(s.places) >= 2 and not set(s.places) & set(best.places)]
    if others:
        best = max((best, max(others, key=_explains)), key=lambda s: len(s.places) * _facing(s))
    return moved(best, best.places[datum if datum in best.places else min(best.places)])


def _explains(stand: Stand) -> tuple[int, float]:
    return len(stand.places), -stand.miss


def _facing(stand: Stand) -> float:
    """How squarely the camera looks at the wall: the cosine between its axis and the wall's normal."""
    return abs(float(cv2.Rodrigues(stand.pose[:3])[0][2, 2]))


def joined_stand(sightings: tuple[CardSighting, ...], lens: Array, known: dict[int, Array]) -> Stand | None:
    """A first pose in the frame of cards whose places are known, or None where the photo shares none of them."""
    shared = [s for s in sightings if s.number in known]
    if not shared:
        return None
    by = [(card.number, pose) for card in shared for pose in _poses(card, lens)]
    stands = [
        moved(stand, stand.places[number], known[number])
        for (number, _), stand in zip(by, _judged([pose for _, pose in by], sightings, lens), strict=True)
        if number in stand.places
    ]
    if not stands:
        return None
    return min(stands, key=lambda s: _disagreement(s, known))


def _disagreement(stand: Stand, known: dict[int, Array]) -> float:
    apart = [
        np.hypot(*(stand.places[n] - known[n])[:2]) if n in stand.places else 20.0
        for n in known
        if n in stand.places or n in stand.strangers
    ]
    return float(np.mean(apart)) + stand.miss


def _poses(card: CardSighting, lens: Array) -> list[Array]:
    """Both poses of a single card, each (6,), card frame to camera."""
    K = np.array([[lens[0], 0, lens[1]], [0, lens[0], lens[2]], [0, 0, 1]])
    nominal = cards.saddle_points()[card.which]
    flat = np.column_stack([nominal, np.zeros(len(nominal))])
    distortion = np.array([lens[3], lens[4], 0.0, 0.0])
    _, rvecs, tvecs, _ = cv2.solvePnPGeneric(flat, card.points, K, distortion, flags=cv2.SOLVEPNP_IPPE)
    return [np.concatenate([np.ravel(r), np.ravel(t)]) for r, t in zip(rvecs, tvecs, strict=True) if np.ravel(t)[2] > 0]


def other_way(stand: Stand, sightings: tuple[CardSighting, ...]) -> Stand | None:
    """The same cards in the other of the two poses that a flat thing has, or None where they fit no other."""
    mine = [card for card in sightings if card.number in stand.places]
    poses = [pose for card in mine for pose in _poses(card, stand.lens) if lean(pose, stand.pose) > APART]
    others = [s for s in _judged(poses, tuple(mine), stand.lens) if not s.strangers]
    if not others:
        return None
    best, held = min(others, key=lambda s: s.miss), min(stand.places)
    return replace(moved(best, best.places[held], stand.places[held]), strangers=stand.strangers)


def lean(a: Array, b: Array) -> float:
    """Angle between the walls of two poses, each (6,), as the camera sees them, rad."""
    one, other = (np.asarray(cv2.Rodrigues(pose[:3])[0], float)[:, 2] for pose in (a, b))
    return float(np.arccos(np.clip(one @ other, -1.0, 1.0)))


def judge(pose: Array, sightings: tuple[CardSighting, ...], lens: Array, fits: float = FITS) -> Stand:
    """Lay every card into the plane of a pose, and tell which lie in it to within `fits`, in RMS."""
    return _judged([pose], sightings, lens, fits)[0]


def _judged(
    poses: Sequence[Array], sightings: tuple[CardSighting, ...], lens: Array, fits: float = FITS
) -> list[Stand]:
    return [
        _stand(pose, sightings, lens, places, misses, fits)
        for pose, places, misses in zip(poses, *lay(sightings, lens, np.reshape(poses, (-1, 6))), strict=True)
    ]


def _stand(
    pose: Array, sightings: tuple[CardSighting, ...], lens: Array, places: Array, misses: Array, fits: float
) -> Stand:
    lies = misses <= fits
    held = {card.number: place for card, place, fit in zip(sightings, places, lies, strict=True) if fit}
    strangers = tuple(card.number for card, fit in zip(sightings, lies, strict=True) if not fit)
    miss = float(np.sqrt(np.sum(misses[lies] ** 2) / max(len(held), 1)))
    return Stand(pose, held, strangers, miss, lens)


def lay(sightings: tuple[CardSighting, ...], lens: Array, poses: Array) -> tuple[Array, Array]:
    """Where each card lies in the plane of each of `poses` (P, 6) as a rigid card, and how badly it fits.

    Returns
    -------
    places : (P, K, 3) x, y [in], angle [rad]
    misses : (P, K) in RMS; infinite where the camera would stand behind the wall

    Notes
    -----
    Rigid motion in the plane by complex numbers: angle = arg Σ conj(a) b over centred points.
    """
    counts = np.array([len(card.which) for card in sightings])
    first, whose = np.cumsum(counts) - counts, np.repeat(np.arange(len(counts)), counts)
    nominal = cards.saddle_points()[np.concatenate([card.which for card in sightings])] @ [1, 1j]
    pixels = np.concatenate([card.points for card in sightings])
    rays = np.column_stack([undistort(lens, pixels), np.ones(len(pixels))])
    R = np.array([cv2.Rodrigues(pose[:3])[0] for pose in poses]).reshape(-1, 3, 3)
    centres, rays = -np.einsum("pji,pj->pi", R, poses[:, 3:]), rays @ R  # camera to wall: Rᵀ ray
    with np.errstate(all="ignore"):  # a ray along the wall meets it nowhere
        met = centres[:, None, :2] - (centres[:, 2:] / rays[..., 2])[..., None] * rays[..., :2]
    seen = met @ [1, 1j]
    middles = [np.add.reduceat(points, first, axis=-1) / counts for points in (nominal, seen)]
    a, b = nominal - middles[0][whose], seen - middles[1][:, whose]
    turns = np.exp(1j * np.angle(np.add.reduceat(a.conj() * b, first, axis=-1)))
    at = middles[1] - turns * middles[0]
    misses = np.sqrt(np.add.reduceat(np.abs(turns[:, whose] * a - b) ** 2, first, axis=-1) / counts)
    misses[~np.isfinite(misses) | (centres[:, 2:] < 0)] = np.inf  # the camera must stand in the room
    return np.stack([at.real, at.imag, np.angle(turns)], axis=-1), misses


def moved(stand: Stand, old: Array, new: Array | None = None) -> Stand:
    """The same stand in another frame: what lies at `old` (x, y, angle) shall lie at `new`, or at the origin."""
    new = np.zeros(3) if new is None else new
    turn = new[2] - old[2]
    c, s = np.cos(turn), np.sin(turn)
    T = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    shift = np.array([*new[:2], 0]) - T @ np.array([*old[:2], 0])
    R = np.asarray(cv2.Rodrigues(stand.pose[:3])[0], float) @ T.T
    pose = np.concatenate([np.ravel(cv2.Rodrigues(R)[0]), stand.pose[3:] - R @ shift])
    places = {n: np.array([*(T[:2, :2] @ p[:2] + shift[:2]), p[2] + turn]) for n, p in stand.places.items()}
    return replace(stand, pose=pose, places=places)
