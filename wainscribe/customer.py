"""The customer sheet of a job: which schemes it shows, and which photo each is put into."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from capture.errors import PlainError
from layout.best import Choice
from layout.plan import Plan
from layout.scheme import Scheme
from report.customer import BeforeAfter, SchemeShown
from report.views import framed_in
from wainscribe.actions import SolvedWall, plan_solved
from wainscribe.job import Job

AS_PLANNED = "As planned"
LEAST_MOVED = "Other panel widths, least in the way"


def schemes_of(job: Job, solved: Sequence[SolvedWall], plan: Plan) -> list[tuple[str, Plan]]:
    """The plan, and what else could be done, by name, of a job that is solved and planned."""
    return [(AS_PLANNED, plan), *_others(job, solved, plan)]


def schemes_shown(
    schemes: Sequence[tuple[str, Plan]], shots: Sequence["Shot"], made: Mapping[str, Sequence[BeforeAfter]]
) -> tuple[SchemeShown, ...]:
    """The schemes with their pictures, which were made for each wall in the order of the schemes."""
    of_walls = [made[shot.wall] for shot in shots]
    return tuple(
        SchemeShown(name, plan, tuple(pictures[n] for pictures in of_walls if n < len(pictures)))
        for n, (name, plan) in enumerate(schemes)
    )


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


# The photos.


@dataclass(frozen=True)
class Shot:
    """The photo of a wall that shows most of what is planned there."""

    wall: str
    photo: str
    share: float  # of the planned frames that it shows, times their length


def shots_of(solved: Sequence[SolvedWall], plan: Plan) -> list[Shot]:
    """One photo of each wall that has any that shows what is planned; the one that shows most first."""
    return sorted(_shots(solved, plan), key=lambda shot: -shot.share)


def _shots(solved: Sequence[SolvedWall], plan: Plan) -> Iterator[Shot]:
    for one in solved:
        solution, planned = one.measured.solution, plan.wall(one.wall.name)
        own = {shot.name for shot in solution.net.shots if not shot.borrowed}
        shares = [
            Shot(one.wall.name, photo.name, framed_in(solution.camera(photo.name), planned))
            for photo in one.wall.photos
            if photo.name in own
        ]
        best = max(shares, key=lambda shot: shot.share, default=None)
        if best is not None and best.share > 0:
            yield best
