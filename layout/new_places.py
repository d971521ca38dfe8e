"""Where each box that may move is wanted, so that all of them together keep clear of one another.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from capture.record import TRAITS
from capture.survey import Feature, WallSurvey
from layout.moves import Move, Window, plate_of
from layout.remedies import Remedy
from layout.scheme import Scheme
from layout.stretches import Stretch, without


def wanted_places(
    survey: WallSurvey,
    remedies: Mapping[str, Sequence[Remedy]],
    moves: Mapping[str, Move],
    stays: Sequence[str],
    scheme: Scheme,
) -> dict[str, Fraction]:
    """The place wanted for the centre of every wired box in the way, by name: decided moves first, then as marked.

    Each takes the first of its moves that leaves it a place beside those before it, as near to where it is as that
    allows; where none does, the first move, as if it were alone.

    Parameters
    ----------
    survey
        The wall as it stands.
    remedies
        What is offered for each box, in order.
    moves
        Those that are decided, by the box's name.
    stays
        What is decided to stay where it is, by name.
    scheme
        Places are multiples of its step, rounded so that they still clear.

    Returns
    -------
    dict
        Wall inches.
    """
    boxes = [f for f in survey.features if TRAITS[f.kind].wired and f.name in remedies and f.name not in stays]
    boxes.sort(key=lambda feature: feature.name not in moves)
    found: dict[str, Fraction] = {}
    for feature in boxes:
        ways = list(_ways(feature, remedies[feature.name], moves.get(feature.name)))
        taken = [(found[other.name], apart(feature, other, scheme)) for other in boxes if other.name in found]
        beside = [(there, _beside(window, taken)) for there, window in ways]
        alone = [(there, [window]) for there, window in ways]
        places = (_nearest(parts, there, scheme.step) for there, parts in (*beside, *alone))
        place = next((place for place in places if place is not None), None)
        if place is not None:
            found[feature.name] = place
    return found


def _ways(feature: Feature, remedies: Sequence[Remedy], decided: Move | None) -> Iterator[tuple[Fraction, Window]]:
    """Where each of its moves takes a box at least, and the window of it; of a decided one that alone."""
    if decided is not None and feature.across is not None:
        yield Fraction(feature.across.value) + decided.by, decided.window
        return
    for remedy in remedies:
        if remedy.window is not None and remedy.move is not None and feature.across is not None:
            yield Fraction(feature.across.value) + remedy.move, remedy.window


def apart(one: Feature, other: Feature, scheme: Scheme) -> Fraction:
    """How far apart the centres of two boxes are at least, inches: their plates with the clear field between; or 0.

    0 where one passes above the other, or either is not measured.
    """
    plate, beside = plate_of(one), plate_of(other)
    if plate is None or beside is None:
        return Fraction(0)
    clear = max(scheme.clear(one.kind), scheme.clear(other.kind))
    level = plate.bottom - clear < beside.top and beside.bottom < plate.top + clear
    return (plate.width + beside.width) / 2 + clear if level else Fraction(0)


def _beside(window: Window, taken: Sequence[tuple[Fraction, Fraction]]) -> list[Window]:
    """What is left of a window beside places that are taken, each with the distance to keep."""
    parts: list[Stretch] = [window]
    for at, far in taken:
        if far:
            parts = list(without(parts, at - far, at + far))
    return [Window(*part) for part in parts]


def _nearest(windows: Sequence[Window], there: Fraction, step: Fraction) -> Fraction | None:
    """The place nearest to `there` in whole steps from the wall's left end, inside the windows."""
    shown = [window.shown(step) for window in windows]
    places = [min(max(round(there / step) * step, low), high) for low, high in shown]
    return min(places, key=lambda at: abs(at - there), default=None)
