"""The checklist: the state that the house and each wall were found in, unknown where nobody looked."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import NamedTuple

from capture.lengths import Unit, show_length
from capture.record import TRAITS, Base, Conditions, Gauged, Kind, Side, Suspect, Wall

NOT_KNOWN = "not known"
NAMES = {
    "material": "Wall material",
    "flat": "Flat",
    "plumb": "Plumb",
    "level": "Floor level",
    "casing": "Casings stand proud",
    "base": "Base",
    "wiring": "Wiring",
    "paint": "Lead in paint",
    "compound": "Asbestos in joint compound",
    "not_seen": "Could not be seen",
    "noted": "Noted",
}
OF_THE_HOUSE = ("material", "wiring", "paint", "compound", "base", "not_seen", "noted")  # the rest is told wall by wall
WORDS: dict[object, str] = {
    Base.KEPT: "stays",
    Base.REMOVED: "comes off",
    Suspect.FREE: "tested: none found",
    Suspect.FOUND: "tested: FOUND",
    Suspect.SUSPECTED: "suspected, not tested",
}


class Condition(NamedTuple):
    """One line of the checklist."""

    what: str
    found: str
    known: bool


def of_house(house: Conditions, year_built: int | None, unit: Unit) -> list[Condition]:
    """The checklist of the whole house."""
    built = Condition("Year built", str(year_built or NOT_KNOWN), year_built is not None)
    return [built, *_rows(house, OF_THE_HOUSE, unit)]


def of_wall(wall: Wall, house: Conditions, unit: Unit) -> list[Condition]:
    """The checklist of a wall: its own conditions, else those of the house, else what was noted elsewhere."""
    rows = []
    for row in _rows(wall.conditions.in_house(house), NAMES, unit):
        found = row.found if row.known else "; ".join(_elsewhere(wall, row.what, unit))
        rows.append(Condition(row.what, found or NOT_KNOWN, bool(found)))
    return rows


def in_words(conditions: Conditions, key: str, unit: Unit) -> str:
    """What was found, for the eye."""
    value = getattr(conditions, key)
    if isinstance(value, Gauged):
        return _gauged(key, value, unit)
    if isinstance(value, Fraction):
        return show_length(value, unit)
    return WORDS.get(value, str(value)) if value else NOT_KNOWN


def _gauged(key: str, gauged: Gauged, unit: Unit) -> str:
    told = f"out by {show_length(gauged.off, unit)}" if gauged.off else key
    return f"{told} ({gauged.how or 'how it was taken is not noted'})"


def _rows(conditions: Conditions, keys: Iterable[str], unit: Unit) -> Iterator[Condition]:
    for key in keys:
        found = in_words(conditions, key, unit)
        yield Condition(NAMES[key], found, found != NOT_KNOWN)


def _elsewhere(wall: Wall, what: str, unit: Unit) -> Iterator[str]:
    """What other notes of the wall say of a condition."""
    if what == NAMES["flat"] and wall.bow is not None:
        yield f"out by {show_length(wall.bow, unit)} (long straightedge)"
    elif what == NAMES["plumb"]:
        for side in Side:
            if (lean := wall.at_end(side).out_of_plumb) is not None:
                yield f"{side} end out by {show_length(lean, unit)} (over the height of the wainscot)"
    elif what == NAMES["casing"]:
        for mark in wall.marks:
            if mark.kind in (Kind.CASING_EDGE, Kind.WINDOW) and mark.projection is not None:
                yield f"{mark.name} {show_length(mark.projection, unit)}"
    elif what == NAMES["wiring"]:
        kinds = dict.fromkeys(m.wiring for m in wall.marks if TRAITS[m.kind].wired and m.wiring is not None)
        yield from (f"{kind}, as marked" for kind in kinds)
    elif what == NAMES["not_seen"]:
        hidden = [mark.name for mark in wall.marks if mark.kind is Kind.IN_FRONT]
        if hidden:
            yield f"what stands behind: {', '.join(hidden)}"
    elif what == NAMES["noted"] and wall.note:
        yield wall.note
