"""A wall as DXF at full size: what stands there and what is planned, on layers named as the trade speaks.

Frame: the wall's inches or millimetres, x right from the left end, y up from the finished floor; the plan's own exact
places, not those of a drawing at scale. ezdxf writes the file; the format is DXF R2010 (AC1024).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from io import StringIO

from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from capture.lengths import MM, Unit, show_length
from capture.measured import Measured
from capture.record import TRAITS, EndKind, Kind, Shape, Side
from capture.survey import Feature, WallSurvey
from layout.frames import Frame, Member, Rect, Role
from layout.plan import WallPlan
from report.board import wall_width
from report.boxes import planned_places
from report.numbers import numbers
from report.standing import STANDING, outline_of
from report.typeset import printable

LETTERS = 1.25  # wall inches high
STEP = 2.0  # wall inches from a dimension's end to what it measures
LONGEST_WORDS = 200  # letters; a line of text in the format holds some 250
CEILING = 96.0  # wall inches: how far up a wall goes whose ceiling nobody measured; common practice, no source

# Layer: colour by its index in the format (7 is the paper's black or white), line weight in 1/100 mm.
LAYERS = {
    "wall": (7, 50), "casing": (8, 25), "window": (8, 25), "stud": (9, 13), "level line": (9, 13), "plate": (1, 25),
    "register": (1, 25), "moved from": (8, 13), "other": (8, 25), "stile": (5, 25), "rail": (5, 25),
    "filler": (5, 25), "base": (5, 25), "cap": (5, 35), "panel": (9, 13), "moulding": (3, 18),
    "dimension": (8, 13), "words": (7, 18),
}  # fmt: skip
_OF_ROLE = {
    Role.CAP: "cap", Role.TOP_RAIL: "rail", Role.MIDDLE_RAIL: "rail", Role.BOTTOM_RAIL: "rail", Role.BASE: "base",
    Role.FILLER: "filler", Role.END_STILE: "stile", Role.STILE: "stile", Role.MOULDING: "moulding",
}  # fmt: skip
_OF_KIND = {
    Kind.RECEPTACLE: "plate", Kind.SWITCH: "plate", Kind.THERMOSTAT: "plate", Kind.JACK: "plate",
    Kind.REGISTER: "register", Kind.RETURN_GRILLE: "register", Kind.HEATER: "register", Kind.WINDOW: "window",
    Kind.CASING_EDGE: "casing", Kind.STUD: "stud", Kind.LEVEL_POINT: "level line",
}  # fmt: skip


def existing_dxf(survey: WallSurvey, unit: Unit = Unit.INCH) -> str:
    """The wall as it stands.

    Parameters
    ----------
    survey
        The wall, inches.
    unit
        What the file counts in: its ``$INSUNITS`` is inches or millimetres.
    """
    pen = _Pen.on(survey, unit)
    _draw_things(pen, survey)
    across = [(m.value, show_length(m.value, unit)) for m in _measured_across(survey)]
    pen.run_dimensions([*across, (wall_width(survey), show_length(wall_width(survey), unit))])
    return pen.written()


def planned_dxf(plan: WallPlan, unit: Unit = Unit.INCH) -> str:
    """The wall with the planned frames, and running dimensions of every stile edge; see `existing_dxf`.

    A box of which it is decided that it moves is drawn where it goes, and dashed on a layer of its own where it stands.
    """
    pen = _Pen.on(plan.survey, unit)
    for frame in plan.frames:
        _draw_frame(pen, frame)
    _draw_things(pen, plan.survey, planned_places(plan))
    edges = {e for frame in plan.frames for stile in frame.stiles for e in (stile.rect.left, stile.rect.right)}
    width = wall_width(plan.survey)
    across = [(float(edge), show_length(edge, unit)) for edge in sorted(edges)]
    pen.run_dimensions([*across, (width, show_length(width, unit))])
    pen.heights(_level_edges(plan.frames), max([width, *(float(frame.rect.right) for frame in plan.frames)]), unit)
    return pen.written()


@dataclass(frozen=True)
class _Pen:
    """A drawing in the making; takes wall inches."""

    document: Drawing
    space: Modelspace
    factor: float  # drawing units to an inch

    @classmethod
    def on(cls, survey: WallSurvey, unit: Unit) -> "_Pen":
        """A new drawing with its layers and the outline of the wall."""
        document = new("R2010", setup=True, units=units.MM if unit is Unit.MM else units.IN)
        document.header["$MEASUREMENT"] = int(unit is Unit.MM)
        document.header["$LUNITS"] = 2 if unit is Unit.MM else 5  # decimal, or inches and fractions of them
        for name, (colour, weight) in LAYERS.items():
            document.layers.add(name, color=colour, lineweight=weight)
        for name in ("stud", "level line", "moved from"):
            document.layers.get(name).dxf.linetype = "DASHED"
        pen = cls(document, document.modelspace(), float(1 / MM) if unit is Unit.MM else 1.0)
        pen._wall(survey)
        return pen

    def _wall(self, survey: WallSurvey) -> None:
        width, top = wall_width(survey), survey.ceiling.value if survey.ceiling else CEILING
        self.line([(0, 0), (width, 0)], "wall")
        for x, kind in ((0.0, survey.left), (width, survey.right)):
            if kind is not EndKind.OPEN:
                self.line([(x, 0), (x, top)], "wall")
        if survey.ceiling:
            self.line([(0, top), (width, top)], "wall")
        self.words(survey.name, (0, top + 2 * LETTERS), 2 * LETTERS)

    def box(self, left: float, bottom: float, right: float, top: float, layer: str) -> None:
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        self.space.add_lwpolyline(self._scaled(corners), close=True, dxfattribs={"layer": layer})

    def rect(self, rect: Rect, layer: str) -> None:
        self.box(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top), layer)

    def line(self, points: Iterable[tuple[float, float]], layer: str) -> None:
        start, end = self._scaled(points)
        self.space.add_line(start, end, dxfattribs={"layer": layer})

    def words(self, text: str, at: tuple[float, float], height: float = LETTERS) -> None:
        (place,) = self._scaled([at])
        self.space.add_text(
            _one_line(text), height=height * self.factor, dxfattribs={"layer": "words", "insert": place}
        )

    def run_dimensions(self, places: Iterable[tuple[float, str]]) -> None:
        """Ordinate dimensions from the left end, below the floor, a step lower where two stand close."""
        last, low = -10.0, False
        for x, label in sorted(dict(places).items()):
            low = not low if x - last < 1.6 * LETTERS else False
            last = x
            self._ordinate((x, 0.0), (0.0, -STEP - (7 * LETTERS if low else 0)), label, across=True)

    def heights(self, places: Iterable[Fraction], x: float, unit: Unit) -> None:
        """Ordinate dimensions from the floor, beyond the wall's right end."""
        for y in places:
            self._ordinate((x, float(y)), (2 * STEP, 0.0), show_length(y, unit), across=False)

    def _ordinate(self, at: tuple[float, float], offset: tuple[float, float], label: str, across: bool) -> None:
        (place,), (off,) = self._scaled([at]), self._scaled([offset])
        add = self.space.add_ordinate_x_dim if across else self.space.add_ordinate_y_dim
        sizes = {"dimtxt": LETTERS * self.factor, "dimexo": 0.5 * self.factor, "dimgap": 0.4 * self.factor}
        dimension = add(
            feature_location=place, offset=off, origin=(0, 0), text=_one_line(label), dimstyle="EZDXF",
            override=sizes, dxfattribs={"layer": "dimension"},
        )  # fmt: skip
        dimension.render()

    def written(self) -> str:
        """The file's text."""
        out = StringIO()
        self.document.write(out)
        return out.getvalue()

    def _scaled(self, points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x * self.factor, y * self.factor) for x, y in points]


def _draw_frame(pen: _Pen, frame: Frame) -> None:
    for panel in frame.panels:
        pen.rect(panel.opening, "panel")
        if panel.moulding is not None:
            pen.rect(panel.moulding, "moulding")
            pen.rect(panel.field, "moulding")
            for outer, inner in zip(_corners(panel.moulding), _corners(panel.field), strict=True):
                pen.line([outer, inner], "moulding")
    for member in frame.members:
        pen.rect(member.rect, _OF_ROLE[member.role])


def _draw_things(pen: _Pen, survey: WallSurvey, places: Mapping[str, float] = STANDING) -> None:
    number = numbers(survey)
    for feature in survey.features:
        layer = _OF_KIND.get(feature.kind, "other")
        if feature.name in places:
            now, there = outline_of(feature), outline_of(feature, places[feature.name])
            pen.box(now.left, now.bottom, now.right, now.top, "moved from")
            pen.box(there.left, there.bottom, there.right, there.top, layer)
            pen.words(f"{number[feature.name]} {feature.name}, NEW", (there.left, there.top + 0.5))
            continue
        if feature.kind is Kind.WINDOW:
            _draw_window(pen, feature)
        elif TRAITS[feature.kind].shape is Shape.RECTANGLE and feature.rectangle:
            pen.box(_at(feature.left), _at(feature.bottom), _at(feature.right), _at(feature.top), layer)
        elif feature.kind in (Kind.CASING_EDGE, Kind.STUD) and feature.left is not None:
            head = _at(feature.top, CEILING) if feature.top != feature.bottom else CEILING
            pen.line([(feature.left.value, 0), (feature.left.value, head)], layer)
            if feature.kind is Kind.CASING_EDGE:
                inward = -0.75 if feature.mark.side is Side.LEFT else 0.75
                pen.line([(feature.left.value + inward, 0), (feature.left.value + inward, head)], layer)
        elif feature.kind is Kind.LEVEL_POINT and feature.up is not None:
            pen.line([(0, feature.up.value), (wall_width(survey), feature.up.value)], layer)
        if feature.name in number and feature.left is not None and feature.top is not None:
            pen.words(f"{number[feature.name]} {feature.name}", (feature.left.value, feature.top.value + 0.5))


def _draw_window(pen: _Pen, feature: Feature) -> None:
    if feature.left is None or feature.right is None:
        return
    left, right = feature.left.value, feature.right.value
    foot, head = _at(feature.stool or feature.bottom or feature.apron), _at(feature.top, CEILING)
    pen.box(left, foot, right, head, "window")
    if feature.apron is not None and feature.apron.value < foot:
        pen.box(left, feature.apron.value, right, foot, "window")


def _measured_across(survey: WallSurvey) -> list[Measured]:
    wide = (Kind.WINDOW, Kind.REGISTER, Kind.RETURN_GRILLE, Kind.HEATER)
    found = [
        edge
        for feature in survey.features
        for edge in ((feature.left, feature.right) if feature.kind in wide else (feature.across or feature.left,))
        if feature.kind not in (Kind.LEVEL_POINT, Kind.FLOOR_POINT, Kind.IN_FRONT)
    ]
    return [edge for edge in found if edge is not None]


def _level_edges(frames: Iterable[Frame]) -> list[Fraction]:
    level = (Role.CAP, Role.TOP_RAIL, Role.MIDDLE_RAIL, Role.BOTTOM_RAIL, Role.BASE)
    members: list[Member] = [member for frame in frames for member in frame.members if member.role in level]
    return sorted({edge for member in members for edge in (member.rect.bottom, member.rect.top)})


def _corners(rect: Rect) -> list[tuple[float, float]]:
    left, bottom, right, top = float(rect.left), float(rect.bottom), float(rect.right), float(rect.top)
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


def _at(edge: Measured | None, otherwise: float = 0.0) -> float:
    return otherwise if edge is None else edge.value


def _one_line(text: str) -> str:
    """Words as one line of text holds them: a caret and two percent signs would be read as codes."""
    plain = " ".join(printable(text).split())
    return plain.replace("^", "ˆ").replace("%%", "% %")[:LONGEST_WORDS]
