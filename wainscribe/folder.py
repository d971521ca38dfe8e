"""The job folder: one folder a job, every change whole or not at all.

job.json     what people noted and decided (versioned; the schema is `wainscribe schema`)
photos/      originals as taken, never rewritten; the installer's logo too
history/     earlier states of job.json, for undo
undone/      states that were taken back, for redo, until the next change
log.json     counts the changes, and remembers those that were sent with an id
measured/    what was found in each photo, and pictures for the eye; made anew when missing
papers/      made anew at will
"""

import os
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from itertools import islice
from pathlib import Path
from threading import local

from filelock import FileLock, Timeout

from capture.errors import PlainError
from wainscribe.disk import file_stem, plain_disk_errors, reason_of, sync_folder, write_whole
from wainscribe.job import Job, JobError, read_job, rechecked, write_job
from wainscribe.log import Log, digest, read_log, write_log

WAIT = 10.0  # s for another program's change to end
KEPT = 500  # earlier states


class JobFolder:
    """A job on disk."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file = path / "job.json"
        self.photos = path / "photos"
        self.history = path / "history"
        self.undone = path / "undone"
        self.log = path / "log.json"
        self.measured = path / "measured"
        self.doing: dict[str, str] = {}  # id of the change under way, and what is answered to who sends it again
        self._holding = local()

    @classmethod
    def create(cls, path: Path, job: Job, sent: str = "") -> "JobFolder":
        """A new job folder, for what was sent with an id; refuses one that already holds a job."""
        folder = cls(path)
        with plain_disk_errors(path):
            if folder.file.exists():
                raise JobError(f"{path} already holds a job; choose another folder.")
            for part in (path, folder.photos, folder.history, folder.measured):
                part.mkdir(parents=True, exist_ok=True)
            text = write_job(rechecked(job))
            if sent:
                write_whole(folder.log, write_log(Log().then(text, {sent: path.name})))
            write_whole(folder.file, text)
        return folder

    def load(self) -> Job:
        """The job as it stands."""
        return self._job_of(self._read())

    def _read(self) -> bytes:
        """The job file's bytes; while the folder is held, against all programs of ours, it is read once."""
        if (data := getattr(self._holding, "data", None)) is not None:
            return bytes(data)
        try:
            data = self.file.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            raise self._no_job() from None
        except OSError as error:
            raise JobError(f"{self.file} cannot be read ({reason_of(error)}); {self._way_back()}.") from None
        if getattr(self._holding, "now", False):
            self._holding.data = data
        return data

    def _job_of(self, data: bytes) -> Job:
        return read_job(data, str(self.file), self._way_back())

    def _no_job(self) -> JobError:
        return JobError(f"{self.path} is no job folder; make one with “wainscribe new {self.path}”.")

    def _way_back(self) -> str:
        return f"take the last change back with “wainscribe undo {self.path}”, or copy the file from a backup"

    def state(self) -> tuple[int, Job]:
        """The job as it stands, and the number of that state: another one after every change, whoever made it."""
        data, log = self._read(), self._log()
        self._job_of(data)  # says what is wrong where it cannot be read
        if not log.knows(data):  # changed by hand, or by a program that keeps no log
            log = log.at(data)
            with suppress(PlainError), self.held(), plain_disk_errors(self.path):  # a disk that may only be read
                data = self._read()
                log = self._log().at(data)
                write_whole(self.log, write_log(log))
        return log.at(data).revision, self._job_of(data)

    def answer(self, sent: str) -> str | None:
        """What the change that was sent with this id was answered with; None if it was never made."""
        return self._log().at(self._now()).answer(sent)

    def after(self, sent: str) -> Job | None:
        """The job as it was right after the change that was sent with this id; None where that is long ago."""
        made = self._log().at(self._now()).digest_after(sent)
        for state in (self.file, *reversed(_states(self.history)), *_states(self.undone)):
            if digest(state.read_bytes()) == made:
                return self._opened([state])
        return None

    def answer_with(self, name: str) -> None:
        """Say what is answered to who sends the change under way again."""
        self.doing = dict.fromkeys(self.doing, name)

    def _log(self) -> Log:
        try:
            return read_log(self.log.read_text("utf-8"))
        except (OSError, UnicodeDecodeError):
            return Log()

    def _now(self) -> bytes:
        return self._read() if self.file.exists() else b""

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder against every other program and thread; who holds it by this object may hold it again."""
        if getattr(self._holding, "now", False):
            yield
            return
        lock = FileLock(self.path / ".lock")
        with plain_disk_errors(self.path):
            if not self.file.exists() and not _states(self.history):
                raise self._no_job()
            try:
                lock.acquire(timeout=WAIT)
            except Timeout:  # an OSError too, but not the disk's
                raise JobError(
                    f"Another program is changing {self.path} right now; wait for it and try again."
                ) from None
            for left_behind in self.path.glob(".*.json.*.tmp"):  # by a change that was cut off
                left_behind.unlink(missing_ok=True)
        self._holding.now = True
        try:
            yield
        finally:
            self._holding.now, self._holding.data = False, None
            lock.release()

    @contextmanager
    def changing(self) -> "Iterator[Change]":
        """Hold the job for one change: load, replace `change.job`, and it is on disk when the block ends well.

        Raises
        ------
        JobError
            Another program holds the job, the disk refuses, or the changed job could not be read again.
        """
        with self.held():
            change = Change(self.load())
            before = change.job
            yield change
            after = rechecked(change.job, before)
            with plain_disk_errors(self.path):
                if after != before:
                    self._write(write_job(after))
                elif self.doing:
                    write_whole(self.log, write_log(self._log().at(self._now()).noting(self.doing)))
            self.doing = {}

    def _write(self, after: bytes) -> None:
        """Put the changed job in place of the one before; the last step alone makes it so."""
        self._keep_before()
        for state in _states(self.undone):
            state.unlink()
        write_whole(self.log, write_log(self._log().at(self._now()).then(after, self.doing)))
        self._holding.data = None  # whether or not the disk takes it
        write_whole(self.file, after)
        self._holding.data = after

    def undo(self) -> None:
        """Take the last change back; this mends a damaged job file as well."""
        with self.held(), plain_disk_errors(self.path):
            states = self._others(self.history)
            if not states:
                raise JobError(f"There is nothing to undo in {self.path}.")
            self._turn(states[-1], self.undone)

    def redo(self) -> None:
        """Make the change again that was taken back last."""
        with self.held(), plain_disk_errors(self.path):
            states = self._others(self.undone)
            if not states:
                raise JobError(f"There is nothing to redo in {self.path}.")
            self._turn(states[0], self.history)

    def would_undo(self) -> Job | None:
        """The job as it was before the last change; None where there is no change to take back."""
        return self._opened(self._other(reversed(_states(self.history))))

    def would_redo(self) -> Job | None:
        """The job as it was before the last undo; None where nothing was taken back since the last change."""
        return self._opened(self._other(_states(self.undone)))

    def _other(self, states: Iterable[Path]) -> list[Path]:
        """The first of these states that is not the job as it stands."""
        now = self._now()
        return list(islice((state for state in states if state.read_bytes() != now), 1))

    def _opened(self, states: list[Path]) -> Job | None:
        for state in states:
            with suppress(JobError):
                return read_job(state.read_bytes(), str(state))
        return None

    def _others(self, folder: Path) -> list[Path]:
        """The states kept in a folder, without those that were kept for a step that then was cut off."""
        states, now = _states(folder), self._now()
        ends = (-1,) if folder == self.history else (0,)
        while states and states[ends[0]].read_bytes() == now:
            states.pop(ends[0]).unlink()
        return states

    def _turn(self, state: Path, keep: Path) -> None:
        """Put a kept state in place of the job file, which is kept in its stead for the way back, if it opens."""
        now, then = self._now(), state.read_bytes()
        if self._opened([self.file] if now else []) is not None:
            keep.mkdir(exist_ok=True)
            write_whole(keep / state.name, now)
        write_whole(self.log, write_log(self._log().at(now).then(then, self.doing)))
        self._holding.data = None
        os.replace(state, self.file)
        sync_folder(self.path)

    def _keep_before(self) -> None:
        self.history.mkdir(exist_ok=True)
        states = _states(self.history)
        number = int(states[-1].stem) + 1 if states else 1
        write_whole(self.history / f"{number:08d}.json", self.file.read_bytes())  # whoever wrote it
        for old in states[: max(0, len(states) + 1 - KEPT)]:
            old.unlink()

    def store_photo(self, name: str, data: bytes) -> str:
        """Keep a photo's bytes as they are, under a file name that is safe anywhere; its file name."""
        stem, ext = os.path.splitext(os.path.basename(name.replace("\\", "/")))
        stem = file_stem(stem, "photo")
        ext = ext.lower() if re.fullmatch(r"\.[A-Za-z0-9]{1,5}", ext) else ""
        with self.held(), plain_disk_errors(self.path):
            self.photos.mkdir(exist_ok=True)
            there = {p.name.casefold(): p for p in self.photos.iterdir()}  # other machines take A.jpg for a.jpg
            file, n = f"{stem}{ext}", 1
            while kept := there.get(file.casefold()):
                if kept.read_bytes() == data:
                    return kept.name
                n += 1
                file = f"{stem}-{n}{ext}"
            write_whole(self.photos / file, data)
        return file

    def photo_file(self, file: str) -> Path:
        """Where an original lies: a name is never a path."""
        return self.photos / os.path.basename(file)

    def read_photo(self, file: str) -> bytes:
        """An original's bytes."""
        try:
            return self.photo_file(file).read_bytes()
        except OSError:
            raise JobError(f"The photo {file} is missing from {self.photos}; copy it back there.") from None


def _states(folder: Path) -> list[Path]:
    return sorted(p for p in folder.glob("*.json") if p.stem.isdigit())


class Change:
    """A job under change."""

    def __init__(self, job: Job) -> None:
        self.job = job
