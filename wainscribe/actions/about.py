"""What a person says of the job itself: whose it is, what is wanted, which cards and which phone."""

import re
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from capture.calibrate import calibrate
from capture.detect import detect
from capture.errors import UnknownNameError
from capture.photos import read_photo
from capture.record import Lens, PrintRun
from layout.corners import check_first
from layout.scheme import Scheme, check_scheme
from wainscribe.actions.change import ActionError, checked, read_file, with_changes
from wainscribe.actions.solving import Tell
from wainscribe.folder import JobFolder
from wainscribe.job import Job
from wainscribe.kept import keep_lens, load_kept, taught_by_others
from wainscribe.logo import read_logo
from wainscribe.names import printable
from wainscribe.seen import search_photo, seen_in


def new_job(path: Path, name: str, sent: str = "") -> JobFolder:
    """Make a new job folder, for what a browser sent with an id."""
    return JobFolder.create(path, checked(Job, {"name": name}), sent)


ABOUT = ("name", "address", "customer", "installer", "logo", "date", "year_built", "units", "paper")


def set_about(folder: JobFolder, facts: dict[str, str]) -> Job:
    """Set what the papers say of the job: customer, address, year_built, units, ...; an empty value clears one.

    A logo is named as `keep_logo` did.
    """
    if logo := facts.get("logo"):
        read_logo(folder.read_photo(logo), logo)
    with folder.changing() as change:
        change.job = with_changes(change.job, facts, ABOUT, "fact about the job")
    return change.job


def keep_logo(folder: JobFolder, name: str, data: bytes) -> str:
    """Keep a logo's file as it is, if it can be shown; its file name in the job, for `set_about`."""
    folder.load()
    read_logo(data, printable(name)[:80])
    return folder.store_photo(name, data)


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
        scheme = with_changes(job.scheme, plain, settable, "scheme setting")
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
        whole = {f"{wall.name}: {mark.name}": mark.name for wall in job.walls for mark in wall.marks}
        meant = [one for one, mark in whole.items() if name in (one, mark)]
        if not meant:
            raise UnknownNameError("mark", name, [*whole, *dict.fromkeys(whole.values())])
        if len(meant) > 1:
            raise ActionError(f"“{name}” stands on {len(meant)} walls; say which: {' or '.join(meant)}.")
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
        picture = read_photo(read_file(file), printable(file.name))
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
