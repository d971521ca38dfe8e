"""A drawing of a wall in the making: its scale, how far it goes, and the wall itself.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from capture.lengths import Unit, show_length, show_spread
from capture.record import EndKind
from capture.survey import WallSurvey
from report.drawing import Anchor, Item, Line, Pen, Scale, Sheet, Text, choose_scale, hatch, reach

Room = tuple[float, float]
ROOM: Room = (10.3, 6.5)  # paper inches on a letter page that lies on its side

# Paper inches kept free round the wall.
LEFT, RIGHT, ABOVE = 0.15, 1.1, 0.5
EDGE = 0.05  # beyond the last line or letter
OUT = 0.1  # how far the floor and the neighbour walls are drawn beyond the ends
NARROW = 2.3  # a wall drawn narrower than this has its ends told one under the other
ABOVE_NARROW = 0.68
LEAST_SHOWN = 54.0  # wall inches above the floor that a drawing shows before its scale gives way


@dataclass
class Board:
    """A drawing in the making: its scale, how far it goes, and the items so far."""

    unit: Unit
    scale: Scale
    width: float  # of the wall
    top: float  # where the drawing is cut, or the ceiling
    cut: bool
    below: float  # paper inches under the floor
    above: float  # and over the top line
    room: Room
    items: list[Item] = field(default_factory=list)

    @classmethod
    def pin_up(
        cls,
        width: float,
        highest: float,
        ceiling: float | None,
        below: float,
        usual: float,
        room: Room,
        unit: Unit,
        whole: float = LEAST_SHOWN,
    ) -> "Board":
        """A board at the largest scale for the wall's width; above `whole` it may be cut, drawn with a break line.

        Its labels take `below` paper inches under the floor. Scale and top are chosen for the `usual` ones, so that
        they do not hang on one label: where it is longer, the drawing is that much higher than `room`.
        """
        across, up = room[0] - LEFT - RIGHT, room[1] - ABOVE_NARROW - usual
        wanted = highest + 8 if ceiling is None or ceiling > highest + 20 else ceiling
        scale = choose_scale(width, min(wanted, whole), (across, up), unit)
        top = min(wanted, scale.on_wall(up))
        above = ABOVE_NARROW if width * scale.factor < NARROW else ABOVE
        return cls(unit, scale, width, top, ceiling is None or top < ceiling, below, above, room)

    def paper(self, inches: float) -> float:
        """Wall inches under so many inches of paper."""
        return self.scale.on_wall(inches)

    def show(self, length: float, spread: float | None = None) -> str:
        """A length as it is lettered here."""
        return shown(length, self.unit, spread)

    @property
    def narrow(self) -> bool:
        """Whether the words over the wall have no room side by side."""
        return self.width * self.scale.factor < NARROW

    def sheet(self, title: str, description: str) -> Sheet:
        """The finished drawing, as wide as its lines and letters are."""
        right = max(self.width + self.paper(OUT), reach(self.items, self.scale)) + self.paper(EDGE)
        low, top = -self.paper(self.below), self.top + self.paper(self.above)
        return Sheet(title, description, self.scale, -self.paper(LEFT), low, right, top, tuple(self.items))


def shown(length: float, unit: Unit, spread: float | None = None) -> str:
    """A length with its plus-or-minus where there is one to tell; a drawing in millimetres leaves the unit out."""
    told = show_length(length, unit)
    return (told if spread is None else f"{told} {show_spread(spread, unit)}").replace(" mm", "")


def wall_width(survey: WallSurvey) -> float:
    """The width to draw, inches: as measured, or as far as anything was found."""
    if survey.width is not None and survey.width.value > 0:
        return survey.width.value
    return max([24.0, *(f.right.value + 6 for f in survey.features if f.right is not None)])


def draw_wall(board: Board, survey: WallSurvey, lettered: bool = True) -> None:
    """The floor, the two ends, where the drawing is cut, and, if it is lettered, what is said over it."""
    over = board.paper(OUT)
    board.items.append(Line(((-over, 0), (board.width + over, 0)), Pen.HEAVY))
    board.items += _end(board, survey.left, 0.0, -over)
    board.items += _end(board, survey.right, board.width, over)
    board.items.append(_top_line(board))
    if lettered:
        board.items += _words_above(board, survey)


def _words_above(board: Board, survey: WallSurvey) -> Iterator[Item]:
    head, line = board.top + board.paper(0.1), board.paper(0.16)
    if board.narrow:
        yield Text((0, head), f"right end: {survey.right}", 8.5)
        yield Text((0, head + line), f"left end: {survey.left}", 8.5)
        head += line
    else:
        yield Text((0, head), survey.left.value, 8.5)
        yield Text((board.width, head), survey.right.value, 8.5, Anchor.END)
    yield Text((0, head + board.paper(0.18)), width_words(board, survey), 11, bold=True)


def _end(board: Board, kind: EndKind, x: float, out: float) -> Iterator[Item]:
    yield Line(((x, 0), (x, board.top)), Pen.HEAVY, dashed=kind is EndKind.OPEN)
    if kind is EndKind.INSIDE_CORNER:  # the neighbour wall, cut
        yield from hatch(min(x, x + out), 0, max(x, x + out), board.top, board.paper(0.07))
    elif kind is not EndKind.OPEN:
        yield Line(((x + out / 2, 0), (x + out / 2, board.top)), Pen.FINE)


def _top_line(board: Board) -> Line:
    if not board.cut:
        return Line(((0, board.top), (board.width, board.top)), Pen.HEAVY)
    middle, step, y = board.width / 2, board.paper(0.03), board.top
    zigzag = (
        (middle - 2 * step, y),
        (middle - step, y + 2 * step),
        (middle + step, y - 2 * step),
        (middle + 2 * step, y),
    )
    return Line(((0, y), *zigzag, (board.width, y)), Pen.HAIR)


def width_words(board: Board, survey: WallSurvey) -> str:
    """How wide the wall is, and by what."""
    if survey.width is None:
        return "width not measured"
    return f"{survey.width.show(board.unit)} wide ({survey.width.source})"
