"""A wall seen straight on, kept until what it is made from changes, and the way from a place on it to a photo."""

import hashlib
import json
from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera
from capture.record import Kind
from capture.rectify import resolution
from wainscribe.actions import ActionError, SolvedWall, find_photo
from wainscribe.desk import pictures
from wainscribe.job import JobFolder
from wainscribe.seen import in_colour, search_photo
from wainscribe.straight_on import SCALE, straight_on

Array = NDArray[np.float64]

STEADY = 16.0  # px of a photo: by so much a camera may move before the picture is drawn anew
WIDTH = 3000  # px


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
    return picture, about


def _draw(folder: JobFolder, solved: SolvedWall, name: str) -> bytes:
    shots = _own_shots(solved)
    photos = [find_photo(solved.wall, shot) for shot in shots]
    drawn = straight_on(solved, in_colour(photos, partial(pictures.read, folder)))
    if drawn is None:
        raise ActionError(f"No photo of “{solved.wall.name}” is solved yet; take one that shows a card.")
    data = pictures.clean_jpeg(drawn.image, WIDTH)
    factor = min(1.0, WIDTH / drawn.image.width)
    about = {
        "px_per_inch": drawn.px_per_inch * factor,
        "left": drawn.left,
        "top": drawn.top,
        "width": round(drawn.image.width * factor),
        "height": round(drawn.image.height * factor),
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
    for shot, plain in about["cameras"].items():
        camera = Camera(tuple(plain["size"]), np.array(plain["lens"]), np.array(plain["pose"]))
        if not camera.sees(xyz).all():
            continue
        worth = float(resolution(camera, xyz).min())
        if worth > best:
            best, name, found = worth, shot, camera.project(xyz)
    if not name:
        raise ActionError("No photo shows all of that; mark it in a photo, or take one more.")
    return name, found.tolist()
