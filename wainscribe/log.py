"""The log of a job's changes: counts them, and remembers the ones that were sent with an id.

Each entry is written just before the job file that it tells of, with that file's digest. So renaming the job file makes
both true at once: an entry whose job file never came is of a change that was cut off, and counts for nothing. A job
file that no entry tells of (edited by hand, put back from a backup) is a change as well.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

KEPT = 1000  # entries: what a browser sends again, it sends within minutes


@dataclass(frozen=True)
class Entry:
    """One state of the job file."""

    revision: int
    digest: str
    done: Mapping[str, str] = field(default_factory=dict)  # changes by the id they were sent with, and their answers


@dataclass(frozen=True)
class Log:
    """All that is remembered, the oldest first."""

    entries: tuple[Entry, ...] = ()

    def knows(self, data: bytes) -> bool:
        """Whether an entry tells of this job file."""
        known = digest(data)
        return any(entry.digest == known for entry in self.entries)

    def at(self, data: bytes) -> "Log":
        """The log up to this job file: without what was cut off after it, with an entry of its own where none was."""
        known = digest(data)
        found = [i for i, entry in enumerate(self.entries) if entry.digest == known]
        return Log(self.entries[: found[-1] + 1]) if found else self.then(data)

    def then(self, data: bytes, done: Mapping[str, str] | None = None) -> "Log":
        """The log with one more state."""
        return Log((*self.entries, Entry(self.revision + 1, digest(data), dict(done or {})))[-KEPT:])

    def noting(self, done: Mapping[str, str]) -> "Log":
        """The log with changes that left the job file as it was."""
        last = self.entries[-1]
        return Log((*self.entries[:-1], Entry(last.revision, last.digest, {**last.done, **done})))

    @property
    def revision(self) -> int:
        """The number of the last state; 0 before the first."""
        return self.entries[-1].revision if self.entries else 0

    def answer(self, sent: str) -> str | None:
        """What the change of this id was answered with; None if it was never made."""
        return next((entry.done[sent] for entry in reversed(self.entries) if sent in entry.done), None)

    def digest_after(self, sent: str) -> str | None:
        """Which job file the change of this id left."""
        return next((entry.digest for entry in reversed(self.entries) if sent in entry.done), None)


@lru_cache(maxsize=4)  # one change asks several times for those before and after it
def digest(data: bytes) -> str:
    """Tells job files apart."""
    return hashlib.sha256(data).hexdigest()[:32]


def write_log(log: Log) -> str:
    """The log as text."""
    return json.dumps([[e.revision, e.digest, dict(e.done)] for e in log.entries], separators=(",", ":"))


def read_log(text: str) -> Log:
    """The log from its text; one that cannot be read is begun anew."""
    try:
        rows: Any = json.loads(text)
        return Log(tuple(Entry(int(r), str(d), {str(k): str(v) for k, v in done.items()}) for r, d, done in rows))
    except (ValueError, TypeError, AttributeError):
        return Log()
