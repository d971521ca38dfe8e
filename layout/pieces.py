"""A piece to cut: its sizes, end cuts, bevels and grain, all that a shop needs on one row.

Inches, exact where the plan is; what comes from the tangent of an angle is rounded to 1/64 in by whoever made it.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import cached_property

from capture.lengths import nearest
from layout.bevels import FINE, tangent
from layout.stock import Material

NARROW = Fraction(1)  # inches: what is ripped narrower wants the caution; common practice, no source
NARROW_RIP = (
    "narrow rip: cut it from wide stock as the off-cut, guard and splitter on, with a push block; never trapped at the "
    "fence, never pushed by hand"
)


class PieceRole(StrEnum):
    """What a piece is; members keep their role's name."""

    CAP = "cap"
    CAP_RETURN = "cap return"
    TOP_RAIL = "top rail"
    MIDDLE_RAIL = "middle rail"
    BOTTOM_RAIL = "bottom rail"
    END_STILE = "end stile"
    STILE = "stile"
    FILLER = "filler"
    BASE = "base"
    STRIP = "corner strip"
    SHEET = "panel sheet"
    MOULDING = "moulding"


class CutKind(StrEnum):
    """How the end of a piece is cut."""

    SQUARE = "square"
    MITRE = "mitre"  # across the face
    BEVEL = "bevel"  # through the thickness
    SCRIBE = "scribe"
    COPE = "cope"


class Grain(StrEnum):
    """Which way the grain of a piece must run."""

    ALONG = "along the length"
    ACROSS = "across the length"
    EITHER = "either way"


@dataclass(frozen=True)
class EndCut:
    """One end of a piece."""

    kind: CutKind = CutKind.SQUARE
    angle: Fraction = Fraction(0)  # degrees from square
    long_side: str = ""  # where the long point is: “front”, “back”, “outer edge”
    note: str = ""  # such as which stile a joint lies over


@dataclass(frozen=True)
class Edge:
    """One long edge of a piece."""

    angle: Fraction = Fraction(0)  # degrees from square; above 0 the toe is on the show side, below 0 at the back


SQUARE_CUT = EndCut()
SQUARE_EDGE = Edge()


@dataclass(frozen=True)
class Piece:
    """A row of the cut list: equal pieces of one unit; inches."""

    name: str
    role: PieceRole
    unit: str  # the run it belongs to
    places: tuple[str, ...]  # which of them goes where
    length: Fraction  # from long point to long point
    width: Fraction  # of the face on the show side, with what a neighbour hides
    thickness: Fraction
    ends: tuple[EndCut, EndCut] = (SQUARE_CUT, SQUARE_CUT)  # left and right, or bottom and top
    edges: tuple[Edge, Edge] = (SQUARE_EDGE, SQUARE_EDGE)  # left and right, or bottom and top
    grain: Grain = Grain.ALONG
    material: Material = Material.BOARD
    loose: bool = False  # fitted last
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """How many."""
        return len(self.places)

    @property
    def long_point(self) -> Fraction:
        """Length from long point to long point."""
        return self.length

    @property
    def short_point(self) -> Fraction:
        """Length from short point to short point."""
        return self.length - sum((self._drop(end) for end in self.ends), Fraction(0))

    def along(self, side: str) -> Fraction:
        """Length along the side of that name, where the two ends have their long points on different ones."""
        return self.length - sum((self._drop(end) for end in self.ends if end.long_side != side), Fraction(0))

    def _drop(self, end: EndCut) -> Fraction:
        """How far an end's short point lies behind its long one."""
        across = {CutKind.MITRE: self.width, CutKind.BEVEL: self.thickness}.get(end.kind, Fraction(0))
        return across * tangent(end.angle)

    @cached_property
    def back_width(self) -> Fraction:
        """Width at the back: between the heels of edges that are bevelled for an outside corner."""
        drops = (self.thickness * tangent(abs(edge.angle)) * (1 if edge.angle > 0 else -1) for edge in self.edges)
        return self.width - sum(drops, Fraction(0))

    @cached_property  # packing asks it for each board that a piece might come from
    def sawn_width(self) -> Fraction:
        """Width to rip before bevelling: the wider of face and back, a back beyond the face rounded up to 1/64 in."""
        back = self.back_width
        return self.width if back <= self.width else -(-back // FINE) * FINE

    @property
    def narrow(self) -> bool:
        """Whether the saw's caution goes with it: a board ripped under an inch, at its narrower side."""
        return self.material is Material.BOARD and min(self.width, self.back_width) < NARROW

    def sawn(self, step: Fraction) -> "Piece":
        """The same with its length, and a sheet's width, as the saw is set: to the nearest step."""
        width = nearest(self.width, step) if self.material is Material.SHEET else self.width
        return replace(self, length=nearest(self.length, step), width=width)
