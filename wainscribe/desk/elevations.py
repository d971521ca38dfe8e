"""A wall seen straight on, kept until what it is made from changes, and the way from a place on it to a photo and back.

A place on it is in wall inches as the picture shows it: where the viewing ray meets the plane of the wall, however
proud the thing stands that is seen there.
"""

import hashlib
import json
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera
from capture.record import At, Kind, Mark, Sight
from capture.rectify import resolution
from report.pictures import size_of
from wainscribe.actions import ActionError, SolvedWall, find_photo
from wainscribe.desk import pictures
from wainscribe.folder import JobFolder
from wainscribe.seen import in_colour, look_at, search_photo
from wainscribe.straight_on import SCALE, straight_on

Array = NDArray[np.float64]

STEADY = 16.0  # px of a photo: by so much a camera may move before the picture is drawn anew
WIDTH = 3000  # px
SAME = 0.06  # px: what the page's rounding may move
RECKONED = 200.0  # px: the sd of a sight that was reckoned from another photo, and so weighs nothing beside it


def elevation_of(folder: JobFolder, solved: SolvedWall) -> tuple[bytes, dict[str, Any]]:
    """The picture as JPEG, and what it is: scale, left top corner in wall inches, size, what it is made of.

    Raises
    ------
    ActionError
        No photo of the wall is solved.
    """
    name = f"elevation-{_made_from(folder, solved)}"
    picture = pictures.kept(folder, f"{name}.jpg", lambda: _draw(folder, solved, name))
    about = json.loads(pictures.kept(folder, f"{name}.json", lambda: _told_anew(folder, solved, name)))
    return picture, {**about, "made": name}


def _draw(folder: JobFolder, solved: SolvedWall, name: str) -> bytes:
    shots = _own_shots(solved)
    photos = [find_photo(solved.wall, shot) for shot in shots]
    drawn = straight_on(solved, in_colour(photos, partial(look_at, folder)))
    if drawn is None:
        raise ActionError(f"No photo of “{solved.wall.name}” is solved yet; take one that shows a card.")
    data = pictures.clean_jpeg(drawn.source, WIDTH)
    width, height = size_of(drawn.source)
    factor = min(1.0, WIDTH / width)
    about = {
        "px_per_inch": drawn.px_per_inch * factor,
        "left": drawn.left,
        "top": drawn.top,
        "width": round(width * factor),
        "height": round(height * factor),
        "note": drawn.note,
        "cameras": {shot: _plain(solved.measured.solution.camera(shot)) for shot in shots},
    }
    pictures.keep(folder, f"{name}.json", json.dumps(about).encode())
    return data


def _told_anew(folder: JobFolder, solved: SolvedWall, name: str) -> bytes:
    """What the picture is, where only that was lost: both are made again."""
    pictures.keep(folder, f"{name}.jpg", _draw(folder, solved, name))
    return pictures.kept(folder, f"{name}.json", lambda: b"{}")


def _own_shots(solved: SolvedWall) -> list[str]:
    return [shot.name for shot in solved.measured.solution.net.shots if not shot.borrowed]


def _made_from(folder: JobFolder, solved: SolvedWall) -> str:
    """Tells whether a picture kept is still good: its photos, what stands before the wall, where the cameras stood.

    A mark more moves every camera a little; the picture stays until one of them moves visibly.
    """
    solution, wall = solved.measured.solution, solved.wall
    parts: list[Any] = [SCALE, WIDTH, str(wall.width), str(wall.ceiling)]
    parts += [mark.model_dump_json() for mark in wall.marks if mark.kind is Kind.IN_FRONT]
    corners = np.array([[x, y, 0.0] for x in (0.0, 96.0) for y in (0.0, 72.0)])
    for shot in _own_shots(solved):
        with np.errstate(all="ignore"):
            at = solution.camera(shot).project(corners)
        steady = np.round(np.nan_to_num(at, posinf=0, neginf=0) / STEADY).tolist()
        parts.append((shot, search_photo(folder, find_photo(wall, shot)).sha256, steady))
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()[:24]


def _plain(camera: Camera) -> dict[str, Any]:
    return {"size": list(camera.size), "lens": camera.lens.tolist(), "pose": camera.pose.tolist()}


def pixels_of(
    folder: JobFolder, solved: SolvedWall, points: Sequence[Sequence[float]]
) -> tuple[str, list[list[float]]]:
    """The photo that shows places of the elevation best, and their pixels in it.

    Parameters
    ----------
    folder, solved
        The job and its wall.
    points : (N, 2) in
        As read off the elevation that was served last: with the cameras it was drawn by.

    Raises
    ------
    ActionError
        No photo shows all of them.
    """
    _, about = elevation_of(folder, solved)
    xyz = np.column_stack([np.array(points, float).reshape(-1, 2), np.zeros(len(points))])
    best, name, found = 0.0, "", np.zeros((0, 2))
    for shot, camera in _cameras(about).items():
        if not camera.sees(xyz).all():
            continue
        worth = float(resolution(camera, xyz).min())
        if worth > best:
            best, name, found = worth, shot, camera.project(xyz)
    if not name:
        raise ActionError("No photo shows all of that; mark it in a photo, or take one more.")
    return name, found.tolist()


def _cameras(about: dict[str, Any]) -> dict[str, Camera]:
    """Those that the picture was drawn by, by photo."""
    return {
        shot: Camera(tuple(plain["size"]), np.array(plain["lens"]), np.array(plain["pose"]))
        for shot, plain in about["cameras"].items()
    }


def places_of(about: dict[str, Any], mark: Mark) -> list[dict[str, Any]]:
    """Where the picture shows a mark: `x` and `y` [in] and `at` of each sight in the photo that shows it best."""
    photo, camera = _shown_by(about, mark)
    if camera is None:
        return []
    sights = _in_photo(mark, photo)
    xy = camera.meet(_pixels(sights))
    return [{"x": float(x), "y": float(y), "at": s.at.value} for s, (x, y, _) in zip(sights, xy, strict=True)]


def _shown_by(about: dict[str, Any], mark: Mark) -> tuple[str, Camera | None]:
    best, found, by = 0.0, "", None
    for photo, camera in _cameras(about).items():
        if sights := _in_photo(mark, photo):
            worth = float(resolution(camera, camera.meet(_pixels(sights))).min())
            if worth > best:
                best, found, by = worth, photo, camera
    return found, by


def _in_photo(mark: Mark, photo: str) -> list[Sight]:
    return [sight for sight in mark.sights if sight.photo == photo]


def _pixels(sights: Sequence[Sight]) -> Array:
    return np.array([(sight.u, sight.v) for sight in sights])


def moved_to(folder: JobFolder, solved: SolvedWall, mark: Mark, points: Sequence[Sequence[float]]) -> list[Sight]:
    """The sights of a mark whose places on the elevation were dragged.

    Parameters
    ----------
    folder, solved, mark
        The job, its wall, and a mark on it.
    points : (N, 2) in
        Where each of `places_of` is now, in its order.

    Returns
    -------
    list of Sight
        In the photo that shows the mark best a place that moved is a fresh tap, and one that did not is as it was. In
        other photos it follows, so that it is found there too, but weighs nothing: one drag is one observation.

    Raises
    ------
    ActionError
        No photo of the elevation shows the mark, or it was changed meanwhile.
    """
    _, about = elevation_of(folder, solved)
    photo, camera = _shown_by(about, mark)
    before = _in_photo(mark, photo)
    if camera is None or len(before) != len(points):
        raise ActionError(f"“{mark.name}” was changed meanwhile; look again, then move it.")
    now = camera.project(np.column_stack([np.array(points, float), np.zeros(len(points))]))
    same = np.linalg.norm(now - _pixels(before), axis=1) < SAME
    sights = [s if still else _sight(photo, uv, s.at) for s, uv, still in zip(before, now, same, strict=True)]
    stood, on_wall = (camera.meet(pixels, float(mark.proud)) for pixels in (_pixels(before), now))
    for other, by in _cameras(about).items():
        if other != photo and (theirs := _in_photo(mark, other)):
            partners = list(_partners(before, stood, theirs, by.meet(_pixels(theirs), float(mark.proud))))
            follow = sorted({i for i in partners if i is not None and not same[i]})
            sights += [s for s, i in zip(theirs, partners, strict=True) if i not in follow]
            sights += list(_follow(other, by, on_wall[follow], [before[i].at for i in follow]))
    return sights


def _partners(ours: Sequence[Sight], stood: Array, theirs: Sequence[Sight], seen: Array) -> Iterator[int | None]:
    """Which of our sights each of theirs is of; where two are alike, as on a line, the one that stood nearest."""
    for sight, place in zip(theirs, seen, strict=True):
        alike = [i for i, our in enumerate(ours) if our.at == sight.at]
        yield min(alike, key=lambda i: float(np.linalg.norm(stood[i] - place)), default=None)


def _follow(photo: str, camera: Camera, xyz: Array, ats: Sequence[At]) -> Iterator[Sight]:
    if len(xyz):
        for uv, at, seen in zip(camera.project(xyz), ats, camera.sees(xyz), strict=True):
            if seen:
                yield _sight(photo, uv, at).model_copy(update={"sd": RECKONED})


def _sight(photo: str, uv: Array, at: At) -> Sight:
    return Sight(photo=photo, u=round(float(uv[0]), 2), v=round(float(uv[1]), 2), at=at)
