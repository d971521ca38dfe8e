"""Taps moved to the true edges near them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.camera import Camera
from capture.errors import UnknownNameError
from capture.photos import read_photo
from capture.record import Mark, Wall
from capture.taps import SNAPS, Snapped, snap_sights
from wainscribe.actions.change import change_wall
from wainscribe.actions.solving import solve_wall
from wainscribe.job import JobFolder


@dataclass(frozen=True)
class SnappedMark:
    """What became of one mark in one photo."""

    mark: str
    photo: str
    snapped: Snapped


def snap_marks(folder: JobFolder, wall: str, names: Sequence[str] = ()) -> list[SnappedMark]:
    """Move the sights of marks to the true edges near their taps, in one change; all marks if none is named."""
    job = folder.load()
    now = job.wall(wall)
    for name in names:
        if name not in [m.name for m in now.marks]:
            raise UnknownNameError(f"mark on “{wall}”", name, [m.name for m in now.marks])
    solution = solve_wall(folder, job, wall).measured.solution
    solved = {s.name for s in solution.net.shots}
    marks = [m for m in now.marks if (m.name in names if names else m.kind in SNAPS)]
    told: list[SnappedMark] = []
    for photo in now.photos:
        mine = [m for m in marks if any(s.photo == photo.name for s in m.sights)]
        if photo.name in solved and mine:
            gray, camera = read_photo(folder.read_photo(photo.file), photo.name).gray, solution.camera(photo.name)
            told += [SnappedMark(m.name, photo.name, _snap(gray, camera, m, photo.name)) for m in mine]
    change_wall(folder, wall, lambda wall: _with_snapped(wall, told))
    return told


def _snap(gray: NDArray[np.uint8], camera: Camera, mark: Mark, photo: str) -> Snapped:
    sights = tuple(s for s in mark.sights if s.photo == photo)
    if mark.kind not in SNAPS:
        return Snapped(sights, 0.0, False, f"A {mark.kind} has no edges to look for.")
    return snap_sights(gray, camera, mark, sights)


def _with_snapped(wall: Wall, told: Sequence[SnappedMark]) -> Wall:
    def snapped(mark: Mark) -> Mark:
        mine = {t.photo: t.snapped.sights for t in told if t.mark == mark.name}
        kept = (s for s in mark.sights if s.photo not in mine)
        return mark.model_copy(update={"sights": (*kept, *(s for sights in mine.values() for s in sights))})

    return wall.model_copy(update={"marks": tuple(snapped(m) for m in wall.marks)})
