"""The job folder: one folder a job, every change whole or not at all.

job.json     what people noted and decided (versioned; the schema is `wainscribe schema`)
photos/      originals as taken, never rewritten
history/     earlier states of job.json, for undo
measured/    what was found in each photo; made anew when missing
papers/      made anew at will
"""

import json
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from errno import ENOSPC, EROFS
from pathlib import Path
from typing import Annotated, Any, Literal

from filelock import FileLock, Timeout
from pydantic import Field, ValidationError

from capture.errors import PlainError, UnknownNameError
from capture.record import Name, Note, PrintRun, Record, Room, Wall
from layout.scheme import Scheme

VERSION = 1
WAIT = 10.0  # s for another program's change to end
KEPT = 500  # earlier states


class JobError(PlainError):
    """A job folder that cannot be used as it is."""


class Job(Record):
    """All that people noted and decided for one job."""

    version: Literal[1] = 1
    name: Name
    address: Note = ""
    customer: Note = ""
    installer: Note = ""
    date: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""  # of the walkthrough, ISO 8601
    year_built: Annotated[int, Field(ge=1500, le=2200)] | None = None
    units: Literal["in", "mm"] = "in"
    paper: Literal["letter", "a4"] = "letter"
    print_run: PrintRun = PrintRun()
    rooms: tuple[Room, ...] = ()
    scheme: Scheme = Scheme()

    @property
    def walls(self) -> list[Wall]:
        """All walls, room by room."""
        return [wall for room in self.rooms for wall in room.walls]

    def wall(self, name: str) -> Wall:
        """The wall of that name."""
        for wall in self.walls:
            if wall.name == name:
                return wall
        raise UnknownNameError("wall", name, [w.name for w in self.walls])

    def with_wall(self, wall: Wall, room: str | None = None) -> "Job":
        """The job with this wall in place of the one of its name, or added last to `room`."""
        if wall.name in [w.name for w in self.walls]:
            rooms = [
                r.model_copy(update={"walls": tuple(wall if w.name == wall.name else w for w in r.walls)})
                for r in self.rooms
            ]
            return self.model_copy(update={"rooms": tuple(rooms)})
        room = room or (self.rooms[-1].name if self.rooms else "room")
        rooms = list(self.rooms)
        if room not in [r.name for r in rooms]:
            rooms.append(Room(name=room))
        at = [r.name for r in rooms].index(room)
        rooms[at] = rooms[at].model_copy(update={"walls": (*rooms[at].walls, wall)})
        return self.model_copy(update={"rooms": tuple(rooms)})


class JobFolder:
    """A job on disk."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file = path / "job.json"
        self.photos = path / "photos"
        self.history = path / "history"
        self.measured = path / "measured"

    @classmethod
    def create(cls, path: Path, job: Job) -> "JobFolder":
        """A new job folder; refuses one that already holds a job."""
        folder = cls(path)
        if folder.file.exists():
            raise JobError(f"{path} already holds a job; choose another folder.")
        with plain_disk_errors(path):
            for part in (path, folder.photos, folder.history, folder.measured):
                part.mkdir(parents=True, exist_ok=True)
            write_whole(folder.file, _text(job))
        return folder

    def load(self) -> Job:
        """The job as it stands."""
        try:
            text = self.file.read_text("utf-8")
        except FileNotFoundError:
            raise JobError(f"{self.path} is no job folder; make one with “wainscribe new {self.path}”.") from None
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(f"{self.file} cannot be read ({_reason(error)}); undo, or copy it from a backup.") from None
        return read_job(text, str(self.file))

    @contextmanager
    def changing(self) -> "Iterator[Change]":
        """Hold the job for one change: load, replace `change.job`, and it is on disk when the block ends well."""
        lock = FileLock(self.path / ".lock")
        try:
            with plain_disk_errors(self.path):
                lock.acquire(timeout=WAIT)
        except Timeout:
            raise JobError(f"Another program is changing {self.path} right now; wait for it and try again.") from None
        try:
            change = Change(self.load())
            before = change.job
            yield change
            if change.job != before:
                with plain_disk_errors(self.path):
                    self._keep_before()
                    write_whole(self.file, _text(change.job))
        finally:
            lock.release()

    def undo(self) -> None:
        """Take the last change back."""
        with self.changing():
            states = self._states()
            if not states:
                raise JobError(f"There is nothing to undo in {self.path}.")
            with plain_disk_errors(self.path):
                os.replace(states[-1], self.file)
                _sync_folder(self.path)

    def _states(self) -> list[Path]:
        return sorted(p for p in self.history.glob("*.json") if p.stem.isdigit())

    def _keep_before(self) -> None:
        self.history.mkdir(exist_ok=True)
        states = self._states()
        number = int(states[-1].stem) + 1 if states else 1
        write_whole(self.history / f"{number:08d}.json", self.file.read_bytes())
        for old in states[: max(0, len(states) + 1 - KEPT)]:
            old.unlink()

    def store_photo(self, name: str, data: bytes) -> str:
        """Keep a photo's bytes as they are, under a file name that is safe anywhere; its file name."""
        stem, ext = os.path.splitext(os.path.basename(name.replace("\\", "/")))
        stem = re.sub(r"[^A-Za-z0-9_-]+", "-", stem).strip("-")[:60] or "photo"
        ext = ext.lower() if re.fullmatch(r"\.[A-Za-z0-9]{1,5}", ext) else ""
        with plain_disk_errors(self.path):
            self.photos.mkdir(exist_ok=True)
            file, n = f"{stem}{ext}", 1
            while (self.photos / file).exists():
                if (self.photos / file).read_bytes() == data:
                    return file
                n += 1
                file = f"{stem}-{n}{ext}"
            write_whole(self.photos / file, data)
        return file

    def read_photo(self, file: str) -> bytes:
        """An original's bytes."""
        try:
            return (self.photos / os.path.basename(file)).read_bytes()
        except OSError:
            raise JobError(f"The photo {file} is missing from {self.photos}; copy it back there.") from None


class Change:
    """A job under change."""

    def __init__(self, job: Job) -> None:
        self.job = job


def read_job(text: str, where: str) -> Job:
    """Check a job file's text at the door.

    Raises
    ------
    JobError
        Not JSON, from a newer version, or a field that is not as it should be: the field is named.
    """
    try:
        data: Any = json.loads(text)
    except (ValueError, RecursionError):
        raise JobError(f"{where} is damaged (not JSON); undo, or copy it from a backup.") from None
    version = data.get("version") if isinstance(data, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise JobError(f"{where} was written by a newer wainscribe (format {version}); update this one to open it.")
    try:
        return Job.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"]) or "the file"
        raise JobError(f"{where} is damaged at “{field}”: {first['msg']}; undo, or copy it from a backup.") from None


def write_whole(path: Path, data: bytes | str) -> None:
    """Write a file whole or not at all: a temporary file in the same folder, synced, then renamed over."""
    temporary = path.with_name(f".{path.name}.{os.getpid()}.tmp")
    try:
        with open(temporary, "wb") as file:
            file.write(data.encode() if isinstance(data, str) else data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":
        return  # Windows has no handle to sync a folder by
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def plain_disk_errors(path: Path) -> Iterator[None]:
    """Turn what a disk can refuse into one sentence."""
    try:
        yield
    except OSError as error:
        if error.errno == ENOSPC:
            raise JobError(f"The disk of {path} is full; nothing was changed. Free some space and try again.") from None
        if isinstance(error, PermissionError) or error.errno == EROFS:
            raise JobError(f"{path} may not be written to; choose a folder of your own.") from None
        raise JobError(f"{path} cannot be written ({_reason(error)}); nothing was changed.") from None


def _reason(error: Exception) -> str:
    return error.strerror if isinstance(error, OSError) and error.strerror else type(error).__name__


def _text(job: Job) -> str:
    return job.model_dump_json(indent=1) + "\n"
