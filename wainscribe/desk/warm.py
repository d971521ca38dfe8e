"""Each job's last solve and plan, kept in memory so that only what changed is worked out anew."""

from dataclasses import dataclass, field
from threading import RLock
from typing import Any

from capture.memory import Memory
from capture.record import Mark, Sight
from capture.taps import SNAPS, snap_sights
from layout.plan import Plan
from wainscribe import actions, told
from wainscribe.actions import SolvedWall, find_photo
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

    def snapped(self, job: Job, wall: str, mark: Mark) -> tuple[Mark, bool, float, str]:
        """A mark with its sights on the true edges near them: whether any was found, how far one moved [in], doubts."""
        if mark.kind not in SNAPS:
            return mark, False, 0.0, f"A {mark.kind} has no edges to look for."
        solution = self.wall(job, wall).measured.solution
        solved = {shot.name for shot in solution.net.shots}
        sights: list[Sight] = []
        found, moved, doubts = False, 0.0, []
        for photo in dict.fromkeys(sight.photo for sight in mark.sights):
            known = find_photo(job.wall(wall), photo)
            mine = tuple(s.model_copy(update={"photo": known.name}) for s in mark.sights if s.photo == photo)
            if known.name not in solved:
                sights += mine
                doubts.append(f"“{known.name}” is not solved yet, so the taps stay where they are.")
                continue
            one = snap_sights(self.opened.gray(self.folder, known), solution.camera(known.name), mark, mine)
            sights += one.sights
            found, moved = found or one.found, max(moved, one.moved)
            doubts += [one.doubt] if one.doubt else []
        return mark.model_copy(update={"sights": tuple(sights)}), found, moved, " ".join(doubts)
