"""Commands for the job itself: a new one, what is said of it, its cards and phone, its last change."""

from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import click

from capture.cards import LARGEST_NUMBER
from capture.record import PrintRun
from layout.bevels import fine
from report.cardsheet import PAPERS, cards_pdf
from wainscribe import actions
from wainscribe.changed import redo_says, undo_says
from wainscribe.cli.words import JOB, answer, examples, say, show_given, unit_of
from wainscribe.demo import make_demo
from wainscribe.disk import plain_disk_errors, write_whole
from wainscribe.folder import JobFolder
from wainscribe.job import JobError
from wainscribe.kept import UNNAMED
from wainscribe.names import printable
from wainscribe.params import LENGTH, SETTING
from wainscribe.schema import NAMES, schema_of


@click.command(epilog=examples("wainscribe demo demo-job"))
@click.argument("folder", type=click.Path(path_type=Path), default=Path("demo-job"))
def demo(folder: Path) -> None:
    """Make the demo job in a new FOLDER, start to papers."""
    papers = make_demo(folder, say)
    say(f"The papers of the demo job lie in {papers[0].parent}; start with {papers[0].name}.")


@click.command(
    epilog=examples(
        "wainscribe cards --paper letter -o cards.pdf",
        "wainscribe cards --paper a4 --first 13 --last 18 --print-run march",
    )
)
@click.option(
    "--paper", type=click.Choice(sorted(PAPERS)), default="letter", show_default=True, help="Size of the sheets."
)
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
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    default=Path("cards.pdf"),
    show_default=True,
    help="The PDF to make.",
)
def cards(paper: str, first: int, last: int, print_run: str, output: Path) -> None:
    """Make reference cards to print, one a page, at true scale."""
    if last < first:
        raise click.UsageError(f"--last {last} comes before --first {first}.")
    named = actions.checked(PrintRun, {"name": printable(print_run)}).name
    with plain_disk_errors(output):
        write_whole(output, cards_pdf(range(first, last + 1), PAPERS[paper], named))
    say(f"Cards {first} to {last} are in {output}. Print at 100 %, then read the check bar on one sheet.")


@click.command(epilog=examples("wainscribe new brandt --name 'Brandt, dining room'"))
@JOB
@click.option("--name", help="What the papers call the job; the folder's name if not given.")
def new(job: Path, name: str | None) -> None:
    """Make a new job folder."""
    actions.new_job(job, name or printable(job.resolve().name)[:80].strip())
    say(f"{job} is ready; add its walls in order round the room with “wainscribe wall”.")


@click.command(
    short_help="Say what the papers should know of the job.",
    epilog=examples("wainscribe about miller customer='R. Miller' year_built=1931 units=in"),
)
@JOB
@click.argument("settings", type=SETTING, nargs=-1)
def about(job: Path, settings: tuple[tuple[str, str], ...]) -> None:
    """Say what the papers should know of the job, KEY=VALUE, or show it.

    The keys: name, address, customer, installer, logo (a picture file, copied into the job), date (2026-05-31),
    year_built, units (in or mm), paper (letter or a4). KEY= alone clears one.
    """
    folder, facts = JobFolder(job), dict(settings)
    if facts.get("logo"):
        file = Path(facts["logo"]).expanduser()
        facts["logo"] = actions.keep_logo(folder, file.name, actions.read_file(file))
    noted = actions.set_about(folder, facts) if facts else folder.load()
    shown = {key: "" if (value := getattr(noted, key)) is None else str(value) for key in actions.ABOUT}
    show_given(shown, facts)


@click.command(
    "print-run",
    short_help="Note what the check bars on a printed card read.",
    epilog=examples(
        "wainscribe print-run miller --across '5 63/64' --up 9", "wainscribe print-run miller --name march"
    ),
)
@JOB
@click.option("--name", default="first", show_default=True, help="What each card says of its print run.")
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
        unit = unit_of(JobFolder(job))
        bars = (f"{way} {fine(bar, unit)}" for way, bar in (("across", across), ("up", up)) if bar is not None)
        say(f"The bars of print run “{name}” are noted: {', '.join(bars)}.")
    if known := len(printed.learnt):
        say(f"Its scale is known from {known} earlier {'job' if known == 1 else 'jobs'}.")


@click.command(
    short_help="Calibrate a phone’s lens from photos of the cards.",
    epilog=examples("wainscribe lens IMG_30*.jpg", "wainscribe lens IMG_30*.jpg --job miller"),
)
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


@click.command(epilog=examples("wainscribe undo miller"))
@JOB
def undo(job: Path) -> None:
    """Take the last change back, and say what it was; “redo” makes it again."""
    folder, what = JobFolder(job), ""
    with suppress(JobError):  # of a damaged job file, which undo mends, nothing can be told
        what = undo_says(folder)
    folder.undo()
    say(f"Undone: {what}." if what else "The last change is undone.")


@click.command(epilog=examples("wainscribe redo miller"))
@JOB
def redo(job: Path) -> None:
    """Make the change again that was taken back last, and say what it is."""
    folder = JobFolder(job)
    what = redo_says(folder)
    folder.redo()
    say(f"Made again: {what}." if what else "The change is made again.")


@click.command(
    short_help="Print what another program may count on.",
    epilog=examples("wainscribe schema job", "wainscribe schema plan"),
)
@click.argument("name", type=click.Choice(NAMES), default="job")
def schema(name: str) -> None:
    """Print the JSON Schema of job.json, or of what a command answers with --json."""
    answer(schema_of(name))
