"""Where a box could go instead: the places that clear everything, and the least move to each side.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from capture.lengths import nearest
from capture.measured import Measured, sd_of
from capture.record import Kind, Side
from capture.survey import Feature, WallSurvey
from layout.floorline import REACH, FarPlace, FloorLine
from layout.frames import Frame, Rect
from layout.scheme import MOVES, Scheme, side_of
from layout.stretches import without

STUD_CLEAR = Fraction(15, 8)  # from a stud's middle to that of a one-gang box beside it; common practice, no source
SURE = 1.959964  # standard deviations on each side of a 95 % interval
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
    towards_stud: bool = False
    past_slack: bool = False  # the cable is known not to reach
    studs: tuple[str, ...] = ()  # in its way, or may be, by name
    breaks: bool = False  # a place of the floor line that has a receptacle within reach surely loses it

    @property
    def side(self) -> Side:
        """To which side it goes."""
        return Side.RIGHT if self.by > 0 else Side.LEFT

    @property
    def order(self) -> tuple[bool, bool, bool, Fraction]:
        """Offered first: what the code allows, then the side without a stud, what the cable reaches, the least."""
        return self.breaks, self.towards_stud, self.past_slack, abs(self.by)


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
        The clear field that it wants for such a thing is kept on all sides.

    Returns
    -------
    tuple of Window
        Exact wall inches, left to right.
    """
    plate = plate_of(feature)
    if plate is None:
        return ()
    wanted = plate.inset(-scheme.clear(feature.kind))
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
            windows = [Window(*part) for part in without(windows, taken.left - reach, taken.right + reach)]
    return tuple(window for window in windows if window.left <= window.right)


def moves(
    feature: Feature, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme, line: FloorLine | None = None
) -> tuple[Move, ...]:
    """The least move to each side that clears everything, in the order of `Move.order`.

    Of a receptacle's windows only the parts are told in which no place of the floor line loses its receptacle; where
    every place to a side would make one lose it, the window stays whole and its move comes last.

    Parameters
    ----------
    feature
        The box, measured.
    frames
        All frames of its wall.
    survey
        The wall: studs, other boxes, doors.
    scheme
        The clear field that it wants is kept.
    line
        The floor line of the room, for the spacing of receptacles; None takes that of this wall alone.

    Returns
    -------
    tuple of Move
        None, one or two.
    """
    if feature.across is None:
        return ()
    line = line or FloorLine([survey])
    here = Fraction(feature.across.value)
    clear = clear_windows(feature, frames, survey, scheme)
    windows = [part for window in clear for part in _in_reach(window, feature, survey.name, line)]
    ways = [(_into(window, here, scheme.step), window) for window in windows]
    # Rounding to a whole step may overshoot a window narrower than that.
    ways = [(by, window) for by, window in ways if by and window.left <= here + by <= window.right]
    sides = [way for way in ways if way[0] < 0], [way for way in ways if way[0] > 0]
    least = [min(side, key=lambda way: abs(way[0])) for side in sides if side]
    found = [_move(feature, here, by, window, survey, line, scheme) for by, window in least]
    return tuple(sorted(found, key=lambda move: move.order))


def _in_reach(window: Window, feature: Feature, wall: str, line: FloorLine) -> list[Window]:
    """The parts of a window that keep the floor line as it is; all of it where none does."""
    if feature.kind is not Kind.RECEPTACLE:
        return [window]
    return [Window(*part) for part in line.kept(wall, feature.name, *window)] or [window]


def _move(
    feature: Feature, here: Fraction, by: Fraction, window: Window, survey: WallSurvey, line: FloorLine, scheme: Scheme
) -> Move:
    slack, studs = feature.mark.cable_slack, dict(_studs_met(feature, by, survey, scheme))
    move = Move(
        by, window, (),
        towards_stud=feature.mark.stud_side is (Side.RIGHT if by > 0 else Side.LEFT),
        past_slack=slack is not None and slack < abs(by),
        studs=tuple(studs),
        breaks=feature.kind is Kind.RECEPTACLE and not line.keeps(survey.name, feature.name, here + by),
    )  # fmt: skip
    told = [*_warnings(feature, move, studs.values(), scheme), *_height_warnings(feature, survey, scheme)]
    if feature.kind is Kind.RECEPTACLE:
        told += _spacing_warnings((survey.name, feature.name, here + by), line, scheme)
    return replace(move, warnings=tuple(told))


class Decided(NamedTuple):
    """A wall on which every box that a person wants moved stands at its new place."""

    survey: WallSurvey
    moves: dict[str, Move]  # by the box's name
    notes: tuple[str, ...]  # what cannot be moved as wanted, a sentence each


def decided_moves(frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme, line: FloorLine) -> Decided:
    """Find a place for every box that is pinned to be moved, one after the other, each clear of those before it.

    Parameters
    ----------
    frames
        All frames of the wall as planned.
    survey
        The wall as it stands.
    scheme
        Its pins.
    line
        The floor line of the room.

    Returns
    -------
    Decided
        What finds no place stays where it is, and is told.
    """
    pinned = [f for f in survey.features if f.blocks and scheme.pin(survey.name, f.name) in MOVES]
    stay = [f for f in survey.features if f not in pinned]
    found: dict[str, Move] = {}
    notes: list[str] = []
    for feature in pinned:
        there = replace(survey, features=tuple(stay))
        windows = clear_windows(feature, frames, there, scheme)
        side = side_of(scheme.pin(survey.name, feature.name))
        ways = moves(feature, frames, there, scheme, line)
        move = next((way for way in ways if side in (None, way.side)), None)
        if feature.across and any(window.left <= feature.across.value <= window.right for window in windows):
            move = None
            notes.append(f"{feature.name} is to be moved, as decided, but clears everything where it stands")
        elif move is None and ways:
            notes.append(f"{feature.name} is to be moved to the {side}, as decided, but nothing is clear there")
        else:
            notes += _cannot(feature, move, frames, scheme)
        stay.append(_at_new_place(feature, move) if move else feature)
        if move:
            found[feature.name] = move
    order = {feature.name: i for i, feature in enumerate(survey.features)}
    features = tuple(sorted(stay, key=lambda feature: order[feature.name]))
    return Decided(replace(survey, features=features), found, tuple(notes))


def _at_new_place(feature: Feature, move: Move) -> Feature:
    edges = feature.left, feature.right
    left, right = (edge and replace(edge, value=edge.value + float(move.by)) for edge in edges)
    return replace(feature, left=left, right=right)


def _cannot(feature: Feature, move: Move | None, frames: Sequence[Frame], scheme: Scheme) -> Iterator[str]:
    """What keeps a box from being moved as decided, and by how much."""
    plate, start = plate_of(feature), f"{feature.name} is to be moved, as decided, but"
    slack = feature.mark.cable_slack
    if move is not None:
        if slack is not None and slack < abs(move.by):
            yield (
                f"{start} the least move that clears everything is {scheme.show(abs(move.by))} and the cable lets it "
                f"go {scheme.show(slack)}, {scheme.show(abs(move.by) - slack)} less: lengthen the cable or decide anew"
            )
        return
    if plate is None:
        yield f"{start} where it stands is not measured: mark its opposite corners, or tape it"
        return
    wanted = plate.inset(-scheme.clear(feature.kind))
    fields = [panel.field for frame in frames for panel in frame.panels]
    high = [field for field in fields if field.bottom <= wanted.bottom and wanted.top <= field.top]
    widest = max((field.width for field in high), default=Fraction(0))
    if not high:
        yield f"{start} no panel is clear at its height: decide anew, or change the rails"
    elif widest < wanted.width:
        yield (
            f"{start} it wants {scheme.show(wanted.width)} of clear field and the widest panel at its height has "
            f"{scheme.show(widest)}, {scheme.show(wanted.width - widest)} less: take wider panels or decide anew"
        )
    else:
        yield f"{start} other things take every place at its height that the frame leaves: move one of them too"


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


def _warnings(feature: Feature, move: Move, studs: Iterable[str], scheme: Scheme) -> Iterator[str]:
    """What the box itself has against a move: its stud, those on the way, its cable."""
    slack, by = feature.mark.cable_slack, scheme.show(abs(move.by))
    if move.towards_stud:
        yield f"the stud stands on the {move.side} of {feature.name}"
    yield from studs
    if slack is None:
        yield "how far the cable lets the box move is not known"
    elif move.past_slack:
        yield f"the cable lets the box move {scheme.show(slack)}, less than the {by} to the {move.side}"


def _studs_met(feature: Feature, by: Fraction, survey: WallSurvey, scheme: Scheme) -> Iterator[tuple[str, str]]:
    """Studs that the box would meet on its way, or might, as far as both are known: the name, and a sentence."""
    if feature.across is None:
        return
    low, high = sorted((0.0, float(by + (STUD_CLEAR if by > 0 else -STUD_CLEAR))))
    for stud in survey.features:
        if stud.kind is Kind.STUD and stud.across is not None:
            away = stud.across.value - feature.across.value
            doubt = SURE * sd_of((1.0, stud.across), (-1.0, feature.across))
            if low - doubt < away < high + doubt:
                sure = low + doubt < away < high - doubt
                where = f"{scheme.show(stud.across.value)}{'' if sure else f' {scheme.show_spread(doubt)}'}"
                yield stud.name, f"{stud.name} at {where} {'is' if sure else 'may be'} in the way of the move"


def height_of_the_others(feature: Feature, survey: WallSurvey) -> Measured | None:
    """Where most other receptacles stand, to which one is set when it moves; None where it stands there already."""
    others = [f.up for f in survey.features if f.kind is feature.kind and f.name != feature.name and f.up is not None]
    if feature.kind is not Kind.RECEPTACLE or feature.up is None or not others:
        return None
    usual = sorted(others, key=lambda up: up.value)[len(others) // 2]
    alike = sum(not _apart(usual, up) for up in others)
    return usual if 2 * alike > len(others) and _apart(usual, feature.up) else None


def _height_warnings(feature: Feature, survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    """Told where it does not stand at the height of the others already."""
    usual = height_of_the_others(feature, survey)
    if usual is not None and feature.up is not None:
        yield (
            f"{feature.name} stands at {scheme.show(feature.up.value)} and the others at {scheme.show(usual.value)}: "
            "set it at their height when it moves"
        )


def _apart(one: Measured, other: Measured) -> bool:
    """Whether two heights surely differ."""
    return abs(one.value - other.value) > SURE * sd_of((1.0, one), (-1.0, other))


def _spacing_warnings(moved: tuple[str, str, Fraction], line: FloorLine, scheme: Scheme) -> Iterator[str]:
    """Only what the move makes worse is told: an old house may break the rule already."""
    for far in line.too_far(moved):
        if far.before is not None and (far.distance is None or far.before < far.distance):
            yield _spacing_sentence(far, moved[0], scheme)


def _spacing_sentence(far: FarPlace, wall: str, scheme: Scheme) -> str:
    rule = "NEC 2023 210.52(A)(1), or the locally adopted equivalent"
    unless = f", unless one {far.unless} serves it" if far.unless else ""
    where = "the floor line" if far.wall == wall else f"the floor line of {far.wall}"
    if far.distance is None:
        return f"after the move that stretch of floor line has no receptacle ({rule}){unless}"
    return (
        f"after the move {where} at {scheme.show(far.at)} is {scheme.show(far.distance)} from a "
        f"receptacle, {scheme.show(far.distance - REACH)} more than the {scheme.show(REACH)} of {rule}{unless}"
    )
