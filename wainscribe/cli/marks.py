"""Commands for what is marked and taped on a wall."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from capture.lengths import Unit, show_length
from capture.places import FLOOR, LEFT_END, RIGHT_END, SILL
from capture.record import TRAITS, Along, At, BoxKind, Kind, Mark, Shape, Side, Sight, Tape, Wall, Wiring
from layout.bevels import fine
from wainscribe import actions
from wainscribe.cli.words import JOB, SIDES, examples, given_options, instead, one_of, say, say_gone, unit_of
from wainscribe.folder import JobFolder
from wainscribe.params import FORMER_LENGTH, LENGTH, PIXEL


@click.command(
    short_help="Mark a box, an end, a window: by photo or by tape.",
    epilog=examples(
        "wainscribe mark miller 'long wall' wall-end --side left \\",
        "    --photo IMG_2041 --point 301,1010",
        "wainscribe mark miller 'long wall' receptacle --photo IMG_2041 \\",
        "    --top-left 958,863 --bottom-right 1001,934",
        "wainscribe mark miller 'long wall' stud --across 48 --note 'by magnet'",
        "wainscribe mark miller 'long wall' 'receptacle 1' --remove",
    ),
)
@JOB
@click.argument("wall")
@click.argument("kind")
@click.option("--name", help="Such as “receptacle 1”; the next free one of its kind if not given.")
@click.option("--photo", "photo_name", help="The photo that the pixels below are in.")
@click.option("--centre", type=PIXEL, help="The middle of a plate or opening.")
@click.option("--top-left", type=PIXEL, help="Corners are those of the front rim, not of the shaded side.")
@click.option("--top-right", type=PIXEL, help="With bottom left, in place of the other two.")
@click.option("--bottom-left", type=PIXEL, help="With top right.")
@click.option("--bottom-right", type=PIXEL, help="With top left.")
@click.option("--stool", type=PIXEL, help="Window: a point on the upper front edge of its stool.")
@click.option("--apron", type=PIXEL, help="Window: a point on the bottom edge of the apron.")
@click.option("--point", type=PIXEL, multiple=True, help="A point of an edge, floor or level line, or of an outline.")
@click.option("--across", type=LENGTH, help="Taped from the left end to its middle.")
@click.option("--up", type=LENGTH, help="Taped from the floor to its middle.")
@click.option("--stool-up", type=LENGTH, help="Window: taped from the floor to the top of its stool.")
@click.option("--apron-up", type=LENGTH, help="Window: taped from the floor to the underside of its apron.")
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
@click.option("--box", **one_of(BoxKind), help="How the box is held in the wall.")
@click.option("--wiring", metavar="KIND", **one_of(Wiring), help=f"What the cable is: {', '.join(Wiring)}, unknown.")
@click.option("--set-back", type=FORMER_LENGTH, help="How far the box's edge stands behind the wall's face.")
@click.option("--note", help="What else there is to say of it.")
@click.option("--snap/--no-snap", "to_edges", help="Move the pixels to the true edges near them; needs a solved photo.")
@click.option("--remove", is_flag=True, help="Take a mark away: its name in place of KIND.")
def mark(
    job: Path, wall: str, kind: str, name: str | None, photo_name: str | None, point: tuple[tuple[float, float], ...],
    across: Fraction | None, up: Fraction | None, stool_up: Fraction | None, apron_up: Fraction | None,
    to_edges: bool, remove: bool, **given: Any,
) -> None:  # fmt: skip
    """Mark something on WALL, by pixel of a photo or by tape; of a mark that is there, change what is given.

    KIND is a mark that is there, such as 'receptacle 1', or one of: receptacle, switch, thermostat, register, return
    grille, jack, baseboard heater, access panel, casing edge, window, wall end, floor point, level point, stud, damage,
    other, in front. A length given as '' clears what was noted.
    """
    folder = JobFolder(job)
    if remove:
        taped = len(actions.remove_mark(folder, wall, name or kind))
        readings = f" with {taped} tape reading{'s' if taped > 1 else ''}" if taped else ""
        say_gone(job, f"{name or kind}{readings}")
        return
    noted = folder.load().wall(wall)
    there = next((m for m in noted.marks if m.name == kind and kind not in set(Kind)), None)
    what = there.kind if there else _kind(kind)
    name = name or (there.name if there else _new_name(noted, what, given["side"]))
    corners = {at: given.pop(at.value.replace(" ", "_"), None) for at in At if at is not At.POINT}
    pixels = [(at, pixel) for at, pixel in corners.items() if pixel] + [(At.POINT, pixel) for pixel in point]
    if pixels and not photo_name:
        raise click.UsageError("Pixels need --photo NAME: which photo are they in?")
    known = next((m for m in noted.marks if m.name == name), None)
    if what is not Kind.WINDOW and (stool_up or apron_up):
        raise _no_sill(what)
    _check_use(what, [at for at, _ in pixels], given["side"] or (known.side if known else None))
    sights = tuple(Sight(photo=photo_name or "", u=u, v=v, at=at) for at, (u, v) in pixels)
    sights += tuple(_left_standing(noted, known, photo_name, {at for at, _ in pixels})) if known and pixels else ()
    marked = actions.checked(Mark, {"name": name, "kind": what, "sights": sights, **given_options(given)})
    tapes = _taped(name, across, up, stool_up, apron_up)
    actions.add_mark(folder, wall, marked, tapes)
    lengths = ", ".join(_as_read(name, noted, tapes, given, unit_of(folder)))
    say(f"{name} is noted: {lengths}." if lengths else f"{name} is noted.")
    if known is None and not pixels and not tapes:
        say("Nothing says yet where it is: give its pixels in a photo, or --across and --up, or tape to it.")
    if to_edges:
        _tell_snapped(folder, actions.snap_marks(folder, wall, [name]))


OUTLINES = ({At.CENTRE}, {At.TOP_LEFT, At.BOTTOM_RIGHT}, {At.TOP_RIGHT, At.BOTTOM_LEFT})


def _left_standing(wall: Wall, known: Mark, photo_name: str | None, given: set[At]) -> Iterator[Sight]:
    """The pixels in this photo that stay: all not given anew; a whole outline given takes the place of the old one."""
    photo = actions.find_photo(wall, photo_name or "").name
    anew = set().union(*OUTLINES) if any(outline <= given for outline in OUTLINES) else set()
    gone = given | anew | {At.POINT}
    yield from (sight for sight in known.sights if sight.photo == photo and sight.at not in gone)


def _taped(name: str, across: Fraction | None, up: Fraction | None, *sill: Fraction | None) -> list[Tape]:
    """The readings that lead to a mark, and to a window's stool and apron."""
    heights = zip((name, *(f"{name} {line}" for line in SILL)), (up, *sill), strict=True)
    reached = [(LEFT_END, name, across, Along.ACROSS), *((FLOOR, end, length, Along.UP) for end, length in heights)]
    return [Tape(start=a, end=b, length=length, along=along) for a, b, length, along in reached if length is not None]


def _as_read(name: str, before: Wall, tapes: Sequence[Tape], given: dict[str, Any], unit: Unit) -> Iterator[str]:
    """The lengths that were given for a mark, as they were understood."""
    for tape in tapes:
        part = f"{tape.end} ".removeprefix(name).lstrip()  # of a window, its stool or apron
        where = "from the left end" if tape.start == LEFT_END else "above the floor"
        yield f"{part}{fine(tape.length, unit)} {where}{_instead(before, tape, unit)}"
    for field, value in given.items():
        if isinstance(value, Fraction):
            yield f"{field.replace('_', ' ')} {fine(value, unit)}"


def _instead(before: Wall, tape: Tape, unit: Unit) -> str:
    """What the reading was before, where there was one."""
    old = actions.replaced_by(before, tape)
    return "" if old is None else instead(old.length, tape.length, unit)


ALSO_CALLED = {"outlet": Kind.RECEPTACLE, "vent": Kind.REGISTER, "door casing": Kind.CASING_EDGE}


def _new_name(wall: Wall, kind: Kind, side: Side | str | None) -> str:
    """The wall's end on that side, which there is once; else the next free name of its kind."""
    if kind is not Kind.WALL_END or side is None:
        return actions.free_name(wall, kind)
    old = (m.name for m in wall.marks if m.kind is kind and m.side == side)
    return next(old, f"{Side(side)} end")


def _kind(text: str) -> Kind:
    plain = text.replace("-", " ").lower()
    try:
        return ALSO_CALLED.get(plain) or Kind(plain)
    except ValueError:
        raise actions.unknown_kind(text) from None


def _no_sill(kind: Kind) -> click.UsageError:
    return click.UsageError(f"Only a window has a stool and an apron, not a {kind}.")


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
            raise _no_sill(kind)


@click.command(
    short_help="Move marks to the true edges near their taps.",
    epilog=examples("wainscribe snap miller 'long wall'", "wainscribe snap miller 'long wall' 'receptacle 1'"),
)
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
    unit = unit_of(folder)
    for one in snapped:
        moved = f"on its edges, moved {show_length(one.snapped.moved, unit)}" if one.snapped.found else "left as tapped"
        click.echo(f"{one.mark} in {one.photo}: {moved}.")
        if one.snapped.doubt:
            say(f"  look again: {one.snapped.doubt}")
    if not snapped:
        say("Nothing to snap: no mark here was tapped in a photo that could be solved.")


@click.command(
    epilog=examples(
        "wainscribe tape miller 'long wall' 'left end' 'receptacle 1' '31 7/8'",
        "wainscribe tape miller 'long wall' 'card 3' 'card 8' 58 --check",
    )
)
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

    Places: “left end”, “right end”, “floor”, “card 3”, a mark (its middle), its edge such as “receptacle 1 left”, or
    “window 1 stool” (its top) and “window 1 apron” (its underside).
    """
    folder, start, end = JobFolder(job), actions.place_name(start), actions.place_name(end)
    if remove:
        actions.remove_tape(folder, wall, start, end)
        say_gone(job, f"{start} to {end}")
        return
    if length is None:
        raise click.UsageError("Missing LENGTH: what did the tape read?")
    lay = Along(along) if along else actions.usual_along(start, end)
    values = {"start": start, "end": end, "length": length, "along": lay, "check_only": check}
    before, taped, unit = folder.load().wall(wall), actions.checked(Tape, values), unit_of(folder)
    actions.add_tape(folder, wall, taped)
    held = ", held back to check by" if check else ""
    say(f"{start} to {end}: {fine(length, unit)}, {lay}{held}{_instead(before, taped, unit)}.")
    if {start, end} == {LEFT_END, RIGHT_END} and before.width is not None:
        say(f"The width noted with the wall, {fine(before.width, unit)}, counts beside it.")
