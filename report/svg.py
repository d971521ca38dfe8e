"""A drawing as SVG at true scale: one placement of wall inches on paper, the flip of y included, applied once."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from report.drawing import Box, Dimension, Flag, Item, Line, Point, Sheet, Text
from report.printing import TEMPLATES
from report.symbols import Symbol
from report.typeset import lettered, printable

POINTS = 72.0  # user units to a paper inch
INK = "#111"
FONTS = "Inter, DejaVu Sans, sans-serif"
_CAP = 0.36  # half the height of a capital, in letter sizes: what centres a letter on a point


class Element(NamedTuple):
    """One SVG element, its numbers already in points of paper."""

    tag: str
    attributes: dict[str, str]
    text: str = ""


@dataclass(frozen=True)
class Placement:
    """From wall inches to points of paper, y down."""

    left: float
    top: float
    factor: float

    def __call__(self, point: Point) -> Point:
        """The place on paper of a wall point."""
        return (point[0] - self.left) * self.factor, (self.top - point[1]) * self.factor


def to_svg(sheet: Sheet) -> str:
    """The drawing as a stand-alone SVG, also fit to stand inside a page.

    One user unit is a point (1/72 in) of paper; width and height are stated in inches, so that it prints to scale.
    """
    width, height = sheet.paper_size
    place = Placement(sheet.left, sheet.top, POINTS * sheet.scale.factor)
    return TEMPLATES.get_template("drawing.svg").render(
        width=f"{_n(width)}in",
        height=f"{_n(height)}in",
        view_box=f"0 0 {_n(width * POINTS)} {_n(height * POINTS)}",
        title=printable(sheet.title),
        description=printable(sheet.description),
        elements=list(_joined(element for item in sheet.items for element in _draw(item, place))),
    )


def symbol_svg(symbol: Symbol, title: str, size: float = 15.0) -> str:
    """One verdict's sign alone, `size` points wide, for a line of text or a table."""
    return TEMPLATES.get_template("drawing.svg").render(
        width=f"{_n(size)}pt",
        height=f"{_n(size)}pt",
        view_box=f"0 0 {_n(size)} {_n(size)}",
        title=printable(title),
        description="",
        elements=list(_sign(symbol, (size / 2, size / 2), size * 0.42)),
    )


def _joined(elements: Iterable[Element]) -> Iterator[Element]:
    """Lines of one pen, one after the other, as one path: the hatching of a board has hundreds."""
    for (tag, pen), alike in groupby(elements, key=lambda element: (element.tag, element.attributes | {"d": ""})):
        if tag == "path":
            yield Element(tag, pen | {"d": "".join(element.attributes["d"] for element in alike)})
        else:
            yield from alike


def _draw(item: Item, place: Placement) -> Iterator[Element]:
    match item:
        case Line():
            yield _line(item, place)
        case Box():
            yield _box(item, place)
        case Text():
            yield _text(item, place)
        case Dimension():
            yield Element("path", {"d": _path(item.path, place), "stroke": INK, "stroke-width": "0.3", "fill": "none"})
            yield _text(item.label, place)
        case Flag():
            yield from _flag(item, place)


def _line(line: Line, place: Placement) -> Element:
    attributes = {"d": _path(line.points, place), "fill": "none", "stroke": INK, "stroke-width": str(line.pen.value)}
    return Element("path", attributes | _dashes(line.dashed))


def _box(box: Box, place: Placement) -> Element:
    x, y = place((box.left, box.top))
    right, bottom = place((box.right, box.bottom))
    attributes = {
        "x": _n(x), "y": _n(y), "width": _n(right - x), "height": _n(bottom - y),
        "fill": box.tone.value, "stroke": INK, "stroke-width": str(box.pen.value),
    }  # fmt: skip
    return Element("rect", attributes | _dashes(box.dashed))


def _text(text: Text, place: Placement) -> Element:
    x, y = place(text.at)
    attributes = {
        "x": _n(x), "y": _n(y), "font-family": FONTS, "font-size": _n(text.points), "fill": INK,
        "text-anchor": text.anchor.value,
    }  # fmt: skip
    if text.bold:
        attributes["font-weight"] = "600"
    if text.turned:
        attributes["transform"] = f"rotate(-90 {_n(x)} {_n(y)})"
    return Element("text", attributes, lettered(text.text))


def _flag(flag: Flag, place: Placement) -> Iterator[Element]:
    x, y = place(flag.at)
    radius = flag.radius * place.factor
    yield Element(
        "circle", {"cx": _n(x), "cy": _n(y), "r": _n(radius), "fill": "#fff", "stroke": INK, "stroke-width": "0.9"}
    )
    yield _letter(str(flag.number), (x, y), radius * (1.25 if flag.number < 10 else 1.05 if flag.number < 100 else 0.8))
    if flag.symbol is not None:
        yield from _sign(flag.symbol, (x + 2.3 * radius, y), 1.05 * radius)


def _sign(symbol: Symbol, centre: Point, unit: float) -> Iterator[Element]:
    x, y = centre
    points = " ".join(f"{_n(x + unit * dx)},{_n(y - unit * dy)}" for dx, dy in symbol.shape)
    fill, ink = (INK, "#fff") if symbol.filled else ("#fff", INK)
    yield Element("polygon", {"points": points, "fill": fill, "stroke": INK, "stroke-width": "0.9"})
    yield _letter(symbol.letter, (x, y + unit * symbol.drop), unit * 1.15, ink)


def _letter(text: str, centre: Point, size: float, ink: str = INK) -> Element:
    attributes = {
        "x": _n(centre[0]), "y": _n(centre[1] + _CAP * size), "font-family": FONTS, "font-size": _n(size),
        "font-weight": "700", "text-anchor": "middle", "fill": ink,
    }  # fmt: skip
    return Element("text", attributes, text)


def _path(points: tuple[Point, ...], place: Placement) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in map(place, points))


def _dashes(dashed: bool) -> dict[str, str]:
    return {"stroke-dasharray": "4 2.5"} if dashed else {}


def _n(value: float) -> str:
    # Rounding happens here and nowhere earlier: a thousandth of a point.
    return f"{value:.3f}".rstrip("0").rstrip(".")
