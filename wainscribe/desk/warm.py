"""Each job's last solve and plan, kept in memory so that only what changed is worked out anew, room by room.

Who looks at one wall is answered from its room alone, as soon as that is done. Who asks for the whole house gets it
room by room, and lets those with one wall go first. Both are told of the job as it stands when their turn comes: what
was changed meanwhile is not worked out as it was.
"""

import gc
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from threading import BoundedSemaphore
from typing import Any, TypeVar

from capture.memory import Memory
from capture.record import Mark, Room
from capture.wanted import asking
from layout.next_steps import Step
from layout.plan import Plan, plan_of
from wainscribe import actions, told
from wainscribe.actions import OnEdges, SolvedWall
from wainscribe.desk.latest import Latest
from wainscribe.desk.pictures import Opened
from wainscribe.desk.turns import Turns
from wainscribe.folder import JobFolder
from wainscribe.job import Job

T = TypeVar("T")


class Replaced(Exception):
    """The job that is being worked on was changed meanwhile; it never reaches who asked."""


@dataclass
class Known:
    """What was worked out of one state of a job, by the room's name, or the wall's."""

    job: Job
    looked_at: dict[str, Plan] = field(default_factory=dict)
    solved: dict[str, list[SolvedWall]] = field(default_factory=dict)
    planned: dict[str, Plan] = field(default_factory=dict)
    steps: dict[str, list[Step]] = field(default_factory=dict)


@dataclass
class Warm:
    """One job."""

    folder: JobFolder
    opened: Opened
    seats: BoundedSemaphore | None = None  # of all jobs together
    latest: Latest = field(init=False)
    _turns: Turns = field(init=False)
    _memory: Memory = field(init=False)
    _known: Known | None = None
    _apart: Job | None = None

    def __post_init__(self) -> None:
        self.latest, self._turns, self._memory = Latest(self.folder), Turns(self.seats), Memory()

    def wall(self, name: str) -> tuple[Job, SolvedWall]:
        """The job as it stands, and one wall of it, adjusted with all others."""
        return self._first(lambda job: (job, self._wall(job, name)))

    def at_hand(self, name: str) -> tuple[Job, SolvedWall, Plan]:
        """The job as it stands, one wall of it, adjusted with all others, and its part of the plan of its room."""
        return self._first(lambda job: (job, *self._at_hand(job, name)))

    def _first(self, work: Callable[[Job], T]) -> T:
        """Work on the job as it stands when the turn comes, and anew when it is changed meanwhile."""
        with self._turns.first():
            while True:
                with suppress(Replaced):
                    return work(self.latest.state()[1])

    def _at_hand(self, job: Job, name: str) -> tuple[SolvedWall, Plan]:
        known, wall = self._of(job), self._wall(job, name)
        if wall.wall.name not in known.looked_at:
            solved = self._solved(job, _room_of(job, name))
            known.looked_at[wall.wall.name] = actions.plan_solved(job, solved, only=[wall.wall.name])
        return wall, known.looked_at[wall.wall.name]

    def _wall(self, job: Job, name: str) -> SolvedWall:
        name = job.wall(name).name
        return next(one for one in self._solved(job, _room_of(job, name)) if one.wall.name == name)

    def planned(self) -> tuple[Job, list[SolvedWall], Plan]:
        """The job as it stands, every wall of it, adjusted, and the plan of all rooms."""
        job, rooms = self._all(lambda job, room: (self._solved(job, room), self._planned(job, room)))
        with self._turns.later():
            if self._apart is not job:
                self._apart = job
                _set_apart()
        return job, [one for solved, _ in rooms for one in solved], plan_of([plan for _, plan in rooms], job.wanted)

    def next(self) -> dict[str, Any]:
        """What to do next in the job as it stands, as plain data."""
        _, rooms = self._all(
            lambda job, room: (self._solved(job, room), self._planned(job, room), self._steps(job, room))
        )
        steps = sorted((step for *_, some in rooms for step in some), key=lambda step: -len(step.settles))
        also = [one for solved, planned, _ in rooms for one in actions.sills_to_tape(solved, planned)]
        return told.steps(actions.first_reading([one for solved, *_ in rooms for one in solved]), also, steps)

    def snapped(self, wall: str, mark: Mark) -> OnEdges:
        """A mark with its sights on the true edges near them."""
        _, solved = self.wall(wall)
        return actions.snap_mark(solved, mark, lambda photo: self.opened.gray(self.folder, photo))

    def _all(self, work: Callable[[Job, Room], T]) -> tuple[Job, list[T]]:
        """Work on each room; when the job is changed meanwhile, begun anew, for nobody wants the old one any more."""
        job, done = self.latest.state()[1], list[T]()
        while len(done) < len(job.rooms):
            with self._turns.later(), suppress(Replaced):
                if (now := self.latest.state()[1]) != job:
                    job, done = now, []
                else:
                    done.append(work(job, job.rooms[len(done)]))
        return job, done

    def _heed(self) -> None:
        if self._known is None or self.latest.state()[1] != self._known.job:
            raise Replaced

    def _of(self, job: Job) -> Known:
        if self._known is None or self._known.job != job:
            self._known = Known(job)
        return self._known

    def _solved(self, job: Job, room: Room) -> list[SolvedWall]:
        solved = self._of(job).solved
        if room.name not in solved:
            walls = [wall.name for wall in room.walls]
            solved[room.name] = self._solve(job, walls) if walls else []
        return solved[room.name]

    def _solve(self, job: Job, walls: list[str]) -> list[SolvedWall]:
        with asking(self._heed):
            return actions.solve_job(self.folder, job, walls, tell=lambda _: self._heed(), memory=self._memory)

    def _planned(self, job: Job, room: Room) -> Plan:
        planned = self._of(job).planned
        if room.name not in planned:
            planned[room.name] = actions.plan_solved(job, self._solved(job, room))
        return planned[room.name]

    def _steps(self, job: Job, room: Room) -> list[Step]:
        steps = self._of(job).steps
        if room.name not in steps:
            steps[room.name] = actions.what_next(self._solved(job, room), self._planned(job, room))
        return steps[room.name]


def _set_apart() -> None:
    """Clear away what nobody holds, and have collections pass over all that is kept by now.

    They come when they like: one through all of a house of 40 walls takes 0.1 to 0.25 s, and came in the midst of a
    tap. Whoever asked for the whole house waited for seconds anyway.
    """
    gc.unfreeze()
    gc.collect()
    gc.freeze()


def _room_of(job: Job, wall: str) -> Room:
    name = job.wall(wall).name
    return next(room for room in job.rooms if name in [one.name for one in room.walls])
