"""The walls of a job measured, and places read from their photos."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from capture.errors import PlainError
from capture.lengths import Unit
from capture.measure import MeasuredWall, measure_walls
from capture.memory import Memory
from capture.net import Seen
from capture.record import Photo, Wall
from capture.survey import CARD_ELSEWHERE, Finding
from wainscribe.actions.change import ActionError
from wainscribe.actions.photos import find_photo
from wainscribe.actions.walls import corner_doubts
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.seen import Measured, search_photos

Array = NDArray[np.float64]

Tell = Callable[[str], None]


@dataclass(frozen=True)
class SolvedWall:
    """A wall as noted and as measured, and what its photos told."""

    wall: Wall
    measured: MeasuredWall
    findings: tuple[Finding, ...]


def solve_job(
    folder: JobFolder,
    job: Job,
    names: Sequence[str] = (),
    tell: Tell = lambda _: None,
    memory: Memory | None = None,
) -> list[SolvedWall]:
    """Adjust the walls of a job together; those named come back, or all.

    What earlier solves left in `memory` changes no answer, only how soon it comes.
    What only another wall needs and cannot be read does not keep the walls named from being solved.
    """
    wanted = list(dict.fromkeys(job.wall(name).name for name in names)) or [wall.name for wall in job.walls]
    found = _searched(folder, job, wanted, tell)
    ahead = () if memory is None else wanted  # nothing is kept of the others: all are solved to the end
    memory = memory or Memory()
    as_found = [[_found(wall, job, memory) for wall in room.walls] for room in job.rooms]
    rooms = [[(wall, _seen(wall, found[wall.name], memory)) for wall in walls] for walls in as_found]
    tell("measuring")
    measured = measure_walls(rooms, job.print_run, job.lenses, memory, ahead)
    hang = {(name, card.number) for name, photos in found.items() for _, m in photos for card in m.cards}
    by_name = {one.survey.name: _told_in(Unit(job.units), _without_neighbours(one, hang)) for one in measured}
    return [_solved(job, name, by_name[name], found[name]) for name in wanted]


def _found(wall: Wall, job: Job, memory: Memory) -> Wall:
    """The wall in the conditions of its house: the same object as long as neither changes, so that memory finds it."""
    return memory.again(("found", wall.name), lambda: wall.as_found(job.conditions), wall, job.conditions)


def _seen(wall: Wall, photos: Sequence[tuple[Photo, Measured]], memory: Memory) -> list[Seen]:
    """The photos that show cards, as the adjustment wants them."""
    what = [m for _, m in photos]
    return memory.again(("seen", wall.name), lambda: [m.seen(p.name) for p, m in photos if m.cards], wall, *what)


def _solved(job: Job, name: str, measured: MeasuredWall, photos: Sequence[tuple[Photo, Measured]]) -> SolvedWall:
    told = [finding for _, m in photos for finding in m.told()]
    corners = [Finding("corner-told-twice", name, sentence) for sentence in corner_doubts(job, name)]
    return SolvedWall(job.wall(name), measured, (*told, *measured.survey.findings, *corners))


def _searched(
    folder: JobFolder, job: Job, wanted: Sequence[str], tell: Tell
) -> dict[str, list[tuple[Photo, Measured]]]:
    """The measured photos of every wall, searched on all processors."""
    photos = {wall.name: [p for p in wall.photos if not p.record_only] for wall in job.walls}
    needed = [p for name in wanted for p in photos[name]]
    searched = dict(zip([p.file for p in needed], search_photos(folder, needed, tell), strict=True))
    for name in photos:
        with suppress(PlainError):  # of the other walls, what cannot be read is left out
            others = [p for p in photos[name] if p.file not in searched]
            searched |= zip([p.file for p in others], search_photos(folder, others, tell), strict=True)
    return {name: [(p, searched[p.file]) for p in mine if p.file in searched] for name, mine in photos.items()}


def solve_wall(folder: JobFolder, job: Job, name: str) -> SolvedWall:
    """Adjust the walls of a job together; one of them."""
    return solve_job(folder, job, [name])[0]


def _without_neighbours(measured: MeasuredWall, hang: set[tuple[str, int]]) -> MeasuredWall:
    """The wall without a word on cards that hang on another wall of the job, as that wall's own photos show."""
    survey = measured.survey
    if not any(f.code == CARD_ELSEWHERE for f in survey.findings):
        return measured
    others = {f"card {number}" for wall, number in hang if wall != survey.name}
    kept = tuple(f for f in survey.findings if f.code != CARD_ELSEWHERE or f.subject not in others)
    return replace(measured, survey=replace(survey, findings=kept))


def _told_in(unit: Unit, measured: MeasuredWall) -> MeasuredWall:
    survey = measured.survey
    if not any(f.in_mm for f in survey.findings):
        return measured
    return replace(measured, survey=replace(survey, findings=tuple(f.told_in(unit) for f in survey.findings)))


def locate(folder: JobFolder, wall: str, photo: str, pixels: Array, z: Array, tap_sd: float) -> tuple[Array, Array]:
    """Wall places (N, 2) of pixels (N, 2), in inches, and their joint covariance (2N, 2N)."""
    job = folder.load()
    name = find_photo(job.wall(wall), photo).name
    solved = solve_wall(folder, job, wall)
    if name not in {s.name for s in solved.measured.solution.net.shots}:
        why = next((f.sentence for f in solved.findings if f.place == name), f"No card was found in “{name}”.")
        raise ActionError(f"{why} So nothing can be measured in it.")
    with np.errstate(all="ignore"):  # a ray that misses the wall comes out as no number, or behind the camera
        xy, covariance = solved.measured.solution.locate(name, pixels, z, tap_sd)
        camera = solved.measured.solution.camera(name)
        seen = camera.sees(np.column_stack([xy, z])) & np.isfinite(covariance).all(axis=1).reshape(-1, 2).all(axis=1)
    if not seen.all():
        u, v = pixels[int(np.argmin(seen))]
        raise ActionError(f"Pixel {u:g},{v:g} of “{name}” shows no place on the wall; check that it lies in the photo.")
    return xy, covariance


def no_wall_yet(folder: JobFolder) -> ActionError:
    """A job without a wall; how to add one."""
    return ActionError(f"{folder.path} has no wall yet; add one with “wainscribe wall {folder.path} NAME”.")
