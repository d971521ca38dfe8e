"""The command line: each command parses, calls one action, and prints.

Results go to standard output, what is said to a person to standard error. Exit status 0 done, 1 could not be
done (one line says why and what to do), 2 wrong use.
"""

import csv
import json
import sys
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import click
import numpy as np

from capture.cards import LARGEST_NUMBER
from capture.errors import PlainError
from capture.lengths import Unit, show_length, show_spread
from capture.record import TRAITS, Along, At, EndKind, Kind, Mark, PrintRun, Shape, Side, Sight, Tape
from capture.survey import MISFITS, Feature, Finding
from layout.frames import Frame
from layout.plan import Plan
from layout.scheme import Scheme
from report.cardsheet import PAPERS, cards_pdf
from wainscribe import actions, told
from wainscribe.demo import make_demo
from wainscribe.job import Job, JobFolder, plain_disk_errors, write_whole
from wainscribe.kept import UNNAMED, keep_print_run
from wainscribe.names import printable
from wainscribe.papers import make_papers
from wainscribe.params import FORMER_LENGTH, LENGTH, PIXEL, SETTING


class PlainCommands(click.Group):
    """Turns every plain error into its one sentence and exit status 1."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        try:
            return super().invoke(ctx)
        except PlainError as error:
            raise click.ClickException(str(error)) from None


def say(text: str) -> None:
    """Say something to the person."""
    click.echo(text, err=True)


def tell_findings(findings: Sequence[Finding]) -> None:
    """Say what the program noticed, with what to do."""
    for finding in findings:
        say(f"{finding.grade}: {finding.sentence} {finding.remedy}".rstrip())


def answer(data: Any) -> None:
    """Print a result as JSON."""
    click.echo(json.dumps(data, indent=1, allow_nan=False))


JOB = click.argument("job", type=click.Path(path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the result as JSON on standard output.")


@click.group(cls=PlainCommands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="wainscribe")
def main() -> None:
    """Measure walls from photographs with printed cards, plan wainscot on them, and make the papers."""


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("demo-job"))
def demo(folder: Path) -> None:
    """Make the demo job in a new FOLDER, start to papers."""
    papers = make_demo(folder, say)
    say(f"The papers of the demo job lie in {papers[0].parent}; start with {papers[0].name}.")


@main.command()
@click.option("--paper", type=click.Choice(sorted(PAPERS)), default="letter", show_default=True)
@click.option(
    "--first",
    type=click.IntRange(1, LARGEST_NUMBER),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="First card.",
)
@click.option(
    "--last", type=click.IntRange(1, LARGEST_NUMBER), metavar="NUMBER", default=12, show_default=True, help="Last card."
)
@click.option("--print-run", default="first", show_default=True, help="Name printed on each card of this print run.")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path("cards.pdf"), show_default=True)
def cards(paper: str, first: int, last: int, print_run: str, output: Path) -> None:
    """Make reference cards to print, one a page, at true scale."""
    if last < first:
        raise click.UsageError(f"--last {last} comes before --first {first}.")
    named = actions.checked(PrintRun, {"name": printable(print_run)}).name
    with plain_disk_errors(output):
        write_whole(output, cards_pdf(range(first, last + 1), PAPERS[paper], named))
    say(f"Cards {first} to {last} are in {output}. Print at 100 %, then read the check bar on one sheet.")


@main.command()
@JOB
@click.option("--name", help="What the papers call the job; the folder's name if not given.")
def new(job: Path, name: str | None) -> None:
    """Make a new job folder."""
    actions.new_job(job, name or printable(job.resolve().name)[:80].strip())
    say(f"{job} is ready; add its walls in order round the room with “wainscribe wall”.")


@main.command()
@JOB
@click.argument("settings", type=SETTING, nargs=-1)
def about(job: Path, settings: tuple[tuple[str, str], ...]) -> None:
    """Say what the papers should know of the job, KEY=VALUE, or show it.

    The keys: name, address, customer, installer, date (2026-05-31), year_built, units (in or mm), paper (letter or
    a4). KEY= alone clears one.
    """
    folder = JobFolder(job)
    noted = actions.set_about(folder, dict(settings)) if settings else folder.load()
    for key in actions.ABOUT:
        click.echo(f"{key}: {'' if (value := getattr(noted, key)) is None else value}".rstrip())


@main.command("print-run")
@JOB
@click.option("--name", default="first", show_default=True)
@click.option("--across", type=LENGTH, help="What the 6 in bar reads.")
@click.option("--up", type=LENGTH, help="What the 9 in between the left targets read.")
def print_run(job: Path, name: str, across: Fraction | None, up: Fraction | None) -> None:
    """Note which print run the cards are of, and what the check bars on one card read.

    A run with a name of its own is known from job to job: what long tape readings taught of its scale is used again.
    """
    if across is None and up is None and name == UNNAMED:
        raise click.UsageError("Give --across, --up or both: what the bars on one card read.")
    printed = actions.set_print_run(JobFolder(job), name, across, up)
    if across is not None or up is not None:
        say(f"The bars of print run “{name}” are noted.")
    if known := len(printed.learnt):
        say(f"Its scale is known from {known} earlier {'job' if known == 1 else 'jobs'}.")


@main.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--job", "for_job", type=click.Path(path_type=Path), help="Use it in this job too.")
def lens(files: tuple[Path, ...], for_job: Path | None) -> None:
    """Calibrate a phone's lens from photos of the cards, and keep it for the jobs to come.

    Stick four or more cards on one flat wall or floor. Photograph them all from four or more places: from the left,
    the right, above, with the phone on its side.
    """
    kept = actions.calibrate_lens(files, say)
    say(
        f"{kept.phone}: focal length {kept.f.value:.0f} ± {1.96 * kept.f.sd:.0f} pixels by {kept.photos} photos; "
        "photos taken in the same way are measured with it from now on."
    )
    if for_job is not None:
        actions.take_lenses(JobFolder(for_job))


@main.command()
@JOB
@click.argument("wall")
@click.argument("number", type=click.IntRange(1, LARGEST_NUMBER))
@click.option("--photo", "photo_name", help="Only in this photo; in all if not given.")
@click.option("--back", is_flag=True, help="Use it again.")
def aside(job: Path, wall: str, number: int, photo_name: str | None, back: bool) -> None:
    """Set card NUMBER aside on WALL, such as one that slipped between two photos, or take it back."""
    actions.set_aside(JobFolder(job), wall, number, photo_name, back=back)
    where = f"in {photo_name}" if photo_name else f"on {wall}"
    say(f"Card {number} is used again {where}." if back else f"Card {number} is set aside {where}.")


ENDS = click.Choice([kind.value for kind in EndKind])
SIDES = click.Choice([side.value for side in Side])


@main.command()
@JOB
@click.argument("name")
@click.option("--room", help="Its room; for a new wall the last one if not given. Moves a wall that stands elsewhere.")
@click.option("--left", type=ENDS, help="How the wainscot ends at the left.")
@click.option("--right", type=ENDS, help="How it ends at the right.")
@click.option("--width", type=FORMER_LENGTH, help="Taped from end to end; the flat part at a bullnose corner.")
@click.option("--ceiling", type=FORMER_LENGTH, help="Taped height of the ceiling.")
@click.option("--bow", type=FORMER_LENGTH, help="The widest gap under a long straightedge; 0 for a flat wall.")
@click.option("--bullnose-radius", type=FORMER_LENGTH)
@click.option("--left-detail", type=SETTING, multiple=True, help="What is known of the left end, KEY=VALUE.")
@click.option("--right-detail", type=SETTING, multiple=True, help="What is known of the right end, KEY=VALUE.")
@click.option("--note")
@click.option("--remove", is_flag=True, help="Take the wall away with all that is noted on it.")
def wall(
    job: Path,
    name: str,
    room: str | None,
    remove: bool,
    left_detail: tuple[tuple[str, str], ...],
    right_detail: tuple[tuple[str, str], ...],
    **given: Any,
) -> None:
    """Add a wall, or change what is given. Walls go in order round the room, left to right from inside.

    A length given as '' clears what was noted. The keys of an end's detail: angle (between the two walls, in degrees),
    joint (mitred or butted), radius, flat_to_flat and strips (of a bullnose), relief_bevel (yes or no), out_of_plumb.
    """
    folder = JobFolder(job)
    if remove:
        actions.remove_wall(folder, name)
        _say_gone(job, name)
        return
    ends = {Side.LEFT: dict(left_detail), Side.RIGHT: dict(right_detail)}
    noted = actions.set_wall(folder, name, room, _given(given), ends)
    width = "width not taped" if noted.width is None else f"{show_length(noted.width, _unit(folder))} wide"
    say(f"{noted.name}: {width}, from {noted.left} to {noted.right}.")


def _given(options: dict[str, Any]) -> dict[str, Any]:
    """The options that were given; one given as '' clears its value."""
    return {k: None if v == "" and k != "note" else v for k, v in options.items() if v is not None}


def _unit(folder: JobFolder) -> Unit:
    return Unit(folder.load().units)


def _say_gone(job: Path, what: str) -> None:
    say(f"{what} is gone; “wainscribe undo {job}” brings it back.")


@main.command()
@JOB
@click.argument("wall")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--caption", default="")
@click.option("--record-only", is_flag=True, help="Documents a condition; not to be measured.")
@click.option(
    "--remove", is_flag=True, help="Take the photos of these names off the wall, with what is marked in them."
)
def photo(job: Path, wall: str, files: tuple[Path, ...], caption: str, record_only: bool, remove: bool) -> None:
    """Take photos of WALL in; says at once which cards were found."""
    if remove:
        for file in files:
            _say_gone(job, actions.remove_photo(JobFolder(job), wall, str(file)))
        return
    failed, done = None, False
    for file in files:
        try:
            taken, measured = actions.add_photo(JobFolder(job), wall, file, caption, record_only)
        except PlainError as error:  # one bad file must not keep the others out
            say(f"Error: {error}")
            failed = error
            continue
        done = True
        found = ", ".join(str(c.number) for c in measured.cards)
        kept = "" if not taken.record_only else " Kept as a record photo."
        say(f"{taken.name}: " + (f"cards {found}." if found else "no card.") + kept)
        if not record_only:
            tell_findings(measured.told())
    for lens in actions.take_lenses(JobFolder(job)) if done else ():
        say(f"{lens.phone} is measured with its calibrated lens.")
    if failed is not None:
        sys.exit(1)


@main.command()
@JOB
@click.argument("walls", nargs=-1)
@AS_JSON
def solve(job: Path, walls: tuple[str, ...], as_json: bool) -> None:
    """Adjust the walls (all if none is named) and tell what stands where."""
    folder = JobFolder(job)
    loaded = folder.load()
    if not loaded.walls:
        raise actions.no_wall_yet(folder)
    solved = actions.solve_job(folder, loaded, walls, (lambda _: None) if as_json else say)
    _keep(job, loaded, solved)
    for one in solved:
        tell_findings(one.findings)
    if as_json:
        answer({"walls": [told.solved(one) for one in solved]})
        return
    for one in solved:
        survey = one.measured.survey
        width = survey.width.show(Unit(loaded.units)) if survey.width else "width not known"
        by = f"; lens of {survey.lens}" if survey.lens else ""
        click.echo(f"{survey.name}: {width}; level by {survey.level}{by}.")
        for feature in survey.features:
            if not (feature.kind is Kind.WALL_END and feature.mark.side is Side.LEFT):  # where measuring starts
                click.echo(f"  {feature.name}: {_where(feature, Unit(loaded.units), _origin(one.findings))}")
        for reading in survey.readings:
            click.echo(f"  taped {reading.told(Unit(loaded.units))}")
        if survey.corner:
            click.echo(f"  right corner: {survey.corner.told(Unit(loaded.units))}")
        for check in survey.checks:
            click.echo(f"  held back, {check.told(Unit(loaded.units))}")


def _keep(job: Path, loaded: Job, solved: Sequence[actions.SolvedWall]) -> None:
    """Keep what the job taught of its print run, unless something does not fit together."""
    if any(finding.code in MISFITS for one in solved for finding in one.findings):
        return
    if keep_print_run(job, loaded.print_run, [one.measured.solution for one in solved]):
        say(f"What this job taught of the scale of print run “{loaded.print_run.name}” is kept for the next.")


def _origin(findings: Sequence[Finding]) -> tuple[str, str]:
    """From where places across and up are counted."""
    missing = {finding.code for finding in findings}
    return (
        "a card, not from the left end" if "no-left-end" in missing else "the left end",
        "a card, not the floor" if "no-floor" in missing else "the floor",
    )


def _where(feature: Feature, unit: Unit, origin: tuple[str, str]) -> str:
    parts = []
    if feature.across is not None:
        parts.append(f"{feature.across.show(unit)} from {origin[0]}")
    if feature.up is not None:
        parts.append(f"{feature.up.show(unit)} above {origin[1]}")
    sides = (feature.left, feature.right), (feature.bottom, feature.top)
    if feature.rectangle:
        size = " × ".join(show_length(high.value - low.value, unit) for low, high in sides if low and high)
        parts.append(f"{size} in size")
    return ", ".join(parts) or "not measured yet"


@main.command("next")
@JOB
@AS_JSON
def what_next(job: Path, as_json: bool) -> None:
    """Tell what to tape or photograph next: what would settle most of what is too close to tell."""
    folder = JobFolder(job)
    solved, plan = actions.plan_job(folder, folder.load())
    steps, first = actions.what_next(solved, plan), actions.first_reading(solved)
    if as_json:
        answer(told.steps(first, steps))
        return
    for line in [*([first] if first else []), *(f"{s.wall}: {s.told(plan.scheme.unit)}" for s in steps)]:
        click.echo(line)
    if not steps and not first:
        say("Nothing is too close to tell.")


@main.command()
@JOB
@click.argument("wall")
@click.option("--photo", "photo_name", required=True)
@click.option("--points", type=click.Path(path_type=Path), required=True, help="CSV with columns name,u,v[,z].")
@click.option(
    "--tap-sd",
    type=click.FloatRange(0, 200),
    metavar="PIXELS",
    default=0.0,
    help="How unsure the points themselves are.",
)
@AS_JSON
def locate(job: Path, wall: str, photo_name: str, points: Path, tap_sd: float, as_json: bool) -> None:
    """Tell where pixels of a photo lie on the wall, with their joint covariance."""
    if np.isnan(tap_sd):
        raise click.UsageError("--tap-sd must be a number of pixels.")
    names, pixels, z = _read_points(points)
    xy, covariance = actions.locate(JobFolder(job), wall, photo_name, pixels, z, tap_sd)
    if as_json:
        answer(told.located(names, xy, covariance))
        return
    unit = _unit(JobFolder(job))
    spread = 1.959964 * np.sqrt(np.diag(covariance)).reshape(-1, 2)
    for name, at, give in zip(names, xy, spread, strict=True):
        across, up = (
            f"{show_length(float(a), unit)} {show_spread(float(g), unit)}" for a, g in zip(at, give, strict=True)
        )
        click.echo(f"{name}: {across} across, {up} up")


COLUMNS = "its columns are name,u,v and, if proud, z in inches"


def _read_points(file: Path) -> tuple[list[str], np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    try:
        with open(file, newline="", encoding="utf-8-sig") as lines:
            rows = list(csv.DictReader(lines))
    except OSError as error:
        raise PlainError(f"{file} cannot be read ({error.strerror}); check its name.") from None
    except (UnicodeDecodeError, csv.Error):
        raise PlainError(f"{file} is not a CSV file in UTF-8; {COLUMNS}.") from None
    if not rows:
        raise PlainError(f"{file} holds no points; {COLUMNS}.")
    if missing := [column for column in ("name", "u", "v") if column not in rows[0]]:
        raise PlainError(f"{file} has no column {missing[0]}; {COLUMNS}.")
    names, values = [], []
    for number, row in enumerate(rows, start=2):
        try:
            value = [float(row["u"]), float(row["v"]), float(row.get("z") or 0.0)]
            names.append(printable(row["name"]))
        except (TypeError, ValueError):
            raise PlainError(
                f"Line {number} of {file} is not name,u,v[,z] in numbers; mend it and try again."
            ) from None
        if not np.all(np.isfinite(value)):
            raise PlainError(f"Line {number} of {file} holds a number that is not finite; mend it and try again.")
        values.append(value)
    table = np.array(values)
    return names, table[:, :2], table[:, 2]


@main.command()
@JOB
@click.argument("wall")
@click.argument("kind")
@click.option("--name", help="Such as “receptacle 1”; the next free one of its kind if not given.")
@click.option("--photo", "photo_name", help="The photo that the pixels below are in.")
@click.option("--centre", type=PIXEL)
@click.option("--top-left", type=PIXEL, help="Corners are those of the front rim, not of the shaded side.")
@click.option("--top-right", type=PIXEL)
@click.option("--bottom-left", type=PIXEL)
@click.option("--bottom-right", type=PIXEL)
@click.option("--stool", type=PIXEL, help="Window: a point on the upper front edge of its stool.")
@click.option("--apron", type=PIXEL, help="Window: a point on the bottom edge of the apron.")
@click.option("--point", type=PIXEL, multiple=True, help="A point of an edge, floor or level line, or of an outline.")
@click.option("--across", type=LENGTH, help="Taped from the left end to its middle.")
@click.option("--up", type=LENGTH, help="Taped from the floor to its middle.")
@click.option("--width", type=FORMER_LENGTH, help="Taped width.")
@click.option("--height", type=FORMER_LENGTH, help="Taped height.")
@click.option(
    "--gangs",
    type=click.IntRange(1, 10),
    metavar="NUMBER",
    help="How many devices side by side behind its plate; 1 if not given.",
)
@click.option("--projection", type=FORMER_LENGTH, help="How far its face stands off the wall.")
@click.option("--side", type=SIDES, help="Wall end: which one. Casing edge: where its opening is.")
@click.option("--stud-side", type=SIDES, help="On which side of the box the stud stands.")
@click.option("--cable-slack", type=FORMER_LENGTH, help="How far the cable lets the box move.")
@click.option("--note")
@click.option("--snap/--no-snap", "to_edges", help="Move the pixels to the true edges near them; needs a solved photo.")
@click.option("--remove", is_flag=True, help="Take a mark away: its name in place of KIND.")
def mark(
    job: Path, wall: str, kind: str, name: str | None, photo_name: str | None, point: tuple[tuple[float, float], ...],
    across: Fraction | None, up: Fraction | None, to_edges: bool, remove: bool, **given: Any,
) -> None:  # fmt: skip
    """Mark something on WALL, by pixel of a photo or by tape; of a mark that is there, change what is given.

    KIND is one of: receptacle, switch, thermostat, register, return grille, jack, baseboard heater, access panel,
    casing edge, window, wall end, floor point, level point, stud, damage, other, in front. A length given as ''
    clears what was noted.
    """
    folder = JobFolder(job)
    if remove:
        actions.remove_mark(folder, wall, name or kind)
        _say_gone(job, name or kind)
        return
    what = _kind(kind)
    name = name or actions.free_name(folder.load().wall(wall), what)
    corners = {at: given.pop(at.value.replace(" ", "_"), None) for at in At if at is not At.POINT}
    pixels = [(at, pixel) for at, pixel in corners.items() if pixel] + [(At.POINT, pixel) for pixel in point]
    if pixels and not photo_name:
        raise click.UsageError("Pixels need --photo NAME: which photo are they in?")
    known = next((m for m in folder.load().wall(wall).marks if m.name == name), None)
    _check_use(what, [at for at, _ in pixels], given["side"] or (known.side if known else None))
    sights = tuple(Sight(photo=photo_name or "", u=u, v=v, at=at) for at, (u, v) in pixels)
    marked = actions.checked(Mark, {"name": name, "kind": what, "sights": sights, **_given(given)})
    reached = ((across, "left end", Along.ACROSS), (up, "floor", Along.UP))
    tapes = [
        Tape(start=start, end=name, length=length, along=along)
        for length, start, along in reached
        if length is not None
    ]
    actions.add_mark(folder, wall, marked, tapes)
    say(f"{name} is noted.")
    if to_edges:
        _tell_snapped(folder, actions.snap_marks(folder, wall, [name]))


ALSO_CALLED = {"outlet": Kind.RECEPTACLE, "vent": Kind.REGISTER, "door casing": Kind.CASING_EDGE}


def _kind(text: str) -> Kind:
    plain = text.replace("-", " ").lower()
    try:
        return ALSO_CALLED.get(plain) or Kind(plain)
    except ValueError:
        raise actions.unknown_kind(text) from None


def _check_use(kind: Kind, used: list[At], side: Side | str | None) -> None:
    """Refuse pixels that mean nothing for this kind, in a sentence."""
    shape = TRAITS[kind].shape
    if kind is Kind.WALL_END and side is None:
        raise click.UsageError("A wall end needs --side left or --side right.")
    for at in used:
        if (at is At.POINT) == (shape is Shape.RECTANGLE):
            fits = "--centre or two opposite corners" if shape is Shape.RECTANGLE else "--point"
            raise click.UsageError(f"A {kind} is marked by {fits}, not by --{at.value.replace(' ', '-')}.")
        if at in (At.STOOL, At.APRON) and kind is not Kind.WINDOW:
            raise click.UsageError(f"Only a window has a stool and an apron, not a {kind}.")


@main.command()
@JOB
@click.argument("wall")
@click.argument("marks", metavar="[MARK]...", nargs=-1)
def snap(job: Path, wall: str, marks: tuple[str, ...]) -> None:
    """Move marks to the true edges near their taps: all marks of WALL if none is named.

    Says of each what was found, how far it moved, and what is doubtful. A tap near which no edge is clear enough stays
    as it is; the taps are kept, and “undo” brings them back.
    """
    folder = JobFolder(job)
    _tell_snapped(folder, actions.snap_marks(folder, wall, marks))


def _tell_snapped(folder: JobFolder, snapped: Sequence[actions.SnappedMark]) -> None:
    unit = _unit(folder)
    for one in snapped:
        moved = f"on its edges, moved {show_length(one.snapped.moved, unit)}" if one.snapped.found else "left as tapped"
        click.echo(f"{one.mark} in {one.photo}: {moved}.")
        if one.snapped.doubt:
            say(f"  look again: {one.snapped.doubt}")
    if not snapped:
        say("Nothing to snap: no mark here was tapped in a photo that could be solved.")


@main.command()
@JOB
@click.argument("wall")
@click.argument("start", metavar="FROM")
@click.argument("end", metavar="TO")
@click.argument("length", type=LENGTH, required=False)
@click.option(
    "--along", type=click.Choice([a.value for a in Along]), help="How the tape lay; told by its ends if not given."
)
@click.option("--check", is_flag=True, help="Hold it back: told against the prediction, never used.")
@click.option("--remove", is_flag=True, help="Take what was taped between these two places away.")
def tape(
    job: Path, wall: str, start: str, end: str, length: Fraction | None, along: str | None, check: bool, remove: bool
) -> None:
    """Note a tape reading between two named places of WALL.

    Places: “left end”, “right end”, “floor”, “card 3”, a mark (its middle), or its edge such as “receptacle 1 left”.
    """
    folder, start, end = JobFolder(job), actions.place_name(start), actions.place_name(end)
    if remove:
        actions.remove_tape(folder, wall, start, end)
        _say_gone(job, f"{start} to {end}")
        return
    if length is None:
        raise click.UsageError("Missing LENGTH: what did the tape read?")
    lay = Along(along) if along else actions.usual_along(start, end)
    values = {"start": start, "end": end, "length": length, "along": lay, "check_only": check}
    actions.add_tape(folder, wall, actions.checked(Tape, values))
    say(f"{start} to {end}: {show_length(length, _unit(folder))}, {lay}.")


@main.command()
@JOB
@click.argument("settings", type=SETTING, nargs=-1)
def scheme(job: Path, settings: tuple[tuple[str, str], ...]) -> None:
    """Set what is wanted, KEY=VALUE, or show it.

    Such as: stile='3 1/2' top=36 panel_width=24 moulding=7/8 reveal=1/4 'panels.long wall=5'. KEY= alone goes back
    to the usual value. By name: 'panels.RUN=5', 'pin.THING=move' (clear, move, leave, extend or block out),
    'stile_at.RUN=centre, 48' and 'no_stile.RUN=30 to 34, stud 2'. The order that makes one plan better than another:
    preferences='width, conflicts, moves, match, doubts, nudge, panels'.
    """
    folder = JobFolder(job)
    wanted = actions.set_scheme(folder, dict(settings)) if settings else folder.load().wanted
    keys = {field: key for key, field in actions.KEYED.items()}
    for field, value in wanted:
        if field in keys:
            for name, told_of in value.items():
                click.echo(f"{keys[field]}.{name}: {_setting(wanted, field, told_of)}")
        elif field != "unit":
            click.echo(f"{field}: {_setting(wanted, field, value)}".rstrip())


def _setting(scheme: Scheme, field: str, value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(map(str, value))
    if field == "proportion":
        return f"{float(scheme.proportion):g}"
    return scheme.show(value) if isinstance(value, Fraction) else str(value)


@main.command()
@JOB
@AS_JSON
def plan(job: Path, as_json: bool) -> None:
    """Plan the frames; tell every verdict and what could be done."""
    folder = JobFolder(job)
    solved, planned = actions.plan_job(folder, folder.load())
    for one in solved:
        tell_findings(one.findings)
    if as_json:
        answer(told.planned(planned))
        refuse_unplanned(planned)
        return
    for wall_plan in planned.walls:
        click.echo(wall_plan.name)
        for frame in wall_plan.frames:
            click.echo(f"  {frame.run.name}: {_panels(frame, planned.scheme)}")
        for judgement in wall_plan.judgements:
            click.echo(f"  {judgement.verdict}: {judgement.sentence}")
            for remedy in wall_plan.remedies.get(judgement.feature, ()):
                click.echo(f"      {remedy.kind}: {remedy.sentence}")
        for joint in wall_plan.joints:
            click.echo(f"  joint: {joint.member} behind {joint.stile}, at {planned.scheme.show(joint.at)}")
        for note in wall_plan.notes:
            if note != wall_plan.refused:
                click.echo(f"  note: {note}")
        for sentence in wall_plan.assumed:
            click.echo(f"  assumed: {sentence}")
    for choice in planned.choices:
        click.echo(choice.told(planned.scheme))
    refuse_unplanned(planned)


def _panels(frame: Frame, scheme: Scheme) -> str:
    panels = "1 panel" if frame.count == 1 else f"{frame.count} panels"
    widths = sorted({scheme.show(width): width for width in frame.spacing.openings(scheme)}.items(), key=lambda w: w[1])
    return f"{panels}, {' to '.join(dict.fromkeys((widths[0][0], widths[-1][0])))} wide"


def refuse_unplanned(planned: Plan) -> None:
    """Exit status 1 if a wall could not be planned, when all that could be told is told."""
    refused = [wall_plan.refused for wall_plan in planned.walls if wall_plan.refused]
    if refused:
        raise click.ClickException(" ".join(refused))


@main.command()
@JOB
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Folder for them; JOB/papers if not given.")
def papers(job: Path, output: Path | None) -> None:
    """Make all papers and drawings."""
    for file in make_papers(JobFolder(job), output or job / "papers", say):
        click.echo(click.format_filename(file))


@main.command()
@JOB
def undo(job: Path) -> None:
    """Take the last change back."""
    JobFolder(job).undo()
    say("The last change is undone.")


@main.command()
def schema() -> None:
    """Print the JSON Schema of job.json."""
    answer(Job.model_json_schema())
