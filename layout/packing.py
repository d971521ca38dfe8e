"""Boards and sheets as they are bought and cut, and what is proven of them."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from capture.lengths import Unit, show_length
from layout.pieces import Piece
from layout.stock import Material, Stock, StockError


class Objective(StrEnum):
    """What is to be least."""

    COUNT = "boards"
    LENGTH = "length"
    BOARD_FEET = "board feet"
    AREA = "square feet"
    COST = "cost"

    def of(self, material: Material) -> "Objective":
        """What stands for it with a material that is not measured so: sheets go by area, moulding by length."""
        if self in (Objective.COUNT, Objective.COST):
            return self
        if material is Material.BOARD:
            return Objective.LENGTH if self is Objective.AREA else self
        return Objective.AREA if material is Material.SHEET else Objective.LENGTH


@dataclass(frozen=True)
class Saw:
    """How the saw cuts and what is kept; inches."""

    kerf: Fraction = Fraction(1, 8)  # a full-kerf 10 in blade; common practice, no source
    trim: Fraction = Fraction(1)  # off the two ends of a board together; common practice, no source
    sheet_trim: Fraction = Fraction(0)  # off a sheet's length, and off its width
    keep_length: Fraction = Fraction(24)  # an offcut worth keeping is at least so long
    keep_width: Fraction = Fraction(3, 2)  # and so wide

    def __post_init__(self) -> None:
        for name, size in (("kerf", self.kerf), ("end trim", self.trim), ("sheet trim", self.sheet_trim)):
            if size < 0:
                raise _below_nothing(name, size)

    def usable(self, stock: Stock) -> tuple[Fraction, Fraction]:
        """Length and width left after trimming."""
        if stock.material is Material.SHEET:
            return stock.length - self.sheet_trim, stock.width - self.sheet_trim
        return stock.length - self.trim, stock.width


USUAL_SAW = Saw()


def _below_nothing(name: str, size: Fraction) -> StockError:
    return StockError(lambda show: f"The {name} is said to be {show(size)}; give 0 or more.")


@dataclass(frozen=True)
class Cut:
    """One piece on its board."""

    piece: Piece
    place: str  # which of the equal pieces
    at: Fraction  # where it starts along its lane, from the trimmed end
    length: Fraction  # along the lane
    width: Fraction


@dataclass(frozen=True)
class BoardLane:
    """A lane of a board and its cuts in order."""

    at: Fraction  # where it starts across the board
    width: Fraction
    cuts: tuple[Cut, ...]
    left: Fraction  # length left after the last cut


@dataclass(frozen=True)
class Board:
    """One board or sheet to buy, and how it is cut."""

    stock: Stock
    across: bool  # its lanes run across the sheet's length
    lanes: tuple[BoardLane, ...]
    spare: Fraction  # width left beside the last lane

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """All pieces on it."""
        return tuple(cut for lane in self.lanes for cut in lane.cuts)


@dataclass(frozen=True)
class Offcut:
    """What is left of a board and worth keeping."""

    stock: Stock
    length: Fraction
    width: Fraction


@dataclass(frozen=True)
class Packing:
    """The boards for pieces of one material and thickness that share stock."""

    material: Material
    boards: tuple[Board, ...]
    offcuts: tuple[Offcut, ...]
    objective: Objective
    amount: Fraction  # boards, inches, board feet or money
    bound: Fraction  # no way of ripping first and then crosscutting takes less
    by_area: Fraction  # no way of cutting at all takes less

    @property
    def proven(self) -> bool:
        """Whether no way of ripping first and then crosscutting takes less."""
        return self.amount <= self.bound

    @property
    def gap(self) -> Fraction:
        """How much less another answer might still take."""
        return max(Fraction(0), self.amount - self.bound)

    @property
    def crosscut_only(self) -> bool:
        """Whether nothing is ripped: then the proof is of all ways to cut."""
        uncut = (len(board.lanes) == 1 and not board.spare for board in self.boards)
        return self.material is not Material.SHEET and all(uncut)

    def told(self, unit: Unit = Unit.INCH) -> str:
        """What is proven, in a sentence."""
        thing = {Material.BOARD: "board", Material.MOULDING: "length", Material.SHEET: "sheet"}[self.material]
        amount, bound = (_told(self.objective, value, unit, thing) for value in (self.amount, self.bound))
        if not self.proven:
            return f"{amount}, and at least {bound}: the search stopped before it could tell which is the least."
        if self.crosscut_only or self.by_area >= self.amount:
            return f"{amount}, proven the least."
        return f"{amount}, proven the least when strips are ripped first and then cut to length."


def _told(objective: Objective, amount: Fraction, unit: Unit, thing: str) -> str:
    if objective is Objective.COUNT:
        return f"1 {thing}" if amount == 1 else f"{amount} {thing}s"
    if objective is Objective.LENGTH:
        return show_length(amount, unit)
    return f"{float(amount):.2f} {'in money' if objective is Objective.COST else objective}"
