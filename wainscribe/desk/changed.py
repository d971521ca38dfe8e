"""What a step from one state of a job to the next changed, in a few plain words, so that nobody undoes it unawares."""

from collections.abc import Iterator, Sequence
from typing import Any

from capture.record import Tape, Wall
from wainscribe.job import Job

NAMED = 3  # things that are named one by one


def what_changed(before: Job, after: Job) -> str:
    """Such as “receptacle 1 on “long wall” added”; "" where nothing did."""
    found = list(_changes(before, after))
    if len(found) > NAMED:
        return f"{found[0]}, and {len(found) - 1} more changes"
    return ", ".join(found)


def _changes(before: Job, after: Job) -> Iterator[str]:
    old, new = {w.name: w for w in before.walls}, {w.name: w for w in after.walls}
    yield from _came_and_went([f"wall “{name}”" for name in old], [f"wall “{name}”" for name in new])
    for name in new:
        if name in old and old[name] != new[name]:
            yield from _on_wall(old[name], new[name])
    yield from _fields("the scheme", before.scheme, after.scheme)
    yield from _fields("the house", before.conditions, after.conditions)
    if before.print_run != after.print_run:
        yield f"print run “{after.print_run.name}” noted"
    if before.lenses != after.lenses:
        yield "calibrated lens noted"
    about = ("version", "rooms", "scheme", "conditions", "print_run", "lenses")
    for field in type(after).model_fields:
        if field not in about and getattr(before, field) != getattr(after, field):
            yield f"{_spoken(field)} changed"
    homes = [{w.name: r.name for r in job.rooms for w in r.walls} for job in (before, after)]
    yield from (f"wall “{n}” moved to “{homes[1][n]}”" for n in new if n in old and homes[0][n] != homes[1][n])


def _on_wall(old: Wall, new: Wall) -> Iterator[str]:
    where = f"on “{new.name}”"
    for what, key in (("", "marks"), ("photo ", "photos")):
        was, now = ({one.name: one for one in getattr(wall, key)} for wall in (old, new))
        yield from _came_and_went([f"{what}{n} {where}" for n in was], [f"{what}{n} {where}" for n in now])
        yield from (f"{what}{name} {where} changed" for name in now if name in was and was[name] != now[name])
    tapes = [[_tape(tape, where) for tape in wall.tapes] for wall in (old, new)]
    yield from _came_and_went(*tapes)
    if tapes[0] == tapes[1] and old.tapes != new.tapes:
        changed = [tape for tape in new.tapes if tape not in old.tapes] or list(new.tapes)
        yield f"{_tape(changed[0], where)} changed"
    asides = [[_aside(one.card, one.photo, where) for one in wall.asides] for wall in (old, new)]
    yield from (f"{one} set aside" for one in asides[1] if one not in asides[0])
    yield from (f"{one} used again" for one in asides[0] if one not in asides[1])
    yield from _fields(f"“{new.name}”", old.conditions, new.conditions)
    apart = ("marks", "photos", "tapes", "asides", "conditions", "name")
    for field in type(new).model_fields:
        if field not in apart and getattr(old, field) != getattr(new, field):
            yield f"{_spoken(field)} of “{new.name}” changed"


def _tape(tape: Tape, where: str) -> str:
    return f"tape from {tape.start} to {tape.end} {where}"


def _aside(card: int, photo: str | None, where: str) -> str:
    return f"card {card} {where}" if photo is None else f"card {card} in {photo}"


def _came_and_went(was: Sequence[str], now: Sequence[str]) -> Iterator[str]:
    yield from (f"{one} added" for one in now if one not in was)
    yield from (f"{one} removed" for one in was if one not in now)


def _fields(what: str, before: Any, after: Any) -> Iterator[str]:
    for field in type(after).model_fields:
        old, new = getattr(before, field), getattr(after, field)
        if old == new:
            continue
        if isinstance(new, dict):
            names = [name for name in dict.fromkeys([*old, *new]) if old.get(name) != new.get(name)]
            yield from (f"{_spoken(field)} of {name} changed" for name in names)
        else:
            yield f"{_spoken(field)} of {what} changed"


def _spoken(field: str) -> str:
    return field.replace("_", " ")
