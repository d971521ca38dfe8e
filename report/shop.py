"""The shop sheet: what to cut, from what, in which order, and where it goes; with a story pole at full size."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from markupsafe import Markup

from capture.lengths import MM, Unit, show_length
from layout.pieces import NARROW_RIP
from layout.shop import Shop
from layout.stock import Material
from report.cardsheet import Paper
from report.cautions import SITE, Caution, cautions
from report.drawing import Sheet
from report.papers import MARGIN, Pictures, ReportFacts, WallPages, setting, shorten
from report.printing import to_pdf
from report.shop_bevels import bevelled, corner_sheets, section_sheet
from report.shop_boards import board_sheet, offcut_words
from report.shop_pole import Pole, height_pole, stile_pole, strip_length, strips
from report.shop_tables import (
    begins,
    buy_rows,
    buy_told,
    piece_numbers,
    running_rows,
    same_heights,
    stock_told,
    take_off_rows,
    unit_groups,
)
from report.site_report import house_of
from report.svg import to_svg

MARGIN_POLE = 0.3  # round the pages of the story pole, which lie on their side
FOOT_POLE = 0.45  # and below them, for the page's number
HEAD_POLE = 0.8  # paper inches that the words of a pole's page take
STRIP_PITCH = 1.11  # from one strip to the next

SHOP_CAUTIONS = (
    Caution(
        "Narrow rips and bevels",
        "Rip and bevel narrow strips from wide stock, the strip falling free on the far side of the blade, never "
        "trapped at the fence. Guard and splitter on, push block in hand; bevel before the strip is ripped off. "
        "Unplug the saw to change or tilt the blade. Eyes and ears protected.",
    ),
)
# Common practice, no source.
FASTENERS = Caution(
    "Fasteners",
    "Cable, gas and water run in walls where nobody sees them. Nails and screws go into studs and plates that were "
    "found, no longer than they must be, and not above, below or beside a box, a switch or a pipe.",
)
SMALL_PIECES = Caution(
    "Small pieces",
    "Pieces shorter than a hand is long are never held by hand at the saw: cut them from a longer piece that is "
    "clamped or held by a stop, and let the blade come to rest before they are taken away.",
)
SMALL = Fraction(8)  # in
# Headings of the house's cautions that concern who cuts and fits wood, round boxes too.
OF_THE_SHOP = ("wiring", "dust", "paint", "compound")


@dataclass(frozen=True)
class _Drawn:
    """A drawing for the template."""

    svg: Markup
    title: str
    scale: str
    width: float


def _kerf(kerf: Fraction, unit: Unit) -> str:
    """Finer than other lengths: 3/32 in and 2.4 mm are usual."""
    return f"{float(kerf / MM):.1f} mm" if unit is Unit.MM else show_length(kerf, unit, Fraction(1, 64))


def shop_sheet(shop: Shop, facts: ReportFacts, walls: Sequence[WallPages] = ()) -> bytes:
    """The shop sheet as a tagged PDF.

    Parameters
    ----------
    shop
        All that is to be cut.
    facts
        Who, where, when; unit, paper, year built.
    walls
        What is known of the walls, for the cautions.
    """
    paper, unit, pictures = facts.sheet, facts.unit, Pictures()
    context = setting(facts, "Shop sheet", pictures) | {
        "margin_pole": MARGIN_POLE,
        "foot_pole": FOOT_POLE,
        "foot": "Cut from a tape reading, not from a photo.",
        "title": shorten(facts.job, 120),
        "shop": shop,
        "units": unit_groups(shop),
        "counts": _counts(shop),
        "buy": buy_rows(shop),
        "proven": [buy_told(packing, unit) for packing in shop.packings],
        "running_groups": _running(shop),
        "heights": _heights(shop, unit),
        "sections": [(one, _drawn(section_sheet(one.number, one.piece, unit))) for one in bevelled(shop)],
        "corners": [_drawn(sheet) for sheet in corner_sheets(shop)],
        "boards": _boards(shop, paper, unit),
        "offcuts": [
            offcut_words(cut.stock.name, cut.length, cut.width, unit)
            for packing in shop.packings
            for cut in packing.offcuts
        ],
        "take_off": take_off_rows(shop),
        "poles": _poles(shop, paper, unit),
        "strip": show_length(strip_length(unit), unit),
        "cautions": _cautions(shop, facts, walls),
        "narrow": NARROW_RIP,
        "kerf": _kerf(shop.saw.kerf, unit),
        "trim": show_length(shop.saw.trim, unit),
    }
    return to_pdf("shop_sheet.html", context, pictures.packed())


def _drawn(sheet: Sheet) -> _Drawn:
    return _Drawn(Markup(to_svg(sheet)), sheet.title, sheet.scale.name, sheet.paper_size[0])


def _counts(shop: Shop) -> dict[str, Any]:
    return {
        "pieces": sum(piece.count for piece in shop.pieces),
        "runs": len(shop.set_out),
        "boards": sum(len(packing.boards) for packing in shop.packings),
    }


def _running(shop: Shop) -> list[dict[str, Any]]:
    rows, unit = running_rows(shop), shop.scheme.unit
    groups = []
    for run in shop.set_out:
        mine = [row for row in rows if row.run == run.name]
        over = float(run.running.left_over)
        told = (
            f"rounding {'adds' if over > 0 else 'takes'} {_small(abs(over), unit)} over the whole run" if over else ""
        )
        starts = show_length(run.left, unit)
        groups.append({"name": run.name, "starts": starts, "rows": mine, "over": told})
    return groups


def _small(length: float, unit: Unit) -> str:
    return f"{length * 25.4:.2f} mm" if unit is Unit.MM else f"{length:.3f} in"


def _heights(shop: Shop, unit: Unit) -> list[dict[str, Any]]:
    return [
        {
            "names": ", ".join(run.name for run in runs),
            "rows": [(mark.name, show_length(mark.shown, unit)) for mark in one.heights],
        }
        for runs, one in same_heights(shop)
    ]


def _boards(shop: Shop, paper: Paper, unit: Unit) -> list[dict[str, Any]]:
    """Every board drawn, numbered through; all of one packing's kind at one scale."""
    rows = piece_numbers(shop.pieces)
    room = paper.width - 2 * MARGIN - 0.05
    told, number = [], 0
    for packing in shop.packings:
        sheets = packing.material is Material.SHEET
        kind = [p for p in shop.packings if (p.material is Material.SHEET) == sheets]
        longest = max(board.stock.length for p in kind for board in p.boards)
        for board in packing.boards:
            number += 1
            drawn = _drawn(board_sheet(board, shop.saw, rows, room, longest, unit))
            told.append({"number": number, "stock": stock_told(board, unit), "drawn": drawn, "sheet": sheets})
    return told


def _poles(shop: Shop, paper: Paper, unit: Unit) -> list[dict[str, Any]]:
    """Strips page by page: as many as fit a page that lies on its side."""
    wanted: list[Pole] = [stile_pole(run) for run in shop.set_out]
    wanted += [height_pole(runs) for runs, one in same_heights(shop) if one.heights]
    most = int((paper.width - MARGIN_POLE - FOOT_POLE - HEAD_POLE) / STRIP_PITCH)
    pages: list[dict[str, Any]] = []
    waiting: list[tuple[str, _Drawn]] = []
    for pole in wanted:
        head = ", which ".join(part for part in (f"{pole.name}: {pole.kind}", begins(pole.left, unit)) if part)
        waiting += [(head, _drawn(sheet)) for sheet in strips(pole, unit)]
    for start in range(0, len(waiting), most):
        page = waiting[start : start + most]
        names = list(dict.fromkeys(name for name, _ in page))
        pages.append({"names": names, "strips": [drawn for _, drawn in page]})
    return pages


def _cautions(shop: Shop, facts: ReportFacts, walls: Sequence[WallPages]) -> Sequence[Caution]:
    """Those for who saws, and of the house's those for who breathes and sands there."""
    sawn = any(piece.narrow or any(edge.angle for edge in piece.edges) for piece in shop.pieces)
    told = cautions(facts.year_built, SITE, house_of(facts, walls))
    house = [c for c in told if any(word in c.heading.lower() for word in OF_THE_SHOP)]
    small = any(piece.length < SMALL for piece in shop.pieces)
    return (*(SHOP_CAUTIONS if sawn else ()), *([SMALL_PIECES] if small else ()), FASTENERS, *house)
