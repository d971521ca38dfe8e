"""Walls added, changed and taken away; cards set aside."""

from itertools import pairwise
from typing import Any

from capture.record import Aside, EndDetail, Side, Wall
from layout.corners import SHARED
from layout.ends import EndError, agreed
from wainscribe.actions.change import ActionError, change_wall, checked, with_changes
from wainscribe.actions.photos import find_photo
from wainscribe.folder import JobFolder
from wainscribe.job import Job


def set_aside(folder: JobFolder, wall: str, card: int, photo: str | None, *, back: bool = False) -> Wall:
    """Set a card aside, in one photo or in all, or take it back."""
    name = None if photo is None else find_photo(folder.load().wall(wall), photo).name
    one = Aside(card=card, photo=name)

    def edit(now: Wall) -> Wall:
        if back and one not in now.asides:
            raise ActionError(f"Card {card} is not set aside{f' in “{name}”' if name else ''} on “{now.name}”.")
        kept = tuple(a for a in now.asides if a != one)
        return now.model_copy(update={"asides": kept if back else (*kept, one)})

    return change_wall(folder, wall, edit)


def set_wall(
    folder: JobFolder,
    name: str,
    room: str | None,
    given: dict[str, object],
    ends: dict[Side, dict[str, str]] | None = None,
) -> Wall:
    """Add a wall, last in its room, or change one: only what is given changes, and None clears.

    `ends` changes what is noted of an end, by the names of `EndDetail`; an empty value clears it.
    """
    not_nothing(name, {what: given.get(what) for what in ("width", "ceiling")})
    with folder.changing() as change:
        known: dict[str, Any] = {w.name: dict(w) for w in change.job.walls}
        values = known.get(name, {"name": name})
        for side, noted in (ends or {}).items():
            field = f"{side}_detail"
            old = values.get(field, EndDetail())
            values[field] = with_changes(old, noted, list(EndDetail.model_fields), f"detail of the {side} end")
        wall = checked(Wall, {**values, **given})
        change.job = change.job.with_wall(wall, room)
    return wall


def corner_doubts(job: Job, name: str) -> list[str]:
    """What a wall's notes and those of its neighbours round the room say differently of the corner they share."""
    walls = next(room.walls for room in job.rooms if job.wall(name) in room.walls)
    met = pairwise((*walls, walls[0])) if len(walls) > 1 else ()
    told = []
    for left, right in met:
        if name in (left.name, right.name) and left.right is right.left in SHARED:
            try:
                agreed(left.right_detail, right.left_detail, f"“{left.name}” and “{right.name}”")
            except EndError as error:
                told.append(str(error))
    return told


def not_nothing(name: str, lengths: dict[str, object]) -> None:
    """Refuse a length of 0 where something has that length."""
    for what, length in lengths.items():
        if length == 0:
            raise ActionError(f"The {what} of “{name}” cannot be nothing; tape it, or leave it out.")


def remove_wall(folder: JobFolder, name: str) -> None:
    """Take a wall away with all that is noted on it; its photos stay in the folder."""
    with folder.changing() as change:
        change.job = change.job.without_wall(change.job.wall(name).name)
