"""Commands for walls and their photos."""

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from capture.cards import LARGEST_NUMBER
from capture.errors import PlainError
from capture.lengths import Unit
from capture.record import Side, Wall
from layout.bevels import fine
from wainscribe import actions
from wainscribe.cli.words import ENDS, JOB, examples, given_options, instead, say, say_gone, tell_findings, unit_of
from wainscribe.folder import JobFolder
from wainscribe.params import FORMER_LENGTH, SETTING


@click.command(
    epilog=examples(
        "wainscribe wall miller 'long wall' --right casing --width \"11' 11 3/8\"",
        "wainscribe wall miller 'end wall' --left-detail angle=91.5 --bow 1/8",
        "wainscribe wall miller 'end wall' --remove",
    )
)
@JOB
@click.argument("name")
@click.option("--room", help="Its room; for a new wall the last one if not given. Moves a wall that stands elsewhere.")
@click.option("--left", type=ENDS, help="How the wainscot ends at the left.")
@click.option("--right", type=ENDS, help="How it ends at the right.")
@click.option("--width", type=FORMER_LENGTH, help="Taped from end to end; the flat part at a bullnose corner.")
@click.option("--ceiling", type=FORMER_LENGTH, help="Taped height of the ceiling.")
@click.option("--bow", type=FORMER_LENGTH, help="The widest gap under a long straightedge; 0 for a flat wall.")
@click.option("--bullnose-radius", type=FORMER_LENGTH, help="Of its bullnose corners; 3/4 in if not given.")
@click.option("--left-detail", type=SETTING, multiple=True, help="What is known of the left end, KEY=VALUE.")
@click.option("--right-detail", type=SETTING, multiple=True, help="What is known of the right end, KEY=VALUE.")
@click.option("--note", help="What else there is to say of it.")
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
        say_gone(job, name)
        return
    ends = {Side.LEFT: dict(left_detail), Side.RIGHT: dict(right_detail)}
    before = next((one for one in folder.load().walls if one.name == name), None)
    noted = actions.set_wall(folder, name, room, given_options(given), ends)
    say(_as_noted(noted, before, given, ends, unit_of(folder)))
    for sentence in actions.corner_doubts(folder.load(), noted.name):
        say(f"look again: {sentence}")


def _as_noted(
    noted: Wall, before: Wall | None, given: dict[str, Any], ends: dict[Side, dict[str, str]], unit: Unit
) -> str:
    """A wall in one line, with what was given as it was understood."""
    lengths = {
        key: f"{fine(value, unit)}{instead(getattr(before, key, None), value, unit)}"
        for key, value in given.items()
        if isinstance(value, Fraction)
    }
    width = "width not taped" if noted.width is None else f"{lengths.pop('width', fine(noted.width, unit))} wide"
    others = [f"{_spoken(key)} {length}" for key, length in lengths.items()]
    details = [f"{_spoken(key)} at the {side} {_detail(noted, side, key, unit)}" for side in ends for key in ends[side]]
    return ", ".join([f"{noted.name}: {width}", *others, *details, f"from {noted.left} to {noted.right}."])


def _spoken(key: str) -> str:
    return key.replace("_", " ")


def _detail(noted: Wall, side: Side, key: str, unit: Unit) -> str:
    """What is noted of an end, as it was understood."""
    value = getattr(noted.left_detail if side is Side.LEFT else noted.right_detail, key)
    if isinstance(value, Fraction):
        return f"{float(value):g}°" if key == "angle" else fine(value, unit)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "not noted" if value is None else str(value)


@click.command(
    short_help="Take photos of a wall in.",
    epilog=examples(
        "wainscribe photo miller 'long wall' IMG_2042.jpg",
        "wainscribe photo miller 'long wall' dent.jpg --record-only --caption Dent",
    ),
)
@JOB
@click.argument("wall")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--caption", default="", help="What the papers print below it.")
@click.option("--record-only", is_flag=True, help="Documents a condition; not to be measured.")
@click.option(
    "--remove", is_flag=True, help="Take the photos of these names off the wall, with what is marked in them."
)
def photo(job: Path, wall: str, files: tuple[Path, ...], caption: str, record_only: bool, remove: bool) -> None:
    """Take photos of WALL in; says at once which cards were found."""
    if remove:
        for file in files:
            say_gone(job, actions.remove_photo(JobFolder(job), wall, str(file)))
        return
    failed, done = None, False
    tell = say if len(files) > 1 else (lambda _: None)
    for one in actions.add_photos(JobFolder(job), wall, files, caption, record_only, tell):
        if isinstance(one, PlainError):
            say(f"Error: {one}")
            failed = one
            continue
        done, (taken, measured) = True, one
        found = ", ".join(str(c.number) for c in measured.cards)
        kept = "" if not taken.record_only else " Kept as a record photo."
        say(f"{taken.name}: " + (f"cards {found}." if found else "no card.") + kept)
        if not record_only:
            tell_findings(measured.told())
    for lens in actions.take_lenses(JobFolder(job)) if done else ():
        say(f"{lens.phone} is measured with its calibrated lens.")
    if failed is not None:
        sys.exit(1)


@click.command(
    short_help="Set a card aside that slipped or lies badly.",
    epilog=examples(
        "wainscribe aside miller 'long wall' 5 --photo IMG_2041",
        "wainscribe aside miller 'long wall' 8 --back",
    ),
)
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
