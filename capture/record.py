"""What people note at the walkthrough: walls, photos, marks and tape readings, just as they were given.

Nothing here is computed. The measured survey (`capture.survey`) is worked out from it, again and again.
"""

from enum import StrEnum
from fractions import Fraction
from typing import Annotated, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, WithJsonSchema

from capture.lengths import Length

Name = Annotated[str, Field(min_length=1, max_length=80)]
Note = Annotated[str, Field(max_length=2000)]


class Record(BaseModel):
    """Base of all stored records: never changed in place, no unknown keys, no NaN."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Kind(StrEnum):
    """What a mark marks."""

    RECEPTACLE = "receptacle"
    SWITCH = "switch"
    THERMOSTAT = "thermostat"
    REGISTER = "register"
    RETURN_GRILLE = "return grille"
    JACK = "jack"
    HEATER = "baseboard heater"
    ACCESS_PANEL = "access panel"
    CASING_EDGE = "casing edge"
    WINDOW = "window"
    WALL_END = "wall end"
    FLOOR_POINT = "floor point"
    LEVEL_POINT = "level point"
    STUD = "stud"
    DAMAGE = "damage"
    OTHER = "other"
    IN_FRONT = "in front"


class Shape(StrEnum):
    """How a mark lies on the wall."""

    RECTANGLE = "rectangle"  # marked by its centre or by opposite corners
    UPRIGHT = "upright line"  # an edge that runs up the wall: one or more points on it
    POINT = "point"
    OUTLINE = "outline"  # a polygon of pixels in one photo; not measured


class Trait(NamedTuple):
    """What is usual for a kind: shape, how proud its face stands (in, common practice), and how unsure that is."""

    shape: Shape
    projection: Fraction
    projection_sd: float
    blocks: bool  # can stand in the way of a member
    wired: bool = False


TRAITS: dict[Kind, Trait] = {
    Kind.RECEPTACLE: Trait(Shape.RECTANGLE, Fraction(5, 32), 1 / 16, True, True),
    Kind.SWITCH: Trait(Shape.RECTANGLE, Fraction(5, 32), 1 / 16, True, True),
    Kind.THERMOSTAT: Trait(Shape.RECTANGLE, Fraction(1), 1 / 4, True, True),
    Kind.REGISTER: Trait(Shape.RECTANGLE, Fraction(1, 4), 1 / 8, True),
    Kind.RETURN_GRILLE: Trait(Shape.RECTANGLE, Fraction(1, 4), 1 / 8, True),
    Kind.JACK: Trait(Shape.RECTANGLE, Fraction(5, 32), 1 / 16, True, True),
    Kind.HEATER: Trait(Shape.RECTANGLE, Fraction(3), 1 / 2, True),
    Kind.ACCESS_PANEL: Trait(Shape.RECTANGLE, Fraction(1, 8), 1 / 16, True),
    Kind.CASING_EDGE: Trait(Shape.UPRIGHT, Fraction(11, 16), 1 / 16, False),
    Kind.WINDOW: Trait(Shape.RECTANGLE, Fraction(11, 16), 1 / 16, False),
    Kind.WALL_END: Trait(Shape.UPRIGHT, Fraction(0), 0.0, False),
    # Marked at the foot of a base (to 9/16 in thick) or of the bare wall: half-way between, and unsure by that much.
    Kind.FLOOR_POINT: Trait(Shape.POINT, Fraction(1, 4), 1 / 4, False),
    Kind.LEVEL_POINT: Trait(Shape.POINT, Fraction(0), 0.0, False),
    Kind.STUD: Trait(Shape.UPRIGHT, Fraction(0), 0.0, False),
    Kind.DAMAGE: Trait(Shape.RECTANGLE, Fraction(0), 0.0, False),
    Kind.OTHER: Trait(Shape.RECTANGLE, Fraction(0), 1 / 8, True),
    Kind.IN_FRONT: Trait(Shape.OUTLINE, Fraction(0), 0.0, False),
}
CASINGS = (Kind.CASING_EDGE, Kind.WINDOW)  # whose faces stand as proud as the casings of the wall

PLATE_WIDTH = Fraction(11, 4)  # ANSI/NEMA WD 6 as reported: one gang 2.75 × 4.50 in
PLATE_HEIGHT = Fraction(9, 2)
GANG_SPACING = Fraction(29, 16)  # 1.8125 in from gang to gang


def plate_width(gangs: int) -> Fraction:
    """Width of a standard plate, inches: 2.75 + 1.8125 (n - 1), ANSI/NEMA WD 6 as reported."""
    return PLATE_WIDTH + GANG_SPACING * (gangs - 1)


class At(StrEnum):
    """Which point of a mark a sight is on."""

    CENTRE = "centre"
    TOP_LEFT = "top left"
    TOP_RIGHT = "top right"
    BOTTOM_LEFT = "bottom left"
    BOTTOM_RIGHT = "bottom right"
    POINT = "point"  # on an upright line, a floor or level point, or the next corner of an outline
    STOOL = "stool"  # anywhere on the top edge of a window's stool
    APRON = "apron"  # anywhere on the bottom edge of a window's apron


class Sight(Record):
    """One tap: a pixel of a photo as stored upright, the centre of the first pixel at (0, 0)."""

    photo: Name
    u: float
    v: float
    at: At = At.CENTRE
    sd: Annotated[float, Field(gt=0, le=200)] | None = None  # pixels; None takes the usual thumb
    tap: tuple[float, float] | None = None  # where the thumb was, if the place was moved to an edge found near it
    doubt: Note = ""  # what was not sure about that edge


class Side(StrEnum):
    """Left or right as one faces the wall."""

    LEFT = "left"
    RIGHT = "right"


class BoxKind(StrEnum):
    """How a box is held in the wall."""

    OLD_WORK = "old-work"  # clamped to the wall's skin
    NEW_WORK = "new-work"  # fixed to a stud before the wall was closed


class Wiring(StrEnum):
    """What the cable is, where somebody has looked."""

    NONMETALLIC = "nonmetallic cable"
    ARMOURED = "armoured cable"
    CONDUIT = "conduit"
    ALUMINIUM = "aluminium"
    KNOB_AND_TUBE = "knob and tube"


class Mark(Record):
    """Something on the wall, as it was pointed out or taped."""

    name: Name  # unique in its wall, such as "receptacle 1"
    kind: Kind
    sights: tuple[Sight, ...] = ()
    width: Length | None = None  # as taped; None where it is seen or usual
    height: Length | None = None
    gangs: Annotated[int, Field(ge=1, le=10)] = 1
    projection: Length | None = None  # None takes the usual one of its kind
    side: Side | None = None  # wall end: which end; casing edge: which side its opening is on
    stud_side: Side | None = None  # on which side of the box the stud stands; None is not known
    cable_slack: Length | None = None  # how far the cable lets the box move; None is not known
    box: BoxKind | None = None  # None is not known
    wiring: Wiring | None = None  # None is not known
    set_back: Length | None = None  # how far the box's edge stands behind the wall's face; None is not known
    note: Note = ""

    @property
    def proud(self) -> Fraction:
        """How far its face stands off the wall, inches."""
        return TRAITS[self.kind].projection if self.projection is None else self.projection

    def as_proud_as(self, casing: Fraction | None) -> "Mark":
        """A casing that stands off the wall as the wall's casings are noted to, where nothing was noted of its own."""
        if casing is None or self.projection is not None or self.kind not in CASINGS:
            return self
        return self.model_copy(update={"projection": casing})

    @property
    def proud_sd(self) -> float:
        """How unsure that is, one standard deviation in inches; a measured projection is good to 1/64."""
        return TRAITS[self.kind].projection_sd if self.projection is None else 1 / 64


class Along(StrEnum):
    """How a tape lay."""

    ACROSS = "across"
    UP = "up"
    STRAIGHT = "straight"


class Tape(Record):
    """A tape reading between two named points of a wall.

    Points: ``left end``, ``right end``, ``floor``, ``card 3``, a mark (its centre), a mark's edge such as
    ``receptacle 1 left``, or ``window 1 stool`` (its top) and ``window 1 apron`` (its underside).
    """

    start: Name
    end: Name
    length: Length
    along: Along
    sd: Annotated[float, Field(gt=0, le=12)] | None = None  # inches; None takes the usual for its length
    check_only: bool = False  # held back: told against the prediction, never used


class Photo(Record):
    """A photo of a wall: the original lies untouched in the job's photos folder."""

    name: Name  # as the person calls it
    file: Name  # its file name in photos/
    caption: Note = ""
    record_only: bool = False  # documents a condition; not measured


class EndKind(StrEnum):
    """How the wainscot ends at one end of a wall."""

    INSIDE_CORNER = "inside corner"
    OUTSIDE_CORNER = "outside corner"
    BULLNOSE = "bullnose corner"
    CASING = "casing"
    OPEN = "open end"


class Aside(Record):
    """A card that is not to be used: in one photo, or in all."""

    card: int
    photo: Name | None = None


class Joint(StrEnum):
    """How the faces of two walls meet at a square outside corner."""

    MITRED = "mitred"
    BUTTED = "butted"


def _read_degrees(value: object) -> Fraction:
    try:
        degrees = Fraction(str(value).removesuffix("°").strip())
    except (ValueError, ZeroDivisionError):
        raise ValueError("is written in degrees, like 90 or 91.5") from None
    if not 30 <= degrees <= 175:
        raise ValueError("must lie between 30 and 175 degrees: hold the finder in the corner, or round it")
    return degrees


Degrees = Annotated[
    Fraction,
    BeforeValidator(_read_degrees),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string", "description": "degrees, such as 183/2"}),
]


class EndDetail(Record):
    """What was measured and is wanted at one end of a wall; whatever is left out is taken as usual."""

    angle: Degrees | None = None  # between the two walls as a finder reads it in the corner or round it; 90 is square
    joint: Joint = Joint.MITRED  # square outside corner
    radius: Length | None = None  # bullnose; None takes the wall's
    flat_to_flat: Length | None = None  # bullnose: straight across, from where one flat stops to where the other does
    strips: Annotated[int, Field(ge=1, le=8)] = 1  # bullnose: narrow strips between the flats
    relief_bevel: bool = False  # the end that butts into an inside corner is eased behind its face
    out_of_plumb: Length | None = None  # how far the corner or casing leans over the height of the wainscot


class Base(StrEnum):
    """What becomes of the base along the floor."""

    KEPT = "kept"
    REMOVED = "removed"
    NONE = "none there"


class Suspect(StrEnum):
    """What is known of something that may hold lead or asbestos."""

    FREE = "tested free"
    FOUND = "found"
    SUSPECTED = "suspected"


class Gauged(Record):
    """How far something is off, and how that was taken."""

    off: Length
    how: Note = ""


def _read_gauged(value: object) -> object:
    if not isinstance(value, str):
        return value
    off, _, how = value.partition(", ")  # a comma in a metric length has no space behind it
    return {"off": off, "how": how.strip()}


Reading = Annotated[Gauged, BeforeValidator(_read_gauged)]
"""As a person types it: ``1/8, 6 ft straightedge``."""


class Conditions(Record):
    """The state that a wall, or the whole house, was found in; what is left out was not looked at."""

    material: Note = ""  # of the wall, such as plaster on wood lath
    flat: Reading | None = None  # the widest gap
    plumb: Reading | None = None  # over the height of the wainscot
    level: Reading | None = None  # of the floor, from end to end
    casing: Length | None = None  # how far the casings' faces stand off the wall
    base: Base | None = None
    wiring: Wiring | None = None
    paint: Suspect | None = None  # lead
    compound: Suspect | None = None  # asbestos in joint compound
    not_seen: Note = ""  # what nobody could look at
    noted: Note = ""  # anything else

    def in_house(self, house: "Conditions") -> "Conditions":
        """A wall's own conditions, with those of the whole house where the wall has none noted."""
        own = {key: value for key, value in self if value not in (None, "") or key in ("not_seen", "noted")}
        return house.model_copy(update=own)


class Wall(Record):
    """One wall of a room, seen from inside the room: x runs right from its left end, y up from the floor."""

    name: Name
    left: EndKind = EndKind.INSIDE_CORNER
    right: EndKind = EndKind.INSIDE_CORNER
    bullnose_radius: Length | None = None
    left_detail: EndDetail = EndDetail()
    right_detail: EndDetail = EndDetail()
    width: Length | None = None  # taped, end to end; the flat part where an end is a bullnose
    ceiling: Length | None = None  # taped height
    bow: Length | None = None  # the widest gap under a long straightedge; None takes the usual, 0 a flat wall
    photos: tuple[Photo, ...] = ()
    marks: tuple[Mark, ...] = ()
    tapes: tuple[Tape, ...] = ()
    asides: tuple[Aside, ...] = ()
    conditions: Conditions = Conditions()
    note: Note = ""

    def as_found(self, house: Conditions) -> "Wall":
        """The wall with the conditions of the whole house where it has none, and its casings as proud as noted."""
        found = self.conditions.in_house(house)
        marks = tuple(mark.as_proud_as(found.casing) for mark in self.marks)
        if found == self.conditions and marks == self.marks:
            return self
        return self.model_copy(update={"conditions": found, "marks": marks})

    def at_end(self, side: Side) -> EndDetail:
        """What was noted of an end, with the wall's radius where it has none of its own.

        Where one end alone is a bullnose, the radius is meant for that.
        """
        detail, kind = (self.left_detail, self.left) if side is Side.LEFT else (self.right_detail, self.right)
        meant = kind is EndKind.BULLNOSE or EndKind.BULLNOSE not in (self.left, self.right)
        if meant and detail.radius is None and detail.flat_to_flat is None:
            return detail.model_copy(update={"radius": self.bullnose_radius})
        return detail


class Room(Record):
    """A room's walls in order round it, left to right as one stands inside."""

    name: Name
    walls: tuple[Wall, ...] = ()


class Learnt(Record):
    """A number that measuring taught, with its standard deviation."""

    value: float
    sd: Annotated[float, Field(gt=0)]


class LearntScale(Record):
    """What one job taught of a printed scale, across and up: a normal distribution by its information.

    A photo without a tape tells how the two compare and not how big they are; so both go together.
    """

    information: tuple[tuple[float, float], tuple[float, float]]  # inverse covariance
    vector: tuple[float, float]  # information times mean


class PrintRun(Record):
    """Cards printed together share one printed scale; the bars read on a sheet, and earlier jobs, say what it is."""

    name: Name = "first"
    across: Length | None = None  # the 6 in bar as read
    up: Length | None = None  # the 9 in bar as read
    learnt: tuple[LearntScale, ...] = ()  # each from one other job


class Lens(Record):
    """A phone's lens as calibrated, for pictures of one size on the sensor and one zoom; pixels."""

    phone: Name
    focal_35: float | None
    size: tuple[int, int]  # of the sensor's picture
    f: Learnt
    cx: Learnt
    cy: Learnt
    k1: Learnt
    k2: Learnt
    photos: int  # by how many it was calibrated
