"""A drawing as data: lines, boxes, letters and dimensions in wall inches, before any file format.

Frame: wall inches, x right from the left end, y up from the floor. Letter sizes and line weights are classes of
the paper, since they stay the same at every scale.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from math import ceil

from capture.lengths import Unit
from report.letters import wide
from report.symbols import Symbol

Point = tuple[float, float]


class Pen(Enum):
    """Line weights, points on paper."""

    HEAVY = 1.5  # the floor and the ends of the wall
    MEDIUM = 0.9  # what stands on the wall, the outline of a frame
    FINE = 0.5  # edges within an outline
    HAIR = 0.3  # dimensions and hatching


class Tone(Enum):
    """How a box is filled: nothing, white over what lies under it, or one of two light greys."""

    OPEN = "none"
    PAPER = "#ffffff"
    INK = "#111111"
    WOOD = "#ececea"
    FIELD = "#f8f8f6"


class Anchor(StrEnum):
    """Which end of a text stands at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


BEYOND = {Anchor.START: 1.0, Anchor.MIDDLE: 0.5, Anchor.END: 0.0}  # of a text's length, right of its point


@dataclass(frozen=True)
class Line:
    """A line through two or more points."""

    points: tuple[Point, ...]
    pen: Pen = Pen.FINE
    dashed: bool = False


@dataclass(frozen=True)
class Box:
    """An upright rectangle."""

    left: float
    bottom: float
    right: float
    top: float
    pen: Pen = Pen.MEDIUM
    tone: Tone = Tone.OPEN
    dashed: bool = False


@dataclass(frozen=True)
class Text:
    """Letters at a point on their baseline; `turned` reads from the bottom up."""

    at: Point
    text: str
    points: float = 8.0  # letter size on paper
    anchor: Anchor = Anchor.START
    turned: bool = False
    bold: bool = False

    @property
    def long(self) -> float:
        """Paper inches from its first letter to its last, at most."""
        return wide(self.text, self.points, self.bold)


@dataclass(frozen=True)
class Dimension:
    """A witness line from the place that is meant to its label."""

    path: tuple[Point, ...]
    label: Text


@dataclass(frozen=True)
class Flag:
    """A number in a ring at a point, and a verdict's sign on its right; `radius` in wall inches."""

    at: Point
    radius: float
    number: int
    symbol: Symbol | None = None


Item = Line | Box | Text | Dimension | Flag


@dataclass(frozen=True)
class Scale:
    """A drawing scale: its name and the paper inches to a wall inch."""

    name: str
    factor: float

    def on_wall(self, paper: float) -> float:
        """The wall inches under `paper` inches of the drawing."""
        return paper / self.factor


def reach(items: Iterable[Item], scale: Scale) -> float:
    """Wall inches to the rightmost end of what is lettered from left to right; 0 where nothing is."""
    words = [item.label if isinstance(item, Dimension) else item for item in items]
    level = [word for word in words if isinstance(word, Text) and not word.turned]
    return max((word.at[0] + scale.on_wall(BEYOND[word.anchor] * word.long) for word in level), default=0.0)


INCH_SCALES = tuple(
    Scale(f'{name}" = 1\'', size / 12)
    for name, size in (
        ("1 1/2", 1.5), ("1", 1.0), ("3/4", 0.75), ("1/2", 0.5), ("3/8", 0.375), ("1/4", 0.25), ("1/8", 0.125),
        ("1/16", 0.0625),
    )
)  # fmt: skip
METRIC_SCALES = tuple(Scale(f"1:{n}", 1 / n) for n in (10, 20, 25, 50, 100, 200))


def choose_scale(width: float, height: float, room: tuple[float, float], unit: Unit = Unit.INCH) -> Scale:
    """The largest usual scale at which `width` by `height` wall inches fit a `room` of paper inches."""
    needed = max(width / room[0], height / room[1])
    for scale in METRIC_SCALES if unit is Unit.MM else INCH_SCALES:
        if scale.factor * needed <= 1:
            return scale
    n = 100 * ceil(needed / 100)  # longer than any usual wall: still a round number, and still told
    return Scale(f"1:{n}", 1 / n)


@dataclass(frozen=True)
class Sheet:
    """A finished drawing: its items, where it ends (wall inches), its scale, and the same told in words."""

    title: str
    description: str
    scale: Scale
    left: float
    bottom: float
    right: float
    top: float
    items: tuple[Item, ...]

    @property
    def paper_size(self) -> tuple[float, float]:
        """Width and height on paper, inches."""
        return (self.right - self.left) * self.scale.factor, (self.top - self.bottom) * self.scale.factor


def spread_labels(places: Sequence[float], pitch: float, low: float, high: float) -> list[float]:
    """Where labels go so that none touches the next: the least sum of squared shifts.

    Parameters
    ----------
    places
        Where each label would like to be, ascending.
    pitch
        The least distance from one label to the next.
    low, high
        The labels stay between these as far as there is room.

    Notes
    -----
    With r_i = q_i - i·pitch the spacing rule q_i - q_{i-1} >= pitch turns into r ascending, so this is isotonic
    regression, solved exactly by pooling neighbours that are out of order; clipping keeps the optimum under bounds.
    """
    pools: list[tuple[float, int]] = []
    for i, place in enumerate(places):
        mean, count = place - i * pitch, 1
        while pools and pools[-1][0] >= mean:
            other, others = pools.pop()
            mean, count = (mean * count + other * others) / (count + others), count + others
        pools.append((mean, count))
    shifted = [mean for mean, count in pools for _ in range(count)]
    last = max(low, high - (len(places) - 1) * pitch)
    return [min(max(r, low), last) + i * pitch for i, r in enumerate(shifted)]


def hatch(left: float, bottom: float, right: float, top: float, spacing: float) -> Iterable[Line]:
    """Lines at 45 degrees, `spacing` apart across, clipped to a rectangle."""
    height = top - bottom
    start = left - height
    while start < right:
        low, high = max(left, start), min(right, start + height)
        if low < high:
            yield Line(((low, bottom + low - start), (high, bottom + high - start)), Pen.HAIR)
        start += spacing
