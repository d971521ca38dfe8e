"""What a person can do with a job, one function each; the command line and the pages both call these."""

import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from capture.advise import proposals
from capture.calibrate import calibrate
from capture.camera import Camera
from capture.detect import detect
from capture.errors import PlainError, UnknownNameError
from capture.lengths import show_length
from capture.measure import MeasuredWall, measure_walls
from capture.photos import read_photo
from capture.places import FLOOR, LEFT_END, RIGHT_END, named_place
from capture.record import (
    TRAITS,
    Along,
    Aside,
    EndDetail,
    EndKind,
    Kind,
    Lens,
    Mark,
    Photo,
    PrintRun,
    Record,
    Side,
    Sight,
    Tape,
    Wall,
)
from capture.survey import CARD_ELSEWHERE, Finding
from capture.taps import SNAPS, Snapped, snap_sights
from layout.corners import check_first
from layout.next_steps import Step, next_steps, undecided
from layout.plan import Plan, plan_walls
from layout.scheme import Scheme, check_scheme
from wainscribe.job import Job, JobFolder, what_is_wrong
from wainscribe.kept import keep_lens, load_kept, taught_by_others
from wainscribe.names import printable
from wainscribe.seen import Measured, search_photo, search_photos, seen_in

Array = NDArray[np.float64]
Tell = Callable[[str], None]
R = TypeVar("R", bound=Record)


SCALE_WANTED = 0.001  # printed scale known to this, one sd, is no more than tapes and taps leave over a wall
LONG = 140.0  # in: a long wall, to say what an unsure scale means


class ActionError(PlainError):
    """Something asked for that cannot be done."""


def new_job(path: Path, name: str) -> JobFolder:
    """Make a new job folder."""
    return JobFolder.create(path, checked(Job, {"name": name}))


ABOUT = ("name", "address", "customer", "installer", "date", "year_built", "units", "paper")


def set_about(folder: JobFolder, facts: dict[str, str]) -> Job:
    """Set what the papers say of the job: customer, address, year_built, units, ...; an empty value clears one."""
    with folder.changing() as change:
        change.job = _with(change.job, facts, ABOUT, "fact about the job")
    return change.job


KEYED = {"panels": "panels", "pin": "pins", "stile_at": "stile_at", "no_stile": "no_stile"}  # KEY.NAME=VALUE


def set_scheme(folder: JobFolder, wishes: dict[str, str]) -> Scheme:
    """Set the scheme: ``stile=3 1/2``, ``nudge=1/4``, ``panels.long wall=5``, ``pin.receptacle 1=move``.

    An empty value goes back to the usual one, frees a count, and forgets a pin or a place.
    """
    plain = {key: value for key, value in wishes.items() if key.partition(".")[0] not in KEYED}
    named = {key: value for key, value in wishes.items() if key not in plain}
    settable = [
        field for field in Scheme.model_fields if field not in (*KEYED.values(), "unit")
    ]  # the job has the unit
    with folder.changing() as change:
        job = change.job
        scheme = _with(job.scheme, plain, settable, "scheme setting")
        for key, value in named.items():
            field, _, name = key.partition(".")
            scheme = _with_named(job, scheme, KEYED[field], name, value)
        check_first(scheme, [wall.name for wall in job.walls])
        change.job = job.model_copy(update={"scheme": scheme})
        check_scheme(change.job.wanted)
    return change.job.wanted


def _with_named(job: Job, scheme: Scheme, field: str, name: str, value: str) -> Scheme:
    """The scheme with what is wanted for one run, wall or thing; nothing wanted takes it out."""
    known: dict[str, object] = dict(getattr(scheme, field))
    if name not in known:
        _check_there(job, field, name)
    known.pop(name, None)
    wanted: object = _count(name, value) if field == "panels" else value
    return checked(Scheme, {**dict(scheme), field: {**known, name: wanted} if wanted else known})


def _check_there(job: Job, field: str, name: str) -> None:
    """Refuse a run or a thing that the job does not have; its nearest is named."""
    if field == "pins":
        things = [mark.name for wall in job.walls for mark in wall.marks]
        if name not in [*things, *(f"{wall.name}: {mark.name}" for wall in job.walls for mark in wall.marks)]:
            raise UnknownNameError("mark", name, things)
    elif not any(_of_wall(name, wall.name) for wall in job.walls):
        raise UnknownNameError("run", name, [wall.name for wall in job.walls])


def _of_wall(run: str, wall: str) -> bool:
    return run == wall or run.startswith(f"{wall}, ")


def _count(run: str, text: str) -> int:
    if text == "":
        return 0
    if not re.fullmatch("[0-9]{1,3}", text) or not 1 <= int(text) <= 100:
        raise ActionError(f"The number of panels for “{run}” must be a whole number from 1 to 100, not “{text}”.")
    return int(text)


def _with(record: R, changes: dict[str, str], settable: Sequence[str], what: str) -> R:
    for key in changes:
        if key not in settable:
            raise UnknownNameError(what, key, list(settable))
    fields = type(record).model_fields
    cleared = {k: "" if fields[k].is_required() else fields[k].get_default() for k, v in changes.items() if v == ""}
    return checked(type(record), {**dict(record), **changes, **cleared})


def checked(record: type[R], values: dict[str, Any]) -> R:
    """A record from plain values, or one sentence that names the field."""
    try:
        return record.model_validate(values)
    except ValidationError as error:
        field, words = what_is_wrong(error)
        given = printable(str(error.errors()[0]["input"]))
        shown = given if len(given) <= 40 else f"{given[:40]}…"
        raise ActionError(f"“{field}” cannot be “{shown}”: {words}." if field else f"{words}.") from None


def set_print_run(folder: JobFolder, name: str, across: Fraction | None, up: Fraction | None) -> PrintRun:
    """Note what the check bars of a print run read; a bar that is not given keeps its reading in the same run.

    What other jobs taught of the run is noted with it.
    """
    for reading, true in ((across, 6), (up, 9)):
        if reading is not None and abs(reading / true - 1) > Fraction(3, 100):
            raise ActionError(
                f"The {true} in bar reads {float(reading):.3f} in, {float(reading / true):.1%} of its size: "
                "it was fitted to the page; print the cards again at 100 %."
            )
    read = {key: value for key, value in (("across", across), ("up", up)) if value is not None}
    with folder.changing() as change:
        old = change.job.print_run
        before = {"across": old.across, "up": old.up} if old.name == name else {}
        printed = checked(PrintRun, {**dict(taught_by_others(folder.path, name)), **before, **read})
        change.job = change.job.model_copy(update={"print_run": printed})
    return printed


def calibrate_lens(files: Sequence[Path], tell: Tell = lambda _: None) -> Lens:
    """Calibrate a phone's lens from photos of the cards, and keep it for all jobs to come."""
    seen = []
    for file in files:
        tell(f"looking at {file.name}")
        picture = read_photo(_read_file(file), printable(file.name))
        found = detect(picture.gray, file.name)
        seen.append(seen_in(picture, found, printable(file.name)))
    tell("calibrating")
    lens = calibrate(seen)
    keep_lens(lens)
    return lens


def take_lenses(folder: JobFolder) -> tuple[Lens, ...]:
    """Note in the job the kept lenses of the phones that its photos were taken with; those that are new to it."""
    job = folder.load()
    photos = [p for w in job.walls for p in w.photos if not p.record_only]
    phones = {search_photo(folder, p).phone for p in photos} - {""}
    mine = tuple(lens for lens in load_kept().lenses if lens.phone in phones)
    new = tuple(lens for lens in mine if lens not in job.lenses)
    if new:
        with folder.changing() as change:
            others = tuple(lens for lens in change.job.lenses if lens.phone not in {n.phone for n in mine})
            change.job = change.job.model_copy(update={"lenses": (*others, *mine)})
    return new


def set_aside(folder: JobFolder, wall: str, card: int, photo: str | None, *, back: bool = False) -> Wall:
    """Set a card aside, in one photo or in all, or take it back."""
    name = None if photo is None else find_photo(folder.load().wall(wall), photo).name
    one = Aside(card=card, photo=name)

    def edit(now: Wall) -> Wall:
        if back and one not in now.asides:
            raise ActionError(f"Card {card} is not set aside{f' in “{name}”' if name else ''} on “{now.name}”.")
        kept = tuple(a for a in now.asides if a != one)
        return now.model_copy(update={"asides": kept if back else (*kept, one)})

    return change_wall(folder, wall, edit)


def set_wall(
    folder: JobFolder,
    name: str,
    room: str | None,
    given: dict[str, object],
    ends: dict[Side, dict[str, str]] | None = None,
) -> Wall:
    """Add a wall, last in its room, or change one: only what is given changes, and None clears.

    `ends` changes what is noted of an end, by the names of `EndDetail`; an empty value clears it.
    """
    _not_nothing(name, {what: given.get(what) for what in ("width", "ceiling")})
    with folder.changing() as change:
        known: dict[str, Any] = {w.name: dict(w) for w in change.job.walls}
        values = known.get(name, {"name": name})
        for side, noted in (ends or {}).items():
            field = f"{side}_detail"
            old = values.get(field, EndDetail())
            values[field] = _with(old, noted, list(EndDetail.model_fields), f"detail of the {side} end")
        wall = checked(Wall, {**values, **given})
        change.job = change.job.with_wall(wall, room)
    return wall


def _not_nothing(name: str, lengths: dict[str, object]) -> None:
    for what, length in lengths.items():
        if length == 0:
            raise ActionError(f"The {what} of “{name}” cannot be nothing; tape it, or leave it out.")


def remove_wall(folder: JobFolder, name: str) -> None:
    """Take a wall away with all that is noted on it; its photos stay in the folder."""
    with folder.changing() as change:
        change.job = change.job.without_wall(change.job.wall(name).name)


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
    data = _read_file(file)
    called = printable(file.name)[:80].strip() or "photo"
    read_photo(data, called)
    stored = folder.store_photo(file.name, data)
    measured = search_photo(folder, Photo(name=called, file=stored))

    def edit(now: Wall) -> Wall:
        old = next((p for p in now.photos if p.file == stored), None)
        name = old.name if old else _free_photo_name(now, called)
        photo = Photo(name=name, file=stored, caption=caption, record_only=record_only or not measured.cards)
        return now.model_copy(update={"photos": (*(p for p in now.photos if p != old), photo)})

    return change_wall(folder, wall, edit).photos[-1], measured


def _read_file(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except IsADirectoryError:
        raise ActionError(f"{file} is a folder; name the photos in it, such as {file / '*.jpg'}.") from None
    except OSError as error:
        raise ActionError(f"{file} cannot be read ({error.strerror or 'unknown reason'}); check its name.") from None


def _free_photo_name(wall: Wall, name: str) -> str:
    """A phone starts to count anew one day: two pictures of one name must not share their marks."""
    stem, dot, ending = name.rpartition(".")
    taken = {p.name for p in wall.photos}
    names = (name, *(f"{stem[:70]} ({n}){dot}{ending[:5]}" for n in range(2, len(taken) + 3)))
    return next(free for free in names if free not in taken)


def remove_photo(folder: JobFolder, wall: str, name: str) -> str:
    """Take a photo off a wall, with what was marked in it; the original stays in the folder. Its full name."""

    def edit(now: Wall) -> Wall:
        gone = find_photo(now, name).name
        photos = tuple(p for p in now.photos if p.name != gone)
        marks = (m.model_copy(update={"sights": tuple(s for s in m.sights if s.photo != gone)}) for m in now.marks)
        return now.model_copy(update={"photos": photos, "marks": tuple(marks)})

    full = find_photo(folder.load().wall(wall), name).name
    change_wall(folder, wall, edit)
    return full


def find_photo(wall: Wall, name: str) -> Photo:
    """A photo of a wall by its name, with or without its ending."""
    by_name = {p.name.rsplit(".", 1)[0]: p for p in reversed(wall.photos)} | {p.name: p for p in wall.photos}
    if name not in by_name:
        raise UnknownNameError(f"photo of “{wall.name}”", name, [p.name for p in wall.photos])
    return by_name[name]


def add_mark(folder: JobFolder, wall: str, mark: Mark, tapes: Sequence[Tape] = ()) -> Mark:
    """Add a mark, or change the one of its name.

    Only the fields that `mark` was made with change; its sights in the same photo are replaced, others stay.
    """
    _not_nothing(mark.name, {"width": mark.width, "height": mark.height})
    for photo in dict.fromkeys(s.photo for s in mark.sights):
        _check_pixels(folder, find_photo(folder.load().wall(wall), photo), [s for s in mark.sights if s.photo == photo])

    def edit(now: Wall) -> Wall:
        sights = tuple(_known_sight(now, s) for s in mark.sights)
        old = next((m for m in now.marks if m.name == mark.name), None)
        if old is not None and old.kind is not mark.kind:
            raise ActionError(f"“{mark.name}” on “{now.name}” is a {old.kind}, not a {mark.kind}; use another name.")
        fresh = {s.photo for s in sights}
        kept = tuple(s for s in old.sights if s.photo not in fresh) if old else ()
        given = {field: getattr(mark, field) for field in mark.model_fields_set}
        if old is None and mark.projection is None and _at_casing(now, mark):
            given["projection"] = TRAITS[Kind.CASING_EDGE].projection  # its edge is seen at the casing's face
        whole = (old or mark).model_copy(update={**given, "sights": (*kept, *sights)})
        marks = tuple(whole if m.name == mark.name else m for m in now.marks)
        now = now.model_copy(update={"marks": marks if old else (*marks, whole)})
        for tape in tapes:
            check_tape(now, tape, ())
            now = _with_tape(now, tape)
        return now

    return next(m for m in change_wall(folder, wall, edit).marks if m.name == mark.name)


def _at_casing(wall: Wall, mark: Mark) -> bool:
    ends = {Side.LEFT: wall.left, Side.RIGHT: wall.right}
    return mark.kind is Kind.WALL_END and mark.side is not None and ends[mark.side] is EndKind.CASING


def _known_sight(wall: Wall, sight: Sight) -> Sight:
    return sight.model_copy(update={"photo": find_photo(wall, sight.photo).name})


def _check_pixels(folder: JobFolder, photo: Photo, sights: Iterable[Sight]) -> None:
    """Refuse pixels that nothing could be measured by."""
    if photo.record_only:
        raise ActionError(f"“{photo.name}” is a record photo, nothing is measured in it; mark it in another photo.")
    width, height = search_photo(folder, photo).size
    for sight in sights:
        if not (-0.5 <= sight.u <= width - 0.5 and -0.5 <= sight.v <= height - 0.5):
            raise ActionError(
                f"Pixel {sight.u:g},{sight.v:g} lies outside “{photo.name}”, which is {width} × {height} as stored "
                "upright; check the two numbers."
            )
    _check_corners(sights)


def _check_corners(sights: Iterable[Sight]) -> None:
    """Refuse corners that lie the wrong way round: in an upright photo left is left of right, top above bottom."""
    at = {word: [s for s in sights if word in s.at.value.split()] for word in ("left", "right", "top", "bottom")}
    if any(one.u >= other.u for one in at["left"] for other in at["right"]):
        raise ActionError("A left corner lies right of a right one; check which pixel is which corner.")
    if any(one.v >= other.v for one in at["top"] for other in at["bottom"]):
        raise ActionError("A top corner lies below a bottom one; check which pixel is which corner.")


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
    now = folder.load().wall(wall)
    cards = {c.number for p in now.photos if not p.record_only for c in search_photo(folder, p).cards}
    check_tape(now, tape, sorted(cards))
    change_wall(folder, wall, lambda now: _with_tape(now, tape))
    return tape


def check_tape(wall: Wall, tape: Tape, cards: Sequence[int]) -> None:
    """Refuse a reading that tells nothing, in a sentence."""
    start, end = named_place(wall, tape.start, cards), named_place(wall, tape.end, cards)
    across = start.x is not None and end.x is not None and tape.along is not Along.UP
    up = start.y is not None and end.y is not None and tape.along is not Along.ACROSS
    if tape.start == tape.end or tape.length == 0:
        raise ActionError(f"A tape from “{tape.start}” to “{tape.end}” must have a length between two places.")
    if not (across or up):
        raise ActionError(
            f"A tape laid {tape.along} from “{tape.start}” to “{tape.end}” tells nothing; an end or an upright line "
            "is reached across, a floor or level line up."
        )


def remove_tape(folder: JobFolder, wall: str, start: str, end: str) -> None:
    """Take the tape readings between two places away."""

    def edit(now: Wall) -> Wall:
        kept = tuple(t for t in now.tapes if {t.start, t.end} != {start, end})
        if kept == now.tapes:
            known = [f"{t.start} to {t.end}" for t in now.tapes]
            raise UnknownNameError(f"tape reading on “{wall}”", f"{start} to {end}", known)
        return now.model_copy(update={"tapes": kept})

    change_wall(folder, wall, edit)


def place_name(text: str) -> str:
    """A place as a person types it: “Left end”, “card 03”; what a mark is called stays as it is."""
    plain = printable(text)
    if card := re.fullmatch(r"card ?#?([0-9]{1,4})", plain, re.I):
        return f"card {int(card[1])}"
    return plain.lower() if plain.lower() in (LEFT_END, RIGHT_END, FLOOR) else plain


def _with_tape(wall: Wall, tape: Tape) -> Wall:
    """One reading to use and one held back may lie between the same two places; a second of either replaces it."""
    others = tuple(t for t in wall.tapes if _lies(t) != _lies(tape))
    return wall.model_copy(update={"tapes": (*others, tape)})


def _lies(tape: Tape) -> tuple[frozenset[str], Along, bool]:
    return frozenset((tape.start, tape.end)), tape.along, tape.check_only


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


def solve_job(folder: JobFolder, job: Job, names: Sequence[str] = (), tell: Tell = lambda _: None) -> list[SolvedWall]:
    """Adjust the walls of a job together; those named come back, or all.

    What only another wall needs and cannot be read does not keep the walls named from being solved.
    """
    wanted = [job.wall(name).name for name in names] or [wall.name for wall in job.walls]
    found = _searched(folder, job, wanted, tell)
    rooms = [
        [(wall, [m.seen(p.name) for p, m in found[wall.name] if m.cards]) for wall in room.walls] for room in job.rooms
    ]
    tell("measuring")
    measured = measure_walls(rooms, job.print_run, job.lenses)
    solved = []
    for (wall, _), one in zip((pair for room in rooms for pair in room), measured, strict=True):
        if wall.name in wanted:
            one = _without_neighbours(folder, job, one)
            told = [finding for _, m in found[wall.name] for finding in m.told()]
            solved.append(SolvedWall(wall, one, (*told, *one.survey.findings)))
    return sorted(solved, key=lambda s: wanted.index(s.wall.name))


def _searched(
    folder: JobFolder, job: Job, wanted: Sequence[str], tell: Tell
) -> dict[str, list[tuple[Photo, Measured]]]:
    """The measured photos of every wall, searched on all processors."""
    photos = {wall.name: [p for p in wall.photos if not p.record_only] for wall in job.walls}
    needed = [p for name in wanted for p in photos[name]]
    searched = dict(zip([p.file for p in needed], search_photos(folder, needed, tell), strict=True))
    for name in photos:
        with suppress(PlainError):  # of the other walls, what cannot be read is left out
            others = [p for p in photos[name] if p.file not in searched]
            searched |= zip([p.file for p in others], search_photos(folder, others, tell), strict=True)
    return {name: [(p, searched[p.file]) for p in mine if p.file in searched] for name, mine in photos.items()}


def solve_wall(folder: JobFolder, job: Job, name: str) -> SolvedWall:
    """Adjust the walls of a job together; one of them."""
    return solve_job(folder, job, [name])[0]


def _without_neighbours(folder: JobFolder, job: Job, measured: MeasuredWall) -> MeasuredWall:
    """The wall without a word on cards that hang on another wall of the job, as that wall's own photos show."""
    survey = measured.survey
    if not any(f.code == CARD_ELSEWHERE for f in survey.findings):
        return measured
    others = [p for w in job.walls if w.name != survey.name for p in w.photos if not p.record_only]
    hang = {f"card {c.number}" for found in search_photos(folder, others) for c in found.cards}
    kept = tuple(f for f in survey.findings if f.code != CARD_ELSEWHERE or f.subject not in hang)
    return replace(measured, survey=replace(survey, findings=kept))


def locate(folder: JobFolder, wall: str, photo: str, pixels: Array, z: Array, tap_sd: float) -> tuple[Array, Array]:
    """Wall places (N, 2) of pixels (N, 2), in inches, and their joint covariance (2N, 2N)."""
    job = folder.load()
    name = find_photo(job.wall(wall), photo).name
    solved = solve_wall(folder, job, wall)
    if name not in {s.name for s in solved.measured.solution.net.shots}:
        why = next((f.sentence for f in solved.findings if f.place == name), f"No card was found in “{name}”.")
        raise ActionError(f"{why} So nothing can be measured in it.")
    with np.errstate(all="ignore"):  # a ray that misses the wall comes out as no number, or behind the camera
        xy, covariance = solved.measured.solution.locate(name, pixels, z, tap_sd)
        camera = solved.measured.solution.camera(name)
        seen = camera.sees(np.column_stack([xy, z])) & np.isfinite(covariance).all(axis=1).reshape(-1, 2).all(axis=1)
    if not seen.all():
        u, v = pixels[int(np.argmin(seen))]
        raise ActionError(f"Pixel {u:g},{v:g} of “{name}” shows no place on the wall; check that it lies in the photo.")
    return xy, covariance


def plan_job(folder: JobFolder, job: Job, tell: Tell = lambda _: None) -> tuple[list[SolvedWall], Plan]:
    """Solve every wall and plan each room as one."""
    if not job.walls:
        raise no_wall_yet(folder)
    solved = solve_job(folder, job, tell=tell)
    surveys = {s.wall.name: s.measured.survey for s in solved}
    plans = [plan_walls([surveys[w.name] for w in room.walls], job.wanted) for room in job.rooms if room.walls]
    walls = tuple(wall for plan in plans for wall in plan.walls)
    return solved, Plan(job.wanted, walls, tuple(choice for plan in plans for choice in plan.choices))


def what_next(solved: Sequence[SolvedWall], plan: Plan) -> list[Step]:
    """What would settle what is too close to tell, wall by wall, the most telling first."""
    steps = []
    for one in solved:
        wall = plan.wall(one.wall.name)
        about = undecided(wall)
        offered = proposals(one.wall, one.measured, about) if about else []
        steps += next_steps(wall, offered, plan.scheme)
    return sorted(steps, key=lambda step: -len(step.settles))


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


def no_wall_yet(folder: JobFolder) -> ActionError:
    """A job without a wall; how to add one."""
    return ActionError(f"{folder.path} has no wall yet; add one with “wainscribe wall {folder.path} NAME”.")


def unknown_kind(text: str) -> UnknownNameError:
    """No mark is of that kind; the nearest one is offered."""
    return UnknownNameError("kind of mark", text, [kind.value for kind in Kind])


@dataclass(frozen=True)
class SnappedMark:
    """What became of one mark in one photo."""

    mark: str
    photo: str
    snapped: Snapped


def snap_marks(folder: JobFolder, wall: str, names: Sequence[str] = ()) -> list[SnappedMark]:
    """Move the sights of marks to the true edges near their taps, in one change; all marks if none is named."""
    job = folder.load()
    now = job.wall(wall)
    for name in names:
        if name not in [m.name for m in now.marks]:
            raise UnknownNameError(f"mark on “{wall}”", name, [m.name for m in now.marks])
    solution = solve_wall(folder, job, wall).measured.solution
    solved = {s.name for s in solution.net.shots}
    marks = [m for m in now.marks if (m.name in names if names else m.kind in SNAPS)]
    told: list[SnappedMark] = []
    for photo in now.photos:
        mine = [m for m in marks if any(s.photo == photo.name for s in m.sights)]
        if photo.name in solved and mine:
            gray, camera = read_photo(folder.read_photo(photo.file), photo.name).gray, solution.camera(photo.name)
            told += [SnappedMark(m.name, photo.name, _snap(gray, camera, m, photo.name)) for m in mine]
    change_wall(folder, wall, lambda wall: _with_snapped(wall, told))
    return told


def _snap(gray: NDArray[np.uint8], camera: Camera, mark: Mark, photo: str) -> Snapped:
    sights = tuple(s for s in mark.sights if s.photo == photo)
    if mark.kind not in SNAPS:
        return Snapped(sights, 0.0, False, f"A {mark.kind} has no edges to look for.")
    return snap_sights(gray, camera, mark, sights)


def _with_snapped(wall: Wall, told: Sequence[SnappedMark]) -> Wall:
    def snapped(mark: Mark) -> Mark:
        mine = {t.photo: t.snapped.sights for t in told if t.mark == mark.name}
        kept = (s for s in mark.sights if s.photo not in mine)
        return mark.model_copy(update={"sights": (*kept, *(s for sights in mine.values() for s in sights))})

    return wall.model_copy(update={"marks": tuple(snapped(m) for m in wall.marks)})
