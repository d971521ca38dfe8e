"""What to buy and how to cut it: the fewest boards, or the least length, board feet or money, with the proof.

A board as wide as a piece is crosscut only. Where the yard has no board of a piece's width, wider boards are ripped
along their whole length first, each into lanes of one or several widths. Sheets are ripped or crosscut first, then cut
the other way, then trimmed: cuts from edge to edge, as a saw makes them.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm

from layout import cutting
from layout.cutting import Cutting
from layout.packing import USUAL_SAW, Board, BoardLane, Cut, Objective, Offcut, Packing, Saw
from layout.patterns import Blank, Part
from layout.pieces import Grain, Piece
from layout.sharing import Group, groups, ways_to_lie
from layout.stock import Material, Stock, StockError

MOST_STEPS = 1_000_000  # of what all sizes are multiples of, in a board's length: beyond it nothing is found in time


def buy(
    pieces: Sequence[Piece],
    stocks: Sequence[Stock],
    saw: Saw = USUAL_SAW,
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
    return tuple(_pack(group, saw, objective, seconds) for group in groups(pieces, stocks, saw))


def _pack(group: Group, saw: Saw, wanted: Objective, seconds: float) -> Packing:
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


def _least_by_area(group: Group, stocks: Sequence[Stock], objective: Objective, saw: Saw, scale: Fraction) -> Fraction:
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
        if longest / unit > MOST_STEPS:
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
        along, across = ways_to_lie(piece)[0]
        return Part(grid(along + saw.kerf), grid(across + saw.kerf), demand, turns=piece.grain is Grain.EITHER)
    return Part(grid(piece.length + saw.kerf), grid(piece.sawn_width + saw.kerf), demand)


def _blank(stock: Stock, amount: int, tie: int, group: Group, grid: _Grid, saw: Saw) -> Blank:
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
        ways = [way[:: -1 if across else 1] for way in ways_to_lie(piece)]
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


def _verify(boards: Sequence[Board], group: Group, saw: Saw) -> None:
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
