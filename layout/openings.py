"""What interrupts the wainscot on a wall: doorways, and windows that reach into it.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from capture.measured import Measured
from capture.record import Kind, Side
from capture.survey import Feature, WallSurvey
from layout.ends import RunEnd, Stop, at_casing
from layout.exact import plan_length
from layout.scheme import Scheme

STOOL_THICKNESS = Fraction(3, 4)  # inches; common practice, no source


class Level(NamedTuple):
    """A height at which wainscot stops, and the measured line that it hangs on."""

    height: Fraction
    at: Measured


@dataclass(frozen=True)
class Opening:
    """A stretch that a door or window takes out of the wainscot."""

    left: Fraction
    right: Fraction
    left_name: str
    right_name: str
    left_end: RunEnd  # for the run that stops at its left side
    right_end: RunEnd
    under: Level | None = None  # the top of the wainscot under it
    over: Level | None = None  # the bottom of the wainscot over it
    notes: tuple[str, ...] = ()


def openings(survey: WallSurvey, scheme: Scheme, width: Fraction) -> tuple[list[Opening], list[str]]:
    """Doorways and low windows, left to right, and what could not be used, in plain words."""
    notes: list[str] = []
    found = list(_doorways(survey, scheme, width, notes))
    for feature in survey.features:
        if feature.kind is Kind.WINDOW and (window := _low_window(feature, scheme, notes)):
            found.append(window)
    return sorted(found, key=lambda opening: opening.left), notes


def door_openings(survey: WallSurvey, width: Fraction) -> tuple[tuple[Fraction, Fraction], ...]:
    """Left and right of every doorway between casing edges, wall inches, left to right."""
    return tuple((door.left, door.right) for door in _doorways(survey, Scheme(), width, []))


class _Edge(NamedTuple):
    """A casing edge at an exact place, and the side of it that is open."""

    place: Fraction
    open_side: Side
    feature: Feature

    def end(self, scheme: Scheme) -> RunEnd:
        """The end of the run that stops at it."""
        return at_casing(Stop.DOOR, self.feature.mark.projection, scheme, self.feature.across)


def _doorways(survey: WallSurvey, scheme: Scheme, width: Fraction, notes: list[str]) -> Iterator[Opening]:
    """Stretches from a casing edge open to its right to the next one open to its left, or to the wall's end."""
    left: _Edge | None = None
    for edge in sorted(_casing_edges(survey, notes), key=lambda edge: edge.place):
        if edge.open_side is Side.RIGHT:
            left = left or edge
        else:
            yield _doorway(left, edge, scheme, width)
            left = None
    if left:
        yield _doorway(left, None, scheme, width)


def _casing_edges(survey: WallSurvey, notes: list[str]) -> Iterator[_Edge]:
    for feature in survey.features:
        if feature.kind is not Kind.CASING_EDGE:
            continue
        if feature.across is None:
            notes.append(f"{feature.name} is left out of the plan: where it stands is not known")
        elif feature.mark.side is None:
            notes.append(f"{feature.name} is left out of the plan: on which side its opening is, is not known")
        else:
            yield _Edge(plan_length(feature.across), feature.mark.side, feature)


def _doorway(left: _Edge | None, right: _Edge | None, scheme: Scheme, width: Fraction) -> Opening:
    nowhere = RunEnd(Stop.OPEN)  # never met: the opening reaches to the wall's end
    return Opening(
        left.place if left else Fraction(0),
        right.place if right else width,
        left.feature.name if left else "",
        right.feature.name if right else "",
        left.end(scheme) if left else nowhere,
        right.end(scheme) if right else nowhere,
    )


def _low_window(feature: Feature, scheme: Scheme, notes: list[str]) -> Opening | None:
    under, assumed = _under_window(feature, scheme)
    if feature.left is None or feature.right is None or under is None:
        missing = "how low it reaches" if under is None else "where its casing stands"
        notes.append(f"{feature.name} is left out of the plan: {missing} is not known")
        return None
    if under.height >= scheme.top:
        return None
    proud, head = feature.mark.projection, _at(feature.top)
    return Opening(
        plan_length(feature.left),
        plan_length(feature.right),
        feature.name,
        feature.name,
        at_casing(Stop.WINDOW, proud, scheme, feature.left),
        at_casing(Stop.WINDOW, proud, scheme, feature.right),
        under,
        head if head and head.height < scheme.top else None,
        assumed,
    )


def _under_window(feature: Feature, scheme: Scheme) -> tuple[Level | None, tuple[str, ...]]:
    """The lowest part of a window: its apron, else the underside of its stool, else its casing."""
    if feature.apron is not None:
        return _at(feature.apron), ()
    if feature.stool is not None:
        note = f"no apron marked at {feature.name}: its stool is taken as {scheme.show(STOOL_THICKNESS)} thick"
        return _at(feature.stool, STOOL_THICKNESS), (note,)
    return _at(feature.bottom), ()


def _at(line: Measured | None, lower: Fraction = Fraction(0)) -> Level | None:
    return Level(plan_length(replace(line, value=line.value - float(lower))), line) if line else None
