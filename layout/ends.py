"""How a run stops: against a corner, a casing, or nothing; and what its end stile is cut to beyond the face one sees.

The angle of a corner is that between the two walls, as a finder reads it in the corner or round it. Lengths that come
from an angle which is not square, or from a radius, are given to 1/64 in.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from capture.errors import PlainError
from capture.lengths import nearest
from capture.measured import Measured
from capture.record import TRAITS, EndDetail, EndKind, Joint, Kind
from layout.bevels import FINE, SQUARE, Corner, butt, inside, show_degrees, turn_of, wedge
from layout.scheme import Scheme

USUAL_RADIUS = Fraction(3, 4)  # inches; of the rounded corner beads sold most, common practice, no source
RELIEF = Fraction(5)  # degrees that a relief bevel takes off behind the face; common practice, no source
READ = Fraction(1, 16)  # inches to which a round is read with a tape; common practice, no source


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
class RunEnd:
    """One end of a run; inches and degrees."""

    stop: Stop
    at: Measured | None = None  # its place as measured, where that is unsure
    inset: Fraction = Fraction(0)  # at a corner, how far in from the wall's own end the face starts; below 0 past it
    hidden: Fraction = Fraction(0)  # width of the end stile behind the neighbour's frame, beyond the shown face
    casing: Fraction | None = None  # how proud the casing stands, where the run stops at one
    usual: bool = False  # whether that is only what casings usually do
    filler: Fraction = Fraction(0)  # shown width of the loose filler between end stile and casing
    narrow: Fraction = Fraction(0)  # how much narrower the end stile is cut, where it is pushed tight itself
    angle: Fraction = SQUARE  # between the two walls, at a corner
    first: bool = True  # whether this wall goes in before its neighbour there
    corner: Corner | None = None  # an outside corner to be turned
    joint: Joint | None = None  # at a square outside corner
    covered: Fraction = Fraction(0)  # of the shown face, how much is the edge of the neighbour's stile
    bevel: Fraction = Fraction(0)  # from square, of the stile's edge; below 0 the back is the longer side
    relief: Fraction = Fraction(0)  # eased behind the face besides
    scribe: Fraction = Fraction(0)  # more width yet, to be scribed to what is out of plumb
    assumed: tuple[str, ...] = ()  # what was taken for granted, in plain words

    @property
    def sd(self) -> float:
        """How unsure its place is, inches."""
        return self.at.sd if self.at else 0.0

    @property
    def beyond(self) -> Fraction:
        """How much wider than its shown face the end stile is cut, measured on its face; below 0 narrower."""
        past = self.corner.reach if self.corner and self.stop is Stop.BULLNOSE else Fraction(0)
        return self.hidden + past + self.scribe - self.covered - self.narrow

    @property
    def loose(self) -> bool:
        """Whether the end stile itself is fitted last, tight to a casing."""
        return self.casing is not None and not self.filler

    @property
    def edge(self) -> Fraction:
        """What the stile's edge is cut to, relief and all: degrees from square, below 0 the back is longer."""
        return self.bevel + self.relief


def wall_end(
    kind: EndKind, scheme: Scheme, first: bool, detail: EndDetail | None = None, casing: Fraction | None = None
) -> tuple[Fraction, RunEnd]:
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
    casing
        How proud the wall's casings stand, inches; None is not noted.

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
    if detail.out_of_plumb and detail.out_of_plumb >= scheme.outer_stile:
        raise EndError(
            f"An end is told to be {scheme.show(detail.out_of_plumb)} out of plumb, and its stile shows "
            f"{scheme.show(scheme.outer_stile)}, {scheme.show(detail.out_of_plumb - scheme.outer_stile)} less: "
            "nothing would be left of it; read the lean again, or take a wider end stile."
        )
    end = {
        EndKind.INSIDE_CORNER: _inside_corner,
        EndKind.OUTSIDE_CORNER: _outside_corner,
        EndKind.BULLNOSE: _bullnose,
        EndKind.CASING: lambda scheme, *_: at_casing(Stop.CASING, casing, scheme),
        EndKind.OPEN: _open,
    }[kind](scheme, first, detail)
    return end.inset + end.filler, replace(end, scribe=detail.out_of_plumb or Fraction(0))


def _inside_corner(scheme: Scheme, first: bool, detail: EndDetail) -> RunEnd:
    """Both faces meet where the planes in front of the two walls do; the second is bevelled to the first."""
    angle = detail.angle or SQUARE
    inset = inside(scheme.build_up, angle)
    end = RunEnd(Stop.INSIDE_CORNER, inset=inset, angle=angle, first=first)
    if first:  # square, as far into the corner as the next wall lets it
        return replace(end, hidden=inset - wedge(scheme.build_up, angle))
    return replace(end, bevel=angle - SQUARE, relief=RELIEF if detail.relief_bevel else Fraction(0))


def _outside_corner(scheme: Scheme, first: bool, detail: EndDetail) -> RunEnd:
    """The face reaches past the corner until it meets its neighbour's, so that both show whole stiles."""
    if detail.radius or detail.flat_to_flat:
        raise EndError(
            f"A square outside corner has no round, but one of {scheme.show(_round(detail))} is told; "
            "call it a bullnose corner, or take the radius away."
        )
    angle = detail.angle or SQUARE
    corner = Corner(turn_of(angle), scheme.thickness, behind=scheme.build_up - scheme.thickness)
    end = RunEnd(Stop.OUTSIDE_CORNER, inset=-corner.reach, angle=angle, first=first, corner=corner, joint=detail.joint)
    if detail.joint is Joint.MITRED:
        return replace(end, bevel=corner.bevel)
    joint = butt(scheme.outer_stile, scheme.thickness, corner.turn, corner.behind)
    return end if first else replace(end, covered=joint.lapping - joint.lapped)


def _bullnose(scheme: Scheme, first: bool, detail: EndDetail) -> RunEnd:
    """The flats show their whole stile up to the line where the round begins; strips go round between bevels."""
    angle = detail.angle or SQUARE
    assumed: tuple[str, ...] = ()
    if not detail.radius and not detail.flat_to_flat:
        assumed = (f"the round of the bullnose is taken as {scheme.show(USUAL_RADIUS)} in radius: measure it",)
    pieces, behind = detail.strips + 2, scheme.build_up - scheme.thickness
    corner = Corner(turn_of(angle), scheme.thickness, pieces, detail.radius or USUAL_RADIUS, behind)
    if detail.flat_to_flat:
        chord = nearest(Corner.flat_to_flat(detail.flat_to_flat, corner.turn, scheme.thickness, 2).radius, FINE)
        if detail.radius and abs(chord - detail.radius) > READ:
            raise EndError(
                f"A bullnose {scheme.show(detail.flat_to_flat)} from flat to flat has a round of {scheme.show(chord)} "
                f"in radius, but {scheme.show(detail.radius)} is told, {scheme.show(abs(chord - detail.radius))} off; "
                "keep the one that was measured."
            )
        corner = replace(corner, radius=chord)
    return RunEnd(Stop.BULLNOSE, angle=angle, first=first, corner=corner, bevel=corner.bevel, assumed=assumed)


def _round(detail: EndDetail) -> Fraction:
    return detail.radius or detail.flat_to_flat or Fraction(0)


def at_casing(stop: Stop, proud: Fraction | None, scheme: Scheme, at: Measured | None = None) -> RunEnd:
    """The end of a run at a casing: with its loose filler where one is wanted, else with a loose end stile.

    Parameters
    ----------
    stop
        What kind of casing.
    proud
        How far its face stands off the wall, inches; None is not known, and the usual is taken.
    scheme
        The sizes wanted.
    at
        Where the casing's edge stands, as measured.
    """
    narrow = Fraction(0) if scheme.filler_width else scheme.filler
    usual, stands = proud is None, TRAITS[Kind.CASING_EDGE].projection if proud is None else proud
    return RunEnd(stop, at, casing=stands, usual=usual, filler=scheme.filler_width, narrow=narrow)


def _open(scheme: Scheme, first: bool, detail: EndDetail) -> RunEnd:
    return RunEnd(Stop.OPEN)


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
            taken = f", taken as {scheme.show(end.casing)} off the wall, as usual: measure it" if end.usual else ""
            yield (
                f"the frame stands {scheme.show(scheme.build_up - end.casing)} proud of the casing at the {side} end"
                f"{taken}: return the cap and ease the stile, or back the casing out"
            )
        if end.scribe:
            what = "casing" if end.casing is not None else "corner" if end.corner or end.inset else "end"
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
    if end.stop is Stop.INSIDE_CORNER and end.edge:
        longer = "back" if end.edge < 0 else "face"
        eased = f", {show_degrees(end.relief)} of it relief" if end.relief else ""
        yield (
            f"the {side} end stile is bevelled {show_degrees(abs(end.edge))}{eased}, its {longer} the longer side, "
            "to the frame of the next wall"
        )
    if end.stop is Stop.OUTSIDE_CORNER and end.corner:
        yield from _square_corner_notes(side, end, end.corner, scheme)
    if end.stop is Stop.BULLNOSE and end.corner:
        yield from _bullnose_notes(side, end.corner, scheme)


def _bullnose_notes(side: str, corner: Corner, scheme: Scheme) -> Iterator[str]:
    strips = "one narrow strip" if corner.pieces == 3 else f"{corner.pieces - 2} narrow strips"
    yield (
        f"the {side} end turns the bullnose with {strips} {scheme.show(corner.heel)} wide at the heel, "
        f"every meeting edge bevelled {show_degrees(corner.bevel)}; the end stile passes the line where the round "
        f"begins by {scheme.show(corner.back_past)} at its back and {scheme.show(corner.face_past)} at its face"
    )
    yield from corner.notes(scheme.unit)


def _square_corner_notes(side: str, end: RunEnd, corner: Corner, scheme: Scheme) -> Iterator[str]:
    past = scheme.show(corner.reach)
    if end.joint is Joint.MITRED:
        yield f"the {side} end is mitred at {show_degrees(corner.bevel)}: its face passes the corner by {past}"
    elif end.covered:
        yield (
            f"the {side} end stile is cut {scheme.show(end.covered)} narrower: "
            "the edge of the next wall's stile makes up its face"
        )
    else:
        yield f"the {side} end stile laps over that of the next wall: it passes the corner by {past}"


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
