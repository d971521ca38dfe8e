"""The command line: each command parses, calls one action, and prints."""

from pathlib import Path

import click

from report.cardsheet import PAPERS, cards_pdf


@click.group()
def main() -> None:
    """Measure walls from photographs, plan wainscot on them, make the papers."""


@main.command()
@click.option("--paper", type=click.Choice(sorted(PAPERS)), default="letter", show_default=True)
@click.option("--first", type=click.IntRange(1, 586), default=1, show_default=True, help="Number of the first card.")
@click.option("--last", type=click.IntRange(1, 586), default=12, show_default=True, help="Number of the last card.")
@click.option("--print-run", default="first", show_default=True, help="Name printed on each card of this print run.")
@click.option("-o", "--output", type=click.Path(path_type=Path), default=Path("cards.pdf"), show_default=True)
def cards(paper: str, first: int, last: int, print_run: str, output: Path) -> None:
    """Make reference cards to print, one a page, at true scale."""
    output.write_bytes(cards_pdf(range(first, last + 1), PAPERS[paper], print_run))
    click.echo(f"Cards {first} to {last} are in {output}. Print at 100 %.", err=True)
