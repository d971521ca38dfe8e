"""What a step from one state of a job to the next changed, in a few plain words, so that nobody undoes it unawares."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from capture.record import Tape, Wall
from wainscribe.folder import JobFolder
from wainscribe.job import Job

NAMED = 3  # things that are named one by one


def undo_says(folder: JobFolder) -> str:
    """What undo would take back; "" if there is nothing."""
    before = folder.would_undo()
    return "" if before is None else what_changed(before, folder.load())


def redo_says(folder: JobFolder) -> str:
    """What redo would make again; "" if there is nothing."""
    after = folder.would_redo()
    return "" if after is None else what_changed(folder.load(), after)


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
    yield from _tapes(old, new, where)
    asides = [[_aside(one.card, one.photo, where) for one in wall.asides] for wall in (old, new)]
    yield from (f"{one} set aside" for one in asides[1] if one not in asides[0])
    yield from (f"{one} used again" for one in asides[0] if one not in asides[1])
    yield from _fields(f"“{new.name}”", old.conditions, new.conditions)
    apart = ("marks", "photos", "tapes", "asides", "conditions", "name")
    for field in type(new).model_fields:
        if field not in apart and getattr(old, field) != getattr(new, field):
            yield f"{_spoken(field)} of “{new.name}” changed"


def _tapes(old: Wall, new: Wall, where: str) -> Iterator[str]:
    """Readings, but for those that came and went with the mark that they go to."""
    apart = {m.name for m in old.marks} ^ {m.name for m in new.marks}
    was, now = ([t for t in wall.tapes if not _goes_to(t, apart)] for wall in (old, new))
    names = [[_tape(tape, where) for tape in tapes] for tapes in (was, now)]
    changed = [name for name, tape in zip(names[1], now, strict=True) if tape not in was and name in names[0]]
    if sorted(names[0]) == sorted(names[1]) and was != now:
        changed = changed or names[1][-1:]  # what is taped anew goes to the end
    yield from (f"{name} changed" for name in changed)
    yield from _came_and_went(*names)


def _goes_to(tape: Tape, marks: Iterable[str]) -> bool:
    return any(place == name or place.startswith(f"{name} ") for name in marks for place in (tape.start, tape.end))


def _tape(tape: Tape, where: str) -> str:
    held = ", held back," if tape.check_only else ""
    return f"tape from {tape.start} to {tape.end}{held} {where}"


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
