"""Taps moved to the true edges near them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from capture.errors import UnknownNameError
from capture.photos import read_photo
from capture.record import Mark, Photo, Wall
from capture.taps import SNAPS, Snapped, snap_sights
from wainscribe.actions.change import change_wall
from wainscribe.actions.photos import find_photo
from wainscribe.actions.solving import SolvedWall, solve_wall
from wainscribe.folder import JobFolder

Gray = Callable[[Photo], NDArray[np.uint8]]
"""Upright luma of a photo."""


@dataclass(frozen=True)
class SnappedMark:
    """What became of one mark in one photo."""

    mark: str
    photo: str
    snapped: Snapped


class OnEdges(NamedTuple):
    """A mark with its sights on the true edges near its taps."""

    mark: Mark
    found: bool  # whether any edge was
    moved: float  # in on the wall: the farthest that a tapped place moved
    doubt: str  # all that is doubtful, photo by photo


def snap_marks(folder: JobFolder, wall: str, names: Sequence[str] = ()) -> list[SnappedMark]:
    """Move the sights of marks to the true edges near their taps, in one change; all marks if none is named."""
    job = folder.load()
    now = job.wall(wall)
    for name in names:
        if name not in [m.name for m in now.marks]:
            raise UnknownNameError(f"mark on “{wall}”", name, [m.name for m in now.marks])
    solved = solve_wall(folder, job, wall)
    marks = [m for m in now.marks if (m.name in names if names else m.kind in SNAPS)]
    gray = lru_cache(maxsize=1)(lambda photo: read_photo(folder.read_photo(photo.file), photo.name, colour=False).gray)
    told = [
        SnappedMark(mark.name, photo.name, _snap(solved, photo, mark, gray))
        for photo in now.photos
        for mark in marks
        if any(s.photo == photo.name for s in mark.sights)
    ]
    change_wall(folder, wall, lambda wall: _with_snapped(wall, told))
    return told


def snap_mark(solved: SolvedWall, mark: Mark, gray: Gray) -> OnEdges:
    """A mark, in the job or not yet, with its sights on the true edges near them; nothing is kept.

    Raises
    ------
    UnknownNameError
        A sight is in a photo that the wall does not have.
    """
    named = {photo: find_photo(solved.wall, photo) for photo in dict.fromkeys(s.photo for s in mark.sights)}
    sights = tuple(s.model_copy(update={"photo": named[s.photo].name}) for s in mark.sights)
    mark = mark.model_copy(update={"sights": sights})
    by_photo = {photo.name: _snap(solved, photo, mark, gray) for photo in named.values()}
    doubts = dict.fromkeys(one.doubt for one in by_photo.values() if one.doubt)
    return OnEdges(
        _on_edges(mark, by_photo),
        any(one.found for one in by_photo.values()),
        max((one.moved for one in by_photo.values()), default=0.0),
        " ".join(doubts),
    )


def _snap(solved: SolvedWall, photo: Photo, mark: Mark, gray: Gray) -> Snapped:
    """One mark in one photo; where nothing can be looked for, its taps and why."""
    sights, solution = tuple(s for s in mark.sights if s.photo == photo.name), solved.measured.solution
    if mark.kind not in SNAPS:
        return Snapped(sights, 0.0, False, f"A {mark.kind} has no edges to look for.")
    if photo.name not in {shot.name for shot in solution.net.shots}:
        return Snapped(sights, 0.0, False, f"“{photo.name}” is not solved yet, so the taps stay where they are.")
    return snap_sights(gray(photo), solution.camera(photo.name), mark, sights)


def _on_edges(mark: Mark, by_photo: Mapping[str, Snapped]) -> Mark:
    kept = (s for s in mark.sights if s.photo not in by_photo)
    return mark.model_copy(update={"sights": (*kept, *(s for one in by_photo.values() for s in one.sights))})


def _with_snapped(wall: Wall, told: Sequence[SnappedMark]) -> Wall:
    of = {mark.name: {t.photo: t.snapped for t in told if t.mark == mark.name} for mark in wall.marks}
    return wall.model_copy(update={"marks": tuple(_on_edges(mark, of[mark.name]) for mark in wall.marks)})
