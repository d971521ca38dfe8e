"""Each job's last solve and plan, kept in memory so that only what changed is worked out anew."""

from dataclasses import dataclass, field
from threading import RLock
from typing import Any

from capture.memory import Memory
from capture.record import Mark
from layout.plan import Plan
from wainscribe import actions, told
from wainscribe.actions import OnEdges, SolvedWall
from wainscribe.desk.pictures import Opened
from wainscribe.job import Job, JobFolder


@dataclass
class Warm:
    """One job."""

    folder: JobFolder
    opened: Opened
    _lock: RLock = field(default_factory=RLock)
    _memory: Memory = field(default_factory=Memory)
    _solved: tuple[Job, list[SolvedWall]] | None = None
    _planned: tuple[Job, Plan] | None = None
    _next: tuple[Job, dict[str, Any]] | None = None

    def solved(self, job: Job) -> list[SolvedWall]:
        """Every wall of the job, adjusted."""
        with self._lock:
            if self._solved is None or self._solved[0] != job:
                self._solved = job, actions.solve_job(self.folder, job, memory=self._memory)
            return self._solved[1]

    def wall(self, job: Job, name: str) -> SolvedWall:
        """One wall, adjusted with all others."""
        name = job.wall(name).name
        return next(one for one in self.solved(job) if one.wall.name == name)

    def planned(self, job: Job) -> tuple[list[SolvedWall], Plan]:
        """Every wall, adjusted, and the plan of all rooms."""
        with self._lock:
            if self._planned is None or self._planned[0] != job:
                self._planned = job, actions.plan_solved(job, self.solved(job))
            return self.solved(job), self._planned[1]

    def next(self, job: Job) -> dict[str, Any]:
        """What to do next, as plain data."""
        with self._lock:
            if self._next is None or self._next[0] != job:
                solved, plan = self.planned(job)
                steps = told.steps(actions.first_reading(solved), actions.what_next(solved, plan))
                self._next = job, steps
            return self._next[1]

    def snapped(self, job: Job, wall: str, mark: Mark) -> OnEdges:
        """A mark with its sights on the true edges near them."""
        solved = self.wall(job, wall)
        return actions.snap_mark(solved, mark, lambda photo: self.opened.gray(self.folder, photo))
