"""What is wanted: the sizes of the wainscot and the rules of its spacing, chosen once for the whole house."""

from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, field_validator

from capture.errors import PlainError
from capture.lengths import LONGEST, MM, Length, Unit, show_length, show_spread
from capture.record import Kind, Record, Side
from layout.paint import USUAL, Paint

LEAST_FIELD = Fraction(2)  # inches of clear field that still read as a panel; common practice, no source


class SchemeError(PlainError, ValueError):
    """Two wishes of the scheme that cannot both be built."""


class Preference(StrEnum):
    """What makes one plan better than another; the scheme puts them in order."""

    WIDTH = "width"  # panels nearest the width wanted
    CONFLICTS = "conflicts"  # fewest things in the way
    MOVES = "moves"  # fewest boxes to be moved
    MATCH = "match"  # panel widths alike from wall to wall
    DOUBTS = "doubts"  # fewest things too close to tell
    NUDGE = "nudge"  # stiles shifted least, all shifts together
    PANELS = "panels"  # fewest panels


class Pin(StrEnum):
    """What a person has decided about one thing in the way; the rest is planned round it."""

    CLEAR = "clear"  # the frame must clear it
    MOVE = "move"  # to the side that suits best
    MOVE_LEFT = "move left"
    MOVE_RIGHT = "move right"
    LEAVE = "leave"
    EXTEND = "extend"
    BLOCK_OUT = "block out"


MOVES = (Pin.MOVE, Pin.MOVE_LEFT, Pin.MOVE_RIGHT)
STAY = (Pin.LEAVE, Pin.EXTEND, Pin.BLOCK_OUT)  # decided: the thing stays where it is


def side_of(pin: Pin | None) -> Side | None:
    """The side to which a box is decided to move; None where none is told."""
    return {Pin.MOVE_LEFT: Side.LEFT, Pin.MOVE_RIGHT: Side.RIGHT}.get(pin) if pin else None


def _read_ratio(value: object) -> Fraction:
    try:
        ratio = Fraction(str(value).strip())
    except (ValueError, ZeroDivisionError):
        raise ValueError("is a plain number, such as 1.6") from None
    if not 0 <= ratio <= 20:
        raise ValueError("must lie between 0 and 20")
    return ratio


def _listed(value: object) -> object:
    """A list as a person types it: with commas."""
    return [part.strip() for part in value.split(",") if part.strip()] if isinstance(value, str) else value


Ratio = Annotated[
    Fraction,
    BeforeValidator(_read_ratio),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string", "description": "a plain number, such as 8/5"}),
]
Places = Annotated[tuple[Annotated[str, Field(min_length=1, max_length=80)], ...], BeforeValidator(_listed)]
"""Places on a wall: a length from its left end, a mark's name, or “centre”; with “A to B” for a stretch."""


class Scheme(Record):
    """The sizes wanted, in inches; members are wood or MDF. What is nothing is not built."""

    top: Length = Fraction(36)  # top of all, above the finished floor
    cap: Length = Fraction(3, 4)  # thickness of the cap
    cap_projection: Length = Fraction(1, 2)  # past the face of the stiles
    ledge: Length = Fraction(0)  # thickness of a ledge that lies on the cap
    ledge_projection: Length = Fraction(3)  # past the face of the stiles
    top_rail: Length = Fraction(7, 2)
    middle_rail: Length = Fraction(7, 2)
    middle_rail_at: Length = Fraction(0)  # its top edge above the floor; 0 is one tier of panels
    bottom_rail: Length = Fraction(11, 2)  # above the base
    base: Length = Fraction(0)  # height of the base on which the frame stands
    base_thickness: Length = Fraction(3, 4)
    stile: Length = Fraction(7, 2)
    end_stile: Length = Fraction(0)  # 0 is as wide as the others
    thickness: Length = Fraction(3, 4)  # of stiles and rails
    panel: Literal["painted wall", "sheet"] = "painted wall"
    panel_thickness: Length = Fraction(1, 4)  # of the sheet, which lies behind the frame
    moulding: Length = Fraction(7, 8)  # face width; 0 is none
    moulding_thickness: Length = Fraction(1, 2)  # common practice, no source
    reveal: Length = Fraction(1, 4)  # from the frame's inner edge to the moulding
    panel_width: Length = Fraction(24)  # wanted
    proportion: Ratio = Fraction(0)  # height of a panel over its width, wanted in place of panel_width; 0 is not
    panels: dict[str, Annotated[int, Field(ge=1, le=100)]] = Field(
        default_factory=dict
    )  # fixed counts by the run's name
    equal: bool = True  # all panels of a run alike; else full ones, and what is left over at the ends
    mirrored: bool = False  # what is left over goes to both ends alike, and so do nudges
    nudge: Length = Fraction(0)  # the most that a stile may be shifted, which the eye forgives
    matched: bool = False  # panels of all walls of a room alike, within match_within
    match_within: Length = Fraction(1, 2)
    width_within: Length = Fraction(0)  # so near the width wanted is as good as the width itself
    stile_at: dict[str, Places] = Field(default_factory=dict)  # by wall or run: a stile is wanted there
    no_stile: dict[str, Places] = Field(default_factory=dict)  # by wall or run: no stile may stand there
    preferences: Annotated[tuple[Preference, ...], BeforeValidator(_listed)] = tuple(Preference)
    pins: dict[str, Pin] = Field(default_factory=dict)  # by the thing's name, or “wall: name”
    goes_first: Places = ()  # walls that go in before their neighbours, whatever their order in the room
    stock_length: Length = Fraction(0)  # of the longest board for rails; 0 is long enough
    plate_clear: Length = Fraction(1, 2)  # clear field wanted round a plate; common practice, no source
    register_clear: Length = Fraction(1, 2)  # round a register or grille; common practice, no source
    heater_clear: Length = Fraction(6)  # round a baseboard heater; common practice, no source: its maker decides
    filler: Length = Fraction(1, 8)  # how much narrower a filler at a casing is cut
    filler_width: Length = Fraction(0)  # shown width of the loose filler between end stile and casing; 0 is none
    paint: Paint = USUAL  # of all that is built
    unit: Unit = Unit.INCH  # in which the plan speaks; it reckons in inches

    @field_validator("top", "top_rail", "bottom_rail", "stile", "thickness", "panel_width", "panel_thickness")
    @classmethod
    def _more_than_nothing(cls, size: Fraction) -> Fraction:
        if size <= 0:
            raise ValueError("must be more than nothing")
        return size

    @field_validator("*")
    @classmethod
    def _no_wall_is_that_long(cls, size: object) -> object:
        if isinstance(size, Fraction) and not 0 <= size <= LONGEST:
            raise ValueError("must be a length that a wall could have")
        return size

    @field_validator("preferences")
    @classmethod
    def _once_each(cls, order: tuple[Preference, ...]) -> tuple[Preference, ...]:
        if len(set(order)) < len(order):
            raise ValueError("names each preference at most once")
        return order

    @property
    def build_up(self) -> Fraction:
        """How far the face of the stiles stands off the wall, inches; a sheet lies behind the frame."""
        return self.thickness + self.behind

    @property
    def behind(self) -> Fraction:
        """Thickness of the sheet behind the frames, inches; 0 where the panels are the painted wall."""
        return self.panel_thickness if self.panel == "sheet" else Fraction(0)

    @property
    def border(self) -> Fraction:
        """From the frame's inner edge to the clear field: the reveal and the moulding, or nothing."""
        return self.reveal + self.moulding if self.moulding else Fraction(0)

    @property
    def least_opening(self) -> Fraction:
        """The smallest width or height of an opening between members, inches."""
        return 2 * self.border + LEAST_FIELD

    @property
    def outer_stile(self) -> Fraction:
        """Shown width of the two end stiles, inches."""
        return self.end_stile or self.stile

    @property
    def least_run(self) -> Fraction:
        """The shortest run that holds a frame: two stiles and one panel, inches."""
        return 2 * self.outer_stile + self.least_opening

    @property
    def head(self) -> Fraction:
        """What lies on the top rail, inches: the cap and the ledge."""
        return self.cap + self.ledge

    @property
    def step(self) -> Fraction:
        """What shown lengths are multiples of: 1/16 in or 1 mm, in inches."""
        return Fraction(1, 16) if self.unit is Unit.INCH else MM

    @property
    def order(self) -> tuple[Preference, ...]:
        """The preferences in order; plans that are equal in all are told apart by their shifts, then their panels."""
        last = (Preference.NUDGE, Preference.PANELS)
        return (*self.preferences, *(one for one in last if one not in self.preferences))

    def clear(self, kind: Kind) -> Fraction:
        """The clear field wanted round a thing of that kind, inches."""
        if kind is Kind.HEATER:
            return self.heater_clear
        return self.register_clear if kind in (Kind.REGISTER, Kind.RETURN_GRILLE) else self.plate_clear

    def pin(self, wall: str, feature: str) -> Pin | None:
        """What was decided about a thing on a wall."""
        return self.pins.get(f"{wall}: {feature}") or self.pins.get(feature)

    def show(self, length: Fraction | float) -> str:
        """A length for the eye, in the scheme's unit."""
        return show_length(length, self.unit)

    def show_spread(self, spread: float) -> str:
        """A plus-or-minus for the eye, in the scheme's unit."""
        return show_spread(spread, self.unit)


def check_scheme(scheme: Scheme) -> None:
    """Refuse a scheme whose wishes contradict each other.

    Parameters
    ----------
    scheme
        The sizes wanted, inches.

    Raises
    ------
    SchemeError
        Names the two that clash, and by how much.
    """
    _check_thicknesses(scheme)
    _check_width(scheme)
    _check_heights(scheme)
    _check_middle_rail(scheme)
    _check_proportion(scheme)
    _check_rules(scheme)


def _check_thicknesses(scheme: Scheme) -> None:
    members = {
        "base": (scheme.base, "high", scheme.base_thickness),
        "moulding": (scheme.moulding, "wide", scheme.moulding_thickness),
    }
    for name, (size, way, thickness) in members.items():
        if size and not thickness:
            raise SchemeError(
                f"The {name} is {scheme.show(size)} {way} and {scheme.show(thickness)} thick; "
                "give it a thickness, or no size for none."
            )


def _check_heights(scheme: Scheme) -> None:
    taken = scheme.head + scheme.top_rail + scheme.bottom_rail + scheme.base
    short = taken + scheme.least_opening - scheme.top
    if short > 0:
        named = "cap, ledge, base and rails" if scheme.ledge or scheme.base else "cap and rails"
        raise SchemeError(
            f"The {named} ({scheme.show(taken)}) and the least panel with its moulding "
            f"({scheme.show(scheme.least_opening)}) are taller than the wainscot ({scheme.show(scheme.top)}) "
            f"by {scheme.show(short)}; raise the top or take narrower rails."
        )


def _check_middle_rail(scheme: Scheme) -> None:
    if not scheme.middle_rail_at:
        return
    if not scheme.middle_rail:
        raise SchemeError(
            f"Two tiers part at {scheme.show(scheme.middle_rail_at)}, but the middle rail between them is 0 high; "
            "give it a height or set middle_rail_at to 0."
        )
    low, high = scheme.base + scheme.bottom_rail, scheme.top - scheme.head - scheme.top_rail
    rooms = {
        "below": scheme.middle_rail_at - scheme.middle_rail - low,
        "above": high - scheme.middle_rail_at,
    }
    for where, room in rooms.items():
        if room < scheme.least_opening:
            raise SchemeError(
                f"The middle rail at {scheme.show(scheme.middle_rail_at)} leaves {scheme.show(room)} {where} it, and a "
                f"panel with its moulding needs {scheme.show(scheme.least_opening)}, "
                f"{scheme.show(scheme.least_opening - room)} more; move the rail or change the top."
            )


def _check_width(scheme: Scheme) -> None:
    short = scheme.least_opening - scheme.panel_width
    if short > 0:
        raise SchemeError(
            f"Panels {scheme.show(scheme.panel_width)} wide are wanted, but reveal and moulding on both sides leave a "
            f"field only from {scheme.show(scheme.least_opening)} on, {scheme.show(short)} more; "
            "take wider panels or a narrower moulding."
        )
    if 0 < scheme.filler_width <= scheme.filler:
        raise SchemeError(
            f"A filler {scheme.show(scheme.filler_width)} wide cut {scheme.show(scheme.filler)} narrow leaves nothing; "
            f"show more than {scheme.show(scheme.filler)} of it, or cut it less narrow."
        )


def _check_proportion(scheme: Scheme) -> None:
    """A proportion is wanted of the tallest panels where nothing interrupts the wainscot."""
    if not scheme.proportion:
        return
    low, high = scheme.base + scheme.bottom_rail, scheme.top - scheme.head - scheme.top_rail
    part = scheme.middle_rail_at
    tallest = max(part - scheme.middle_rail - low, high - part) if part else high - low
    width = tallest / scheme.proportion
    if width < scheme.least_opening:
        raise SchemeError(
            f"Panels {scheme.show(tallest)} high and {float(scheme.proportion):g} times as high as wide would be "
            f"{scheme.show(width)} wide, and one with its moulding needs {scheme.show(scheme.least_opening)}, "
            f"{scheme.show(scheme.least_opening - width)} more; want a smaller proportion."
        )


def _check_rules(scheme: Scheme) -> None:
    field = scheme.panel_width - 2 * scheme.border
    if not scheme.proportion and 2 * scheme.plate_clear > field:
        raise SchemeError(
            f"A clear field of {scheme.show(scheme.plate_clear)} is wanted on each side of a plate, and a panel "
            f"{scheme.show(scheme.panel_width)} wide has {scheme.show(field)} inside its moulding, "
            f"{scheme.show(2 * scheme.plate_clear - field)} too little; want less, or wider panels."
        )
    if scheme.nudge >= scheme.stile + scheme.least_opening:
        raise SchemeError(
            f"Stiles may be shifted by {scheme.show(scheme.nudge)}, further than a stile and the least panel together "
            f"({scheme.show(scheme.stile + scheme.least_opening)}); allow a smaller shift."
        )
