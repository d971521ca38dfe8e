"""The job folder: one folder a job, every change whole or not at all.

job.json     what people noted and decided (versioned; the schema is `wainscribe schema`)
photos/      originals as taken, never rewritten; the installer's logo too
history/     earlier states of job.json, for undo
undone/      states that were taken back, for redo, until the next change
log.json     counts the changes, and remembers those that were sent with an id
measured/    what was found in each photo, and pictures for the eye; made anew when missing
papers/      made anew at will
"""

import json
import os
import re
from collections import OrderedDict
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import date as Day
from itertools import islice
from pathlib import Path
from threading import Lock, local
from typing import Annotated, Any, Literal

from filelock import FileLock, Timeout
from pydantic import AfterValidator, Field, ValidationError, ValidationInfo, model_validator

from capture.errors import PlainError, UnknownNameError
from capture.lengths import Unit
from capture.record import Conditions, Lens, Name, Note, PrintRun, Record, Room, Wall
from layout.scheme import Scheme, check_scheme
from layout.yard import Yard
from wainscribe.disk import file_stem, plain_disk_errors, reason_of, sync_folder, write_whole
from wainscribe.log import Log, digest, read_log, write_log
from wainscribe.names import check_mark_names, check_names, check_new_names, check_texts, printable

VERSION = 1
WAIT = 10.0  # s for another program's change to end
KEPT = 500  # earlier states


class JobError(PlainError):
    """A job folder that cannot be used as it is."""


def _day(text: str) -> str:
    try:
        return Day.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise ValueError("a day is written like 2026-05-31") from None


class Job(Record):
    """All that people noted and decided for one job."""

    version: Literal[1] = 1
    name: Name
    address: Note = ""
    customer: Note = ""
    installer: Note = ""
    logo: Annotated[str, Field(max_length=80)] = ""  # the installer's mark: its file name in photos/; "" is none
    date: Annotated[str, AfterValidator(_day)] = ""  # of the walkthrough, ISO 8601
    year_built: Annotated[int, Field(ge=1500, le=2200)] | None = None
    conditions: Conditions = Conditions()  # of the whole house
    units: Literal["in", "mm"] = "in"
    paper: Literal["letter", "a4"] = "letter"
    print_run: PrintRun = PrintRun()
    lenses: tuple[Lens, ...] = ()  # as calibrated for the phones of this job
    rooms: tuple[Room, ...] = ()
    scheme: Scheme = Scheme()
    alternatives: dict[Name, dict[str, Any]] = Field(default_factory=dict, max_length=6)  # what differs, by name
    yard: Yard = Yard()  # what can be bought, and how the shop saws

    @property
    def walls(self) -> list[Wall]:
        """All walls, room by room."""
        return [wall for room in self.rooms for wall in room.walls]

    @property
    def names(self) -> list[str]:
        """What its rooms, walls, photos and marks are called."""
        names = [room.name for room in self.rooms]
        for wall in self.walls:
            names += [wall.name, *(photo.name for photo in wall.photos), *(mark.name for mark in wall.marks)]
        return names

    def wall(self, name: str) -> Wall:
        """The wall of that name."""
        for wall in self.walls:
            if wall.name == name:
                return wall
        raise UnknownNameError("wall", name, [w.name for w in self.walls])

    @property
    def wanted(self) -> Scheme:
        """The scheme, speaking in the job's units."""
        return self.scheme.model_copy(update={"unit": Unit(self.units)})

    def other_scheme(self, name: str) -> Scheme:
        """The scheme of an alternative, speaking in the job's units; UnknownNameError if there is none."""
        if name not in self.alternatives:
            raise UnknownNameError("alternative", name, list(self.alternatives))
        return Scheme.model_validate({**self.scheme.model_dump(), **self.alternatives[name], "unit": Unit(self.units)})

    def with_wall(self, wall: Wall, room: str | None = None) -> "Job":
        """The job with this wall in place of the one of its name; one that is new to `room` comes last there."""
        home = next((r.name for r in self.rooms if wall.name in [w.name for w in r.walls]), None)
        if home is not None and room in (None, home):
            rooms = [
                r.model_copy(update={"walls": tuple(wall if w.name == wall.name else w for w in r.walls)})
                for r in self.rooms
            ]
            return self.model_copy(update={"rooms": tuple(rooms)})
        rooms = list(self.without_wall(wall.name).rooms)
        room = room or (rooms[-1].name if rooms else "room")
        if room not in [r.name for r in rooms]:
            rooms.append(Room(name=room))
        at = [r.name for r in rooms].index(room)
        rooms[at] = rooms[at].model_copy(update={"walls": (*rooms[at].walls, wall)})
        return self.model_copy(update={"rooms": tuple(rooms)})

    def without_wall(self, name: str) -> "Job":
        """The job without the wall of that name, and without a room that this leaves empty."""
        rooms = [r.model_copy(update={"walls": tuple(w for w in r.walls if w.name != name)}) for r in self.rooms]
        return self.model_copy(update={"rooms": tuple(r for r in rooms if r.walls)})

    @model_validator(mode="after")
    def _can_be_told_apart(self, info: ValidationInfo) -> "Job":
        read = (info.context or {}).get("read", ())  # walls that were checked when they were read
        new = [wall for wall in self.walls if id(wall) not in read]
        check_texts(self.model_copy(update={"rooms": tuple(Room(name=r.name) for r in self.rooms)}))
        for wall in new:
            check_texts(wall)
        check_names("alternative", list(self.alternatives))
        for name in self.alternatives:
            _check_alternative(self, name)
        check_names("room", [r.name for r in self.rooms])
        check_names("wall", [w.name for w in self.walls])
        for wall in new:
            check_names(f"photo of “{wall.name}”", [p.name for p in wall.photos])
            check_mark_names(wall)
        return self


def _check_alternative(job: Job, name: str) -> None:
    try:
        check_scheme(job.other_scheme(name))
    except ValidationError as error:
        field, words = what_is_wrong(error)
        raise ValueError(f"the alternative “{name}” cannot be planned: “{field}”: {words}") from None
    except PlainError as error:
        raise ValueError(f"the alternative “{name}” cannot be planned: {error}") from None


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
            text = _text(_rechecked(job)).encode()
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
        job = self._job_of(data)
        if not log.knows(data):  # changed by hand, or by a program that keeps no log
            log = log.at(data)
            with suppress(PlainError), self.held(), plain_disk_errors(self.path):  # a disk that may only be read
                data = self._read()
                log = self._log().at(data)
                write_whole(self.log, write_log(log))
                job = self._job_of(data)
        return log.at(data).revision, job

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
            after = _rechecked(change.job, before)
            with plain_disk_errors(self.path):
                if after != before:
                    data = _text(after).encode()
                    self._write(data)
                    _known.keep(data, after)
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


def read_job(text: str | bytes, where: str, way_back: str = "copy it from a backup") -> Job:
    """Check a job file's text at the door.

    Parameters
    ----------
    text
        What the file holds, as text or as UTF-8.
    where, way_back
        For the sentence: which file, and what to do if it is damaged.

    Raises
    ------
    JobError
        Not JSON, from a newer version, or a field that is not as it should be: the field is named.
    """
    try:
        return _validated(text.encode() if isinstance(text, str) else text)
    except UnicodeDecodeError as error:
        raise JobError(f"{where} cannot be read ({reason_of(error)}); {way_back}.") from None
    except ValidationError as error:
        field, words = what_is_wrong(error)
        at = f" at “{field}”" if field else ""
        raise JobError(f"{where} is damaged{at}: {words}; {way_back}.") from None
    except _NewerError as error:
        raise JobError(
            f"{where} was written by a newer wainscribe (format {error}); update this one to open it."
        ) from None
    except (ValueError, RecursionError):
        raise JobError(f"{where} is damaged (not JSON); {way_back}.") from None


class _NewerError(Exception):
    """A job file of a later version."""


class _Known:
    """The jobs of files that were read or written lately; nobody changes a job in place."""

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._jobs: OrderedDict[bytes, Job] = OrderedDict()
        self._lock = Lock()

    def get(self, data: bytes) -> Job | None:
        with self._lock:
            if data in self._jobs:
                self._jobs.move_to_end(data)
            return self._jobs.get(data)

    def keep(self, data: bytes, job: Job) -> None:
        with self._lock:
            self._jobs[data] = job
            while len(self._jobs) > self._most:
                self._jobs.popitem(last=False)


_known = _Known()


def _validated(data: bytes) -> Job:
    if (known := _known.get(data)) is not None:
        return known
    text = data.decode("utf-8-sig")
    parsed: Any = json.loads(text)
    version = parsed.get("version") if isinstance(parsed, dict) else None
    if isinstance(version, int) and version > VERSION:
        raise _NewerError(str(version)[:12])
    job = Job.model_validate_json(text)
    _known.keep(data, job)
    return job


def _rechecked(job: Job, before: Job | None = None) -> Job:
    """The job as it will read from disk, so that nothing is written that could not be opened again.

    What it has of the job before, which was read from there, is taken as it is: a house has hundreds of marks, and one
    was changed.
    """
    read = {id(one) for one in (*before.rooms, *before.walls)} if before else set()
    try:
        check_new_names(before.names if before else (), job.names)
        rooms = [room if id(room) in read else _as_written(room, read) for room in job.rooms]
        same = {name: value for name, value in before or () if getattr(job, name) is value}
        return Job.model_validate(
            {**job.model_dump(exclude={"rooms", *same}), **same, "rooms": rooms}, context={"read": read}
        )
    except ValidationError as error:
        field, words = what_is_wrong(error)
        raise JobError(f"“{field}” cannot be kept: {words}." if field else f"{words}.") from None
    except ValueError as error:
        raise JobError(f"{error}.") from None


def _as_written(room: Room, read: Collection[int]) -> dict[str, Any]:
    walls = [wall if id(wall) in read else wall.model_dump() for wall in room.walls]
    return {**room.model_dump(exclude={"walls"}), "walls": walls}


WRONG = {
    "missing": "it is missing",
    "extra_forbidden": "nothing of that name is known",
    "string_type": "it must be text",
    "string_too_short": "it must not be empty",
    "string_too_long": "it must be no longer than {max_length} letters",
    "int_parsing": "it must be a whole number",
    "int_type": "it must be a whole number",
    "int_from_float": "it must be a whole number",
    "float_type": "it must be a number",
    "float_parsing": "it must be a number",
    "finite_number": "it must be a plain number",
    "bool_type": "it must be true or false",
    "bool_parsing": "it must be true or false",
    "tuple_type": "it must be a list",
    "dict_type": "it must be a group of named values",
    "model_type": "it must be a group of named values",
    "greater_than_equal": "it must be {ge} or more",
    "less_than_equal": "it must be {le} or less",
    "greater_than": "it must be more than {gt}",
    "literal_error": "it must be {expected}",
    "enum": "it must be {expected}",
}


def what_is_wrong(error: ValidationError) -> tuple[str, str]:
    """The first field that is not as it should be ("" for all of it together), and why, in plain words."""
    first = error.errors()[0]
    field = printable(".".join(str(part) for part in first["loc"]))[:120]
    if first["type"] == "value_error":
        return field, printable(first["msg"].removeprefix("Value error, ")).rstrip(".")
    return field, WRONG.get(first["type"], "it cannot be read").format(**first.get("ctx", {}))


def _text(job: Job) -> str:
    return job.model_dump_json(indent=1) + "\n"
