"""Boards and sheets drawn as they are cut: pieces by their number in the cut list, kerfs, trim, waste hatched.

Frame: inches of the board along it; across it a board is drawn wider than it is, so that its lanes can be lettered.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from capture.lengths import Unit, show_length
from layout.bevels import fine
from layout.packing import Board, BoardLane, Cut, Saw
from layout.stock import Material
from report.drawing import Anchor, Box, Item, Line, Pen, Scale, Sheet, Text, Tone, hatch, spread_labels
from report.letters import wide
from report.shop_tables import stock_told

WIDTH = 0.1  # paper inches to an inch of a board's width
LEAST = 0.27  # paper inches that the narrowest board is drawn wide
SHEET_ROOM = 3.5  # paper inches for a sheet's length: two stand side by side
LEAST_LANE = 0.16  # paper inches that the narrowest lane is drawn wide
OVER = 0.17  # paper inches from one number over a board to the next
LETTERS = 8.0  # points
BESIDE = 0.09  # paper inches kept free beside a piece's letters
ABOVE = 0.19  # paper inches over a board, for numbers of pieces too short to be lettered

Rows = Mapping[tuple[str, str], int]


def board_sheet(board: Board, saw: Saw, rows: Rows, room: float, longest: Fraction, unit: Unit) -> Sheet:
    """One board.

    Parameters
    ----------
    board
        As it was packed.
    saw
        Its trim and what is kept.
    rows
        Row of the cut list by a piece's unit and place.
    room
        Paper inches for the longest board.
    longest
        Inches, of all boards drawn together, so that all have one scale.
    unit
        How lengths are lettered.
    """
    sheet = board.stock.material is Material.SHEET
    factor = (SHEET_ROOM if sheet else room) / float(longest)
    scale = Scale(f"1:{1 / factor:.0f}", factor)
    pen = _Pen(board, saw, rows, unit, factor, 1.0 if sheet else _stretch(board, factor))
    title = f"{stock_told(board, unit)}: {len(board.cuts)} pieces"
    told = "; ".join(f"{rows[cut.piece.unit, cut.place]}: {cut.piece.name}, {pen.length(cut)}" for cut in board.cuts)
    edge = scale.on_wall(0.02)
    return Sheet(
        title, told, scale, -edge, -edge, float(board.stock.length) + edge,
        pen.high + (scale.on_wall(0.02) if sheet else scale.on_wall(ABOVE)), tuple(pen.items()),
    )  # fmt: skip


def _stretch(board: Board, factor: float) -> float:
    """How many times as wide a board is drawn: its narrowest lane still holds a letter."""
    wide, narrow = float(board.stock.width), float(min(lane.width for lane in board.lanes))
    return max(LEAST / wide, WIDTH, LEAST_LANE / narrow) / factor


class _Pen:
    """One board in the making; x along the board, y across it from the top down, stretched."""

    def __init__(self, board: Board, saw: Saw, rows: Rows, unit: Unit, factor: float, stretch: float) -> None:
        self.board, self.saw, self.rows, self.unit, self.factor, self.stretch = board, saw, rows, unit, factor, stretch
        sheet = board.stock.material is Material.SHEET
        self.trim = float(saw.sheet_trim if sheet else saw.trim) / 2
        self.trim_across = self.trim if sheet else 0.0
        self.high = float(board.stock.width) * stretch
        self.over: list[tuple[float, float, str]] = []  # middle, top and number of pieces too short to be lettered
        self.told: list[Item] = []  # what is left of each lane, in words

    def items(self) -> Iterator[Item]:
        yield from self._waste_under()
        for lane in self.board.lanes:
            yield from self._lane(lane)
        yield from self._numbers_over()
        yield from self.told
        yield Box(0, 0, float(self.board.stock.length), self.high, Pen.MEDIUM, Tone.OPEN)

    def length(self, cut: Cut) -> str:
        if self.board.stock.material is Material.SHEET:
            return f"{self._show(cut.length)} × {self._show(cut.width)}"
        return self._show(cut.length)

    def _show(self, length: Fraction) -> str:
        """A drawing in millimetres leaves the unit out."""
        return show_length(length, self.unit).replace(" mm", "")

    def _waste_under(self) -> Iterator[Item]:
        """The whole board hatched; what is used is laid over it in white."""
        length = float(self.board.stock.length)
        yield from hatch(0, 0, length, self.high, 0.055 / self.factor)

    def _lane(self, lane: BoardLane) -> Iterator[Item]:
        for cut in lane.cuts:
            yield from self._cut(cut, lane)
        end = lane.cuts[-1].at + lane.cuts[-1].length + self.saw.kerf
        if lane.left:
            box = self._box(end, lane.at, lane.left, lane.width, Tone.OPEN)
            self.told += self._left(box, lane)  # over all lines

    def _cut(self, cut: Cut, lane: BoardLane) -> Iterator[Item]:
        box = self._box(cut.at, lane.at, cut.length, cut.width, Tone.WOOD)
        yield box
        kerf = float(self.saw.kerf)
        if self.board.across:
            yield Line(((box.left, box.bottom - kerf / 2), (box.right, box.bottom - kerf / 2)), Pen.MEDIUM)
        else:
            yield Line(((box.right + kerf / 2, box.bottom), (box.right + kerf / 2, box.top)), Pen.MEDIUM)
        yield from self._lettered(box, str(self.rows[cut.piece.unit, cut.place]), self.length(cut))

    def _left(self, box: Box, lane: BoardLane) -> Iterator[Item]:
        sizes = sorted((lane.left, lane.width))
        keep = sizes[1] >= self.saw.keep_length and sizes[0] >= self.saw.keep_width
        words = f"{'keep' if keep else 'waste'} {self._show(lane.left)}"
        if self._fits(words, box.right - box.left) and box.top - box.bottom > 0.13 / self.factor:
            middle, y = (box.left + box.right) / 2, (box.bottom + box.top) / 2
            half, tall = self._wide(words) / 2, 0.075 / self.factor
            yield Box(middle - half, y - tall, middle + half, y + tall, Pen.HAIR, Tone.PAPER)
            yield Text((middle, y - 0.042 / self.factor), words, LETTERS, Anchor.MIDDLE)

    def _lettered(self, box: Box, number: str, length: str) -> Iterator[Item]:
        """Number and length within the piece; a piece too short for both bears its number, or has it over it."""
        wide, x, y = box.right - box.left, (box.left + box.right) / 2, (box.bottom + box.top) / 2
        size = LETTERS if (box.top - box.bottom) * self.factor > 0.14 else 6.5
        base = y - 0.0052 * size / self.factor
        sheet = self.board.stock.material is Material.SHEET
        if sheet:
            yield Text((x, base + 0.06 / self.factor), number, 10, Anchor.MIDDLE, bold=True)
            for i, part in enumerate(length.split(" × ")):
                yield Text((x, base - (0.07 + 0.12 * i) / self.factor), part, 7, Anchor.MIDDLE)
        elif self._fits(f"{number}  {length}", wide):
            left = x - self._wide(f"{number}  {length}") / 2
            yield Text((left, base), number, size, bold=True)
            yield Text((left + self._wide(f"{number}  "), base), length, size)
        elif self._fits(number, wide + 0.02 / self.factor):
            yield Text((x, base), number, size, Anchor.MIDDLE, bold=True)
        else:
            self.over.append((x, box.top, number))

    def _numbers_over(self) -> Iterator[Item]:
        """The numbers of the pieces too short to bear them, over the board, each with a line to its piece."""
        over = sorted(self.over)
        length = float(self.board.stock.length)
        places = spread_labels([x for x, _, _ in over], OVER / self.factor, 0.0, length)
        for (x, y, number), place in zip(over, places, strict=True):
            foot, head = self.high + 0.02 / self.factor, self.high + 0.07 / self.factor
            yield Line(((x, y), (x, foot), (place, head)), Pen.HAIR, dashed=True)  # a cut it is not
            yield Text((place, head + 0.015 / self.factor), number, 7, Anchor.MIDDLE, bold=True)

    def _wide(self, words: str) -> float:
        """Inches of the board under so many letters, with what is kept free beside them."""
        return (wide(words, LETTERS, bold=True) + BESIDE) / self.factor

    def _fits(self, words: str, wide: float) -> bool:
        return self._wide(words) <= wide

    def _box(self, at: Fraction, across: Fraction, length: Fraction, width: Fraction, tone: Tone) -> Box:
        """A place on the board; lanes of a sheet may run across its length."""
        along, over = self.trim + float(at), (self.trim_across + float(across)) * self.stretch
        size, deep = float(length), float(width) * self.stretch
        if self.board.across:
            along, over, size, deep = over, along, deep, size
        return Box(along, self.high - over - deep, along + size, self.high - over, Pen.FINE, tone)


def offcut_words(board_name: str, length: Fraction, width: Fraction, unit: Unit) -> str:
    """An offcut worth keeping, in words."""
    return f"{board_name}: {show_length(length, unit)} × {fine(width, unit)}"
