"""The story pole: every edge at full size on strips of paper that are glued end to end.

Frame: inches of the pole, x right from its start; for a pole that stands, that is up from the floor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from capture.lengths import MM, Unit, show_length
from layout.shop import SetOut
from report.drawing import Anchor, Box, Item, Line, Pen, Scale, Sheet, Text, Tone, hatch

FULL_SIZE = Scale("full size", 1.0)
HIGH = 1.22  # inches: of a strip
TAB = 0.34  # inches: what is glued under the next strip
BEFORE = 0.02  # so that the first line is drawn whole
WORDS_LOW = 0.06  # where turned lettering starts
WOOD = 0.72, 0.98  # the grey of what is wood
LINES = 1.0  # how far up an edge is drawn; over it stand the strip's own words
LEAST_BETWEEN = 0.13  # of two turned labels


def strip_length(unit: Unit) -> Fraction:
    """How much of the pole one strip bears: what letter and A4, lying on their side, both hold with the tab."""
    return Fraction(10) if unit is Unit.INCH else 250 * MM


@dataclass(frozen=True)
class Place:
    """An edge on the pole."""

    at: Fraction
    name: str


@dataclass(frozen=True)
class Pole:
    """What goes on one pole: edges, and stretches that are wood; inches."""

    name: str
    places: tuple[Place, ...]
    wood: tuple[tuple[Fraction, Fraction, str], ...]
    length: Fraction
    up: bool = False

    @property
    def kind(self) -> str:
        """What it is, for a heading."""
        return "heights from the floor" if self.up else "stiles from the left end"


def stile_pole(run: SetOut) -> Pole:
    """Both edges of every stile, from the run's left end."""
    marks = run.running.marks
    places = [Place(edge, mark.name) for mark in marks for edge in (mark.shown_left, mark.shown_right)]
    wood = tuple((mark.shown_left, mark.shown_right, mark.name) for mark in marks)
    return Pole(run.name, tuple(places), wood, run.running.shown_length)


def height_pole(runs: Sequence[SetOut]) -> Pole:
    """Every level edge above the floor, of runs whose heights agree."""
    names = ", ".join(run.name for run in runs)
    marks = runs[0].heights
    places = (Place(Fraction(0), "finished floor"), *(Place(mark.shown, mark.name) for mark in marks))
    return Pole(names, places, (), marks[-1].shown if marks else Fraction(0), up=True)


def strips(pole: Pole, unit: Unit) -> list[Sheet]:
    """The pole cut into strips at full size; each says its number and its check length."""
    each = strip_length(unit)
    count = max(1, ceil(pole.length / each))
    return [_strip(pole, n, count, each, unit) for n in range(count)]


def _strip(pole: Pole, n: int, count: int, each: Fraction, unit: Unit) -> Sheet:
    start, last = n * each, n == count - 1
    stop = pole.length if last else start + each
    items = [*_wood(pole, start, stop), *_ends(start, stop, last, n), *_places(pole, start, stop, unit)]
    items += _words(pole, n, count, start, stop, unit)
    title = f"Story pole of {pole.name}, strip {n + 1} of {count}, full size: {pole.kind}"
    told = "; ".join(f"{show_length(p.at, unit)} {p.name}" for p in pole.places if start <= p.at <= stop)
    return Sheet(title, told, FULL_SIZE, -BEFORE, 0.0, float(each) + TAB, HIGH, tuple(items))


def _wood(pole: Pole, start: Fraction, stop: Fraction) -> Iterator[Item]:
    """Where wood goes: grey, with the carpenter's cross."""
    for left, right, _ in pole.wood:
        a, b = max(left, start), min(right, stop)
        if a < b:
            low, high = float(a - start), float(b - start)
            yield Box(low, WOOD[0], high, WOOD[1], Pen.HAIR, Tone.WOOD)
            if (a, b) == (left, right):
                yield Line(((low, WOOD[0]), (high, WOOD[1])), Pen.HAIR)
                yield Line(((low, WOOD[1]), (high, WOOD[0])), Pen.HAIR)


def _ends(start: Fraction, stop: Fraction, last: bool, n: int) -> Iterator[Item]:
    """The two lines of a strip, and the tab that goes under the next one."""
    end = float(stop - start)
    yield Line(((0.0, 0.0), (0.0, HIGH)), Pen.MEDIUM)
    yield Line(((end, 0.0), (end, HIGH)), Pen.MEDIUM)
    yield Line(((0.0, 0.0), (end + (0 if last else TAB), 0.0)), Pen.HAIR, dashed=True)
    yield Line(((0.0, HIGH), (end + (0 if last else TAB), HIGH)), Pen.HAIR, dashed=True)
    if not last:
        yield from hatch(end + 0.13, 0.0, end + TAB, HIGH, 0.09)
        yield Text((end + 0.11, 0.12), f"glue under strip {n + 2}", 6.5, turned=True)
    for y in (0.35, 1.1):  # crosses that must meet the next strip's
        for x in (0.0, end):
            yield Line(((x - BEFORE if not x else x - 0.06, y), (x + 0.06, y)), Pen.FINE)


def _places(pole: Pole, start: Fraction, stop: Fraction, unit: Unit) -> Iterator[Item]:
    """Each edge as a line across the strip, lettered beside it."""
    mine = [place for place in pole.places if start < place.at <= stop or place.at == start == 0]
    room = -1.0
    for n, place in enumerate(sorted(mine, key=lambda place: place.at)):
        x = float(place.at - start)
        yield Line(((x, 0.0), (x, LINES)), Pen.FINE)
        told = show_length(place.at, unit)
        if pole.up:  # along the strip, with a name, on three levels in turn
            before = x > float(stop - start) - 2.0 and x > 2.0
            at = (x - 0.05 if before else x + 0.05, 0.1 + 0.26 * (n % 3))
            yield Text(at, f"{told}  {_cut(place.name, 30)}", 8.5, Anchor.END if before else Anchor.START, bold=True)
        else:
            wanted = x - 0.035 if x > 0.2 else x + 0.13
            room = max(wanted, room + LEAST_BETWEEN)
            yield Text((room, WORDS_LOW), told, 9, turned=True, bold=True)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _words(pole: Pole, n: int, count: int, start: Fraction, stop: Fraction, unit: Unit) -> Iterator[Item]:
    check = show_length(stop - start, unit)
    middle = float(stop - start) / 2
    whole = f"{_cut(pole.name, 40)}: strip {n + 1} of {count}, line to line {check}"
    short = f"{n + 1} of {count}: {check}"
    for told in (whole, short):
        half = 0.031 * len(told) + 0.06
        if half + 0.3 < middle:
            yield Box(middle - half, 1.03, middle + half, 1.19, Pen.HAIR, Tone.PAPER)
            yield Text((middle, 1.075), told, 8, Anchor.MIDDLE)
            return
