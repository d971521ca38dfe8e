"""What stands on a wall, drawn: windows, casings, plates, and the numbers beside them.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from capture.measured import Measured
from capture.record import TRAITS, Kind, Shape, Side
from capture.survey import Feature, WallSurvey
from layout.verdicts import Verdict
from report.board import Board
from report.drawing import Anchor, Box, Flag, Item, Line, Pen, Text, Tone, hatch
from report.numbers import numbers
from report.symbols import SYMBOLS

STANDING: Mapping[str, float] = MappingProxyType({})  # everything is drawn where it stands
CROWD = 60  # numbered things from which on flags are drawn smaller
OVER = 0.06  # paper inches from a plate to the arrow over it
BACKGROUND = (Kind.STUD, Kind.LEVEL_POINT)  # drawn first, and only where nothing is planned


def draw_feature(board: Board, feature: Feature) -> Iterator[Item]:
    """One thing on the wall."""
    if feature.kind is Kind.WINDOW:
        yield from _window(board, feature)
    elif TRAITS[feature.kind].shape is Shape.RECTANGLE:
        if feature.rectangle:
            yield from draw_plate(board, feature, outline_of(feature))
    elif feature.left is None:
        return
    elif feature.kind is Kind.CASING_EDGE:
        yield from _casing(board, feature, feature.left.value)
    elif feature.kind is Kind.STUD:
        yield Line(((feature.left.value, 0), (feature.left.value, board.top)), Pen.FINE, dashed=True)
    elif feature.kind is Kind.LEVEL_POINT and feature.up is not None:
        yield Line(((0, feature.up.value), (board.width, feature.up.value)), Pen.HAIR, dashed=True)


def outline_of(feature: Feature, at: float | None = None) -> Box:
    """The outline of a plate or the like, where it stands or with its centre at `at`."""
    left, bottom, right, top = (value_of(edge) for edge in (feature.left, feature.bottom, feature.right, feature.top))
    by = 0.0 if at is None else at - (left + right) / 2
    return Box(left + by, bottom, right + by, top, Pen.MEDIUM, Tone.PAPER, dashed=feature.kind is Kind.DAMAGE)


def draw_moved(board: Board, feature: Feature, at: float) -> Iterator[Item]:
    """A plate with its centre at `at`; where it stands now is dashed, and an arrow leads from there."""
    now, there = outline_of(feature), outline_of(feature, at)
    if now.top > board.top:  # beyond the break line
        return
    yield replace(now, dashed=True)
    yield from draw_plate(board, feature, replace(there, pen=Pen.HEAVY))
    start, y, barb = (now.left + now.right) / 2, now.top + board.paper(OVER), board.paper(0.05)
    back = at - barb if at > start else at + barb
    yield Line(((start, y), (at, y)), Pen.MEDIUM)
    yield Line(((back, y + barb / 2), (at, y), (back, y - barb / 2)), Pen.MEDIUM)


def draw_plate(board: Board, feature: Feature, box: Box) -> Iterator[Item]:
    """A plate with the sign of its kind, wherever `box` is."""
    if box.top > board.top:  # beyond the break line
        return
    yield box
    inside = {
        Kind.RECEPTACLE: ((0.3, 0.56, 0.7, 0.82), (0.3, 0.18, 0.7, 0.44)),
        Kind.SWITCH: ((0.4, 0.36, 0.6, 0.64),),
        Kind.JACK: ((0.36, 0.41, 0.64, 0.59),),
        Kind.THERMOSTAT: ((0.2, 0.4, 0.8, 0.8),),
    }.get(feature.kind, ())
    gangs = feature.mark.gangs if inside else 1
    wide, high = (box.right - box.left) / gangs, box.top - box.bottom
    for gang in range(gangs):
        for left, bottom, right, top in inside:
            x = box.left + gang * wide
            yield Box(x + left * wide, box.bottom + bottom * high, x + right * wide, box.bottom + top * high, Pen.FINE)
    if feature.kind in (Kind.REGISTER, Kind.RETURN_GRILLE):
        slats = 5
        for i in range(1, slats):
            y = box.bottom + high * i / slats
            yield Line(((box.left + 0.04 * wide, y), (box.right - 0.04 * wide, y)), Pen.FINE)
    elif feature.kind is Kind.DAMAGE:
        yield from hatch(box.left, box.bottom, box.right, box.top, board.paper(0.06))


def _window(board: Board, feature: Feature) -> Iterator[Item]:
    if feature.left is None or feature.right is None:
        return
    left, right = feature.left.value, feature.right.value
    lows = [m.value for m in (feature.bottom, feature.stool, feature.apron) if m is not None]
    sill = (feature.stool or feature.bottom or feature.apron) if lows else None
    foot, head = (sill.value if sill else 0.0), min(value_of(feature.top, board.top), board.top)
    if foot >= board.top:
        return
    yield Box(left, foot, right, head, Pen.MEDIUM, Tone.PAPER)
    yield Text(((left + right) / 2, (foot + head) / 2), "window", 9, Anchor.MIDDLE)
    if feature.stool is not None:
        ear = board.paper(0.04)
        yield Line(((left - ear, foot), (right + ear, foot)), Pen.HEAVY)
    if feature.apron is not None and feature.apron.value < foot:
        yield Box(left, feature.apron.value, right, foot, Pen.FINE, Tone.PAPER)


def _casing(board: Board, feature: Feature, x: float) -> Iterator[Item]:
    inward = board.paper(0.11) * (-1 if feature.mark.side is Side.LEFT else 1)
    head = min(value_of(feature.top, board.top), board.top) if feature.top != feature.bottom else board.top
    yield from hatch(min(x, x + inward), 0, max(x, x + inward), head, board.paper(0.05))
    yield Line(((x, 0), (x, head)), Pen.MEDIUM)
    yield Line(((x + inward, 0), (x + inward, head)), Pen.FINE)


def flags(
    board: Board, survey: WallSurvey, verdicts: dict[str, Verdict], places: Mapping[str, float] = STANDING
) -> Iterator[Item]:
    """A numbered ring beside each thing, where it hides neither another ring nor a plate if that can be helped.

    `places` has the centres of what is drawn elsewhere than it stands, by name.
    """
    number = numbers(survey)
    rectangles = [f for f in survey.features if f.rectangle and f.kind is not Kind.WINDOW]
    boxes = [outline_of(f) for f in rectangles] + [
        replace(_both(f, places[f.name]), top=outline_of(f).top + board.paper(2 * OVER))  # and the arrow
        for f in rectangles
        if f.name in places
    ]
    radius = board.paper(0.1 if len(number) <= CROWD else 0.07)
    taken: list[tuple[float, float, float, float]] = [(b.left, b.bottom, b.right, b.top) for b in boxes]
    for feature in survey.features:
        beyond = value_of(feature.bottom if feature.kind is Kind.WINDOW else feature.top) > board.top
        if feature.name not in number or not feature.rectangle or beyond:
            continue
        verdict = verdicts.get(feature.name)
        symbol = SYMBOLS[verdict] if verdict is not None and verdict is not Verdict.CLEAR else None
        right = radius * (3.5 if symbol else 1.05)
        x, y = _spot(feature, outline_of(feature, places.get(feature.name)), board, radius, right, taken)
        taken.append((x - radius, y - radius, x + right, y + radius))
        yield Flag((x, y), radius, number[feature.name], symbol)


def _both(feature: Feature, at: float) -> Box:
    """From where it stands to where it goes."""
    now, there = outline_of(feature), outline_of(feature, at)
    return replace(now, left=min(now.left, there.left), right=max(now.right, there.right))


def _spot(
    feature: Feature,
    box: Box,
    board: Board,
    radius: float,
    right: float,
    taken: Sequence[tuple[float, float, float, float]],
) -> tuple[float, float]:
    gap = 1.35 * radius
    x, top = (box.left + box.right) / 2, min(box.top, board.top - 2.5 * radius)
    middle = (box.bottom + top) / 2
    if feature.kind is Kind.WINDOW:
        return box.left + 1.6 * radius, top
    lean = x - (right - radius) / 2
    spots = [
        (lean, top + gap), (box.right + gap, middle), (box.left - gap - right + radius, middle),
        (lean, box.bottom - gap), *((lean, top + gap + step * 2.2 * radius) for step in range(1, 6)),
    ]  # fmt: skip
    for spot in spots:
        own = (spot[0] - radius, spot[1] - radius, spot[0] + right, spot[1] + radius)
        inside = own[0] > 0 and own[2] < board.width and own[1] > 0 and own[3] < board.top
        if inside and not any(own[0] < t[2] and t[0] < own[2] and own[1] < t[3] and t[1] < own[3] for t in taken):
            return spot
    return spots[0]


def value_of(measured: Measured | None, otherwise: float = 0.0) -> float:
    """The measured length, or what to take where there is none."""
    return otherwise if measured is None else measured.value


def top_of(feature: Feature) -> float:
    """How far up a rectangle goes; 0 for lines and points."""
    return value_of(feature.top) if TRAITS[feature.kind].shape is Shape.RECTANGLE else 0.0
