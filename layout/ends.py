"""How a run stops: against a corner, a casing, or nothing; and what its end stile is cut to beyond the face one sees.

The angle of a corner is that between the two walls, as a finder reads it in the corner or round it. Lengths that come
from an angle which is not square, or from a radius, are given to 1/64 in.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from capture.errors import PlainError
from capture.lengths import nearest
from capture.record import TRAITS, EndDetail, EndKind, Joint, Kind
from layout.scheme import Scheme

SQUARE = Fraction(90)  # degrees
USUAL_RADIUS = Fraction(3, 4)  # inches; of the rounded corner beads sold most, common practice, no source
RELIEF = Fraction(5)  # degrees that a relief bevel takes off behind the face; common practice, no source
_FINE = Fraction(1, 64)


class EndError(PlainError, ValueError):
    """Two things told of one corner that cannot both be."""


class Stop(StrEnum):
    """What a run stops against."""

    INSIDE_CORNER = "inside corner"
    OUTSIDE_CORNER = "outside corner"
    BULLNOSE = "bullnose corner"
    CASING = "casing"
    OPEN = "open end"
    WINDOW = "window casing"
    DOOR = "door casing"
    NEXT_FRAME = "next frame"


@dataclass(frozen=True)
class Turn:
    """How the wainscot turns an outside corner.

    Notes
    -----
    With turn A over n joints each meeting edge is bevelled h = A / (2 n). At a round of radius R the strips lie
    tangent to it: R tan h is how far each flat's back passes the line where the round begins, and twice that is the
    strip's width at the heel; the face lies `build_up` further out. Plane geometry.
    """

    angle: Fraction  # degrees between the two walls
    joints: int  # 1 is a mitre; one more for each narrow strip
    radius: Fraction  # inches; 0 is a square corner
    build_up: Fraction  # from the wall to the face, inches

    @property
    def bevel(self) -> Fraction:
        """Degrees from square at each meeting edge."""
        return (180 - self.angle) / (2 * self.joints)

    @property
    def heel(self) -> Fraction:
        """How far the back of a flat passes the line where the round begins, inches."""
        return _times_tan(self.radius, self.bevel)

    @property
    def toe(self) -> Fraction:
        """How far its face passes that line, inches."""
        return _times_tan(self.radius + self.build_up, self.bevel)

    @property
    def strip_heel(self) -> Fraction:
        """Width of a narrow strip at its back, inches."""
        return 2 * self.heel

    @property
    def strip_face(self) -> Fraction:
        """Width of a narrow strip at its face, inches."""
        return 2 * self.toe


@dataclass(frozen=True)
class RunEnd:
    """One end of a run."""

    stop: Stop
    sd: float = 0.0  # inches: how unsure its place is
    hidden: Fraction = Fraction(0)  # width of the end stile behind the neighbour's frame, beyond the shown face
    casing: Fraction | None = None  # how proud the casing stands, where the run stops at one
    filler: Fraction = Fraction(0)  # shown width of the loose filler between end stile and casing
    turn: Turn | None = None  # at an outside corner
    joint: Joint | None = None  # at a square outside corner
    covered: Fraction = Fraction(0)  # of the shown face, how much is the edge of the neighbour's stile
    bevel: Fraction = Fraction(0)  # degrees from square of the stile's edge; below 0 the back is the longer side
    relief: Fraction = Fraction(0)  # degrees eased behind the face besides
    scribe: Fraction = Fraction(0)  # more width yet, to be scribed to what is out of plumb
    assumed: tuple[str, ...] = ()  # what was taken for granted, in plain words

    @property
    def beyond(self) -> Fraction:
        """How much wider than its shown face the end stile is cut, measured on its face; below 0 narrower."""
        past = self.turn.toe if self.turn and self.turn.radius else Fraction(0)
        return self.hidden + past + self.scribe - self.covered


def wall_end(kind: EndKind, scheme: Scheme, first: bool, detail: EndDetail | None = None) -> tuple[Fraction, RunEnd]:
    """How far in from the wall's end the shown face starts, and the end itself.

    Parameters
    ----------
    kind
        How the wainscot ends there.
    scheme
        The sizes wanted, inches.
    first
        Whether this wall goes in before its neighbour at that corner.
    detail
        What was measured there; what is left out is square, mitred, plumb, of the usual radius.

    Returns
    -------
    tuple of Fraction and RunEnd
        Inches, below 0 where the face passes the wall's end.

    Raises
    ------
    EndError
        What was told of the corner contradicts itself.
    """
    detail = detail or EndDetail()
    inward, end = {
        EndKind.INSIDE_CORNER: _inside_corner,
        EndKind.OUTSIDE_CORNER: _outside_corner,
        EndKind.BULLNOSE: _bullnose,
        EndKind.CASING: _casing,
        EndKind.OPEN: _open,
    }[kind](scheme, first, detail)
    return inward, replace(end, scribe=detail.out_of_plumb or Fraction(0))


def _inside_corner(scheme: Scheme, first: bool, detail: EndDetail) -> tuple[Fraction, RunEnd]:
    """Both faces meet where the planes in front of the two walls do; the second is bevelled to the first."""
    angle = detail.angle or SQUARE
    inward = _times_tan(scheme.build_up, SQUARE - angle / 2)  # cot of half the angle
    if first:
        return inward, RunEnd(Stop.INSIDE_CORNER, hidden=inward)
    relief = RELIEF if detail.relief_bevel else Fraction(0)
    return inward, RunEnd(Stop.INSIDE_CORNER, bevel=SQUARE - angle, relief=relief)


def _outside_corner(scheme: Scheme, first: bool, detail: EndDetail) -> tuple[Fraction, RunEnd]:
    """The face reaches past the corner until it meets its neighbour's, so that both show whole stiles."""
    if detail.radius or detail.flat_to_flat:
        raise EndError(
            f"A square outside corner has no round, but one of {scheme.show(_round(detail))} is told; "
            "call it a bullnose corner, or take the radius away."
        )
    turn = Turn(detail.angle or SQUARE, 1, Fraction(0), scheme.build_up)
    end = RunEnd(Stop.OUTSIDE_CORNER, turn=turn, joint=detail.joint)
    if detail.joint is Joint.MITRED:
        return -turn.toe, replace(end, bevel=turn.bevel)
    if turn.angle != SQUARE:
        raise EndError(
            f"A butted outside corner is square, but {_degrees(turn.angle)} is told, "
            f"{_degrees(abs(turn.angle - SQUARE))} off; mitre it."
        )
    return -turn.toe, replace(end, covered=Fraction(0) if first else scheme.build_up)


def _bullnose(scheme: Scheme, first: bool, detail: EndDetail) -> tuple[Fraction, RunEnd]:
    """The flats show their whole stile up to the line where the round begins; strips go round between bevels."""
    angle = detail.angle or SQUARE
    assumed: tuple[str, ...] = ()
    if not detail.radius and not detail.flat_to_flat:
        assumed = (f"the round of the bullnose is taken as {scheme.show(USUAL_RADIUS)} in radius: measure it",)
    turn = Turn(angle, detail.strips + 1, _radius(detail, angle), scheme.build_up)
    return Fraction(0), RunEnd(Stop.BULLNOSE, turn=turn, bevel=turn.bevel, assumed=assumed)


def _radius(detail: EndDetail, angle: Fraction) -> Fraction:
    """The radius, or that of the arc whose ends lie `flat_to_flat` apart: half the chord over the sine of half."""
    if detail.flat_to_flat:
        return nearest(detail.flat_to_flat / 2 / Fraction(math.sin(math.radians((180 - angle) / 2))), _FINE)
    return detail.radius or USUAL_RADIUS


def _round(detail: EndDetail) -> Fraction:
    return detail.radius or detail.flat_to_flat or Fraction(0)


def _casing(scheme: Scheme, first: bool, detail: EndDetail) -> tuple[Fraction, RunEnd]:
    return scheme.filler_width, at_casing(Stop.CASING, TRAITS[Kind.CASING_EDGE].projection, scheme)


def at_casing(stop: Stop, proud: Fraction, scheme: Scheme, sd: float = 0.0) -> RunEnd:
    """The end of a run at a casing, with its loose filler where one is wanted."""
    return RunEnd(stop, sd, casing=proud, filler=scheme.filler_width)


def _open(scheme: Scheme, first: bool, detail: EndDetail) -> tuple[Fraction, RunEnd]:
    return Fraction(0), RunEnd(Stop.OPEN)


def _times_tan(length: Fraction, degrees: Fraction) -> Fraction:
    if degrees == 45 or not length:
        return length
    return nearest(length * Fraction(math.tan(math.radians(degrees))), _FINE)


def end_notes(left: RunEnd, right: RunEnd, scheme: Scheme) -> Iterator[str]:
    """What a carpenter should know of a run's two ends."""
    for side, end in (("left", left), ("right", right)):
        yield from _corner_notes(side, end, scheme)
        if end.filler:
            yield (
                f"the loose filler at the {side} end is cut {scheme.show(end.filler - scheme.filler)} wide, "
                f"{scheme.show(scheme.filler)} narrow, and pushed tight to the casing last"
            )
        if end.casing is not None and scheme.build_up > end.casing:
            yield (
                f"the frame stands {scheme.show(scheme.build_up - end.casing)} proud of the casing at the {side} end: "
                "return the cap and ease the stile, or back the casing out"
            )
        if end.scribe:
            what = "casing" if end.casing is not None else "corner" if end.turn or end.hidden else "end"
            yield (
                f"the {side} end stile is cut {scheme.show(end.scribe)} wider and scribed: "
                f"the {what} there is that much out of plumb"
            )


def _corner_notes(side: str, end: RunEnd, scheme: Scheme) -> Iterator[str]:
    if end.hidden:
        yield (
            f"the {side} end stile is cut {scheme.show(end.hidden)} wider: "
            "that much is hidden behind the frame of the next wall"
        )
    if end.stop is Stop.INSIDE_CORNER and (end.bevel or end.relief):
        yield f"the {side} end stile is bevelled {_degrees(end.bevel, end.relief)} to the frame of the next wall"
    if end.stop is Stop.OUTSIDE_CORNER and end.turn:
        yield from _square_corner_notes(side, end, end.turn, scheme)
    if end.stop is Stop.BULLNOSE and end.turn:
        strips = "one narrow strip" if end.turn.joints == 2 else f"{end.turn.joints - 1} narrow strips"
        yield (
            f"the {side} end turns the bullnose with {strips} {scheme.show(end.turn.strip_heel)} wide at the heel, "
            f"every meeting edge bevelled {_degrees(end.turn.bevel)}; the end stile passes the line where the round "
            f"begins by {scheme.show(end.turn.heel)} at its back and {scheme.show(end.turn.toe)} at its face"
        )


def _square_corner_notes(side: str, end: RunEnd, turn: Turn, scheme: Scheme) -> Iterator[str]:
    if end.joint is Joint.MITRED:
        yield (
            f"the {side} end is mitred at {_degrees(turn.bevel)}: its face passes the corner by {scheme.show(turn.toe)}"
        )
    elif end.covered:
        yield (
            f"the {side} end stile is cut {scheme.show(end.covered)} narrower: "
            "the edge of the next wall's stile makes up its face"
        )
    else:
        yield f"the {side} end stile laps over that of the next wall: it passes the corner by {scheme.show(turn.toe)}"


def _degrees(angle: Fraction, relief: Fraction = Fraction(0)) -> str:
    told = f"{float(angle):.4g}°"
    return f"{told} and {float(relief):.4g}° of relief" if relief else told


def agreed(left: EndDetail, right: EndDetail, corner: str) -> EndDetail:
    """What both walls' notes say of the one corner they share.

    Raises
    ------
    EndError
        They tell two different things.
    """
    told: dict[str, object] = {}
    for detail in (left, right):
        for field in ("angle", "joint", "radius", "flat_to_flat", "strips"):
            value = getattr(detail, field)
            if field not in detail.model_fields_set or value is None:
                continue
            if told.setdefault(field, value) != value:
                what = field.replace("_", " ")
                raise EndError(
                    f"The corner of {corner} has two values for its {what}, {_told(told[field])} and {_told(value)}; "
                    "keep the one that was measured."
                )
    return EndDetail.model_validate(told)


def _told(value: object) -> str:
    return f"{float(value):g}" if isinstance(value, Fraction) else str(value)
