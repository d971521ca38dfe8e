"""Tape readings noted and taken away."""

import re
from collections.abc import Sequence

from capture.errors import UnknownNameError
from capture.places import FLOOR, LEFT_END, RIGHT_END, SILL, named_place
from capture.record import Along, Tape, Wall
from wainscribe.actions.change import ActionError, change_wall
from wainscribe.folder import JobFolder
from wainscribe.names import printable
from wainscribe.seen import search_photo


def add_tape(folder: JobFolder, wall: str, tape: Tape) -> Tape:
    """Note a tape reading; one between the same two places takes the place of the old one."""
    now = folder.load().wall(wall)
    cards = {c.number for p in now.photos if not p.record_only for c in search_photo(folder, p).cards}
    check_tape(now, tape, sorted(cards))
    change_wall(folder, wall, lambda now: with_tape(now, tape))
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
        if kept == now.tapes and now.width is not None and {start, end} == {LEFT_END, RIGHT_END}:
            raise ActionError(f"The width of “{now.name}” is noted with the wall; clear it there, with --width ''.")
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


def replaced_by(wall: Wall, tape: Tape) -> Tape | None:
    """The reading on a wall whose place this one would take."""
    return next((t for t in wall.tapes if _lies(t) == _lies(tape)), None)


def with_tape(wall: Wall, tape: Tape) -> Wall:
    """One reading to use and one held back may lie between the same two places; a second of either replaces it."""
    others = tuple(t for t in wall.tapes if _lies(t) != _lies(tape))
    return wall.model_copy(update={"tapes": (*others, tape)})


def _lies(tape: Tape) -> tuple[frozenset[str], Along, bool]:
    return frozenset((tape.start, tape.end)), tape.along, tape.check_only


UP_TO = tuple(f" {part}" for part in ("top", "bottom", *SILL))


def usual_along(start: str, end: str) -> Along:
    """How a tape lay, told by its ends: the floor or a level edge means up, an end or a side across, else straight."""
    ends = (start, end)
    if any(e == FLOOR or e.endswith(UP_TO) for e in ends):
        return Along.UP
    if any(e in ("left end", "right end") or e.endswith((" left", " right")) for e in ends):
        return Along.ACROSS
    return Along.STRAIGHT
