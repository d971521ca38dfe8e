"""What a person can do with a job, one function each; the command line and the pages both call these."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from capture.errors import PlainError, UnknownNameError
from capture.measure import MeasuredWall, measure_wall
from capture.network import Seen
from capture.photos import read_photo
from capture.places import named_place
from capture.record import Along, Kind, Mark, Photo, PrintRun, Record, Sight, Tape, Wall
from capture.survey import Finding
from layout.plan import Plan, plan_walls
from layout.scheme import Scheme
from wainscribe.job import Job, JobFolder
from wainscribe.seen import Measured, search_photo

Array = NDArray[np.float64]
Tell = Callable[[str], None]
R = TypeVar("R", bound=Record)


class ActionError(PlainError):
    """Something asked for that cannot be done."""


def new_job(path: Path, name: str) -> JobFolder:
    """Make a new job folder."""
    return JobFolder.create(path, Job(name=name))


def set_about(folder: JobFolder, facts: dict[str, str]) -> Job:
    """Set what the papers say of the job: customer, address, year_built, units, ..."""
    settable = ("name", "address", "customer", "installer", "date", "year_built", "units", "paper")
    with folder.changing() as change:
        change.job = _with(change.job, facts, settable, "fact about the job")
        return change.job


def set_scheme(folder: JobFolder, wishes: dict[str, str]) -> Scheme:
    """Set the scheme: ``stile=3 1/2``, ``panel_width=24``, ``panels.long wall=5``; an empty value frees a count."""
    counts = {k.removeprefix("panels."): v for k, v in wishes.items() if k.startswith("panels.")}
    plain = {k: v for k, v in wishes.items() if not k.startswith("panels.")}
    with folder.changing() as change:
        scheme = _with(
            change.job.scheme, plain, tuple(f for f in Scheme.model_fields if f != "panels"), "scheme setting"
        )
        panels = {run: n for run, n in {**scheme.panels, **{k: _count(k, v) for k, v in counts.items()}}.items() if n}
        scheme = _checked(Scheme, {**dict(scheme), "panels": panels})
        change.job = change.job.model_copy(update={"scheme": scheme})
        return scheme


def _count(run: str, text: str) -> int:
    if text == "":
        return 0
    if not text.isdigit() or not 1 <= int(text) <= 100:
        raise ActionError(f"The number of panels for “{run}” must be a whole number from 1 to 100, not “{text}”.")
    return int(text)


def _with(record: R, changes: dict[str, str], settable: Sequence[str], what: str) -> R:
    for key in changes:
        if key not in settable:
            raise UnknownNameError(what, key, list(settable))
    defaults = {k: type(record).model_fields[k].get_default() for k, v in changes.items() if v == ""}
    return _checked(type(record), {**dict(record), **changes, **defaults})


def _checked(record: type[R], values: dict[str, object]) -> R:
    """A record from plain values, or one sentence that names the field."""
    try:
        return record.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"]) or record.__name__.lower()
        raise ActionError(
            f"“{field}” cannot be “{first['input']}”: {first['msg'].removeprefix('Value error, ')}."
        ) from None


def set_print_run(folder: JobFolder, name: str, across: Fraction | None, up: Fraction | None) -> PrintRun:
    """Note what the check bars of a print run read."""
    for reading, true in ((across, 6), (up, 9)):
        if reading is not None and abs(reading / true - 1) > Fraction(3, 100):
            raise ActionError(
                f"The {true} in bar reads {float(reading):.3f} in, {float(reading / true):.1%} of its size: "
                "it was fitted to the page; print the cards again at 100 %."
            )
    printed = PrintRun(name=name, across=across, up=up)
    with folder.changing() as change:
        change.job = change.job.model_copy(update={"print_run": printed})
    return printed


def set_wall(folder: JobFolder, name: str, room: str | None, given: dict[str, object]) -> Wall:
    """Add a wall, last in its room, or change one: only what is given changes."""
    with folder.changing() as change:
        known: dict[str, Any] = {w.name: w for w in change.job.walls}
        wall = _checked(Wall, {**dict(known.get(name, {"name": name})), **given})
        change.job = change.job.with_wall(wall, room)
        return wall


def change_wall(folder: JobFolder, name: str, edit: Callable[[Wall], Wall]) -> Wall:
    """Change one wall of the job."""
    with folder.changing() as change:
        wall = edit(change.job.wall(name))
        change.job = change.job.with_wall(wall)
        return wall


def add_photo(
    folder: JobFolder, wall: str, file: Path, caption: str = "", record_only: bool = False
) -> tuple[Photo, Measured]:
    """Take a photo in: keep the original, search it, and note it with its wall.

    A photo that shows no card is kept as a record photo.
    """
    folder.load().wall(wall)
    try:
        data = file.read_bytes()
    except OSError as error:
        raise ActionError(f"{file} cannot be read ({error.strerror or 'unknown reason'}); check its name.") from None
    read_photo(data, file.name)
    photo = Photo(
        name=file.name[:80], file=folder.store_photo(file.name, data), caption=caption, record_only=record_only
    )
    measured = search_photo(folder, photo)
    if not measured.cards:
        photo = photo.model_copy(update={"record_only": True})

    def edit(now: Wall) -> Wall:
        others = tuple(p for p in now.photos if p.name != photo.name)
        return now.model_copy(update={"photos": (*others, photo)})

    change_wall(folder, wall, edit)
    return photo, measured


def find_photo(wall: Wall, name: str) -> Photo:
    """A photo of a wall by its name, with or without its ending."""
    for photo in wall.photos:
        if name in (photo.name, photo.name.rsplit(".", 1)[0]):
            return photo
    raise UnknownNameError(f"photo of “{wall.name}”", name, [p.name for p in wall.photos])


def add_mark(folder: JobFolder, wall: str, mark: Mark, tapes: Sequence[Tape] = ()) -> Mark:
    """Add a mark, or change the one of its name: its sights in the same photo are replaced, others stay."""

    def edit(now: Wall) -> Wall:
        sights = tuple(_known_sight(now, s) for s in mark.sights)
        old = next((m for m in now.marks if m.name == mark.name), None)
        if old is not None and old.kind is not mark.kind:
            raise ActionError(f"“{mark.name}” on “{now.name}” is a {old.kind}, not a {mark.kind}; use another name.")
        fresh = {s.photo for s in sights}
        kept = tuple(s for s in old.sights if s.photo not in fresh) if old else ()
        whole = mark.model_copy(update={"sights": (*kept, *sights)})
        marks = tuple(whole if m.name == mark.name else m for m in now.marks)
        now = now.model_copy(update={"marks": marks if old else (*marks, whole)})
        for tape in tapes:
            now = _with_tape(now, tape)
        return now

    change_wall(folder, wall, edit)
    return mark


def _known_sight(wall: Wall, sight: Sight) -> Sight:
    return sight.model_copy(update={"photo": find_photo(wall, sight.photo).name})


def free_name(wall: Wall, kind: Kind) -> str:
    """The next free name for a mark of this kind, such as “receptacle 3”."""
    taken = {m.name for m in wall.marks}
    return next(name for n in range(1, len(taken) + 2) if (name := f"{kind} {n}") not in taken)


def remove_mark(folder: JobFolder, wall: str, name: str) -> None:
    """Take a mark away, with the tape readings that go to it."""

    def edit(now: Wall) -> Wall:
        if name not in [m.name for m in now.marks]:
            raise UnknownNameError(f"mark on “{wall}”", name, [m.name for m in now.marks])
        touches = [t for t in now.tapes if name in (_owner(now, t.start), _owner(now, t.end))]
        return now.model_copy(
            update={
                "marks": tuple(m for m in now.marks if m.name != name),
                "tapes": tuple(t for t in now.tapes if t not in touches),
            }
        )

    change_wall(folder, wall, edit)


def _owner(wall: Wall, place: str) -> str:
    return max(
        (m.name for m in wall.marks if place == m.name or place.startswith(m.name + " ")), key=len, default=place
    )


def add_tape(folder: JobFolder, wall: str, tape: Tape) -> Tape:
    """Note a tape reading; one between the same two places takes the place of the old one."""
    job = folder.load()
    cards = {c.number for p in job.wall(wall).photos if not p.record_only for c in search_photo(folder, p).cards}
    for place in (tape.start, tape.end):
        named_place(job.wall(wall), place, sorted(cards))
    change_wall(folder, wall, lambda now: _with_tape(now, tape))
    return tape


def _with_tape(wall: Wall, tape: Tape) -> Wall:
    others = tuple(t for t in wall.tapes if {t.start, t.end} != {tape.start, tape.end} or t.along != tape.along)
    return wall.model_copy(update={"tapes": (*others, tape)})


def usual_along(start: str, end: str) -> Along:
    """How a tape lay, told by its ends: the floor means up, an end or a side means across, else straight."""
    ends = (start, end)
    if any(e == "floor" or e.endswith((" top", " bottom")) for e in ends):
        return Along.UP
    if any(e in ("left end", "right end") or e.endswith((" left", " right")) for e in ends):
        return Along.ACROSS
    return Along.STRAIGHT


@dataclass(frozen=True)
class SolvedWall:
    """A wall as noted and as measured, and what its photos told."""

    wall: Wall
    measured: MeasuredWall
    findings: tuple[Finding, ...]


def solve_wall(folder: JobFolder, job: Job, name: str) -> SolvedWall:
    """Adjust one wall."""
    wall = job.wall(name)
    seen: list[Seen] = []
    findings: list[Finding] = []
    for photo in wall.photos:
        if photo.record_only:
            continue
        measured = search_photo(folder, photo)
        findings += measured.told()
        if measured.cards:
            seen.append(measured.seen(photo.name))
    measured_wall = measure_wall(wall, seen, job.print_run)
    return SolvedWall(wall, measured_wall, (*findings, *measured_wall.survey.findings))


def locate(folder: JobFolder, wall: str, photo: str, pixels: Array, z: Array, tap_sd: float) -> tuple[Array, Array]:
    """Wall places (N, 2) of pixels (N, 2), in inches, and their joint covariance (2N, 2N)."""
    job = folder.load()
    name = find_photo(job.wall(wall), photo).name
    solved = solve_wall(folder, job, wall)
    if name not in {s.name for s in solved.measured.solution.net.shots}:
        why = next((f.sentence for f in solved.findings if f.place == name), f"No card was found in “{name}”.")
        raise ActionError(f"{why} So nothing can be measured in it.")
    return solved.measured.solution.locate(name, pixels, z, tap_sd)


def plan_job(folder: JobFolder, job: Job, tell: Tell = lambda _: None) -> tuple[list[SolvedWall], Plan]:
    """Solve every wall and plan each room as one."""
    solved, plans = [], []
    for room in job.rooms:
        here = []
        for wall in room.walls:
            tell(f"measuring {wall.name}")
            here.append(solve_wall(folder, job, wall.name))
        solved += here
        if here:
            plans.append(plan_walls([s.measured.survey for s in here], job.scheme))
    return solved, Plan(job.scheme, tuple(wall for plan in plans for wall in plan.walls))


def unknown_kind(text: str) -> UnknownNameError:
    """No mark is of that kind; the nearest one is offered."""
    return UnknownNameError("kind of mark", text, [kind.value for kind in Kind])
