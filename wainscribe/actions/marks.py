"""Marks added, changed and taken away."""

from collections.abc import Iterable, Sequence

from capture.errors import UnknownNameError
from capture.record import TRAITS, At, EndKind, Kind, Mark, Photo, Shape, Side, Sight, Tape, Wall
from wainscribe.actions.change import ActionError, change_wall
from wainscribe.actions.photos import find_photo
from wainscribe.actions.tapes import check_tape, with_tape
from wainscribe.actions.walls import not_nothing
from wainscribe.folder import JobFolder
from wainscribe.seen import search_photo


def add_mark(folder: JobFolder, wall: str, mark: Mark, tapes: Sequence[Tape] = ()) -> Mark:
    """Add a mark, or change the one of its name.

    Only the fields that `mark` was made with change; its sights in the same photo are replaced, others stay.
    """
    not_nothing(mark.name, {"width": mark.width, "height": mark.height})
    for photo in dict.fromkeys(s.photo for s in mark.sights):
        _check_pixels(folder, find_photo(folder.load().wall(wall), photo), [s for s in mark.sights if s.photo == photo])

    def edit(now: Wall) -> Wall:
        sights = tuple(_known_sight(now, s) for s in mark.sights)
        old = next((m for m in now.marks if m.name == mark.name), None)
        if old is not None and old.kind is not mark.kind:
            raise ActionError(f"“{mark.name}” on “{now.name}” is a {old.kind}, not a {mark.kind}; use another name.")
        fresh = {s.photo for s in sights}
        kept = tuple(s for s in old.sights if s.photo not in fresh) if old else ()
        given = {field: getattr(mark, field) for field in mark.model_fields_set}
        if old is None and mark.projection is None and _at_casing(now, mark):
            given["projection"] = TRAITS[Kind.CASING_EDGE].projection  # its edge is seen at the casing's face
        whole = (old or mark).model_copy(update={**given, "sights": (*kept, *sights)})
        marks = tuple(whole if m.name == mark.name else m for m in now.marks)
        now = now.model_copy(update={"marks": marks if old else (*marks, whole)})
        for tape in tapes:
            check_tape(now, tape, ())
            now = with_tape(now, tape)
        return now

    return next(m for m in change_wall(folder, wall, edit).marks if m.name == mark.name)


def _at_casing(wall: Wall, mark: Mark) -> bool:
    ends = {Side.LEFT: wall.left, Side.RIGHT: wall.right}
    return mark.kind is Kind.WALL_END and mark.side is not None and ends[mark.side] is EndKind.CASING


def _known_sight(wall: Wall, sight: Sight) -> Sight:
    return sight.model_copy(update={"photo": find_photo(wall, sight.photo).name})


def _check_pixels(folder: JobFolder, photo: Photo, sights: Iterable[Sight]) -> None:
    """Refuse pixels that nothing could be measured by."""
    if photo.record_only:
        raise ActionError(
            f"“{photo.name}” is a record photo, nothing is measured in it; mark it in another photo, or tape it."
        )
    width, height = search_photo(folder, photo).size
    for sight in sights:
        if not (-0.5 <= sight.u <= width - 0.5 and -0.5 <= sight.v <= height - 0.5):
            raise ActionError(
                f"Pixel {sight.u:g},{sight.v:g} lies outside “{photo.name}”, which is {width} × {height} as stored "
                "upright; check the two numbers."
            )
    _check_corners(sights)


def _check_corners(sights: Iterable[Sight]) -> None:
    """Refuse corners that lie the wrong way round: in an upright photo left is left of right, top above bottom."""
    at = {word: [s for s in sights if word in s.at.value.split()] for word in ("left", "right", "top", "bottom")}
    if any(one.u >= other.u for one in at["left"] for other in at["right"]):
        raise ActionError("A left corner lies right of a right one; check which pixel is which corner.")
    if any(one.v >= other.v for one in at["top"] for other in at["bottom"]):
        raise ActionError("A top corner lies below a bottom one; check which pixel is which corner.")


def check_sights(mark: Mark, known: Mark | None = None) -> None:
    """Refuse sights that mean nothing for a mark of this kind; `known` is the mark as it was noted before."""
    rectangle = TRAITS[mark.kind].shape is Shape.RECTANGLE
    if mark.kind is Kind.WALL_END and mark.side is None and (known is None or known.side is None):
        raise ActionError("Which end of the wall is it, the left or the right one?")
    for sight in mark.sights:
        if (sight.at is At.POINT) == rectangle:
            fits = "its middle or two opposite corners" if rectangle else "points"
            raise ActionError(f"A {mark.kind} is marked by {fits}, not by a {sight.at}.")
        if sight.at in (At.STOOL, At.APRON) and mark.kind is not Kind.WINDOW:
            raise ActionError(f"Only a window has a stool and an apron, not a {mark.kind}.")


def free_name(wall: Wall, kind: Kind) -> str:
    """The next free name for a mark of this kind, such as “receptacle 3”."""
    taken = {m.name for m in wall.marks}
    return next(name for n in range(1, len(taken) + 2) if (name := f"{kind} {n}") not in taken)


def remove_mark(folder: JobFolder, wall: str, name: str) -> list[Tape]:
    """Take a mark away, with the tape readings that go to it; these."""
    touches: list[Tape] = []

    def edit(now: Wall) -> Wall:
        if name not in [m.name for m in now.marks]:
            raise UnknownNameError(f"mark on “{wall}”", name, [m.name for m in now.marks])
        touches.extend(t for t in now.tapes if name in (_owner(now, t.start), _owner(now, t.end)))
        return now.model_copy(
            update={
                "marks": tuple(m for m in now.marks if m.name != name),
                "tapes": tuple(t for t in now.tapes if t not in touches),
            }
        )

    change_wall(folder, wall, edit)
    return touches


def _owner(wall: Wall, place: str) -> str:
    return max(
        (m.name for m in wall.marks if place == m.name or place.startswith(m.name + " ")), key=len, default=place
    )


def unknown_kind(text: str) -> UnknownNameError:
    """No mark is of that kind; the nearest one is offered."""
    return UnknownNameError("kind of mark", text, [kind.value for kind in Kind])
