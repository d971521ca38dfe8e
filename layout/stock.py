"""What the yard sells: boards, mouldings and sheets; dressed sizes; board measure; the take-off.

Inches, exact; feet only where a quantity is told.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

from capture.lengths import FOOT, SizesError, show_length

if TYPE_CHECKING:
    from layout.pieces import Piece

# Nominal to dressed dry size, inches: American Softwood Lumber Standard, PS 20, boards and dimension, as tabled in
# "Softwood Lumber – Standard Sizes" (Engineering ToolBox).
DRESSED_WIDTH = {
    Fraction(nominal): Fraction(dressed)
    for nominal, dressed in {
        "2": "3/2", "3": "5/2", "4": "7/2", "5": "9/2", "6": "11/2", "7": "13/2", "8": "29/4", "9": "33/4",
        "10": "37/4", "11": "41/4", "12": "45/4",
    }.items()
}  # fmt: skip
DRESSED_THICKNESS = {
    Fraction(nominal): Fraction(dressed)
    for nominal, dressed in {
        "3/8": "5/16", "1/2": "7/16", "5/8": "9/16", "3/4": "5/8", "1": "3/4", "5/4": "1", "3/2": "5/4", "2": "3/2",
    }.items()
}  # fmt: skip
NOMINAL_WIDTH = {dressed: nominal for nominal, dressed in DRESSED_WIDTH.items()}
NOMINAL_THICKNESS = {dressed: nominal for nominal, dressed in DRESSED_THICKNESS.items()}


class StockError(SizesError, ValueError):
    """Stock that cannot be, or from which the pieces cannot be cut."""


class Material(StrEnum):
    """What a piece is cut from."""

    BOARD = "board"
    MOULDING = "moulding"
    SHEET = "sheet"


@dataclass(frozen=True)
class Stock:
    """One size that the yard sells, actual inches."""

    name: str  # as the yard calls it: “1 × 4”
    width: Fraction
    thickness: Fraction
    length: Fraction  # of a sheet: the longer side, along its grain if it has one
    material: Material = Material.BOARD
    nominal: tuple[Fraction, Fraction] | None = None  # thickness and width by which it is counted in board feet
    price: Fraction | None = None  # of one, in the yard's money
    available: int | None = None  # None is as many as wanted

    def __post_init__(self) -> None:
        sizes = {"wide": self.width, "thick": self.thickness, "long": self.length}
        for word, size in sizes.items():
            if size <= 0:
                raise self._too_small(word, size)
        if self.price is not None and self.price <= 0:
            raise StockError(f"“{self.name}” is said to cost {float(self.price):g}; give what the yard asks for one.")
        if self.available is not None and self.available < 0:
            raise StockError(f"“{self.name}” is said to be there {self.available} times; count from 0.")

    def _too_small(self, word: str, size: Fraction) -> StockError:
        return StockError(lambda show: f"“{self.name}” is said to be {show(size)} {word}; give its actual size.")

    def spoken(self, show: Callable[..., str] = show_length) -> str:
        """Its name and length in a sentence: “1 × 4” of 96"."""
        return f"“{self.name}” of {show(self.length)}"

    @property
    def board_feet(self) -> Fraction:
        """By its nominal size where it has one."""
        thickness, width = self.nominal or (self.thickness, self.width)
        return board_feet(self.length, width, thickness)


def softwood(thickness: str, width: str, feet: int, price: Fraction | None = None) -> Stock:
    """A dressed softwood board by its nominal size: ``softwood("1", "4", 8)`` is 3/4 by 3 1/2 in, 96 in long.

    Raises
    ------
    StockError
        PS 20 has no such size.
    """
    nominal = Fraction(thickness), Fraction(width)
    if nominal[0] not in DRESSED_THICKNESS or nominal[1] not in DRESSED_WIDTH:
        raise StockError(f"No dressed size is known for a nominal {thickness} × {width}; give its actual size.")
    dressed_thickness, dressed_width = DRESSED_THICKNESS[nominal[0]], DRESSED_WIDTH[nominal[1]]
    name = f"{thickness} × {width}"
    return Stock(name, dressed_width, dressed_thickness, feet * FOOT, nominal=nominal, price=price)


def board_feet(length: Fraction, width: Fraction, thickness: Fraction) -> Fraction:
    """Board measure: a foot long, a foot wide, an inch thick is one; what is thinner than an inch counts as an inch.

    Softwood is counted by its nominal sizes, hardwood by nominal thickness and actual width.

    References
    ----------
    Naval Education and Training, "Engineering Aid Basics", 6-3: the definition, the rule for under an inch, and that
    nominal sizes are meant. Woodweb, "What is a Board Foot?" (Wengert): hardwood.
    """
    return length * width * max(thickness, Fraction(1)) / 144


@dataclass(frozen=True)
class TakeOff:
    """How much of one material the pieces come to, before any board is chosen."""

    material: Material
    thickness: Fraction
    width: Fraction | None  # None for sheets
    count: int
    lineal_feet: Fraction
    square_feet: Fraction
    counted: tuple[Fraction, Fraction] | None  # thickness and width by which board feet are counted
    board_feet: Fraction  # 0 for what is not sold by it
    waste: Fraction  # the share that the feet above are raised by


def take_off(pieces: Sequence["Piece"], waste: Fraction = Fraction(0)) -> tuple[TakeOff, ...]:
    """The pieces' own length, face and board measure by material and size, raised by a share for waste.

    Board feet are by the nominal thickness and width of PS 20 where the size has them, else by the actual ones.

    Parameters
    ----------
    pieces
        The cut list.
    waste
        The share to add: 1/10 for a tenth.

    Returns
    -------
    tuple of TakeOff
        A row for each material, thickness and, but for sheets, width.

    Raises
    ------
    StockError
        The share for waste is no share.
    """
    if not 0 <= waste <= 1:
        raise StockError(
            f"{float(waste):g} times what the pieces take is to be added for waste; give a share from 0 to 1, like 0.1."
        )
    sizes: dict[tuple[Material, Fraction, Fraction | None], list[Piece]] = {}
    for piece in pieces:
        width = None if piece.material is Material.SHEET else piece.sawn_width
        sizes.setdefault((piece.material, piece.thickness, width), []).append(piece)
    return tuple(_row(*size, sizes[size], waste) for size in sorted(sizes, key=lambda size: (*size[:2], size[2] or 0)))


def _row(
    material: Material, thickness: Fraction, width: Fraction | None, pieces: Sequence["Piece"], waste: Fraction
) -> TakeOff:
    more, length = 1 + waste, sum((piece.count * piece.length for piece in pieces), Fraction(0))
    counted = None
    if material is Material.BOARD and width is not None:
        counted = NOMINAL_THICKNESS.get(thickness, thickness), NOMINAL_WIDTH.get(width, width)
    return TakeOff(
        material,
        thickness,
        width,
        count=sum(piece.count for piece in pieces),
        lineal_feet=more * length / FOOT,
        square_feet=more * sum((piece.count * piece.length * piece.sawn_width for piece in pieces), Fraction(0)) / 144,
        counted=counted,
        board_feet=more * board_feet(length, counted[1], counted[0]) if counted else Fraction(0),
        waste=waste,
    )
