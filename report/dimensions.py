"""Running dimensions, heights and the scale bar of a drawing.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

from capture.lengths import FOOT, METRE, Unit, show_length
from report.board import EDGE, LEFT, RIGHT, Board, shown
from report.drawing import Anchor, Box, Dimension, Item, Pen, Scale, Sheet, Text, Tone, reach, spread_labels
from report.letters import wide

LETTERS = 9.0  # points
LEAST_LETTERS = 6.5  # points: smaller ones do not read
PITCH = 0.15  # paper inches from one label to the next
WITNESS, BAR = 0.39, 0.24  # paper inches that a witness line takes above its label, and the scale bar under it
ASIDE = 0.25  # paper inches from the wall to the letters of a height


@dataclass(frozen=True)
class Reading:
    """A place to dimension, and what its label says."""

    at: float
    label: str


def room_under(readings: list[Reading], width: float, unit: Unit) -> float:
    """Paper inches that the labels of running dimensions and the scale bar take under a wall `width` inches wide."""
    labels = [*(reading.label for reading in readings), shown(width, unit)]
    return WITNESS + max(wide(label, LETTERS) for label in labels) + BAR


def at_height(length: str, whats: Iterable[str | int]) -> str:
    """The label of a height: what lies there by name, or by its number in brackets."""
    unlike = list(dict.fromkeys(whats))
    names = [what for what in unlike[:2] if isinstance(what, str)]
    counted = [str(what) for what in unlike[:2] if isinstance(what, int)]
    more = " …" if len(unlike) > 2 else ""
    if counted:
        return " ".join([length, *names, f"({', '.join(counted)}{more})"])
    return f"{length} {', '.join(names)}{more}"


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
    fitting = _thinned(sorted(everything, key=lambda r: r.at), board, board.width + board.paper(LEFT + RIGHT / 2))
    low, high = -board.paper(LEFT / 2), board.width + board.paper(RIGHT / 2)
    places = spread_labels([r.at for r in fitting], board.paper(PITCH), low, high)
    y = [-board.paper(inches) for inches in (0.05, 0.14, 0.3, 0.36)]
    for reading, x in zip(fitting, places, strict=True):
        path = ((reading.at, y[0]), (reading.at, y[1]), (x, y[2]), (x, y[3]))
        label = Text((x + board.paper(0.04), y[3] - board.paper(0.03)), reading.label, LETTERS, Anchor.END, turned=True)
        yield Dimension(path, label)
    if len(fitting) < len(everything):
        place = (board.width, -board.paper(board.below - 0.03))
        yield Text(place, "more places than fit here: see the table", LETTERS, Anchor.END)


def heights(board: Board, readings: list[Reading]) -> Iterator[Item]:
    """Heights above the floor, lettered to the right of the wall."""
    fitting = _thinned(sorted((r for r in readings if r.at <= board.top), key=lambda r: r.at), board, board.top)
    places = spread_labels([r.at for r in fitting], board.paper(PITCH), board.paper(0.02), board.top)
    x = [board.width + board.paper(inches) for inches in (0.12, 0.14, 0.2, 0.23, ASIDE)]
    room = board.room[0] - LEFT - EDGE - board.width * board.scale.factor - ASIDE
    longest = max((wide(reading.label, LETTERS) for reading in fitting), default=room)
    points = max(LEAST_LETTERS, LETTERS * min(1.0, room / longest))
    for reading, y in zip(fitting, places, strict=True):
        path = ((x[0], reading.at), (x[1], reading.at), (x[2], y), (x[3], y))
        yield Dimension(path, Text((x[4], y - board.paper(points / 200)), reading.label, points))


def _thinned(readings: list[Reading], board: Board, room: float) -> list[Reading]:
    """Every reading, or as many evenly chosen ones as there is room for."""
    most = max(2, int(room / board.paper(PITCH)))
    return readings[:: ceil(len(readings) / most)] if len(readings) > most else readings


def bar_sheet(scale: Scale, width: float, unit: Unit = Unit.INCH) -> Sheet:
    """The scale bar alone, to stand under a picture `width` wall inches wide."""
    low, high = -scale.on_wall(0.05), scale.on_wall(0.13)
    title = f"Scale bar: {scale.name}"
    items = tuple(scale_bar(scale, width, 0.0, unit))
    return Sheet(title, "", scale, -scale.on_wall(0.01), low, max(width, reach(items, scale)), high, items)


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
