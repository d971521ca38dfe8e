"""How a run stops: against a corner, a casing, or nothing."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from capture.record import TRAITS, EndKind, Kind
from layout.scheme import Scheme


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
    """One end of a run."""

    stop: Stop
    sd: float = 0.0  # inches: how unsure its place is
    hidden: Fraction = Fraction(0)  # width of the end stile behind the neighbour's frame, beyond the shown face
    casing: Fraction | None = None  # how proud the casing stands, where the run stops at one


def wall_end(kind: EndKind, scheme: Scheme, first: bool) -> tuple[Fraction, RunEnd]:
    """How far in from the wall's end the shown face starts, and the end itself."""
    stop = Stop(kind.value)
    if kind is EndKind.INSIDE_CORNER:
        return scheme.build_up, RunEnd(stop, hidden=scheme.build_up if first else Fraction(0))
    if kind is EndKind.CASING:
        return Fraction(0), RunEnd(stop, casing=TRAITS[Kind.CASING_EDGE].projection)
    return Fraction(0), RunEnd(stop)


def end_notes(left: RunEnd, right: RunEnd, scheme: Scheme) -> Iterator[str]:
    """What a carpenter should know of a run's two ends."""
    for side, end in (("left", left), ("right", right)):
        if end.hidden:
            yield (
                f"the {side} end stile is cut {scheme.show(end.hidden)} wider: "
                "that much is hidden behind the frame of the next wall"
            )
        if end.stop is Stop.OUTSIDE_CORNER:
            yield (
                f"the {side} end stops at the line of the square corner: "
                f"a mitre there adds {scheme.show(scheme.build_up)} to the face"
            )
        if end.casing is not None and scheme.build_up > end.casing:
            yield (
                f"the frame stands {scheme.show(scheme.build_up - end.casing)} proud of the casing at the {side} end: "
                "return the cap and ease the stile, or back the casing out"
            )
