"""What the yard has and how the shop saws: a small record, with what is usual in the trade where nothing is noted."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, field_validator, model_validator

from capture.lengths import FOOT, METRE, MM, Length, LengthError, Unit, parse_length, show_length
from capture.record import Record
from layout.packing import Objective, Saw
from layout.pieces import Grain, Piece
from layout.stock import DRESSED_THICKNESS, DRESSED_WIDTH, Material, Stock, StockError, softwood

# Common practice, no source: what most yards keep. Dressed sizes are those of PS 20 (`layout.stock`).
USUAL_FEET = (8, 10, 12, 14, 16)
USUAL_WIDTHS = ("2", "3", "4", "6", "8", "10", "12")  # nominal
WIDEST = DRESSED_WIDTH[Fraction(12)]  # of boards that have no nominal size
USUAL_LENGTHS_MM = (2400, 3000, 3600, 4200, 4800)  # where yards sell by the millimetre
USUAL_SHEET = {Unit.INCH: (Fraction(48), Fraction(96)), Unit.MM: (1220 * MM, 2440 * MM)}
LEAST_LENGTH = Fraction(24)  # inches: what is said to be shorter was meant in feet
MOST_LENGTHS = 40  # of one size

_NOMINAL = re.compile(r"(\d+(?:/\d+)?)\s*[x×]\s*(\d+)")
_COUNTED = re.compile(r"(\d{1,4})\s+of\s+(.+)")
_PRICE = re.compile(r"(\d{1,7}(?:\.\d{1,4})?)\s*(?:/\s*(ft|m)|each)")
_TIMES = re.compile(r"\s*[x×]\s*")


def _read_share(value: object) -> Fraction:
    """A share as people write it: 10 % or 10, both in a hundred; a stored one is a plain fraction."""
    if isinstance(value, Fraction):
        return value
    text = str(value).strip()
    try:
        share = Fraction(text) if "/" in text or text == "0" else Fraction(text.removesuffix("%").strip()) / 100
    except (ValueError, ZeroDivisionError):
        raise ValueError("is so much in a hundred, such as 10%") from None
    if not 0 <= share <= 1:
        raise ValueError("must lie between 0 and 100%")
    return share


def _stored(share: Fraction) -> str:
    return f"{share.numerator}/{share.denominator}" if share else "0"


Share = Annotated[
    Fraction,
    BeforeValidator(_read_share),
    PlainSerializer(_stored, return_type=str),
    WithJsonSchema({"type": "string", "description": "a share as an exact fraction, such as 1/10"}),
]


class Yard(Record):
    """What can be bought, by the yard's own names and as it was typed; and how the shop saws. Inches.

    A board by its nominal softwood size takes lengths alone, ``1 x 4`` → ``8 ft, 3 of 12 ft``; any other says its
    actual thickness and width first, ``poplar`` → ``3/4 x 5 1/2: 8 ft``. A moulding always does. A sheet says its
    thickness, then its sizes, ``MDF`` → ``1/4: 48 x 96``. A price is ``1.85/ft``, ``6.10/m`` or ``45 each``.
    """

    boards: dict[str, str] = Field(default_factory=dict)
    mouldings: dict[str, str] = Field(default_factory=dict)
    sheets: dict[str, str] = Field(default_factory=dict)
    prices: dict[str, str] = Field(default_factory=dict)
    kerf: Length = Saw.kerf
    trim: Length = Saw.trim  # off the two ends of a board together
    sheet_trim: Length = Saw.sheet_trim  # off a sheet's length, and off its width
    longest: Length = Fraction(0)  # that can be carried in; 0 is whatever the yard has
    waste: Share = Fraction(1, 10)  # by which the take-off is raised; common practice, no source
    keep_length: Length = Saw.keep_length
    keep_width: Length = Saw.keep_width
    least: Objective = Objective.COUNT  # what is to be least
    sheet_grain: Grain = Grain.EITHER  # of panel sheets, whose length is up

    @field_validator("kerf", "trim", "sheet_trim")
    @classmethod
    def _a_saw_takes_little(cls, size: Fraction) -> Fraction:
        if size > FOOT:
            raise ValueError("must be less than a foot")
        return size

    @model_validator(mode="after")
    def _can_be_read(self) -> Self:
        _ = self.stocks
        return self

    @property
    def saw(self) -> Saw:
        """How the saw cuts and what is kept."""
        return Saw(self.kerf, self.trim, self.sheet_trim, self.keep_length, self.keep_width)

    @property
    def stocks(self) -> tuple[Stock, ...]:
        """All that was noted, and can be carried in."""
        return tuple(stock for stock in self._noted if not self.longest or stock.length <= self.longest)

    @property
    def _noted(self) -> tuple[Stock, ...]:
        known = [name for kept in (self.boards, self.mouldings, self.sheets) for name in kept]
        for name in self.prices:
            if name not in known:
                raise StockError(f"A price is noted for “{name}”, which the yard is not said to have; note its sizes.")
        kept = (
            (Material.BOARD, self.boards), (Material.MOULDING, self.mouldings), (Material.SHEET, self.sheets),
        )  # fmt: skip
        return tuple(
            stock
            for material, offers in kept
            for name, text in offers.items()
            for stock in offered(material, name, text, self.prices.get(name, ""))
        )

    def stock_for(self, pieces: Sequence[Piece], unit: Unit = Unit.INCH) -> tuple[tuple[Stock, ...], tuple[str, ...]]:
        """What pieces are to be cut from, and what was taken for granted where nothing was noted."""
        noted, told_of = self.stocks, {stock.material for stock in self._noted}
        found: list[Stock] = []
        taken: list[str] = []
        for material, thickness in dict.fromkeys((piece.material, piece.thickness) for piece in pieces):
            mine = [stock for stock in noted if (stock.material, stock.thickness) == (material, thickness)]
            if mine or material in told_of:  # where something was noted nothing else is taken for granted
                found += mine
                continue
            alike = [piece for piece in pieces if (piece.material, piece.thickness) == (material, thickness)]
            usual = [s for s in _usual(alike, unit) if not self.longest or s.length <= self.longest]
            found += usual
            taken.append(_told(material, thickness, usual, unit))
        return tuple(found), tuple(taken)


def offered(material: Material, name: str, text: str, price: str = "") -> tuple[Stock, ...]:
    """The stock that a line of the record means.

    Raises
    ------
    StockError
        It cannot be read: says what is wrong with it and how to write it.
    """
    size, _, lengths = text.rpartition(":")
    asked = _price(name, price)
    if material is Material.SHEET:
        return tuple(_sheets(name, size, lengths, asked))
    nominal = _NOMINAL.fullmatch(name.strip())
    if not size and material is Material.BOARD and nominal:
        dressed = softwood(nominal[1], nominal[2], 1)
        width, thickness, counted = dressed.width, dressed.thickness, dressed.nominal
    else:
        thickness, width = _pair(name, size, "3/4 x 5 1/2: 8 ft, 10 ft")
        counted = None
    return tuple(
        Stock(name, width, thickness, length, material, counted, asked(length) if asked else None, count)
        for count, length in _lengths(name, lengths)
    )


def _sheets(name: str, thick: str, sizes: str, asked: Callable[[Fraction], Fraction] | None) -> Iterator[Stock]:
    thickness = _length(name, thick, "1/4: 48 x 96")
    for count, text in _listed(name, sizes):
        width, length = sorted(_pair(name, text, "1/4: 48 x 96"))
        yield Stock(
            name, width, thickness, length, Material.SHEET, price=asked(length) if asked else None, available=count
        )


def _lengths(name: str, text: str) -> Iterator[tuple[int | None, Fraction]]:
    for count, one in _listed(name, text):
        length = _length(name, one, "8 ft, 10 ft")
        if length < LEAST_LENGTH:
            raise StockError(
                f"“{name}” is said to be {show_length(length)} long, less than {show_length(LEAST_LENGTH)}; "
                "for feet write 8 ft."
            )
        yield count, length


def _listed(name: str, text: str) -> Iterator[tuple[int | None, str]]:
    """What stands between commas, each with how many there are."""
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not parts or len(parts) > MOST_LENGTHS:
        raise StockError(f"“{name}” has {len(parts)} sizes; give 1 to {MOST_LENGTHS} of them, such as 8 ft, 10 ft.")
    for part in parts:
        counted = _COUNTED.fullmatch(part)
        yield (int(counted[1]), counted[2]) if counted else (None, part)


def _pair(name: str, text: str, such_as: str) -> tuple[Fraction, Fraction]:
    parts = _TIMES.split(text.strip())
    if len(parts) != 2:
        raise StockError(f"“{name}” wants its actual size, two lengths with an x between, such as {such_as}.")
    return _length(name, parts[0], such_as), _length(name, parts[1], such_as)


def _length(name: str, text: str, such_as: str) -> Fraction:
    try:
        return parse_length(text)
    except LengthError:
        shown = text.strip()[:40]
        raise StockError(f"“{name}”: “{shown}” is not a length; write its sizes like {such_as}.") from None


def _price(name: str, text: str) -> Callable[[Fraction], Fraction] | None:
    """What one of a length costs."""
    if not text:
        return None
    match = _PRICE.fullmatch(text.strip())
    if not match:
        raise StockError(f"“{name}”: “{text[:40]}” is not a price; write 1.85/ft, 6.10/m or 45 each.")
    amount, per = Fraction(match[1]), {"ft": FOOT, "m": METRE}.get(match[2] or "")
    return (lambda length: amount * length / per) if per else lambda _: amount


def _usual(pieces: Sequence[Piece], unit: Unit) -> list[Stock]:
    """What is usual for pieces of one material and thickness, called by its size where the trade has no name."""
    material, thickness = pieces[0].material, pieces[0].thickness
    thick = show_length(thickness, unit)
    if material is Material.SHEET:
        width, length = USUAL_SHEET[unit]
        return [Stock(f"{thick} sheet", width, thickness, length, Material.SHEET)]
    lengths = [feet * FOOT for feet in USUAL_FEET] if unit is Unit.INCH else [n * MM for n in USUAL_LENGTHS_MM]
    if material is Material.MOULDING:
        widths = dict.fromkeys(piece.sawn_width for piece in pieces)
        return [Stock(f"moulding {show_length(w, unit)}", w, thickness, n, material) for w in widths for n in lengths]
    nominal = {str(n): dressed for n, dressed in DRESSED_THICKNESS.items() if dressed == thickness}
    boards = [softwood(n, width, feet=1) for n in nominal for width in USUAL_WIDTHS]
    if unit is Unit.MM:  # called by what they are
        boards = [replace(b, name=f"{thick} × {show_length(b.width, unit)}", nominal=None) for b in boards]
    boards = boards or [Stock(f"{thick} board", WIDEST, thickness, FOOT)]
    return [replace(board, length=n) for board in boards for n in lengths]


def _told(material: Material, thickness: Fraction, usual: Sequence[Stock], unit: Unit) -> str:
    thing = {Material.BOARD: "boards", Material.MOULDING: "moulding", Material.SHEET: "sheets"}[material]
    if material is Material.SHEET:
        sizes = " × ".join(show_length(side, unit) for side in USUAL_SHEET[unit])
    else:
        lengths = list(dict.fromkeys(stock.length for stock in usual))
        each = [show_length(length, unit).removesuffix(" mm") for length in lengths]
        feet = [str(round(length / FOOT)) for length in lengths]
        sizes = f"{', '.join(each)} mm" if unit is Unit.MM else f"{', '.join(feet)} ft"
    thick = show_length(thickness, unit)
    return f"what the yard has of {thing} {thick} thick was not noted; usual ones were taken: {sizes}"
