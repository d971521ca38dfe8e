"""The customer sheet of a job: which schemes it shows, and the pictures made for each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from capture.errors import PlainError
from capture.photos import read_photo
from capture.record import Photo
from layout.best import Choice
from layout.plan import Plan
from layout.scheme import Scheme
from report.changes import shifts_of
from report.compose import composed
from report.customer import SHEET_WIDTH, BeforeAfter, SchemeShown
from report.pictures import held
from report.views import framed_in
from wainscribe.actions import SolvedWall, Tell, plan_solved
from wainscribe.job import Job, JobFolder
from wainscribe.scenes import scene_of

AS_PLANNED = "As planned"
LEAST_MOVED = "Other panel widths, least in the way"


def schemes_shown(
    folder: JobFolder, job: Job, solved: Sequence[SolvedWall], plan: Plan, tell: Tell
) -> tuple[SchemeShown, ...]:
    """The plan with its pictures, and what else could be done, of a job that is solved and planned."""
    shots = sorted(_shots(job, solved, plan), key=lambda shot: -shot.share)
    schemes = [SchemeShown(AS_PLANNED, plan, _pictures(folder, shots, plan, tell))]
    for name, other in _others(job, solved, plan):
        pictures = _pictures(folder, shots[:1], other, tell)  # side by side all show the same wall
        schemes.append(SchemeShown(name, other, pictures))
    return tuple(schemes)


# The schemes.


def _others(job: Job, solved: Sequence[SolvedWall], plan: Plan) -> list[tuple[str, Plan]]:
    """What could be done otherwise: what the job names, and other counts that leave least in the way."""
    wishes = [(name, job.other_scheme(name)) for name in job.alternatives]
    counts: dict[str, int] = {}
    for choice in plan.choices:
        counts |= _counts(choice.instead) if choice.instead else {}
    if counts:
        wishes.append((LEAST_MOVED, plan.scheme.model_copy(update={"panels": {**plan.scheme.panels, **counts}})))
    return [(name, other) for name, scheme in wishes if (other := _planned(job, solved, scheme)) is not None]


def _counts(choice: Choice) -> dict[str, int]:
    return {run: spacing.count for run, spacing in choice.spacings.items()}


def _planned(job: Job, solved: Sequence[SolvedWall], scheme: Scheme) -> Plan | None:
    """Every room planned by another scheme; None where it cannot be built."""
    try:
        return plan_solved(job, solved, scheme)
    except PlainError:
        return None


# The pictures.


@dataclass(frozen=True)
class Shot:
    """The photo of a wall that shows most of what is planned there."""

    room: Sequence[SolvedWall]
    at: int  # the wall's place in the room
    photo: Photo
    share: float  # of the planned frames that it shows, times their length


def _shots(job: Job, solved: Sequence[SolvedWall], plan: Plan) -> Iterator[Shot]:
    """One photo of each wall that has any that shows what is planned."""
    by_name = {one.wall.name: one for one in solved}
    for room in ([by_name[wall.name] for wall in room.walls] for room in job.rooms):
        for at, one in enumerate(room):
            own = {shot.name for shot in one.measured.solution.net.shots if not shot.borrowed}
            shares = [
                (framed_in(one.measured.solution.camera(photo.name), plan.wall(one.wall.name)), photo)
                for photo in one.wall.photos
                if photo.name in own
            ]
            share, photo = max(shares, key=lambda pair: pair[0], default=(0.0, None))
            if photo is not None and share > 0:
                yield Shot(room, at, photo, share)


def _pictures(folder: JobFolder, shots: Sequence[Shot], plan: Plan, tell: Tell) -> tuple[BeforeAfter, ...]:
    shifts = shifts_of(plan)
    found = []
    for shot in shots:
        tell(f"putting the plan into {shot.photo.name}")
        picture = read_photo(folder.read_photo(shot.photo.file), shot.photo.name)
        scene = scene_of(shot.room, shot.at, shot.photo, picture, plan, shifts, SHEET_WIDTH)
        found.append(BeforeAfter(shot.room[shot.at].wall.name, held(scene.picture), held(composed(scene))))
    return tuple(found)
