"""A tap on one straight edge made exact: the side of a casing, a wall's end, the floor line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera
from capture.edges import Line, Plane, patch, trace, turned
from capture.record import At, Side
from capture.rectangles import NEAR, THUMB, Slopes
from capture.snap import RIM_SD, WEAK, Edge, Snap, ends_of, shifted

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]

STRETCH = 4.0  # in each way along an edge that is looked at
LEAST_STRETCH = 1.5


@dataclass(frozen=True)
class Streak:
    """A steep line near a tap: how far from it across, in; its turn, and how convincing it is."""

    across: float
    turn: float
    sign: int  # 1 where it is lighter to the left, or below
    score: float
    noise: float


def snap_line(
    gray: Gray, camera: Camera, proud: float, tap: tuple[float, float], upright: bool, out: Side | None = None
) -> Snap:
    """Find the straight edge nearest a tap: one that runs up the wall, or across it.

    Parameters
    ----------
    gray, camera
        The upright luma, and its camera in the frame of the wall.
    proud
        How far off the wall the edge lies, in.
    tap
        Pixel, good to `THUMB` on the wall.
    upright
        Whether the edge runs up the wall.
    out
        On which side of the edge the bare wall lies, where that is known.

    Returns
    -------
    Snap
        `At.POINT`: the point of the edge level with the tap (or above or below it).
    """
    plane = Plane(gray, camera, proud)
    pivot = plane.meet(np.array([tap]))[0]
    half = _stretch(plane, pivot, upright)
    streaks = sorted(_streaks(plane, pivot, half, upright), key=lambda s: -s.score) if half >= LEAST_STRETCH else []
    if not streaks or streaks[0].score < 0.5:
        return Snap(doubt="No straight edge shows here clearly enough, so the tap stays as it is.")
    best = _settled(streaks, plane, pivot, out if upright else None)
    if best is None:
        return Snap(doubt="Two edges lie within a thumb's reach of this tap, so it stays as it is; tap nearer.")
    traced = trace(plane, _line(best, pivot, 0.9 * half, upright), best.sign, best.noise)
    if traced is None or traced.strength < WEAK or traced.unbroken < 0.6:
        return Snap(doubt="The edge here is too weak or too crooked to trace, so the tap stays as it is.")
    traced = shifted(traced, 0.0, RIM_SD)
    t = (pivot - traced.line.point) @ traced.line.along
    u, v = plane.pixels((traced.line.point + t * traced.line.along)[None])[0]
    sd = traced.sd * traced.per_inch
    edge = Edge("edge", ends_of(traced.line, plane), sd, traced.strength, traced.unbroken)
    return Snap({At.POINT: (float(u), float(v), sd)}, (edge,))


def _stretch(plane: Plane, pivot: Array, upright: bool) -> float:
    """How far each way along the edge the photo shows, in, up to `STRETCH`."""
    along = np.eye(2)[1 if upright else 0]
    for half in np.arange(STRETCH, 0.0, -0.5):
        ends = np.array([pivot - half * along, pivot + half * along])
        if plane.camera.sees(np.column_stack([ends, np.full(2, plane.z)])).all():
            return float(half)
    return 0.0


def _streaks(plane: Plane, pivot: Array, half: float, upright: bool) -> list[Streak]:
    reach = np.array([THUMB + 0.6, half] if upright else [half, THUMB + 0.6])
    found = []
    for turn in np.radians(np.arange(-2.0, 2.1, 0.5)):
        look = patch(plane, pivot, turn, np.concatenate([-reach, reach]))
        for sign in (1, -1):
            slopes = -sign * look.slopes[0 if upright else 1]
            lines = Slopes(slopes, look.low[::-1] if upright else look.low, look.step)
            across = lines.candidates(np.array([-1, 1]) * (THUMB + 0.05), -0.9 * half, 0.9 * half, 6)
            strength, unbroken, _ = lines.side(across, np.full(across.shape, -half), np.full(across.shape, half))
            score = unbroken * strength / (strength + 3.0)
            found += [Streak(float(a), turn, sign, float(s), look.noise) for a, s in zip(across, score, strict=True)]
    return found


def _settled(streaks: list[Streak], plane: Plane, pivot: Array, out: Side | None) -> Streak | None:
    """The streak that is meant; None where another is nearly as good."""
    best = streaks[0]
    rivals = [s for s in streaks[1:] if abs(s.across - best.across) > NEAR and s.score > best.score - 0.25]
    if out is None or not rivals:
        return None if rivals else best
    hand = 1.0 if out is Side.RIGHT else -1.0
    wide = hand * float(plane.camera.centre[0] - pivot[0]) * plane.z / float(plane.camera.centre[2])
    pair = [best, rivals[0]]
    inner, outer = sorted(pair, key=lambda s: hand * s.across)
    apart = abs(inner.across - outer.across)
    others = [r for r in rivals if min(abs(r.across - p.across) for p in pair) > NEAR]
    if wide > NEAR and abs(apart - wide) < 0.3 * wide + 0.03 and not others:
        return inner  # rim and foot of a side in view
    return None


def _line(streak: Streak, pivot: Array, half: float, upright: bool) -> Line:
    axes = turned(streak.turn)
    along, out = (axes[:, 1], axes[:, 0]) if upright else (axes[:, 0], axes[:, 1])
    return Line(pivot + streak.across * out, along, out, half)
