"""The two drawings of a wall: what stands there now, and what is planned.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil

from capture.lengths import FOOT, METRE, Measured, Unit, show_length, show_spread
from capture.record import TRAITS, EndKind, Kind, Shape, Side
from capture.survey import Feature, WallSurvey
from layout.frames import Frame, Panel, Rect, Role
from layout.plan import WallPlan
from layout.verdicts import Verdict
from report.drawing import (
    Anchor,
    Box,
    Dimension,
    Flag,
    Item,
    Line,
    Pen,
    Scale,
    Sheet,
    Text,
    Tone,
    choose_scale,
    hatch,
    spread_labels,
)
from report.numbers import conflicts, judged, numbers
from report.symbols import SYMBOLS

Room = tuple[float, float]
ROOM: Room = (10.3, 6.5)  # paper inches on a letter page that lies on its side

# Paper inches kept free round the wall.
LEFT, RIGHT, ABOVE = 0.15, 1.1, 0.5
BELOW_EXISTING, BELOW_PLANNED = 2.0, 1.22  # labels with a plus-or-minus are longer
OUT = 0.1  # how far the floor and the neighbour walls are drawn beyond the ends
LETTERS = 9.0  # points
PITCH = 0.15  # from one label to the next
CROWD = 60  # numbered things from which on flags are drawn smaller
LEAST_SHOWN = 54.0  # wall inches above the floor that a drawing shows before its scale gives way
MARGIN = 4.0  # wall inches shown above a tall wainscot
WIDE = (Kind.REGISTER, Kind.RETURN_GRILLE, Kind.ACCESS_PANEL, Kind.WINDOW, Kind.DAMAGE, Kind.OTHER)
HEIGHTS = {
    Role.CAP: "cap", Role.TOP_RAIL: "rail", Role.MIDDLE_RAIL: "rail", Role.BOTTOM_RAIL: "rail", Role.BASE: "base",
}  # fmt: skip
BACKGROUND = (Kind.STUD, Kind.LEVEL_POINT)  # drawn first, and only where nothing is planned


@dataclass(frozen=True)
class Reading:
    """A place to dimension, and what its label says."""

    at: float
    label: str


@dataclass
class Board:
    """A drawing in the making: its scale, how far it goes, and the items so far."""

    unit: Unit
    scale: Scale
    width: float  # of the wall
    top: float  # where the drawing is cut, or the ceiling
    cut: bool
    below: float  # paper inches under the floor
    items: list[Item] = field(default_factory=list)

    @classmethod
    def pin_up(
        cls,
        width: float,
        highest: float,
        ceiling: float | None,
        below: float,
        room: Room,
        unit: Unit,
        shown: float = LEAST_SHOWN,
    ) -> "Board":
        """A board at the largest scale for the wall's width; above `shown` it may be cut, drawn with a break line."""
        across, up = room[0] - LEFT - RIGHT, room[1] - ABOVE - below
        wanted = highest + 8 if ceiling is None or ceiling > highest + 20 else ceiling
        scale = choose_scale(width, min(wanted, shown), (across, up), unit)
        top = min(wanted, scale.on_wall(up))
        return cls(unit, scale, width, top, ceiling is None or top < ceiling, below)

    def paper(self, inches: float) -> float:
        """Wall inches under so many inches of paper."""
        return self.scale.on_wall(inches)

    def show(self, length: float, spread: float | None = None) -> str:
        """A length with its plus-or-minus where there is one to tell; a drawing in millimetres leaves the unit out."""
        shown = show_length(length, self.unit)
        told = shown if spread is None else f"{shown} {show_spread(spread, self.unit)}"
        return told.replace(" mm", "")

    def sheet(self, title: str, description: str) -> Sheet:
        """The finished drawing."""
        return Sheet(
            title, description, self.scale,
            -self.paper(LEFT), -self.paper(self.below), self.width + self.paper(RIGHT), self.top + self.paper(ABOVE),
            tuple(self.items),
        )  # fmt: skip


def existing_sheet(survey: WallSurvey, room: Room = ROOM, unit: Unit = Unit.INCH) -> Sheet:
    """The wall as it stands, with running dimensions from its left end and heights from the floor.

    Parameters
    ----------
    survey
        The wall, inches.
    room
        Paper inches, width and height, that the drawing may take.
    unit
        How lengths are lettered.
    """
    width = wall_width(survey)
    highest = max([36.0, *(_top(f) for f in survey.features)])
    ceiling = survey.ceiling.value if survey.ceiling else None
    board = Board.pin_up(width, highest, ceiling, BELOW_EXISTING, room, unit)
    _draw_wall(board, survey)
    for feature in sorted(survey.features, key=lambda f: f.kind not in BACKGROUND):
        board.items += _draw_feature(board, feature)
    board.items += _flags(board, survey, {})
    board.items += _run_dimensions(board, _existing_across(board, survey))
    board.items += _heights(board, _existing_heights(board, survey))
    board.items += _scale_bar(board.scale, board.width, -board.paper(board.below - 0.03), unit)
    title = f"Existing elevation at {board.scale.name}: {survey.name}, {_width_words(board, survey)}"
    return board.sheet(title, _existing_words(board, survey))


def planned_sheet(plan: WallPlan, room: Room = ROOM, unit: Unit = Unit.INCH) -> Sheet:
    """The planned frames, what stands in their way flagged by number, sign and letter, stile edges from the left end.

    Parameters
    ----------
    plan
        The plan of one wall, inches.
    room
        Paper inches, width and height, that the drawing may take.
    unit
        How lengths are lettered.
    """
    survey = plan.survey
    width = max([wall_width(survey), *(float(frame.rect.right) for frame in plan.frames)])
    tops = [float(frame.rect.top) for frame in plan.frames]
    highest = max([36.0, *tops, *(_top(f) for f in survey.features if f.blocks and _top(f) < 60)])
    ceiling = survey.ceiling.value if survey.ceiling else None
    whole = max([LEAST_SHOWN, *(top + MARGIN for top in tops)])  # the wainscot is never cut
    board = Board.pin_up(width, highest, ceiling, BELOW_PLANNED, room, unit, whole)
    _draw_wall(board, survey)
    for frame in plan.frames:
        board.items += draw_frame(frame)
    for feature in survey.features:
        if feature.kind not in BACKGROUND:
            board.items += _draw_feature(board, feature)
    verdicts = {name: judgement.verdict for name, judgement in judged(plan).items()}
    board.items += _flags(board, survey, verdicts)
    board.items += _run_dimensions(board, _planned_across(board, plan))
    board.items += _heights(board, _planned_heights(board, plan))
    board.items += _scale_bar(board.scale, board.width, -board.paper(board.below - 0.03), unit)
    title = f"Planned elevation at {board.scale.name}: {survey.name}, {_width_words(board, survey)}"
    return board.sheet(title, _planned_words(board, plan))


def wall_width(survey: WallSurvey) -> float:
    """The width to draw, inches: as measured, or as far as anything was found."""
    if survey.width is not None and survey.width.value > 0:
        return survey.width.value
    return max([24.0, *(f.right.value + 6 for f in survey.features if f.right is not None)])


# The wall itself.


def _draw_wall(board: Board, survey: WallSurvey) -> None:
    over = board.paper(OUT)
    board.items.append(Line(((-over, 0), (board.width + over, 0)), Pen.HEAVY))
    board.items += _end(board, survey.left, 0.0, -over)
    board.items += _end(board, survey.right, board.width, over)
    board.items.append(_top_line(board))
    head = board.top + board.paper(0.1)
    board.items += [
        Text((0, head), survey.left.value, 8.5),
        Text((board.width, head), survey.right.value, 8.5, Anchor.END),
        Text((0, head + board.paper(0.18)), _width_words(board, survey), 11, bold=True),
    ]


def _end(board: Board, kind: EndKind, x: float, out: float) -> Iterator[Item]:
    yield Line(((x, 0), (x, board.top)), Pen.HEAVY, dashed=kind is EndKind.OPEN)
    if kind is EndKind.INSIDE_CORNER:  # the neighbour wall, cut
        yield from hatch(min(x, x + out), 0, max(x, x + out), board.top, board.paper(0.07))
    elif kind is not EndKind.OPEN:
        yield Line(((x + out / 2, 0), (x + out / 2, board.top)), Pen.FINE)


def _top_line(board: Board) -> Line:
    if not board.cut:
        return Line(((0, board.top), (board.width, board.top)), Pen.HEAVY)
    middle, step, y = board.width / 2, board.paper(0.03), board.top
    zigzag = (
        (middle - 2 * step, y),
        (middle - step, y + 2 * step),
        (middle + step, y - 2 * step),
        (middle + 2 * step, y),
    )
    return Line(((0, y), *zigzag, (board.width, y)), Pen.HAIR)


def _width_words(board: Board, survey: WallSurvey) -> str:
    if survey.width is None:
        return "width not measured"
    return f"{survey.width.show(board.unit)} wide ({survey.width.source})"


# What stands on it.


def _draw_feature(board: Board, feature: Feature) -> Iterator[Item]:
    if feature.kind is Kind.WINDOW:
        yield from _window(board, feature)
    elif TRAITS[feature.kind].shape is Shape.RECTANGLE:
        if feature.rectangle:
            yield from _plate(board, feature, _rectangle(feature))
    elif feature.left is None:
        return
    elif feature.kind is Kind.CASING_EDGE:
        yield from _casing(board, feature, feature.left.value)
    elif feature.kind is Kind.STUD:
        yield Line(((feature.left.value, 0), (feature.left.value, board.top)), Pen.FINE, dashed=True)
    elif feature.kind is Kind.LEVEL_POINT and feature.up is not None:
        yield Line(((0, feature.up.value), (board.width, feature.up.value)), Pen.HAIR, dashed=True)


def _rectangle(feature: Feature) -> Box:
    left, bottom, right, top = (_value(edge) for edge in (feature.left, feature.bottom, feature.right, feature.top))
    return Box(left, bottom, right, top, Pen.MEDIUM, Tone.PAPER, dashed=feature.kind is Kind.DAMAGE)


def _plate(board: Board, feature: Feature, box: Box) -> Iterator[Item]:
    if box.top > board.top:  # beyond the break line
        return
    yield box
    inside = {
        Kind.RECEPTACLE: ((0.3, 0.56, 0.7, 0.82), (0.3, 0.18, 0.7, 0.44)),
        Kind.SWITCH: ((0.4, 0.36, 0.6, 0.64),),
        Kind.JACK: ((0.36, 0.41, 0.64, 0.59),),
        Kind.THERMOSTAT: ((0.2, 0.4, 0.8, 0.8),),
    }.get(feature.kind, ())
    gangs = feature.mark.gangs if inside else 1
    wide, high = (box.right - box.left) / gangs, box.top - box.bottom
    for gang in range(gangs):
        for left, bottom, right, top in inside:
            x = box.left + gang * wide
            yield Box(x + left * wide, box.bottom + bottom * high, x + right * wide, box.bottom + top * high, Pen.FINE)
    if feature.kind in (Kind.REGISTER, Kind.RETURN_GRILLE):
        slats = 5
        for i in range(1, slats):
            y = box.bottom + high * i / slats
            yield Line(((box.left + 0.04 * wide, y), (box.right - 0.04 * wide, y)), Pen.FINE)
    elif feature.kind is Kind.DAMAGE:
        yield from hatch(box.left, box.bottom, box.right, box.top, board.paper(0.06))


def _window(board: Board, feature: Feature) -> Iterator[Item]:
    if feature.left is None or feature.right is None:
        return
    left, right = feature.left.value, feature.right.value
    lows = [m.value for m in (feature.bottom, feature.stool, feature.apron) if m is not None]
    sill = (feature.stool or feature.bottom or feature.apron) if lows else None
    foot, head = (sill.value if sill else 0.0), min(_value(feature.top, board.top), board.top)
    if foot >= board.top:
        return
    yield Box(left, foot, right, head, Pen.MEDIUM, Tone.PAPER)
    yield Text(((left + right) / 2, (foot + head) / 2), "window", 9, Anchor.MIDDLE)
    if feature.stool is not None:
        ear = board.paper(0.04)
        yield Line(((left - ear, foot), (right + ear, foot)), Pen.HEAVY)
    if feature.apron is not None and feature.apron.value < foot:
        yield Box(left, feature.apron.value, right, foot, Pen.FINE, Tone.PAPER)


def _casing(board: Board, feature: Feature, x: float) -> Iterator[Item]:
    inward = board.paper(0.11) * (-1 if feature.mark.side is Side.LEFT else 1)
    head = min(_value(feature.top, board.top), board.top) if feature.top != feature.bottom else board.top
    yield from hatch(min(x, x + inward), 0, max(x, x + inward), head, board.paper(0.05))
    yield Line(((x, 0), (x, head)), Pen.MEDIUM)
    yield Line(((x + inward, 0), (x + inward, head)), Pen.FINE)


def _flags(board: Board, survey: WallSurvey, verdicts: dict[str, Verdict]) -> Iterator[Item]:
    """A numbered ring beside each thing, where it hides neither another ring nor a plate if that can be helped."""
    number = numbers(survey)
    boxes = [_rectangle(f) for f in survey.features if f.rectangle and f.kind is not Kind.WINDOW]
    radius = board.paper(0.1 if len(number) <= CROWD else 0.07)
    taken: list[tuple[float, float, float, float]] = [(b.left, b.bottom, b.right, b.top) for b in boxes]
    for feature in survey.features:
        beyond = _value(feature.bottom if feature.kind is Kind.WINDOW else feature.top) > board.top
        if feature.name not in number or not feature.rectangle or beyond:
            continue
        verdict = verdicts.get(feature.name)
        symbol = SYMBOLS[verdict] if verdict is not None and verdict is not Verdict.CLEAR else None
        right = radius * (3.5 if symbol else 1.05)
        x, y = _spot(feature, board, radius, right, taken)
        taken.append((x - radius, y - radius, x + right, y + radius))
        yield Flag((x, y), radius, number[feature.name], symbol)


def _spot(
    feature: Feature, board: Board, radius: float, right: float, taken: Sequence[tuple[float, float, float, float]]
) -> tuple[float, float]:
    box, gap = _rectangle(feature), 1.35 * radius
    x, top = (box.left + box.right) / 2, min(box.top, board.top - 2.5 * radius)
    middle = (box.bottom + top) / 2
    if feature.kind is Kind.WINDOW:
        return box.left + 1.6 * radius, top
    lean = x - (right - radius) / 2
    spots = [
        (lean, top + gap), (box.right + gap, middle), (box.left - gap - right + radius, middle),
        (lean, box.bottom - gap), *((lean, top + gap + step * 2.2 * radius) for step in range(1, 6)),
    ]  # fmt: skip
    for spot in spots:
        own = (spot[0] - radius, spot[1] - radius, spot[0] + right, spot[1] + radius)
        inside = own[0] > 0 and own[2] < board.width and own[1] > 0 and own[3] < board.top
        if inside and not any(own[0] < t[2] and t[0] < own[2] and own[1] < t[3] and t[1] < own[3] for t in taken):
            return spot
    return spots[0]


# What is planned.


def draw_frame(frame: Frame) -> Iterator[Item]:
    """The members and panels of a frame."""
    for panel in frame.panels:
        yield from _panel(panel)
    for member in frame.members:
        yield _rect(member.rect, Pen.MEDIUM if member.role is Role.CAP else Pen.FINE, Tone.WOOD)
    yield _rect(frame.rect, Pen.MEDIUM, Tone.OPEN)


def _panel(panel: Panel) -> Iterator[Item]:
    yield _rect(panel.opening, Pen.FINE, Tone.PAPER)
    if panel.moulding is None:
        return
    yield _rect(panel.moulding, Pen.FINE, Tone.PAPER)
    yield _rect(panel.field, Pen.FINE, Tone.FIELD)
    for outer, inner in zip(_corners(panel.moulding), _corners(panel.field), strict=True):
        yield Line((outer, inner), Pen.HAIR)  # the mitres


def _rect(rect: Rect, pen: Pen, tone: Tone) -> Box:
    return Box(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top), pen, tone)


def _corners(rect: Rect) -> list[tuple[float, float]]:
    left, bottom, right, top = float(rect.left), float(rect.bottom), float(rect.right), float(rect.top)
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


# Dimensions.


def _existing_across(board: Board, survey: WallSurvey) -> list[Reading]:
    number = numbers(survey)
    readings = []

    def read(measured: Measured | None, tail: str) -> None:
        if measured is not None:
            label = board.show(measured.value, measured.spread)
            readings.append(Reading(measured.value, f"{label}  {tail}"))

    for feature in survey.features:
        if feature.kind in WIDE:
            read(feature.left, f"({number[feature.name]}) left")
            read(feature.right, f"({number[feature.name]}) right")
        elif feature.name in number:
            read(feature.across, f"({number[feature.name]})")
        elif feature.kind in (Kind.CASING_EDGE, Kind.STUD):
            read(feature.left, "stud" if feature.kind is Kind.STUD else "casing")
    return readings


def _planned_across(board: Board, plan: WallPlan) -> list[Reading]:
    edges = {edge for frame in plan.frames for stile in frame.stiles for edge in (stile.rect.left, stile.rect.right)}
    return [Reading(float(edge), board.show(float(edge))) for edge in edges]


def _existing_heights(board: Board, survey: WallSurvey) -> list[Reading]:
    number = numbers(survey)
    together: dict[str, list[tuple[float, str]]] = {}

    def read(measured: Measured | None, what: str) -> None:
        if measured is not None:
            together.setdefault(board.show(measured.value), []).append((measured.value, what))

    for feature in survey.features:
        if feature.kind is Kind.WINDOW:
            read(feature.stool, "stool")
            read(feature.apron, "apron")
        elif feature.name in number:
            read(feature.up, f"({number[feature.name]})")
        elif feature.kind is Kind.LEVEL_POINT:
            read(feature.up, "level")
    if survey.ceiling is not None and not board.cut:
        read(survey.ceiling, "ceiling")
    return [
        Reading(places[0][0], f"{shown}  {_few([what for _, what in places])}") for shown, places in together.items()
    ]


def _few(whats: Iterable[str]) -> str:
    unlike = list(dict.fromkeys(whats))
    return ", ".join(unlike[:2]) + (" …" if len(unlike) > 2 else "")


def _planned_heights(board: Board, plan: WallPlan) -> list[Reading]:
    readings: dict[str, Reading] = {}
    for frame in plan.frames:
        for member in frame.members:
            if what := HEIGHTS.get(member.role):
                at = float(member.rect.bottom if member.role is Role.TOP_RAIL else member.rect.top)
                readings.setdefault(board.show(at), Reading(at, f"{board.show(at)}  {what}"))
    return list(readings.values())


def _run_dimensions(board: Board, readings: list[Reading]) -> Iterator[Item]:
    """Running dimensions from the left end, lettered below the floor, each readable along its own witness line."""
    told = {reading.label for reading in readings}
    ends = (Reading(0.0, board.show(0.0)), Reading(board.width, board.show(board.width)))
    everything = [*readings, *(end for end in ends if end.label not in told)]
    shown = _thinned(sorted(everything, key=lambda r: r.at), board, board.width + board.paper(LEFT + RIGHT / 2))
    low, high = -board.paper(LEFT / 2), board.width + board.paper(RIGHT / 2)
    places = spread_labels([r.at for r in shown], board.paper(PITCH), low, high)
    y = [-board.paper(inches) for inches in (0.05, 0.14, 0.3, 0.36)]
    for reading, x in zip(shown, places, strict=True):
        path = ((reading.at, y[0]), (reading.at, y[1]), (x, y[2]), (x, y[3]))
        label = Text((x + board.paper(0.04), y[3] - board.paper(0.03)), reading.label, LETTERS, Anchor.END, turned=True)
        yield Dimension(path, label)
    if len(shown) < len(everything):
        place = (board.width, -board.paper(board.below - 0.03))
        yield Text(place, "more places than fit here: see the table", LETTERS, Anchor.END)


def _heights(board: Board, readings: list[Reading]) -> Iterator[Item]:
    """Heights above the floor, lettered to the right of the wall."""
    shown = _thinned(sorted((r for r in readings if r.at <= board.top), key=lambda r: r.at), board, board.top)
    places = spread_labels([r.at for r in shown], board.paper(PITCH), board.paper(0.02), board.top)
    x = [board.width + board.paper(inches) for inches in (0.13, 0.16, 0.23, 0.26)]
    for reading, y in zip(shown, places, strict=True):
        path = ((x[0], reading.at), (x[1], reading.at), (x[2], y), (x[3], y))
        yield Dimension(path, Text((x[3] + board.paper(0.03), y - board.paper(0.045)), reading.label, LETTERS))


def _thinned(readings: list[Reading], board: Board, room: float) -> list[Reading]:
    """Every reading, or as many evenly chosen ones as there is room for."""
    most = max(2, int(room / board.paper(PITCH)))
    return readings[:: ceil(len(readings) / most)] if len(readings) > most else readings


def bar_sheet(scale: Scale, width: float, unit: Unit = Unit.INCH) -> Sheet:
    """The scale bar alone, to stand under a picture `width` wall inches wide."""
    low, high = -scale.on_wall(0.05), scale.on_wall(0.13)
    title = f"Scale bar: {scale.name}"
    items = tuple(_scale_bar(scale, width, 0.0, unit))
    return Sheet(title, "", scale, -scale.on_wall(0.01), low, max(width, scale.on_wall(4)), high, items)


def _scale_bar(scale: Scale, width: float, base: float, unit: Unit) -> Iterator[Item]:
    """A bar to hold a ruler against, `base` wall inches high: four feet or a metre, or as much as the wall is long."""
    metric = unit is Unit.MM
    step = float(METRE / 4 if metric else FOOT)
    while step * 4 > width and step > 1:
        step /= 2
    while scale.factor * step < 0.2:
        step *= 2
    for i in range(4):
        tone = Tone.INK if i % 2 == 0 else Tone.PAPER
        yield Box(i * step, base, (i + 1) * step, base + scale.on_wall(0.06), Pen.FINE, tone)
    told = show_length(4 * step, unit) if metric or step < FOOT else f"{round(4 * step / 12)} ft"
    yield Text((4 * step + scale.on_wall(0.08), base), f"{told} at {scale.name}, printed at full size", LETTERS)


# The same in words.


def _existing_words(board: Board, survey: WallSurvey) -> str:
    number = numbers(survey)
    words = [f"{_width_words(board, survey)}; left end {survey.left}, right end {survey.right}."]
    for feature in survey.features:
        across, up = feature.across or feature.left, feature.up
        name = f"{number[feature.name]} {feature.kind}" if feature.name in number else feature.kind.value
        if across is None:
            words.append(f"{name}: place not measured.")
        else:
            height = f", {board.show(up.value)} up" if up is not None and feature.rectangle else ""
            words.append(f"{name}: {board.show(across.value, across.spread)} from the left end{height}.")
    return " ".join(words)


def _planned_words(board: Board, plan: WallPlan) -> str:
    number = numbers(plan.survey)
    words = []
    for frame in plan.frames:
        words.append(
            f"{frame.count} panels, each opening {board.show(float(frame.panel_width))} wide, "
            f"from {board.show(float(frame.rect.left))} to {board.show(float(frame.rect.right))}."
        )
    in_the_way = conflicts(plan.judgements)
    words.append(f"In the way: {len(in_the_way)}.")
    words += [f"{number[j.feature]} {plan.survey.feature(j.feature).kind} {j.verdict}." for j in in_the_way]
    return " ".join(words)


def _value(measured: Measured | None, otherwise: float = 0.0) -> float:
    return otherwise if measured is None else measured.value


def _top(feature: Feature) -> float:
    return _value(feature.top) if TRAITS[feature.kind].shape is Shape.RECTANGLE else 0.0
