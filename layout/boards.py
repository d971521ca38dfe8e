"""What to buy and how to cut it: the fewest boards, or the least length, board feet or money, with the proof.

A board as wide as a piece is crosscut only. Where the yard has no board of a piece's width, wider boards are ripped
along their whole length first, each into lanes of one or several widths. Sheets are ripped or crosscut first, then cut
the other way, then trimmed: cuts from edge to edge, as a saw makes them.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import gcd, lcm

from capture.lengths import Unit, show_length
from layout import cutting
from layout.cutting import Cutting
from layout.patterns import Blank, Part
from layout.pieces import Grain, Piece
from layout.stock import Material, Stock, StockError

MOST_UNITS = (
    1_000_000  # a board's length in the coarsest unit that all sizes share; beyond this nothing is found in time
)


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
        amount, bound, by_area = (
            _told(self.objective, value, unit, thing) for value in (self.amount, self.bound, self.by_area)
        )
        if not self.proven:
            return f"{amount}, and at least {bound}: the search stopped before it could tell which is the least."
        if self.crosscut_only or self.by_area >= self.amount:
            return f"{amount}, proven the least."
        return (
            f"{amount}, proven the least of all that are cut from edge to edge in two steps; "
            f"by area alone no cutting takes less than {by_area}."
        )


def _told(objective: Objective, amount: Fraction, unit: Unit, thing: str) -> str:
    if objective is Objective.COUNT:
        return f"1 {thing}" if amount == 1 else f"{amount} {thing}s"
    if objective is Objective.LENGTH:
        return show_length(amount, unit)
    return f"{float(amount):.2f} {'in money' if objective is Objective.COST else objective}"


def buy(
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    saw: Saw = Saw(),
    objective: Objective = Objective.COUNT,
    seconds: float = 20.0,
) -> tuple[Packing, ...]:
    """The boards to buy for all pieces.

    Parameters
    ----------
    pieces
        Their lengths are long points; what the saw is set to, so rounded to its step before (`Piece.sawn`).
    stocks
        What the yard has.
    saw
        Kerf, trim, and what is kept.
    objective
        What is to be least; among answers equal by it, the one with the least length, or the fewest boards, as found.
    seconds
        For each packing, about when to stop and tell the gap.

    Returns
    -------
    tuple of Packing
        One for each set of pieces that share stock; each verified exactly.

    Raises
    ------
    StockError
        Names the piece and the stock that clash, and by how much.
    """
    if objective is Objective.COST and (stock := next((s for s in stocks if s.price is None), None)):
        raise StockError(
            lambda show: (
                f"{stock.spoken(show)} has no price, and the least cost is asked; give what the yard asks for one."
            )
        )
    return tuple(_pack(group, saw, objective, seconds) for group in _groups(pieces, stocks, saw))


@dataclass(frozen=True)
class _Group:
    """Pieces that share stock, and from which stock each width may come."""

    pieces: tuple[Piece, ...]
    sources: dict[Fraction, tuple[Stock, ...]]  # by the pieces' width


def _groups(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> Iterator[_Group]:
    """The pieces by material and thickness, then by the stock that they share."""
    alike: dict[tuple[Material, Fraction], list[Piece]] = {}
    for piece in pieces:
        alike.setdefault((piece.material, piece.thickness), []).append(piece)
    for (material, thickness), group in alike.items():
        fitting = [s for s in stocks if s.material is material and s.thickness == thickness]
        if not fitting:
            raise _no_thickness(group[0], [s for s in stocks if s.material is material])
        if material is Material.SHEET:
            yield _sheets(group, fitting, saw)
        else:
            yield from _boards(group, fitting, saw)


def _sheets(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> _Group:
    for piece in pieces:
        _check_saw(piece, saw)
        if not any(_fits_sheet(piece, stock, saw) for stock in stocks):
            raise _no_sheet(piece, max(stocks, key=lambda stock: stock.length * stock.width), saw)
    return _Group(tuple(pieces), {piece.sawn_width: tuple(stocks) for piece in pieces})


def _fits_sheet(piece: Piece, stock: Stock, saw: Saw) -> bool:
    length, width = saw.usable(stock)
    return any(along <= length and across <= width for along, across in _along(piece))


def _along(piece: Piece) -> list[tuple[Fraction, Fraction]]:
    """How a piece may lie on a sheet whose grain runs along its length: size along it and across."""
    lies, stands = (piece.length, piece.sawn_width), (piece.sawn_width, piece.length)
    return {Grain.ALONG: [lies], Grain.ACROSS: [stands], Grain.EITHER: [lies, stands]}[piece.grain]


def _boards(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> Iterator[_Group]:
    """One group for each width that the yard has, and one for all that must be ripped; joined where stock runs out."""
    sources: dict[Fraction, tuple[Stock, ...]] = {}
    for piece in pieces:
        _check_saw(piece, saw)
        as_wide = tuple(stock for stock in stocks if stock.width == piece.sawn_width)
        wider = tuple(stock for stock in stocks if stock.width > piece.sawn_width)
        sources[piece.sawn_width] = as_wide or wider
        if not sources[piece.sawn_width]:
            raise _too_wide(piece, max(stocks, key=lambda stock: stock.width))
        longest = max(sources[piece.sawn_width], key=lambda stock: stock.length)
        if piece.length > saw.usable(longest)[0]:
            raise _too_long(piece, longest, saw)
    for widths in _sharing(sources):
        group = tuple(piece for piece in pieces if piece.sawn_width in widths)
        yield _Group(group, {width: sources[width] for width in widths})


def _sharing(sources: dict[Fraction, tuple[Stock, ...]]) -> list[set[Fraction]]:
    """Widths in sets that must be packed together: ripped from the same stock, or stock of both may run out."""
    sets: list[set[Fraction]] = []
    for width in sources:
        joined = {width}
        for other in [s for s in sets if any(_share(sources, width, w) for w in s)]:
            sets.remove(other)
            joined |= other
        sets.append(joined)
    return sets


def _share(sources: dict[Fraction, tuple[Stock, ...]], one: Fraction, other: Fraction) -> bool:
    common = [stock for stock in sources[one] if stock in sources[other]]
    return any(stock.available is not None or max(one, other) < stock.width for stock in common)


def _check_saw(piece: Piece, saw: Saw) -> None:
    for word, size in (("long", piece.length), ("wide", piece.sawn_width)):
        if size <= 0:
            raise _nothing(piece, word, size)
        if saw.kerf > size:
            raise _finer_than(saw, piece, word, size)


def _nothing(piece: Piece, word: str, size: Fraction) -> StockError:
    return StockError(lambda show: f"“{piece.name}” of {piece.unit} is {show(size)} {word}; it cannot be cut.")


def _finer_than(saw: Saw, piece: Piece, word: str, size: Fraction) -> StockError:
    return StockError(
        lambda show: (
            f"The kerf ({show(saw.kerf)}) is more than “{piece.name}” of {piece.unit} is {word} "
            f"({show(size)}), by {show(saw.kerf - size)}; use a finer saw or another way to make it."
        )
    )


def _no_thickness(piece: Piece, stocks: Sequence[Stock]) -> StockError:
    near = min(stocks, key=lambda stock: abs(stock.thickness - piece.thickness), default=None)

    def instead(show: Callable[..., str]) -> str:
        if near is None:
            return f"there is no {piece.material} at all"
        less = "less" if near.thickness < piece.thickness else "more"
        off = show(abs(near.thickness - piece.thickness))
        return f"the nearest, {near.spoken(show)}, is {show(near.thickness)}, {off} {less}"

    return StockError(
        lambda show: (
            f"“{piece.name}” of {piece.unit} is {show(piece.thickness)} thick and no {piece.material} in "
            f"stock is: {instead(show)}; add the stock or change the thickness."
        )
    )


def _too_wide(piece: Piece, widest: Stock) -> StockError:
    return StockError(
        lambda show: (
            f"“{piece.name}” of {piece.unit} is {show(piece.sawn_width)} wide and the widest stock "
            f"that thick, {widest.spoken(show)}, is {show(widest.width)}, "
            f"{show(piece.sawn_width - widest.width)} less; add wider stock or glue up."
        )
    )


def _too_long(piece: Piece, longest: Stock, saw: Saw) -> StockError:
    usable, _ = saw.usable(longest)
    return StockError(
        lambda show: (
            f"“{piece.name}” of {piece.unit} is {show(piece.length)} long in one piece and the longest stock, "
            f"{longest.spoken(show)}, gives {show(usable)}, {show(piece.length - usable)} less; "
            "add longer stock or allow a joint."
        )
    )


def _no_sheet(piece: Piece, largest: Stock, saw: Saw) -> StockError:
    length, width = saw.usable(largest)
    over = min(max(along - length, across - width) for along, across in _along(piece))
    return StockError(
        lambda show: (
            f"“{piece.name}” of {piece.unit} is {show(piece.length)} by {show(piece.sawn_width)} and the "
            f"largest sheet that thick, {largest.spoken(show)}, gives {show(length)} by {show(width)}"
            f"{'' if piece.grain is Grain.EITHER else ' with its grain as wanted'}, {show(over)} less; "
            "add larger sheets or allow a seam."
        )
    )


def _pack(group: _Group, saw: Saw, wanted: Objective, seconds: float) -> Packing:
    material = group.pieces[0].material
    objective = wanted.of(material)
    stocks = tuple(dict.fromkeys(stock for source in group.sources.values() for stock in source))
    alike = _alike(group.pieces)
    grid = _Grid.of(group.pieces, stocks, saw)
    amounts, scale = _whole([_amount(objective, stock) for stock in stocks])
    ties, _ = _whole([_amount(_tie(objective, material), stock) for stock in stocks])
    parts = [_part(piece, len(pieces), grid, saw) for piece, pieces in alike]
    costs = zip(stocks, amounts, ties, strict=True)
    found = cutting.cut(parts, [_blank(*cost, group, grid, saw) for cost in costs], seconds)
    if found.short:
        raise _run_out([alike[i][0] for i in found.short], stocks)
    boards = tuple(_laid(found, stocks, alike, grid, saw))
    _verify(boards, group, saw)
    amount = sum((_amount(objective, board.stock) for board in boards), Fraction(0))
    by_area = min(amount, _least_by_area(group, stocks, objective, saw, scale))
    bound = min(amount, max(by_area, found.bound * scale))
    return Packing(material, boards, tuple(_offcuts(boards, saw)), objective, amount, bound, by_area)


def _least_by_area(group: _Group, stocks: Sequence[Stock], objective: Objective, saw: Saw, scale: Fraction) -> Fraction:
    """The least amount whose face holds all pieces' faces; amounts are multiples of `scale`."""
    face = sum((piece.count * piece.length * piece.sawn_width for piece in group.pieces), Fraction(0))
    faces = [(stock, length * width) for stock in stocks for length, width in [saw.usable(stock)] if length > 0]
    least = min(_amount(objective, stock) / area for stock, area in faces) * face
    return -(-least // scale) * scale


def _amount(objective: Objective, stock: Stock) -> Fraction:
    """What one of a stock adds to the objective."""
    return {
        Objective.COUNT: Fraction(1),
        Objective.LENGTH: stock.length,
        Objective.BOARD_FEET: stock.board_feet,
        Objective.AREA: stock.length * stock.width / 144,
        Objective.COST: stock.price or Fraction(0),
    }[objective]


def _tie(objective: Objective, material: Material) -> Objective:
    """What chooses between answers of equal amount."""
    return Objective.BOARD_FEET.of(material) if objective is Objective.COUNT else Objective.COUNT


def _whole(values: Sequence[Fraction]) -> tuple[list[int], Fraction]:
    """The values as whole numbers without a common divisor, and what 1 stands for."""
    below = lcm(*(value.denominator for value in values))
    whole = [int(value * below) for value in values]
    common = gcd(*whole)
    return [value // common for value in whole], Fraction(common, below)


@dataclass(frozen=True)
class _Grid:
    """The coarsest unit of which all sizes are multiples."""

    unit: Fraction

    @classmethod
    def of(cls, pieces: Iterable[Piece], stocks: Sequence[Stock], saw: Saw) -> "_Grid":
        sizes = [size for piece in pieces for size in (piece.length, piece.sawn_width)]
        sizes += [size for stock in stocks for size in saw.usable(stock)] + [saw.kerf]
        below = lcm(*(size.denominator for size in sizes))
        unit = Fraction(gcd(*(int(size * below) for size in sizes)), below)
        longest = max(stock.length for stock in stocks)
        if longest / unit > MOST_UNITS:
            raise StockError(
                f"The sizes share no step coarser than {float(unit):.1g} in; round the pieces to the saw's step first."
            )
        return cls(unit)

    def __call__(self, size: Fraction) -> int:
        return int(size / self.unit)


_Alike = tuple[Piece, list[tuple[Piece, str]]]
"""A piece that stands for all of its size, and each of them by its place."""


def _alike(pieces: Sequence[Piece]) -> list[_Alike]:
    """Pieces of one size, whatever they are called, each place by itself; the longest first."""
    sizes: dict[tuple[Fraction, Fraction, Grain], list[tuple[Piece, str]]] = {}
    for piece in pieces:
        size = (piece.length, piece.sawn_width, piece.grain)
        sizes.setdefault(size, []).extend((piece, place) for place in piece.places)
    return [(sizes[size][0][0], sizes[size]) for size in sorted(sizes, reverse=True)]


def _part(piece: Piece, demand: int, grid: _Grid, saw: Saw) -> Part:
    if piece.material is Material.SHEET:
        along, across = _along(piece)[0]
        return Part(grid(along + saw.kerf), grid(across + saw.kerf), demand, turns=piece.grain is Grain.EITHER)
    return Part(grid(piece.length + saw.kerf), grid(piece.sawn_width + saw.kerf), demand)


def _blank(stock: Stock, amount: int, tie: int, group: _Group, grid: _Grid, saw: Saw) -> Blank:
    length, width = saw.usable(stock)
    lanes = frozenset(grid(w + saw.kerf) for w, source in group.sources.items() if stock in source)
    sheet = stock.material is Material.SHEET
    size = grid(max(length, Fraction(0)) + saw.kerf), grid(width + saw.kerf)
    return Blank(*size, amount, tie, stock.available, trims=sheet, lanes=None if sheet else lanes)


def _run_out(short: Sequence[Piece], stocks: Sequence[Stock]) -> StockError:
    piece = short[0]

    def there(show: Callable[..., str]) -> str:
        return ", ".join(f"{stock.available} {stock.spoken(show)}" for stock in stocks if stock.available is not None)

    others = f" and {len(short) - 1} more" if len(short) > 1 else ""
    return StockError(
        lambda show: (
            f"The stock runs out: {there(show)} leave nothing for “{piece.name}” of {piece.unit}, "
            f"{show(piece.length)} long{others}; add stock."
        )
    )


def _laid(found: Cutting, stocks: Sequence[Stock], alike: Sequence[_Alike], grid: _Grid, saw: Saw) -> Iterator[Board]:
    """The boards with their pieces by name."""
    places = [iter(pieces) for _, pieces in alike]
    for layout in found.layouts:
        stock = stocks[layout.blank]
        length, width = saw.usable(stock)[:: -1 if layout.across else 1]
        at, lanes = Fraction(0), []
        for lane in sorted(layout.lanes, reverse=True):
            room = lane.width * grid.unit - saw.kerf
            cuts = tuple(_cuts([next(places[i]) for i in lane.parts], layout.across, room, saw))
            across, used = max(cut.width for cut in cuts), cuts[-1].at + cuts[-1].length
            lanes.append(BoardLane(at, across, cuts, max(Fraction(0), length - used - saw.kerf)))
            at += across + saw.kerf
        yield Board(stock, layout.across, tuple(lanes), max(Fraction(0), width - at))


def _cuts(pieces: Sequence[tuple[Piece, str]], across: bool, room: Fraction, saw: Saw) -> Iterator[Cut]:
    """The pieces of a lane one after the other, each lying the way that takes least of its length."""
    at = Fraction(0)
    for piece, place in pieces:
        ways = [way[:: -1 if across else 1] for way in _along(piece)]
        length, width = min(way for way in ways if way[1] <= room)
        yield Cut(piece, place, at, length, width)
        at += length + saw.kerf


def _offcuts(boards: Sequence[Board], saw: Saw) -> Iterator[Offcut]:
    """What is left at the end of each lane and beside the last, where it is worth keeping; the largest first."""
    left = []
    for board in boards:
        length = saw.usable(board.stock)[1 if board.across else 0]
        sizes = [(lane.left, lane.width) for lane in board.lanes] + [(length, board.spare)]
        left += [Offcut(board.stock, max(size), min(size)) for size in sizes]
    kept = [offcut for offcut in left if offcut.length >= saw.keep_length and offcut.width >= saw.keep_width]
    yield from sorted(kept, key=lambda offcut: (-offcut.length * offcut.width, offcut.stock.name))


def _verify(boards: Sequence[Board], group: _Group, saw: Saw) -> None:
    """Reckon every board again in exact fractions: each piece just once, nothing beyond the board, kerfs between."""
    wanted = Counter((piece, place) for piece in group.pieces for place in piece.places)
    sound = Counter((cut.piece, cut.place) for board in boards for cut in board.cuts) == wanted
    for board in boards:
        length, width = saw.usable(board.stock)[:: -1 if board.across else 1]
        sound &= _spaced([(lane.at, lane.width) for lane in board.lanes], width, saw)
        for lane in board.lanes:
            sound &= _spaced([(cut.at, cut.length) for cut in lane.cuts], length, saw)
            sound &= all(cut.width <= lane.width for cut in lane.cuts)
        sound &= all(board.stock in group.sources[cut.piece.sawn_width] for cut in board.cuts)
    if not sound:
        raise StockError(f"The boards for “{group.pieces[0].name}” do not add up: a fault of this program; report it.")


def _spaced(spans: Sequence[tuple[Fraction, Fraction]], room: Fraction, saw: Saw) -> bool:
    """Whether spans (start, size) lie in order within the room, a kerf apart."""
    starts = [start for start, _ in spans]
    ends = [start + size for start, size in spans]
    apart = all(start >= end + saw.kerf for start, end in zip(starts[1:], ends[:-1], strict=True))
    return starts[0] >= 0 and ends[-1] <= room and apart
