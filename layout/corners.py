"""The corners that walls share: which wall goes in first, and what is known of the corner from either side."""

from collections.abc import Sequence
from typing import NamedTuple

from capture.errors import UnknownNameError
from capture.record import EndDetail, EndKind
from capture.survey import WallSurvey
from layout.ends import agreed
from layout.scheme import Scheme

SHARED = (EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER, EndKind.BULLNOSE)


class Corners(NamedTuple):
    """Of one wall: whether it goes in before its neighbours, and what is known of its two ends."""

    left_first: bool
    right_first: bool
    left: EndDetail
    right: EndDetail
    left_wall: str = ""  # the neighbour there; "" where none is known
    right_wall: str = ""


def neighbours(surveys: Sequence[WallSurvey]) -> list[tuple[int, int]]:
    """Pairs of walls that share a corner, the left one first; the last wall meets the first one.

    Raises
    ------
    Nothing
        Ends of different kinds share none, nor does a wall with itself.
    """
    pairs = [(i, i + 1) for i in range(len(surveys) - 1)]
    if len(surveys) > 1:
        pairs.append((len(surveys) - 1, 0))
    return [(one, other) for one, other in pairs if surveys[one].right is surveys[other].left in SHARED]


def corners_of(surveys: Sequence[WallSurvey], scheme: Scheme) -> list[Corners]:
    """The corners of each wall of a room.

    The wall that comes first in order goes in first, unless the other is named in `goes_first`.

    Parameters
    ----------
    surveys
        In order round the room.
    scheme
        Its `goes_first` names walls of any room.

    Raises
    ------
    EndError
        Two neighbours tell different things of their corner.
    """
    found = [Corners(True, True, survey.left_detail, survey.right_detail) for survey in surveys]
    for one, other in neighbours(surveys):
        left, right = surveys[one], surveys[other]
        corner = agreed(left.right_detail, right.left_detail, f"“{left.name}” and “{right.name}”")
        named = left.name in scheme.goes_first, right.name in scheme.goes_first
        first = named[0] if named[0] != named[1] else one < other
        found[one] = found[one]._replace(
            right_first=first, right=_own(corner, left.right_detail), right_wall=right.name
        )
        found[other] = found[other]._replace(
            left_first=not first, left=_own(corner, right.left_detail), left_wall=left.name
        )
    return found


def _own(corner: EndDetail, detail: EndDetail) -> EndDetail:
    """The corner with what belongs to one side of it only."""
    return corner.model_copy(update={"relief_bevel": detail.relief_bevel, "out_of_plumb": detail.out_of_plumb})


def check_first(scheme: Scheme, walls: Sequence[str]) -> None:
    """Refuse walls in `goes_first` that are not there; UnknownNameError names the nearest."""
    for name in scheme.goes_first:
        if name not in walls:
            raise UnknownNameError("wall", name, list(walls))
