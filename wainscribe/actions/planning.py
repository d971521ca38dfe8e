"""The rooms of a job planned, and what would settle what is too close to tell."""

from collections.abc import Collection, Sequence

from capture.advise import proposals
from capture.lengths import show_length
from capture.record import Kind
from layout.next_steps import Step, next_steps, undecided
from layout.plan import Plan, plan_of, plan_walls
from layout.scheme import Scheme
from layout.shop import joined
from wainscribe.actions.solving import SolvedWall, Tell, no_wall_yet, solve_job
from wainscribe.folder import JobFolder
from wainscribe.job import Job

SCALE_WANTED = 0.001  # printed scale known to this, one sd, is no more than tapes and taps leave over a wall

SILL_DEPTH = 8.0  # in: no stool and apron reach further below a casing; common practice, no source

LONG = 140.0  # in: a long wall, to say what an unsure scale means


def plan_job(folder: JobFolder, job: Job, tell: Tell = lambda _: None) -> tuple[list[SolvedWall], Plan]:
    """Solve every wall and plan each room as one."""
    if not job.walls:
        raise no_wall_yet(folder)
    solved = solve_job(folder, job, tell=tell)
    return solved, joined(plan_solved(job, solved), job.yard, job.walls_by_room)


def plan_solved(
    job: Job, solved: Sequence[SolvedWall], scheme: Scheme | None = None, only: Collection[str] = ()
) -> Plan:
    """Plan each room whose walls are given as one; by another scheme than the job's if one is given.

    Of the walls that are looked at, `only` these come back; none is all.
    """
    wanted = scheme or job.wanted
    surveys = {s.wall.name: s.measured.survey for s in solved}
    rooms = [[surveys[wall.name] for wall in room.walls if wall.name in surveys] for room in job.rooms]
    return plan_of([plan_walls(room, wanted, only=only) for room in rooms if room], wanted)


def what_next(solved: Sequence[SolvedWall], plan: Plan) -> list[Step]:
    """What would settle what is too close to tell, wall by wall, the most telling first."""
    steps = []
    for one in solved:
        wall = plan.wall(one.wall.name)
        about = undecided(wall)
        offered = proposals(one.wall, one.measured, about) if about else []
        steps += next_steps(wall, offered, plan.scheme)
    return sorted(steps, key=lambda step: -len(step.settles))


def sills_to_tape(solved: Sequence[SolvedWall], plan: Plan) -> list[str]:
    """Windows marked by tape whose stool and apron nobody taped, where these may end the wainscot."""
    return [
        f"{one.wall.name}: tape from the floor to “{window.name} stool” (its top) and “{window.name} apron” (its "
        "underside); where it has neither, to its lowest edge as the apron"
        for one in solved
        for window in one.measured.survey.features
        if window.kind is Kind.WINDOW and not window.mark.sights and window.stool is None and window.apron is None
        if window.bottom is None or window.bottom.value - SILL_DEPTH < plan.scheme.top
    ]


def unmarked(solved: Sequence[SolvedWall]) -> list[str]:
    """Names of the walls on which nothing is marked but where they end and what is level."""
    frame = (Kind.WALL_END, Kind.FLOOR_POINT, Kind.LEVEL_POINT)
    return [one.wall.name for one in solved if all(mark.kind in frame for mark in one.wall.marks)]


def first_reading(solved: Sequence[SolvedWall]) -> str:
    """The long tape reading that a fresh print run needs before all else; "" where its scale is known."""
    for one in solved:
        solution = one.measured.solution
        if not solution.net.shots:
            continue
        column = solution.slots.printed.start
        sd = float(solution.covariance[column, column]) ** 0.5
        if sd > SCALE_WANTED:
            return (
                f"tape one long distance on “{one.wall.name}”, such as its width: the printed scale is known to "
                f"± {1.96 * sd:.1%} only, which is {show_length(1.96 * sd * LONG)} over {show_length(LONG)}"
            )
    return ""
