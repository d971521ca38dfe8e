"""The corners that walls share: which wall goes in first, and what is known of the corner from either side."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.errors import UnknownNameError
from capture.lengths import nearest
from capture.record import EndDetail, EndKind
from capture.survey import Corner, WallSurvey
from layout.bevels import SQUARE
from layout.ends import EndError, agreed
from layout.scheme import Scheme

SHARED = (EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER, EndKind.BULLNOSE)
SURE = 1.959964  # standard deviations on each side of a 95 % interval
FINEST = Fraction(1, 10)  # degrees to which an angle seen in photos is taken


class CornerEnd(NamedTuple):
    """What is known of one end of a wall from both sides of its corner."""

    detail: EndDetail
    first: bool = True  # whether this wall goes in before its neighbour
    wall: str = ""  # the neighbour; "" where none is known
    noted: bool = False  # whether somebody noted the angle
    seen: Corner | None = None  # as photos show it


class Corners(NamedTuple):
    """The two ends of a wall."""

    left: CornerEnd
    right: CornerEnd


def neighbours(surveys: Sequence[WallSurvey]) -> list[tuple[int, int]]:
    """Pairs of walls that share a corner, by their place in order, the left one first; the last meets the first.

    Ends of different kinds share none, nor does a wall with itself.
    """
    pairs = [(i, i + 1) for i in range(len(surveys) - 1)]
    if len(surveys) > 1:
        pairs.append((len(surveys) - 1, 0))
    return [(one, other) for one, other in pairs if surveys[one].right is surveys[other].left in SHARED]


def corners_of(surveys: Sequence[WallSurvey], scheme: Scheme) -> list[Corners]:
    """The corners of each wall of a room.

    The wall that comes first in order goes in first, unless the other is named in `goes_first`. Where neither wall has
    an angle noted, one that photos show to be other than square is taken for both.

    Parameters
    ----------
    surveys
        In order round the room.
    scheme
        Its `goes_first` names walls of any room.

    Raises
    ------
    EndError
        Two neighbours tell different things of their corner, or both are named to go in first there.
    """
    found = [Corners(CornerEnd(survey.left_detail), CornerEnd(survey.right_detail)) for survey in surveys]
    for one, other in neighbours(surveys):
        left, right = surveys[one], surveys[other]
        told = agreed(left.right_detail, right.left_detail, f"“{left.name}” and “{right.name}”")
        seen = left.corner if left.corner and left.corner.next_wall == right.name else None
        corner = told if told.angle or seen is None else _with_angle(told, seen)
        first, noted = _goes_first(left, right, one < other, scheme), told.angle is not None
        here = CornerEnd(_own(corner, left.right_detail), first, right.name, noted, seen)
        there = CornerEnd(_own(corner, right.left_detail), not first, left.name, noted, seen)
        found[one], found[other] = found[one]._replace(right=here), found[other]._replace(left=there)
    return found


def _goes_first(left: WallSurvey, right: WallSurvey, usual: bool, scheme: Scheme) -> bool:
    """Whether the left of two walls goes in first at the corner between them."""
    named = left.name in scheme.goes_first, right.name in scheme.goes_first
    if all(named) and left.right is not EndKind.BULLNOSE:
        raise EndError(
            f"“{left.name}” and “{right.name}” are both to go in before their neighbours, and they share a corner; "
            "name one of the two."
        )
    return named[0] if named[0] != named[1] else usual


def _with_angle(corner: EndDetail, seen: Corner) -> EndDetail:
    return corner.model_copy(update={"angle": angle_seen(seen)}) if odd(seen) else corner


def angle_seen(seen: Corner) -> Fraction:
    """The angle between the two walls as photos show it, degrees."""
    return 180 - nearest(Fraction(seen.turn), FINEST)


def odd(seen: Corner) -> bool:
    """Whether photos show that a corner is not square: by more than their 95 % interval."""
    return abs(seen.turn - float(SQUARE)) > SURE * seen.turn_sd


def _own(corner: EndDetail, detail: EndDetail) -> EndDetail:
    """The corner with what belongs to one side of it only."""
    return corner.model_copy(update={"relief_bevel": detail.relief_bevel, "out_of_plumb": detail.out_of_plumb})


def check_first(scheme: Scheme, walls: Sequence[str]) -> None:
    """Refuse walls in `goes_first` that are not there; UnknownNameError names the nearest."""
    for name in scheme.goes_first:
        if name not in walls:
            raise UnknownNameError("wall", name, list(walls))
