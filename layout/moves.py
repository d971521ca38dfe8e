"""Where a box could go instead: the places that clear everything, and the least move to each side.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from capture.lengths import nearest
from capture.record import EndKind, Kind, Side
from capture.survey import Feature, WallSurvey
from layout.exact import plan_length
from layout.floorline import REACH, TooFar, receptacle_spacing
from layout.frames import Frame, Rect
from layout.openings import door_openings
from layout.scheme import Scheme

STUD_CLEAR = Fraction(15, 8)  # from a stud's middle to that of a one-gang box beside it; common practice, no source
_FINE = Fraction(1, 64)


class Window(NamedTuple):
    """Where a box's centre may stand, wall inches, both ends allowed."""

    left: Fraction
    right: Fraction

    def shown(self, step: Fraction) -> "Window":
        """Rounded inward to whole steps, so that what is shown still clears; as it is where it is narrower than one."""
        inward = Window(_up(self.left, step), -_up(-self.right, step))
        return inward if inward.left <= inward.right else self


@dataclass(frozen=True)
class Move:
    """A box moved to one side, at its height."""

    by: Fraction  # inches, to the right positive, a multiple of the scheme's step that truly clears
    window: Window
    warnings: tuple[str, ...]


def clear_windows(feature: Feature, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme) -> tuple[Window, ...]:
    """Where the centre of a box may stand at its height so that its plate clears everything.

    Parameters
    ----------
    feature
        The box; its plate keeps its size and height.
    frames
        All frames of its wall.
    survey
        The wall, for what else stands on it.
    scheme
        Its `plate_clear` is kept on all sides.

    Returns
    -------
    tuple of Window
        Exact wall inches, left to right.
    """
    plate = plate_of(feature)
    if plate is None:
        return ()
    wanted = plate.inset(-scheme.plate_clear)
    reach = wanted.width / 2
    fields = (panel.field for frame in frames for panel in frame.panels)
    windows = [
        Window(field.left + reach, field.right - reach)
        for field in fields
        if field.bottom <= wanted.bottom and wanted.top <= field.top
    ]
    for other in survey.features:
        taken = _taken(other) if other.blocks and other.name != feature.name else None
        if taken and taken.bottom < wanted.top and wanted.bottom < taken.top:
            windows = [part for window in windows for part in _without(window, taken.left - reach, taken.right + reach)]
    return tuple(window for window in windows if window.left <= window.right)


def moves(feature: Feature, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme) -> tuple[Move, ...]:
    """The least move to each side that clears everything: the side without a stud first, then what the cable reaches.

    Parameters
    ----------
    feature
        The box, measured.
    frames
        All frames of its wall.
    survey
        The wall: studs, other boxes, doors.
    scheme
        Its `plate_clear` is kept.

    Returns
    -------
    tuple of Move
        None, one or two.
    """
    if feature.across is None:
        return ()
    here = Fraction(feature.across.value)
    ways = [(_into(window, here, scheme.step), window) for window in clear_windows(feature, frames, survey, scheme)]
    # Rounding to a whole step may overshoot a window narrower than that.
    ways = [(by, window) for by, window in ways if by and window.left <= here + by <= window.right]
    sides = [way for way in ways if way[0] < 0], [way for way in ways if way[0] > 0]
    least = [min(side, key=lambda way: abs(way[0])) for side in sides if side]
    found = [Move(by, window, tuple(_warnings(feature, here, by, survey, scheme))) for by, window in least]
    return tuple(sorted(found, key=lambda move: (_towards_stud(feature, move.by), *_past_slack(feature, move.by))))


def _into(window: Window, here: Fraction, step: Fraction) -> Fraction:
    """The shortest move into a window in whole steps; 0 from a place inside it."""
    return _up(max(window.left - here, Fraction(0)), step) - _up(max(here - window.right, Fraction(0)), step)


def plate_of(feature: Feature) -> Rect | None:
    """A plate as measured, its size exact to 1/64 in and never too small; None where it is not measured."""
    across, up = feature.across, feature.up
    if feature.left is None or feature.right is None or across is None:
        return None
    if feature.bottom is None or feature.top is None or up is None:
        return None
    x, half_width = Fraction(across.value), _size(feature.right.value - feature.left.value) / 2
    y, half_height = Fraction(up.value), _size(feature.top.value - feature.bottom.value) / 2
    return Rect(x - half_width, y - half_height, x + half_width, y + half_height)


def _size(measured: float) -> Fraction:
    exact = Fraction(measured)
    close = nearest(exact, _FINE)
    return close if abs(close - exact) < 1e-6 else _up(exact, _FINE)


def _up(length: Fraction, step: Fraction) -> Fraction:
    return math.ceil(length / step) * step


def _taken(feature: Feature) -> Rect | None:
    """The space to leave to another thing: its 95 % extent, outward to 1/64 in."""
    left, bottom, right, top = feature.left, feature.bottom, feature.right, feature.top
    if left is None or bottom is None or right is None or top is None:
        return None
    low = [-_up(Fraction(edge.spread - edge.value), _FINE) for edge in (left, bottom)]
    high = [_up(Fraction(edge.value + edge.spread), _FINE) for edge in (right, top)]
    return Rect(*low, *high)


def _without(window: Window, left: Fraction, right: Fraction) -> Iterator[Window]:
    """What is left of a window when the places between left and right are taken."""
    if right <= window.left or window.right <= left:
        yield window
        return
    yield Window(window.left, left)
    yield Window(right, window.right)


def _towards_stud(feature: Feature, by: Fraction) -> bool:
    return feature.mark.stud_side is (Side.RIGHT if by > 0 else Side.LEFT)


def _past_slack(feature: Feature, by: Fraction) -> tuple[bool, Fraction]:
    """Whether the cable is known not to reach, and then how far the move is."""
    slack = feature.mark.cable_slack
    return slack is not None and slack < abs(by), abs(by)


def _warnings(feature: Feature, here: Fraction, by: Fraction, survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    if _towards_stud(feature, by):
        yield f"the stud stands on the {feature.mark.stud_side} of {feature.name}"
    yield from _studs_met(here, by, survey, scheme)
    slack = feature.mark.cable_slack
    if slack is None:
        yield "how far the cable lets the box move is not known"
    elif slack < abs(by):
        yield f"the cable lets the box move {scheme.show(slack)}, less than {scheme.show(abs(by))}"
    if feature.kind is Kind.RECEPTACLE:
        yield from _spacing_warnings(feature.name, here + by, survey, scheme)


def _studs_met(here: Fraction, by: Fraction, survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    low, high = sorted((here, here + by + (STUD_CLEAR if by > 0 else -STUD_CLEAR)))
    for stud in survey.features:
        if stud.kind is Kind.STUD and stud.across is not None and low < stud.across.value < high:
            yield f"{stud.name} at {scheme.show(stud.across.value)} is in the way of the move"


def _spacing_warnings(name: str, place: Fraction, survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    """Only what the move makes worse is told: an old house may break the rule already."""
    if survey.width is None:
        return
    now, then = _receptacles(survey, "", place), _receptacles(survey, name, place)
    spaces = _wall_spaces(survey, plan_length(survey.width))
    before = {too_far.at: too_far for too_far in receptacle_spacing(spaces, now)}
    for too_far in receptacle_spacing(spaces, then):
        old = before.get(too_far.at)
        if old is None or (too_far.distance or 0) > (old.distance or 0):
            yield _spacing_sentence(too_far, survey, scheme)


def _receptacles(survey: WallSurvey, moved: str, place: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Place and height of every receptacle measured, one of them moved."""
    return [
        (place if feature.name == moved else Fraction(feature.across.value), Fraction(feature.up.value))
        for feature in survey.features
        if feature.kind is Kind.RECEPTACLE and feature.across is not None and feature.up is not None
    ]


def _wall_spaces(survey: WallSurvey, width: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Stretches of floor line between door openings; what goes on round a corner is not known here."""
    edges = [Fraction(0), *(edge for opening in door_openings(survey, width) for edge in opening), width]
    return [(left, right) for left, right in zip(edges[::2], edges[1::2], strict=True) if left < right]


def _spacing_sentence(too_far: TooFar, survey: WallSurvey, scheme: Scheme) -> str:
    round_corner = survey.left not in _OPENINGS or survey.right not in _OPENINGS
    rule = "NEC 2023 210.52(A)(1), or the locally adopted equivalent"
    unless = ", unless one round the corner serves it" if round_corner else ""
    if too_far.over is None or too_far.distance is None:
        return f"after the move that stretch of floor line has no receptacle ({rule}){unless}"
    return (
        f"after the move the floor line at {scheme.show(too_far.at)} is {scheme.show(too_far.distance)} from a "
        f"receptacle, {scheme.show(too_far.over)} more than the {scheme.show(REACH)} of {rule}{unless}"
    )


_OPENINGS = (EndKind.CASING, EndKind.OPEN)
