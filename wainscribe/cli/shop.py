"""Commands for the shop: what the yard has, and what is to be cut."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path

import click

from capture.lengths import Unit
from layout.bevels import fine
from layout.shop import Shop
from layout.yard import Yard
from report.shop_tables import (
    BoardRow,
    begins,
    board_rows,
    buy_rows,
    buy_told,
    height_rows,
    running_rows,
    take_off_rows,
    unit_groups,
)
from wainscribe import actions, told
from wainscribe.cli.words import AS_JSON, JOB, answer, examples, say, show_given, tell_findings, unit_of
from wainscribe.folder import JobFolder
from wainscribe.params import SETTING


@click.command(
    short_help="Note what boards the yard has, or show it.",
    epilog=examples("wainscribe yard miller 'board.1 x 4=8 ft, 12 ft' kerf=3/32 waste=15%", "wainscribe yard miller"),
)
@JOB
@click.argument("notes", type=SETTING, nargs=-1)
def yard(job: Path, notes: tuple[tuple[str, str], ...]) -> None:
    """Note what the yard has and how the shop saws, KEY=VALUE, or show it.

    Such as: 'board.1 x 4=8 ft, 12 ft' 'board.poplar=3/4 x 5 1/2: 10 ft' 'moulding.panel mould=1/2 x 7/8: 16 ft'
    'sheet.MDF=1/4: 48 x 96' 'price.1 x 4=1.85/ft' kerf=3/32 trim=1 waste=10% longest='12 ft' keep_length=24
    least='board feet'. “3 of 8 ft” says how many there are. KEY= alone takes a size out, or goes back to the usual.
    """
    folder = JobFolder(job)
    before = folder.load().yard
    kept = actions.set_yard(folder, dict(notes)) if notes else before
    unit = unit_of(folder)
    now = dict(_lines(kept, unit))
    if not kept.stocks and (before.stocks or not notes):
        click.echo("boards, mouldings, sheets: as usual")
    gone = [key for key, _ in _lines(before, unit) if key not in now]  # a price goes with its board
    show_given(now, [*(".".join(map(str.strip, key.split(".", 1))) for key, _ in notes), *gone], "Yard")


def _lines(yard: Yard, unit: Unit) -> Iterator[tuple[str, str]]:
    """All that is noted of the yard by its key, as people read it."""
    for word, (field, _) in actions.NAMED.items():
        yield from ((f"{word}.{name}", text) for name, text in getattr(yard, field).items())
    for field in actions.PLAIN:
        value = getattr(yard, field)
        yield field, _told(yard, field) or (fine(value, unit) if field in SIZES else str(value))


SIZES = ("kerf", "trim", "sheet_trim", "longest", "keep_length", "keep_width")


def _told(kept: Yard, field: str) -> str:
    if field == "waste":
        return f"{float(kept.waste * 100):g}%"
    return "whatever the yard has" if field == "longest" and not kept.longest else ""


@click.command(
    short_help="Tell the cut list, the setting out and what to buy.",
    epilog=examples("wainscribe cuts miller", "wainscribe cuts miller --json"),
)
@JOB
@AS_JSON
def cuts(job: Path, as_json: bool) -> None:
    """Tell the cut list, running dimensions, order of work, take-off and boards to buy."""
    folder = JobFolder(job)
    noted = folder.load()
    solved, planned = actions.plan_job(folder, noted)
    for one in solved:
        tell_findings(one.findings)
    shop = actions.gather(noted, planned)
    if as_json:
        answer(told.cuts(shop))
    else:
        _tell(shop)
    if shop.amiss:
        raise click.ClickException(" ".join(shop.amiss))


def _tell(shop: Shop) -> None:
    _tell_pieces(shop)
    _tell_set_out(shop)
    _tell_boards(shop)
    for sentence in shop.taken:
        say(f"note: {sentence}")
    for sentence in shop.untaped:
        say(f"warning: tape before cutting: {sentence}")


def _tell_pieces(shop: Shop) -> None:
    for name, rows in unit_groups(shop):
        click.echo(name)
        for row in rows:
            more = "; ".join(part for part in (row.ends, row.edges, row.loose, row.note) if part and part != "square")
            size = f"{row.count} of {row.length} × {row.width} × {row.thickness}"
            click.echo(f"  {row.number:>3} {row.name}: {size}{'; ' if more else ''}{more}")


def _tell_set_out(shop: Shop) -> None:
    click.echo("running dimensions, from the left end of each run")
    for run in shop.set_out:
        if where := begins(run.left, shop.scheme.unit):
            click.echo(f"  {run.name} {where}")
    for row in running_rows(shop):
        click.echo(f"  {row.run}: {row.stile} from {row.left_edge} to {row.right_edge}")
    click.echo("heights above the finished floor")
    for level in height_rows(shop):
        click.echo(f"  {level.run}: {level.edge} {level.above_floor}")
    for room in shop.orders:
        click.echo(f"order of work: {', '.join(room.walls)}")
        for n, step in enumerate(room.steps, start=1):
            click.echo(f"  {n}. {step}")


def _tell_boards(shop: Shop) -> None:
    click.echo("take-off, waste in it")
    for row in take_off_rows(shop):
        feet = f", {row.board_feet} board feet counted as {row.counted_as}" if row.board_feet else ""
        wide = f" × {row.width}" if row.width else ""
        click.echo(f"  {row.material} {row.thickness}{wide}: {row.lineal}, {row.square}{feet}")
    click.echo("to buy")
    for bought in buy_rows(shop):
        feet = f", {bought.board_feet} board feet" if bought.board_feet else ""
        click.echo(f"  {bought.what}: {bought.lengths}; {bought.together} together{feet}")
    for packing in shop.packings:
        click.echo(f"  {buy_told(packing, shop.scheme.unit)}")
    for _, lanes in groupby(board_rows(shop), key=lambda cut: cut.board):
        _tell_board(list(lanes))


def _tell_board(cuts: Sequence[BoardRow]) -> None:
    """Where each cut begins; equal pieces that follow one another in a line."""
    click.echo(f"board {cuts[0].board}: {cuts[0].stock}, {cuts[0].stock_length}")
    ripped = len({cut.lane for cut in cuts}) > 1
    for _, following in groupby(cuts, key=lambda cut: (cut.lane, cut.piece)):
        alike = list(following)
        first = alike[0]
        strip = f"strip {first.lane}, " if ripped else ""
        size = f"{first.length}{f' × {first.width}' if ripped else ''}"
        what = f"{first.piece} {first.what}, {first.place}, {size}" if first.piece else f"{first.what}, {size}"
        if len(alike) > 1:
            what = f"{first.piece} {first.what}, {len(alike)} of {size}"
        click.echo(f"  {strip}at {first.from_end}: {what}")
