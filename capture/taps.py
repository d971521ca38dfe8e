"""From the taps on a mark to its sights on true edges, photo by photo; the taps are kept beside them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import STOOL_PROUD
from capture.camera import Camera
from capture.record import TRAITS, At, Kind, Mark, Shape, Side, Sight
from capture.rectangles import PLATES, SIZES, Thing
from capture.snap import CORNERS, Snap, snap_rectangle
from capture.snap_line import snap_line

Array = NDArray[np.float64]
Gray = NDArray[np.uint8]
Pixel = tuple[float, float]

SNAPS = (*PLATES, *SIZES, Kind.CASING_EDGE, Kind.WALL_END, Kind.FLOOR_POINT)  # kinds whose edges can be seen
STEP_IN = 4.5  # in from a window's corner along its casing, so that the stretch looked at is all casing


@dataclass(frozen=True)
class Snapped:
    """What became of a mark's sights in one photo."""

    sights: tuple[Sight, ...]
    moved: float  # in on the wall: the farthest that a tapped place moved
    found: bool
    doubt: str


def snap_sights(gray: Gray, camera: Camera, mark: Mark, sights: Sequence[Sight]) -> Snapped:
    """Snap the sights of one mark in one photo.

    Parameters
    ----------
    gray, camera
        Upright luma of the photo, and its camera in the frame of the wall.
    mark
        The mark, for its kind and how proud it is.
    sights
        Its sights in this photo. A place that was snapped before is snapped anew from its tap.

    Returns
    -------
    Snapped
        Of a rectangle all four corners, with the tap beside those that were tapped. Where nothing convinced the taps
        stand as they were, and the doubt says so.
    """
    if TRAITS[mark.kind].shape is not Shape.RECTANGLE or mark.kind is Kind.WINDOW:
        snaps = [_one(gray, camera, mark, s.at, s.tap or (s.u, s.v)) for s in sights]
        new = [_sight(s, snap) for s, snap in zip(sights, snaps, strict=True)]
        found, doubt = any(s.places for s in snaps), _told(sights, snaps)
        return Snapped(tuple(new), _moved(camera, float(mark.proud), new), found, doubt)
    tapped = [s for s in sights if s.tap is not None] or list(sights)  # without the corners that snapping added
    taps = {s.at: s.tap or (s.u, s.v) for s in tapped}
    if not _enough(taps):
        return Snapped(tuple(sights), 0.0, False, "Tap its middle, or two opposite corners.")
    snap = snap_rectangle(gray, camera, Thing(mark.kind, float(mark.proud), mark.gangs), taps)
    new = _rectangle(tapped, snap)
    return Snapped(tuple(new), _moved(camera, float(mark.proud), new), bool(snap.places), snap.doubt)


def _told(sights: Sequence[Sight], snaps: Sequence[Snap]) -> str:
    """All doubts, each once; a window's with its place."""
    doubts = [
        snap.doubt if sight.at is At.POINT else f"{sight.at.capitalize()}: {snap.doubt}"
        for sight, snap in zip(sights, snaps, strict=True)
        if snap.doubt
    ]
    return " ".join(dict.fromkeys(doubts))


def _enough(taps: Mapping[At, Pixel]) -> bool:
    words = {word for at in taps for word in at.value.split()}
    return At.CENTRE in taps or words >= {"left", "right", "top", "bottom"}


def _rectangle(tapped: Sequence[Sight], snap: Snap) -> list[Sight]:
    """Four corners; a tap in the middle stays a sight too, moved to where they say the middle is."""
    if not snap.places:
        return [_sight(s, snap) for s in tapped]
    photo, by = tapped[0].photo, {s.at: s for s in tapped}
    corners = [
        _sight(by[at], snap) if at in by else Sight(photo=photo, u=u, v=v, sd=sd, at=at, doubt=snap.doubt)
        for at, (u, v, sd) in snap.places.items()
    ]
    if At.CENTRE not in by:
        return corners
    u, v = _middle_of(snap)
    return [_sight(by[At.CENTRE], Snap({At.CENTRE: (u, v, np.nan)}, doubt=snap.doubt)), *corners]


def _middle_of(snap: Snap) -> Pixel:
    """Where the diagonals of the four corners cross."""
    place = {at: np.array(snap.places[at][:2]) for at in CORNERS}
    down, up = ((At.TOP_LEFT, At.BOTTOM_RIGHT), (At.BOTTOM_LEFT, At.TOP_RIGHT))
    return crossing(*(np.array([place[a], place[b]]) for a, b in (down, up)))


def _sight(sight: Sight, snap: Snap) -> Sight:
    """The sight on the place that was found for it, or back on its tap."""
    tap = sight.tap or (sight.u, sight.v)
    if sight.at not in snap.places:
        return sight.model_copy(update={"u": tap[0], "v": tap[1], "tap": None, "sd": None, "doubt": snap.doubt})
    u, v, sd = snap.places[sight.at]  # an sd that is no number leaves the place its thumb's
    return sight.model_copy(
        update={"u": u, "v": v, "sd": sd if np.isfinite(sd) else None, "tap": tap, "doubt": snap.doubt}
    )


def _one(gray: Gray, camera: Camera, mark: Mark, at: At, tap: Pixel) -> Snap:
    """Snap a point of an edge, or a window's corner by the two edges that meet there."""
    proud = float(mark.proud)
    if at is At.POINT:
        upright = TRAITS[mark.kind].shape is Shape.UPRIGHT
        return snap_line(gray, camera, proud, tap, upright, _bare(mark))
    if at in (At.STOOL, At.APRON):
        found = snap_line(gray, camera, STOOL_PROUD if at is At.STOOL else proud, tap, False)
        return Snap(dict.fromkeys([at], found.places[At.POINT]) if found.places else {}, found.edges, found.doubt)
    if at is At.CENTRE:
        return Snap(doubt="A window is snapped by its corners, not by its middle.")
    return _window_corner(gray, camera, proud, at, tap)


def _bare(mark: Mark) -> Side | None:
    """On which side of an upright edge the bare wall lies."""
    other = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT, None: None}
    return other[mark.side]


def _window_corner(gray: Gray, camera: Camera, proud: float, at: At, tap: Pixel) -> Snap:
    """An upper corner by both edges of its casing; a lower one, on the stool, by the upright edge alone."""
    vertical, horizontal = at.value.split()
    xy = camera.meet(np.array([tap]), proud)[0]
    inward = np.array([STEP_IN if horizontal == "left" else -STEP_IN, STEP_IN if vertical == "bottom" else -STEP_IN])

    def look(step: Array, upright: bool, out: Side | None) -> Snap:
        u, v = camera.project((xy + step)[None])[0]
        return snap_line(gray, camera, proud, (float(u), float(v)), upright, out)

    side = look(np.array([0, inward[1], 0]), True, Side.LEFT if horizontal == "left" else Side.RIGHT)
    head = look(np.array([inward[0], 0, 0]), False, None) if vertical == "top" else Snap()
    edges = [*side.edges, *head.edges]
    if len(edges) < (2 if vertical == "top" else 1):
        return Snap(doubt=side.doubt or head.doubt)
    lines = [e.ends for e in edges]
    if vertical == "bottom":  # level with the tap
        lines.append(camera.project(np.array([xy, xy + np.array([1.0, 0.0, 0.0])])))
    u, v = crossing(*lines)
    # One sd has to do for both ways: where only the upright edge was found, the height is still the thumb's.
    sd = float(np.sqrt(2)) * max(e.sd for e in edges) if len(edges) == 2 else np.nan
    return Snap({at: (u, v, sd)}, tuple(edges), side.doubt or head.doubt)


def crossing(one: Array, other: Array) -> Pixel:
    """Where two lines cross, each through two pixels (2, 2): by homogeneous coordinates."""
    through = [np.cross(np.append(p[0], 1.0), np.append(p[1], 1.0)) for p in (one, other)]
    u, v, w = np.cross(through[0], through[1])
    return float(u / w), float(v / w)


def _moved(camera: Camera, proud: float, sights: Sequence[Sight]) -> float:
    """How far the farthest tapped place moved on the wall, in."""
    pairs = [((s.u, s.v), s.tap) for s in sights if s.tap is not None]
    if not pairs:
        return 0.0
    now, before = (camera.meet(np.array(p, float), proud) for p in zip(*pairs, strict=True))
    return float(np.linalg.norm(now - before, axis=1).max())
