"""Named places of a wall as linear functions of the unknown lengths.

A rectangle is four unknowns (its centre across and up, its width and height); its edges and corners follow. An
upright line is one length across, a floor or level point one height. `left end` is x = 0 and `floor` is y = 0:
they are the frame itself, not unknowns.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from capture.errors import UnknownNameError
from capture.record import PLATE_HEIGHT, TRAITS, At, Kind, Mark, Shape, Side, Wall, plate_width

LEFT_END, RIGHT_END, FLOOR = "left end", "right end", "floor"
EDGES = ("left", "right", "top", "bottom")
SILL = (At.STOOL.value, At.APRON.value)  # of a window: the top of its stool, the underside of its apron


@dataclass(frozen=True)
class Form:
    """A length that is linear in named unknowns: the sum of `terms[name] * unknown[name]`, plus `shift`."""

    terms: dict[str, float] = field(default_factory=dict)
    shift: float = 0.0

    def plus(self, other: "Form", factor: float = 1.0) -> "Form":
        """The sum of this form and `factor` times another."""
        terms = dict(self.terms)
        for name, weight in other.terms.items():
            terms[name] = terms.get(name, 0.0) + factor * weight
        return Form(terms, self.shift + factor * other.shift)


def unknown(name: str) -> Form:
    """The unknown of that name itself."""
    return Form({name: 1.0})


@dataclass(frozen=True)
class Place:
    """A named place: across and up; None where the place has no such coordinate (a floor has no across)."""

    x: Form | None
    y: Form | None


def rectangle_edges(mark: Mark) -> dict[str, Form]:
    """The four edges of a rectangle by name."""
    across, up = unknown(f"{mark.name}/across"), unknown(f"{mark.name}/up")
    width, height = unknown(f"{mark.name}/width"), unknown(f"{mark.name}/height")
    return {
        "left": across.plus(width, -0.5),
        "right": across.plus(width, 0.5),
        "bottom": up.plus(height, -0.5),
        "top": up.plus(height, 0.5),
    }


def across_of(mark: Mark) -> Form | None:
    """Where a mark stands across the wall, or None for a floor or level line."""
    if mark.kind is Kind.WALL_END:
        return Form() if mark.side is Side.LEFT else unknown(f"{RIGHT_END}/across")
    if TRAITS[mark.kind].shape in (Shape.RECTANGLE, Shape.UPRIGHT):
        return unknown(f"{mark.name}/across")
    return None


def sight_place(mark: Mark, at: At, nth: int) -> Place:
    """Where the `nth` sight of a mark lies; lengths that only this sight needs are named after it."""
    if TRAITS[mark.kind].shape is Shape.RECTANGLE:
        if at in (At.STOOL, At.APRON):
            return Place(unknown(f"{mark.name}#{nth}/across"), unknown(f"{mark.name}/{at}"))
        if at in (At.CENTRE, At.POINT):
            return Place(unknown(f"{mark.name}/across"), unknown(f"{mark.name}/up"))
        upper_lower, left_right = at.value.split()
        edges = rectangle_edges(mark)
        return Place(edges[left_right], edges[upper_lower])
    if TRAITS[mark.kind].shape is Shape.UPRIGHT:
        return Place(across_of(mark), unknown(f"{mark.name}#{nth}/up"))
    return Place(unknown(f"{mark.name}#{nth}/across"), unknown(f"{mark.name}/up"))


def usual_size(mark: Mark) -> tuple[float, float] | None:
    """Width and height of a standard plate (ANSI/NEMA WD 6 as reported), inches, for kinds that have one."""
    if mark.kind in (Kind.RECEPTACLE, Kind.SWITCH, Kind.JACK):
        return float(plate_width(mark.gangs)), float(PLATE_HEIGHT)
    return None


def named_place(wall: Wall, name: str, cards: Iterable[int]) -> Place:
    """The place a person names: an end, the floor, a card, a mark, a mark's edge or a window's stool or apron.

    Raises
    ------
    UnknownNameError
        Nothing on this wall is called that.
    """
    known = tuple(cards)
    fixed = {
        LEFT_END: Place(Form(), None),
        RIGHT_END: Place(unknown(f"{RIGHT_END}/across"), None),
        FLOOR: Place(None, Form()),
    }
    if name in fixed:
        return fixed[name]
    if name in {f"card {number}" for number in known}:
        return Place(unknown(f"{name}/across"), unknown(f"{name}/up"))
    for mark in wall.marks:
        if name == mark.name:
            return _middle(mark)
    for mark in wall.marks:
        if name.startswith(mark.name + " ") and (part := _parts(mark).get(name.removeprefix(mark.name + " "))):
            return part
    meant = [f"{m.name} {part}" for m in wall.marks if name.startswith(f"{m.name} ") for part in _parts(m)]
    everything = [*fixed, *(m.name for m in wall.marks), *(f"card {n}" for n in known)]
    raise UnknownNameError(f"place on “{wall.name}”", name, meant or everything)


def _parts(mark: Mark) -> dict[str, Place]:
    """What can be named of a mark beside its middle: a rectangle's edges, and a window's stool and apron."""
    if TRAITS[mark.kind].shape is not Shape.RECTANGLE:
        return {}
    edges = rectangle_edges(mark).items()
    found = {edge: Place(form, None) if edge in ("left", "right") else Place(None, form) for edge, form in edges}
    sill = SILL if mark.kind is Kind.WINDOW else ()
    return found | {line: Place(None, unknown(f"{mark.name}/{line}")) for line in sill}


def _middle(mark: Mark) -> Place:
    up = None if TRAITS[mark.kind].shape is Shape.UPRIGHT else unknown(f"{mark.name}/up")
    return Place(across_of(mark), up)
