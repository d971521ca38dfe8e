"""A change from the browser to one action; what a change was answered with is kept with the job, by its id.

``seen`` is what the person saw of the thing before changing it: null where it was not there, else any of its fields as
they stand in job.json. If the job holds something else by now, nothing is changed and the answer is what it holds.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any
from uuid import UUID

from capture.errors import PlainError, UnknownNameError
from capture.lengths import parse_length
from capture.record import Kind, Mark, Side, Sight, Tape, Wall
from wainscribe import actions
from wainscribe.changed import redo_says, undo_says
from wainscribe.desk.words import flag, groups, text, texts, whole_number
from wainscribe.folder import JobFolder
from wainscribe.job import Job

Given = Mapping[str, Any]

NOTED = {"photos", "marks", "tapes", "asides"}  # of a wall: things of their own


@dataclass(frozen=True)
class Way:
    """One kind of change."""

    thing: Callable[[Job, Given], Any]  # what the job holds of it, as plain data; None where it is not there
    act: Callable[[JobFolder, Given], str]  # do it; the name of what was made, or ""
    given_only: bool = False  # whether only the fields that the change gives are compared with what was seen


def apply(folder: JobFolder, change: object) -> dict[str, Any]:
    """Make one change, at most once; what became of it.

    Parameters
    ----------
    folder
        The job.
    change
        As the browser sent it.

    Returns
    -------
    dict
        ``{"id", "ok", "now", "name"?}``, ``{"id", "error"}`` or ``{"id", "clash": {"now"}}``.
    """
    if not isinstance(change, dict):
        raise actions.ActionError("A change must be a group of named values; load the page again.")
    sent = sent_id(change.get("id"))
    try:
        with folder.held():
            return {"id": sent, **_apply(folder, change, sent)}
    except PlainError as error:
        return {"id": sent, "error": str(error)}
    finally:
        folder.doing = {}


def _apply(folder: JobFolder, change: Given, sent: str) -> dict[str, Any]:
    do = text(change, "do")
    if do in TURNS:
        return _turn(folder, change, sent, do)
    if do not in WAYS:
        raise actions.ActionError(f"“{do}” is no change that this desk knows; load the page again.")
    way = WAYS[do]
    answer = folder.answer(sent)
    if answer is None:
        now = way.thing(folder.load(), change)
        if "seen" in change and not _same(_compared(way, change), now):
            return {"clash": {"now": now}}
        answer = way.act(folder, change)
        after: Job | None = folder.load()
    else:  # sent again: answered as the first time, whatever was changed since
        after = folder.after(sent)
    done = {"ok": True, "now": way.thing(after, _named(change, answer)) if after else None}
    return {**done, "name": answer} if answer else done


def _compared(way: Way, change: Given) -> Any:
    seen = change["seen"]
    if way.given_only and isinstance(seen, dict):
        return {key: value for key, value in seen.items() if key in change}
    return seen


def _named(change: Given, answer: str) -> Given:
    """The change with the name that was found for what it made."""
    if answer and isinstance(change.get("mark"), dict):
        return {**change, "mark": {**change["mark"], "name": answer}}
    return change


def _turn(folder: JobFolder, change: Given, sent: str, do: str) -> dict[str, Any]:
    """Undo or redo, if what it would take back or make again is what the person saw."""
    if folder.answer(sent) is None:
        said, turn = TURNS[do]
        if "seen" in change and change["seen"] != (now := said(folder)):
            return {"clash": {"now": now}}
        folder.doing = {sent: ""}
        turn(folder)
    return {"ok": True, "now": None}


TURNS: dict[str, tuple[Callable[[JobFolder], str], Callable[[JobFolder], None]]] = {
    "undo": (undo_says, JobFolder.undo),
    "redo": (redo_says, JobFolder.redo),
}


def sent_id(value: object) -> str:
    """The id that a browser gave to what it sends."""
    try:
        return str(UUID(str(value)))
    except ValueError:
        raise actions.ActionError("A change needs an id of its own (a UUID); load the page again.") from None


def _same(seen: object, now: Any) -> bool:
    """Whether what a person saw is what the job holds; of a group, the fields that were seen."""
    if isinstance(seen, dict) and isinstance(now, dict):
        return all(_same(value, now.get(key)) for key, value in seen.items())
    if isinstance(seen, list) and isinstance(now, list):
        return len(seen) == len(now) and all(_same(a, b) for a, b in zip(seen, now, strict=True))
    return seen == now or (seen in (None, "") and now in (None, "")) or _length(seen) == _length(now) is not None


def _length(value: object) -> Fraction | None:
    try:
        return parse_length(value) if isinstance(value, str) else None
    except PlainError:
        return None


# What the job holds.


def _plain(record: Any) -> Any:
    return None if record is None else record.model_dump(mode="json")


def _wall(job: Job, given: Given, key: str = "wall") -> Wall | None:
    name = text(given, key)
    return next((wall for wall in job.walls if wall.name == name), None)


def _wall_now(job: Job, given: Given) -> Any:
    wall = _wall(job, given, "name")
    if wall is None:
        return None
    room = next(room.name for room in job.rooms if wall in room.walls)
    return {**{k: v for k, v in _plain(wall).items() if k not in NOTED}, "room": room}


def _mark_now(job: Job, given: Given) -> Any:
    name = _mark_name(given)
    wall = _wall(job, given)
    return _plain(next((m for m in wall.marks if m.name == name), None)) if wall and name else None


def _mark_name(given: Given) -> str:
    mark = given.get("mark")
    return text(mark if isinstance(mark, dict) else given, "name", "")


def _tape_now(job: Job, given: Given) -> Any:
    wall, ends = _wall(job, given), {actions.place_name(text(given, end)) for end in ("start", "end")}
    held = flag(given, "check_only")
    tapes = [t for t in wall.tapes if {t.start, t.end} == ends and t.check_only is held] if wall else []
    along = text(given, "along", "")
    return _plain(next((t for t in tapes if not along or t.along == along), None))


def _about_now(job: Job, given: Given) -> Any:
    plain = _plain(job)
    return {key: plain.get(key) for key in texts(given, "facts")}


def _scheme_now(job: Job, given: Given) -> Any:
    plain = _plain(job.scheme)

    def one(key: str) -> Any:
        field, _, name = key.partition(".")
        return plain.get(actions.KEYED[field], {}).get(name) if field in actions.KEYED else plain.get(key)

    return {key: one(key) for key in texts(given, "wishes")}


def _print_run_now(job: Job, given: Given) -> Any:
    return _plain(job.print_run)


def _aside_now(job: Job, given: Given) -> Any:
    wall, photo = _wall(job, given), given.get("photo")
    return bool(wall and [a for a in wall.asides if a.card == given.get("card") and a.photo == photo])


def _photo_now(job: Job, given: Given) -> Any:
    wall, name = _wall(job, given), text(given, "photo")
    return _plain(next((p for p in wall.photos if p.name == name), None)) if wall else None


def _conditions_now(job: Job, given: Given) -> Any:
    on = _wall(job, given) if text(given, "wall", "") else job
    plain = _plain(on.conditions) if on else {}
    return {key: plain.get(key) for key in texts(given, "facts")} if on else None


# What is done.


def _doing(folder: JobFolder, given: Given, answer: str = "") -> str:
    """Have the id kept with the change that follows, and its answer."""
    folder.doing = {sent_id(given["id"]): answer}
    return answer


LENGTHS = ("width", "ceiling", "bow", "bullnose_radius")
DETAILS = {"left_detail": Side.LEFT, "right_detail": Side.RIGHT}


def _new_wall(folder: JobFolder, given: Given) -> str:
    if _wall(folder.load(), given, "name") is not None:
        raise actions.ActionError(f"There is a wall “{text(given, 'name')}” already; give this one another name.")
    return _set_wall(folder, given)


def _set_wall(folder: JobFolder, given: Given) -> str:
    name = _doing(folder, given, text(given, "name"))
    fields: dict[str, object] = {key: given[key] for key in ("left", "right", "note") if key in given}
    fields |= {key: _length_of(given, key) for key in LENGTHS if key in given}
    ends = {side: texts(given, key) for key, side in DETAILS.items() if key in given}
    actions.set_wall(folder, name, text(given, "room", "") or None, fields, ends)
    return name


def _length_of(given: Given, key: str) -> Fraction | None:
    value = given[key]
    return None if value in (None, "") else parse_length(text(given, key))


def _remove_wall(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    actions.remove_wall(folder, text(given, "name"))
    return ""


def _mark(folder: JobFolder, given: Given) -> str:
    wall = folder.load().wall(text(given, "wall"))
    mark = mark_of(wall, given)
    _doing(folder, given, mark.name)
    return actions.add_mark(folder, wall.name, mark).name


def mark_of(wall: Wall, given: Given) -> Mark:
    """A mark as sent, with only the fields that were; one without a name gets the next free one of its kind."""
    fields = given.get("mark")
    if not isinstance(fields, dict):
        raise actions.ActionError("A mark must be a group of named values; load the page again.")
    name = _mark_name(given)
    known = next((m for m in wall.marks if m.name == name), None)
    kind = _kind(fields.get("kind", known.kind if known else None))
    values = {key: None if value == "" and key != "note" else value for key, value in fields.items()}
    sights = tuple(actions.checked(Sight, one) for one in groups(values, "sights"))
    name = name or actions.free_name(wall, kind)
    mark = actions.checked(Mark, {**values, "name": name, "kind": kind, "sights": sights})
    actions.check_sights(mark, known)
    return mark


def known_mark(wall: Wall, name: str) -> Mark:
    """The mark of that name; UnknownNameError if there is none."""
    for mark in wall.marks:
        if mark.name == name:
            return mark
    raise UnknownNameError(f"mark on “{wall.name}”", name, [mark.name for mark in wall.marks])


def _kind(value: object) -> Kind:
    try:
        return Kind(str(value))
    except ValueError:
        raise actions.unknown_kind(str(value)) from None


def _remove_mark(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    actions.remove_mark(folder, text(given, "wall"), text(given, "name"))
    return ""


def _tape(folder: JobFolder, given: Given) -> str:
    start, end = (actions.place_name(text(given, key)) for key in ("start", "end"))
    lay = text(given, "along", "") or actions.usual_along(start, end)
    values = {"start": start, "end": end, "length": parse_length(text(given, "length")), "along": lay}
    tape = actions.checked(Tape, {**values, "check_only": flag(given, "check_only")})
    _doing(folder, given)
    actions.add_tape(folder, text(given, "wall"), tape)
    return ""


def _remove_tape(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    start, end = (actions.place_name(text(given, key)) for key in ("start", "end"))
    actions.remove_tape(folder, text(given, "wall"), start, end)
    return ""


def _about(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    actions.set_about(folder, texts(given, "facts"))
    return ""


def _scheme(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    actions.set_scheme(folder, texts(given, "wishes"))
    return ""


def _print_run(folder: JobFolder, given: Given) -> str:
    name = _doing(folder, given, text(given, "name"))
    across, up = (_length_of(given, key) if key in given else None for key in ("across", "up"))
    actions.set_print_run(folder, name, across, up)
    return name


def _aside(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    photo = text(given, "photo", "") or None
    card = whole_number(given, "card")
    actions.set_aside(folder, text(given, "wall"), card, photo, back=flag(given, "back"))
    return ""


def _photo(folder: JobFolder, given: Given) -> str:
    caption = text(given, "caption") if "caption" in given else None
    record_only = flag(given, "record_only") if "record_only" in given else None
    _doing(folder, given)
    actions.describe_photo(folder, text(given, "wall"), text(given, "photo"), caption, record_only)
    return ""


def _remove_photo(folder: JobFolder, given: Given) -> str:
    _doing(folder, given)
    actions.remove_photo(folder, text(given, "wall"), text(given, "photo"))
    return ""


def _conditions(folder: JobFolder, given: Given) -> str:
    wall = text(given, "wall", "") or None
    _doing(folder, given)
    actions.set_conditions(folder, wall, texts(given, "facts"))
    return ""


WAYS: dict[str, Way] = {
    "new-wall": Way(_wall_now, _new_wall),
    "wall": Way(_wall_now, _set_wall, given_only=True),
    "remove-wall": Way(_wall_now, _remove_wall),
    "mark": Way(_mark_now, _mark),
    "remove-mark": Way(_mark_now, _remove_mark),
    "tape": Way(_tape_now, _tape),
    "remove-tape": Way(_tape_now, _remove_tape),
    "about": Way(_about_now, _about),
    "scheme": Way(_scheme_now, _scheme),
    "print-run": Way(_print_run_now, _print_run, given_only=True),
    "aside": Way(_aside_now, _aside),
    "photo": Way(_photo_now, _photo, given_only=True),
    "remove-photo": Way(_photo_now, _remove_photo),
    "conditions": Way(_conditions_now, _conditions),
}
