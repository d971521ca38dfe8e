"""Reference cards to print: one a page, at true scale, the card's origin at the middle of the page."""

from dataclasses import dataclass

from capture import cards
from report.printing import to_pdf

Line = tuple[float, float, float, float]  # x1, y1, x2, y2 on the page, inches from its middle, y down


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, inches."""

    name: str
    width: float
    height: float


PAPERS = {
    "letter": Paper("letter", 8.5, 11.0),  # ANSI/ASME Y14.1 size A
    "a4": Paper("a4", 210 / 25.4, 297 / 25.4),  # ISO 216
}


def cards_pdf(numbers: range, paper: Paper, print_run: str) -> bytes:
    """The cards `numbers`, one a page, as a PDF."""
    return to_pdf(
        "cards.html",
        {
            "sheets": [{"number": n, "squares": cards.black_squares(n)} for n in numbers],
            "lines": _laser_ticks() + _check_bar(),
            "paper": paper,
            "view_box": f"{-paper.width / 2} {-paper.height / 2} {paper.width} {paper.height}",
            "print_run": print_run,
            "bar": _both_units(cards.BAR),
            "bar_up": _both_units(cards.BAR_UP),
        },
    )


def _laser_ticks() -> list[Line]:
    outer = float(cards.saddle_points()[:, 0].max()) + cards.SQUARE
    inner = cards.MARKER / 2 + cards.CELL + 0.06  # leaves the marker's white border whole
    return [(-outer, 0.0, -inner, 0.0), (inner, 0.0, outer, 0.0)]


def _check_bar() -> list[Line]:
    half, y, tick = cards.BAR / 2, 3.1, 0.12
    ends = [(x, y - tick, x, y + tick) for x in (-half, half)]
    return [(-half, y, half, y), *ends]


def _both_units(inches: float) -> str:
    return f"{inches:g} in ({inches * 25.4:.1f} mm)"
