"""Which pieces are cut from the same stock; and what no stock gives, by how much.

A board as wide as a piece is crosscut only. Where the yard has no board of a piece's width, wider boards are ripped.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from layout.packing import Saw
from layout.pieces import Grain, Piece
from layout.stock import Material, Stock, StockError


@dataclass(frozen=True)
class Group:
    """Pieces that share stock, and from which stock each width may come."""

    pieces: tuple[Piece, ...]
    sources: dict[Fraction, tuple[Stock, ...]]  # by the pieces' width


def groups(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> Iterator[Group]:
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


def _sheets(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> Group:
    for piece in pieces:
        _check_saw(piece, saw)
        if not any(_fits_sheet(piece, stock, saw) for stock in stocks):
            raise _no_sheet(piece, max(stocks, key=lambda stock: stock.length * stock.width), saw)
    return Group(tuple(pieces), {piece.sawn_width: tuple(stocks) for piece in pieces})


def _fits_sheet(piece: Piece, stock: Stock, saw: Saw) -> bool:
    length, width = saw.usable(stock)
    return any(along <= length and across <= width for along, across in ways_to_lie(piece))


def ways_to_lie(piece: Piece) -> list[tuple[Fraction, Fraction]]:
    """How a piece may lie on a sheet whose grain runs along its length: size along it and across."""
    lies, stands = (piece.length, piece.sawn_width), (piece.sawn_width, piece.length)
    return {Grain.ALONG: [lies], Grain.ACROSS: [stands], Grain.EITHER: [lies, stands]}[piece.grain]


def _boards(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw) -> Iterator[Group]:
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
        yield Group(group, {width: sources[width] for width in widths})


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
    over = min(max(along - length, across - width) for along, across in ways_to_lie(piece))
    return StockError(
        lambda show: (
            f"“{piece.name}” of {piece.unit} is {show(piece.length)} by {show(piece.sawn_width)} and the "
            f"largest sheet that thick, {largest.spoken(show)}, gives {show(length)} by {show(width)}"
            f"{'' if piece.grain is Grain.EITHER else ' with its grain as wanted'}, {show(over)} less; "
            "add larger sheets or allow a seam."
        )
    )
