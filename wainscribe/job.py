"""The job as people noted and decided it, read from its file and written to it; what cannot be read is named."""

import json
from collections import OrderedDict
from collections.abc import Collection
from datetime import date as Day
from threading import Lock
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError, ValidationInfo, model_validator

from capture.errors import PlainError, UnknownNameError
from capture.lengths import Unit
from capture.record import Conditions, Lens, Name, Note, PrintRun, Record, Room, Wall
from layout.scheme import Scheme, check_scheme
from layout.yard import Yard
from wainscribe.disk import reason_of
from wainscribe.names import check_mark_names, check_names, check_new_names, check_texts, printable

VERSION = 1


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
    def walls_by_room(self) -> list[list[str]]:
        """The names of all walls, room by room, of rooms that have any."""
        return [[wall.name for wall in room.walls] for room in self.rooms if room.walls]

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


def write_job(job: Job) -> bytes:
    """What a job file holds, UTF-8; read again, it is this very job."""
    data = (job.model_dump_json(indent=1) + "\n").encode()
    _known.keep(data, job)
    return data


def rechecked(job: Job, before: Job | None = None) -> Job:
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
