"""What is wanted: the sizes of the wainscot, chosen once for the whole room."""

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field, field_validator

from capture.errors import PlainError
from capture.lengths import LONGEST, MM, Length, Unit, show_length, show_spread
from capture.record import Record

LEAST_FIELD = Fraction(2)  # inches of clear field that still read as a panel; common practice, no source


class SchemeError(PlainError, ValueError):
    """Two sizes of the scheme that cannot both be built."""


class Scheme(Record):
    """The sizes wanted, in inches; members are wood or MDF."""

    top: Length = Fraction(36)  # top of the cap above the finished floor
    cap: Length = Fraction(3, 4)  # thickness of the cap
    cap_projection: Length = Fraction(1, 2)  # past the face of the stiles
    top_rail: Length = Fraction(7, 2)
    bottom_rail: Length = Fraction(11, 2)
    stile: Length = Fraction(7, 2)
    thickness: Length = Fraction(3, 4)  # of stiles and rails
    panel: Literal["painted wall", "sheet"] = "painted wall"
    panel_thickness: Length = Fraction(1, 4)  # of the sheet, which lies behind the frame
    moulding: Length = Fraction(7, 8)  # face width; 0 is none
    moulding_thickness: Length = Fraction(1, 2)  # common practice, no source
    reveal: Length = Fraction(1, 4)  # from the frame's inner edge to the moulding
    panel_width: Length = Fraction(24)  # wanted
    panels: dict[str, Annotated[int, Field(ge=1, le=100)]] = Field(
        default_factory=dict
    )  # fixed counts by the run's name
    plate_clear: Length = Fraction(1, 2)  # clear field wanted round a plate; common practice, no source
    filler: Length = Fraction(1, 8)  # how much narrower a filler at a casing is cut
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

    @property
    def build_up(self) -> Fraction:
        """How far the face of the stiles stands off the wall, inches; a sheet lies behind the frame."""
        return self.thickness + (self.panel_thickness if self.panel == "sheet" else 0)

    @property
    def border(self) -> Fraction:
        """From the frame's inner edge to the clear field: the reveal and the moulding, or nothing."""
        return self.reveal + self.moulding if self.moulding else Fraction(0)

    @property
    def least_opening(self) -> Fraction:
        """The smallest width or height of an opening between members, inches."""
        return 2 * self.border + LEAST_FIELD

    @property
    def least_run(self) -> Fraction:
        """The shortest run that holds a frame: two stiles and one panel, inches."""
        return 2 * self.stile + self.least_opening

    @property
    def step(self) -> Fraction:
        """What shown lengths are multiples of: 1/16 in or 1 mm, in inches."""
        return Fraction(1, 16) if self.unit is Unit.INCH else MM

    def show(self, length: Fraction | float) -> str:
        """A length for the eye, in the scheme's unit."""
        return show_length(length, self.unit)

    def show_spread(self, spread: float) -> str:
        """A plus-or-minus for the eye, in the scheme's unit."""
        return show_spread(spread, self.unit)


def check_scheme(scheme: Scheme) -> None:
    """Refuse a scheme whose sizes contradict each other.

    Parameters
    ----------
    scheme
        The sizes wanted, inches.

    Raises
    ------
    SchemeError
        The heights leave no panel, or the panel wanted is narrower than its moulding.
    """
    taken = scheme.cap + scheme.top_rail + scheme.bottom_rail
    short = taken + scheme.least_opening - scheme.top
    if short > 0:
        raise SchemeError(
            f"The cap and rails ({scheme.show(taken)}) and the least panel with its moulding "
            f"({scheme.show(scheme.least_opening)}) are taller than the wainscot ({scheme.show(scheme.top)}) "
            f"by {scheme.show(short)}; raise the top or take narrower rails."
        )
    short = scheme.least_opening - scheme.panel_width
    if short > 0:
        raise SchemeError(
            f"Panels {scheme.show(scheme.panel_width)} wide are wanted, but reveal and moulding on both sides leave a "
            f"field only from {scheme.show(scheme.least_opening)} on, {scheme.show(short)} more; "
            "take wider panels or a narrower moulding."
        )
