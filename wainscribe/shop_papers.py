"""What goes to the shop and to others' programs: the shop sheet, its tables, and all of it as JSON."""

import json
from collections.abc import Iterator

from layout.plan import Plan
from layout.shop import Shop
from report.papers import ReportFacts
from report.shop import shop_sheet
from report.shop_tables import (
    BoardRow,
    HeightRow,
    PieceRow,
    RunningRow,
    TakeOffRow,
    board_rows,
    height_rows,
    piece_rows,
    running_rows,
    take_off_rows,
)
from report.tables import write_csv
from wainscribe import told
from wainscribe.actions.yard import gather
from wainscribe.job import Job


def shop_papers(job: Job, plan: Plan, facts: ReportFacts) -> dict[str, bytes | str]:
    """Every file for the shop by its name."""
    shop = gather(job, plan)
    return {"shop-sheet.pdf": shop_sheet(shop, facts), **dict(_tables(shop)), "cuts.json": _json(shop)}


def _tables(shop: Shop) -> Iterator[tuple[str, str]]:
    yield "cut-list.csv", write_csv(PieceRow, piece_rows(shop))
    yield "running.csv", write_csv(RunningRow, running_rows(shop))
    yield "heights.csv", write_csv(HeightRow, height_rows(shop))
    yield "take-off.csv", write_csv(TakeOffRow, take_off_rows(shop))
    yield "boards.csv", write_csv(BoardRow, board_rows(shop))


def _json(shop: Shop) -> str:
    return json.dumps(told.cuts(shop), indent=1)
