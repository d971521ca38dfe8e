"""The story pole: every edge at full size on strips of paper that are glued end to end.

Frame: inches of the pole, x right from its start; for a pole that stands, that is up from the floor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from capture.lengths import MM, Unit, show_length
from layout.shop import SetOut
from report.drawing import Anchor, Box, Item, Line, Pen, Scale, Sheet, Text, Tone, hatch
from report.letters import wide

FULL_SIZE = Scale("full size", 1.0)
HIGH = 1.0  # inches: of a strip
TAB = 0.34  # inches: what is glued under the next strip
BEFORE = 0.02  # so that the first line is drawn whole
WORDS_LOW = 0.06  # where turned lettering starts
WOOD = 0.66, 0.78  # the grey of what is wood
LINES = 0.8  # how far up an edge is drawn; over it stand the strip's own words
WHOLE = 10  # parts of a strip: one that is not glued begins a whole number of them along the pole, easily found by tape
NEAR = 40  # parts of a strip: no edge comes nearer than one of them behind such a beginning
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
    left: Fraction = Fraction(0)  # where the run begins, from the wall's left end

    @property
    def kind(self) -> str:
        """What it is, for a heading."""
        return "heights from the floor" if self.up else "stiles from the run's left end"


def stile_pole(run: SetOut) -> Pole:
    """Both edges of every stile, from the run's left end."""
    marks = run.running.marks
    places = [Place(edge, mark.name) for mark in marks for edge in (mark.shown_left, mark.shown_right)]
    wood = tuple((mark.shown_left, mark.shown_right, mark.name) for mark in marks)
    return Pole(run.name, tuple(places), wood, run.running.shown_length, left=run.left)


def height_pole(runs: Sequence[SetOut]) -> Pole:
    """Every level edge above the floor, of runs whose heights agree."""
    names = ", ".join(run.name for run in runs)
    marks = runs[0].heights
    places = (Place(Fraction(0), "finished floor"), *(Place(mark.shown, mark.name) for mark in marks))
    return Pole(names, places, (), marks[-1].shown if marks else Fraction(0), up=True)


@dataclass(frozen=True)
class Strip:
    """One stretch of a pole on paper; inches of the pole."""

    number: int  # from 1
    count: int  # of the pole
    start: Fraction
    stop: Fraction
    after: Fraction | None  # where the next one begins; None for the last


def strips(pole: Pole, unit: Unit) -> list[Sheet]:
    """The strips of a pole at full size; each says its number, where it goes and its check length."""
    return [_drawn(pole, strip, unit) for strip in stretches(pole, strip_length(unit))]


def stretches(pole: Pole, each: Fraction) -> list[Strip]:
    """The fewest strips `each` inches long that bear every edge and both ends of the pole.

    What lies between two strips is left out; a strip whose first edge follows close on the one before is glued to it.
    """
    step = each / WHOLE
    ends = sorted({*(place.at for place in pole.places), pole.length})
    starts = [Fraction(0)]
    for at in ends:
        if at > starts[-1] + each:
            starts.append(max(starts[-1] + each, (at - each / NEAR) // step * step))
    return [
        Strip(k + 1, len(starts), start, min(start + each, pole.length), after)
        for k, (start, after) in enumerate(zip(starts, [*starts[1:], None], strict=True))
    ]


def _drawn(pole: Pole, strip: Strip, unit: Unit) -> Sheet:
    start, stop, each = strip.start, strip.stop, strip_length(unit)
    items = [*_wood(pole, start, stop), *_ends(strip, unit), *_places(pole, start, stop, unit)]
    items += _words(pole, strip, unit)
    title = f"Story pole of {pole.name}, strip {strip.number} of {strip.count}, full size: {pole.kind}"
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


def _ends(strip: Strip, unit: Unit) -> Iterator[Item]:
    """The two lines of a strip, and the tab that goes under the next one, or where that goes."""
    end, glued = float(strip.stop - strip.start), strip.after == strip.stop
    yield Line(((0.0, 0.0), (0.0, HIGH)), Pen.MEDIUM)
    yield Line(((end, 0.0), (end, HIGH)), Pen.MEDIUM)
    yield Line(((0.0, 0.0), (end + TAB * glued, 0.0)), Pen.HAIR, dashed=True)
    yield Line(((0.0, HIGH), (end + TAB * glued, HIGH)), Pen.HAIR, dashed=True)
    if glued:
        yield from hatch(end + 0.13, 0.0, end + TAB, HIGH, 0.09)
        yield Text((end + 0.11, 0.12), f"glue under strip {strip.number + 1}", 6.5, turned=True)
    elif strip.after is not None:
        yield Text(
            (end + 0.11, 0.12), f"strip {strip.number + 1}: at {show_length(strip.after, unit)}", 6.5, turned=True
        )
    for y in (0.35, 0.9):  # crosses that must meet the next strip's
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


def _words(pole: Pole, strip: Strip, unit: Unit) -> Iterator[Item]:
    check, begins = show_length(strip.stop - strip.start, unit), show_length(strip.start, unit)
    middle = float(strip.stop - strip.start) / 2
    number = f"{strip.number} of {strip.count}"
    whole = f"{_cut(pole.name, 40)}: strip {number}, begins at {begins}, line to line {check}"
    short = f"{number}, at {begins}: {check}"
    for told in (whole, short):
        half = wide(told, 8) / 2 + 0.06
        if half + 0.3 < middle:
            yield Box(middle - half, 0.82, middle + half, 0.98, Pen.HAIR, Tone.PAPER)
            yield Text((middle, 0.865), told, 8, Anchor.MIDDLE)
            return
