"""Running dimensions, heights and the scale bar of a drawing.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from capture.lengths import FOOT, METRE, Unit, show_length
from report.board import LEFT, RIGHT, Board
from report.drawing import Anchor, Box, Dimension, Item, Pen, Scale, Sheet, Text, Tone, spread_labels

LETTERS = 9.0  # points
LETTER_WIDE = 0.56  # of its size: a letter of a label, on the mean, a little to spare
PITCH = 0.15  # paper inches from one label to the next
WITNESS, BAR = 0.42, 0.28  # paper inches that a witness line takes above its label, and the scale bar under it


@dataclass(frozen=True)
class Reading:
    """A place to dimension, and what its label says."""

    at: float
    label: str


def room_under(readings: list[Reading]) -> float:
    """Paper inches that the labels of running dimensions and the scale bar take under the floor."""
    longest = max((len(reading.label) for reading in readings), default=0)
    return WITNESS + longest * LETTERS * LETTER_WIDE / 72 + BAR


def dimensions(board: Board, across: list[Reading], up: list[Reading]) -> Iterator[Item]:
    """All that is lettered round a drawing: running dimensions under it, heights beside it, the scale bar."""
    yield from run_dimensions(board, across)
    yield from heights(board, up)
    yield from scale_bar(board.scale, board.width, -board.paper(board.below - 0.03), board.unit)


def run_dimensions(board: Board, readings: list[Reading]) -> Iterator[Item]:
    """Running dimensions from the left end, lettered below the floor, each readable along its own witness line."""
    told = {reading.label for reading in readings}
    ends = (Reading(0.0, board.show(0.0)), Reading(board.width, board.show(board.width)))
    everything = [*readings, *(end for end in ends if end.label not in told)]
    shown = _thinned(sorted(everything, key=lambda r: r.at), board, board.width + board.paper(LEFT + RIGHT / 2))
    low, high = -board.paper(LEFT / 2), board.width + board.paper(RIGHT / 2)
    places = spread_labels([r.at for r in shown], board.paper(PITCH), low, high)
    y = [-board.paper(inches) for inches in (0.05, 0.14, 0.3, 0.36)]
    for reading, x in zip(shown, places, strict=True):
        path = ((reading.at, y[0]), (reading.at, y[1]), (x, y[2]), (x, y[3]))
        label = Text((x + board.paper(0.04), y[3] - board.paper(0.03)), reading.label, LETTERS, Anchor.END, turned=True)
        yield Dimension(path, label)
    if len(shown) < len(everything):
        place = (board.width, -board.paper(board.below - 0.03))
        yield Text(place, "more places than fit here: see the table", LETTERS, Anchor.END)


def heights(board: Board, readings: list[Reading]) -> Iterator[Item]:
    """Heights above the floor, lettered to the right of the wall."""
    shown = _thinned(sorted((r for r in readings if r.at <= board.top), key=lambda r: r.at), board, board.top)
    places = spread_labels([r.at for r in shown], board.paper(PITCH), board.paper(0.02), board.top)
    x = [board.width + board.paper(inches) for inches in (0.13, 0.16, 0.23, 0.26)]
    for reading, y in zip(shown, places, strict=True):
        path = ((x[0], reading.at), (x[1], reading.at), (x[2], y), (x[3], y))
        yield Dimension(path, Text((x[3] + board.paper(0.03), y - board.paper(0.045)), reading.label, LETTERS))


def _thinned(readings: list[Reading], board: Board, room: float) -> list[Reading]:
    """Every reading, or as many evenly chosen ones as there is room for."""
    most = max(2, int(room / board.paper(PITCH)))
    return readings[:: ceil(len(readings) / most)] if len(readings) > most else readings


def bar_sheet(scale: Scale, width: float, unit: Unit = Unit.INCH) -> Sheet:
    """The scale bar alone, to stand under a picture `width` wall inches wide."""
    low, high = -scale.on_wall(0.05), scale.on_wall(0.13)
    title = f"Scale bar: {scale.name}"
    items = tuple(scale_bar(scale, width, 0.0, unit))
    return Sheet(title, "", scale, -scale.on_wall(0.01), low, max(width, scale.on_wall(4)), high, items)


def scale_bar(scale: Scale, width: float, base: float, unit: Unit) -> Iterator[Item]:
    """A bar to hold a ruler against, `base` wall inches high: four feet or a metre, or as much as the wall is long."""
    metric = unit is Unit.MM
    step = float(METRE / 4 if metric else FOOT)
    while step * 4 > width and step > 1:
        step /= 2
    while scale.factor * step < 0.2:
        step *= 2
    for i in range(4):
        tone = Tone.INK if i % 2 == 0 else Tone.PAPER
        yield Box(i * step, base, (i + 1) * step, base + scale.on_wall(0.06), Pen.FINE, tone)
    told = show_length(4 * step, unit) if metric or step < FOOT else f"{round(4 * step / 12)} ft"
    yield Text((4 * step + scale.on_wall(0.08), base), f"{told} at {scale.name}, printed at full size", LETTERS)
