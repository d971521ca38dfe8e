"""The shop's tables as plain rows, for paper, for CSV and for the command line."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from capture.lengths import FOOT, METRE, Unit, show_length
from layout.bevels import fine
from layout.packing import Board, Packing
from layout.pieces import SQUARE_EDGE, CutKind, Edge, EndCut, Grain, Piece, PieceRole
from layout.shop import SetOut, Shop
from layout.stock import Material, Stock

SQUARE_BOTH = "square"


@dataclass(frozen=True)
class PieceRow:
    """A row of the cut list; lengths from long point to long point, widths on the show side."""

    number: str
    unit: str
    name: str
    count: str
    length: str
    width: str
    thickness: str
    ends: str
    short_point: str
    edges: str
    back_width: str
    grain: str
    material: str
    loose: str
    note: str
    places: str


@dataclass(frozen=True)
class RunningRow:
    """Both edges of a stile from the left end of its run."""

    wall: str
    run: str
    run_starts: str  # from the wall's left end
    stile: str
    left_edge: str
    right_edge: str


@dataclass(frozen=True)
class HeightRow:
    """A level edge above the finished floor."""

    wall: str
    run: str
    edge: str
    above_floor: str


@dataclass(frozen=True)
class TakeOffRow:
    """How much of one material, waste and all."""

    material: str
    thickness: str
    width: str
    count: str
    lineal: str
    square: str
    counted_as: str
    board_feet: str
    waste: str


@dataclass(frozen=True)
class BuyRow:
    """All that is wanted of one thing that the yard sells."""

    what: str
    lengths: str  # how many of each
    together: str
    board_feet: str


@dataclass(frozen=True)
class BoardRow:
    """One cut of a board, or what is left of it."""

    board: str
    stock: str
    stock_length: str
    lane: str
    piece: str
    what: str
    place: str
    from_end: str
    length: str
    width: str


def degrees(angle: Fraction) -> str:
    """An angle for the eye: 22 1/2° or 22.6°."""
    whole, part = divmod(abs(angle), 1)
    if part == Fraction(1, 2):
        return f"{whole} 1/2°" if whole else "1/2°"
    return f"{float(abs(angle)):.4g}°"


def piece_numbers(pieces: Sequence[Piece]) -> dict[tuple[str, str], int]:
    """The row of the cut list on which each single piece stands, by its unit and place."""
    return {(piece.unit, place): n for n, piece in enumerate(pieces, start=1) for place in piece.places}


def piece_rows(shop: Shop) -> list[PieceRow]:
    """The whole cut list, numbered."""
    unit = shop.scheme.unit
    return [_piece(n, piece, unit) for n, piece in enumerate(shop.pieces, start=1)]


def _piece(number: int, piece: Piece, unit: Unit) -> PieceRow:
    bevelled = any(edge.angle for edge in piece.edges)
    short = piece.short_point != piece.length
    return PieceRow(
        str(number),
        piece.unit,
        piece.name,
        str(piece.count),
        show_length(piece.length, unit),
        fine(piece.width, unit),
        fine(piece.thickness, unit),
        ends_told(piece),
        show_length(piece.short_point, unit) if short else "",
        edges_told(piece),
        fine(piece.back_width, unit) if bevelled else "",
        "" if piece.material is Material.MOULDING else piece.grain.value if piece.grain is not Grain.ALONG else "along",
        piece.material.value,
        "loose until last" if piece.loose else "",
        "; ".join((*_panels(piece), *piece.notes, *piece.cautions)),
        "; ".join(piece.places),
    )


def _panels(piece: Piece) -> Iterator[str]:
    """The panels that mouldings go round, by the names that all papers have for them."""
    if piece.role is PieceRole.MOULDING:
        of = dict.fromkeys(place.removeprefix("moulding of ").rpartition(", ")[0] for place in piece.places)
        tiers: dict[str, list[str]] = {}
        for tier, _, number in (name.rpartition(" ") for name in of):
            tiers.setdefault(tier, []).append(number)
        yield from (f"of {tier}{'s' * (len(numbers) > 1)} {', '.join(numbers)}" for tier, numbers in tiers.items())


def ends_told(piece: Piece) -> str:
    """Both end cuts; one word where they are alike."""
    first, second = ("bottom", "top") if _stands(piece) else ("left", "right")
    one, other = (_end(end) for end in piece.ends)
    if one == other:
        return one if one == SQUARE_BOTH else f"both {one}"
    return f"{first} {one}; {second} {other}"


def _stands(piece: Piece) -> bool:
    return piece.role in (PieceRole.END_STILE, PieceRole.STILE, PieceRole.FILLER, PieceRole.STRIP, PieceRole.SHEET)


def _end(end: EndCut) -> str:
    note = f" ({end.note})" if end.note else ""
    if end.kind is CutKind.SQUARE:
        return f"{SQUARE_BOTH}{note}"
    angle = f" {degrees(end.angle)}" if end.angle else ""
    long_side = f", long point at the {end.long_side}" if end.long_side else ""
    return f"{end.kind}{angle}{long_side}{note}"


def edges_told(piece: Piece) -> str:
    """Both edges where either is bevelled; nothing where both are square."""
    if piece.edges == (SQUARE_EDGE, SQUARE_EDGE):
        return ""
    first, second = ("left", "right") if _stands(piece) else ("bottom", "top")
    one, other = (_edge(edge) for edge in piece.edges)
    return f"both {one}" if one == other else f"{first} {one}; {second} {other}"


def _edge(edge: Edge) -> str:
    if not edge.angle:
        return "square"
    return f"bevel {degrees(edge.angle)}, {'toe at the face' if edge.angle > 0 else 'toe at the back'}"


def running_rows(shop: Shop) -> list[RunningRow]:
    """Every stile of every run, in whole steps that add up to the shown run."""
    unit = shop.scheme.unit
    return [
        RunningRow(
            run.wall, run.name, show_length(run.left, unit), mark.name,
            show_length(mark.shown_left, unit), show_length(mark.shown_right, unit),
        )
        for run in shop.set_out
        for mark in run.running.marks
    ]  # fmt: skip


def begins(left: Fraction, unit: Unit) -> str:
    """Where a run begins that does not begin at its wall's left end, in words to be put after its name; else ""."""
    if not left:
        return ""
    return f"begins {show_length(abs(left), unit)} {'past' if left > 0 else 'before'} the wall's left end"


def height_rows(shop: Shop) -> list[HeightRow]:
    """Every level edge of every run."""
    unit = shop.scheme.unit
    return [
        HeightRow(run.wall, run.name, mark.name, show_length(mark.shown, unit))
        for run in shop.set_out
        for mark in run.heights
    ]


def take_off_rows(shop: Shop) -> list[TakeOffRow]:
    """Lineal, square and board feet by material and size; metres and square metres where the job speaks so."""
    unit = shop.scheme.unit
    return [
        TakeOffRow(
            row.material.value,
            fine(row.thickness, unit),
            "" if row.width is None else fine(row.width, unit),
            str(row.count),
            _lineal(row.lineal_feet, unit),
            _square(row.square_feet, unit),
            _nominal(row.counted) if row.counted and unit is Unit.INCH else "",
            _board_feet(row.board_feet, unit),
            f"{float(row.waste):.3g}".removesuffix(".0") if not row.waste else f"{float(row.waste * 100):.3g} %",
        )
        for row in shop.take_off
    ]


def _nominal(size: tuple[Fraction, Fraction]) -> str:
    """Thickness and width as the yard says them: 1 × 4."""
    return " × ".join(show_length(length).removesuffix('"') for length in size)


def _board_feet(feet: Fraction, unit: Unit) -> str:
    return f"{float(feet):.1f}" if feet and unit is Unit.INCH else ""


def _lineal(feet: Fraction, unit: Unit) -> str:
    return f"{float(feet * FOOT / METRE):.1f} m" if unit is Unit.MM else f"{float(feet):.1f} ft"


def _square(feet: Fraction, unit: Unit) -> str:
    return f"{float(feet * FOOT**2 / METRE**2):.2f} m²" if unit is Unit.MM else f"{float(feet):.1f} sq ft"


def stock_length(length: Fraction, unit: Unit) -> str:
    """A board's length as the yard says it."""
    if unit is Unit.INCH and length % FOOT == 0:
        return f"{length // FOOT} ft"
    return show_length(length, unit)


def stock_told(board: Board, unit: Unit) -> str:
    """A board's name and size, as one asks for it."""
    return f"{board.stock.name}, {_size(board.stock, unit)}"


def _size(stock: Stock, unit: Unit) -> str:
    """A board's length, a sheet's two sides."""
    if stock.material is Material.SHEET:
        return f"{show_length(stock.width, unit)} × {show_length(stock.length, unit)}"
    return stock_length(stock.length, unit)


def buy_rows(shop: Shop) -> list[BuyRow]:
    """What to ask the yard for: how many of each length, and what they come to together."""
    wanted: dict[tuple[Material, str], list[Stock]] = {}
    for packing in shop.packings:
        for board in packing.boards:
            wanted.setdefault((packing.material, board.stock.name), []).append(board.stock)
    return [_buy(material, name, stocks, shop.scheme.unit) for (material, name), stocks in wanted.items()]


def _buy(material: Material, name: str, stocks: Sequence[Stock], unit: Unit) -> BuyRow:
    ordered = sorted(stocks, key=lambda stock: (stock.length, stock.width))
    told = "; ".join(f"{n} of {size}" for size, n in Counter(_size(stock, unit) for stock in ordered).items())
    if material is Material.SHEET:
        area = sum((stock.length * stock.width for stock in stocks), Fraction(0))
        return BuyRow(name, told, _square(area / FOOT**2, unit), "")
    length = sum((stock.length for stock in stocks), Fraction(0))
    feet = sum((stock.board_feet for stock in stocks), Fraction(0)) if material is Material.BOARD else Fraction(0)
    return BuyRow(name, told, _lineal(length / FOOT, unit), _board_feet(feet, unit))


def buy_told(packing: Packing, unit: Unit) -> str:
    """What is proven of what is bought together."""
    names = dict.fromkeys(board.stock.name for board in packing.boards)
    return f"{', '.join(names)}: {packing.told(unit)}"


def board_rows(shop: Shop) -> list[BoardRow]:
    """Every board to buy, cut by cut; measured from the board's own end, the trim included."""
    boards = [board for packing in shop.packings for board in packing.boards]
    return [row for n, board in enumerate(boards, start=1) for row in _board(n, board, shop)]


def _board(number: int, board: Board, shop: Shop) -> Iterator[BoardRow]:
    unit, row_of = shop.scheme.unit, piece_numbers(shop.pieces)
    head = (str(number), board.stock.name, show_length(board.stock.length, unit))
    trim = shop.saw.sheet_trim if board.stock.material is Material.SHEET else shop.saw.trim
    for n, lane in enumerate(board.lanes, start=1):
        for cut in lane.cuts:
            yield BoardRow(
                *head, str(n), str(row_of[cut.piece.unit, cut.place]), cut.piece.name,
                f"{cut.place} of {cut.piece.unit}", show_length(trim / 2 + cut.at, unit),
                show_length(cut.length, unit), fine(cut.width, unit),
            )  # fmt: skip
        if lane.left:
            end = lane.cuts[-1].at + lane.cuts[-1].length
            yield BoardRow(
                *head, str(n), "", "left over", "", show_length(trim / 2 + end + shop.saw.kerf, unit),
                show_length(lane.left, unit), fine(lane.width, unit),
            )  # fmt: skip


def unit_groups(shop: Shop) -> list[tuple[str, list[PieceRow]]]:
    """The cut list unit by unit."""
    rows = piece_rows(shop)
    return [(name, [row for row in rows if row.unit == name]) for name in dict.fromkeys(row.unit for row in rows)]


def same_heights(shop: Shop) -> list[tuple[list[SetOut], SetOut]]:
    """Runs whose heights agree, together, each with one that stands for all."""
    groups: dict[tuple[Fraction, ...], list[SetOut]] = {}
    for run in shop.set_out:
        groups.setdefault(tuple(mark.shown for mark in run.heights), []).append(run)
    return [(runs, runs[0]) for runs in groups.values()]
