"""The two drawings of a wall: what stands there now, and what is planned.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterator, Mapping

from capture.lengths import Unit
from capture.measured import Measured
from capture.record import Kind
from capture.survey import WallSurvey
from layout.frames import Frame, Panel, Rect, Role
from layout.plan import WallPlan
from report.board import LEAST_SHOWN, ROOM, Board, Room, draw_wall, shown, wall_width, width_words
from report.boxes import planned_places
from report.dimensions import Reading, at_height, bar_sheet, dimensions, room_under
from report.drawing import Box, Item, Line, Pen, Sheet, Tone
from report.numbers import in_the_way, judged, numbers
from report.standing import BACKGROUND, draw_feature, draw_moved, flags, top_of

__all__ = ["ROOM", "bar_sheet", "draw_frame", "existing_sheet", "planned_sheet"]

# Paper inches that labels usually take under the floor; more with a plus-or-minus.
BELOW_EXISTING, BELOW_PLANNED = 2.0, 1.22
UNLETTERED = 0.1  # paper inches over and under a wall that is drawn without words and dimensions
MARGIN = 4.0  # wall inches shown above a tall wainscot
WIDE = (Kind.REGISTER, Kind.RETURN_GRILLE, Kind.ACCESS_PANEL, Kind.WINDOW, Kind.DAMAGE, Kind.OTHER)
HEIGHTS = {
    Role.CAP: "cap", Role.TOP_RAIL: "rail", Role.MIDDLE_RAIL: "rail", Role.BOTTOM_RAIL: "rail", Role.BASE: "base",
}  # fmt: skip


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
    highest = max([36.0, *(top_of(f) for f in survey.features)])
    ceiling = survey.ceiling.value if survey.ceiling else None
    across = _existing_across(survey, unit)
    below = room_under(across, width, unit)
    board = Board.pin_up(width, highest, ceiling, below, BELOW_EXISTING, room, unit)
    draw_wall(board, survey)
    for feature in sorted(survey.features, key=lambda f: f.kind not in BACKGROUND):
        board.items += draw_feature(board, feature)
    board.items += flags(board, survey, {})
    board.items += dimensions(board, across, _existing_heights(board, survey))
    title = f"Existing elevation at {board.scale.name}: {survey.name}, {width_words(board, survey)}"
    return board.sheet(title, _existing_words(board, survey))


def planned_sheet(
    plan: WallPlan,
    room: Room = ROOM,
    unit: Unit = Unit.INCH,
    crew: bool = True,
    places: Mapping[str, float] | None = None,
) -> Sheet:
    """The planned frames, what stands in their way flagged by number, sign and letter, stile edges from the left end.

    A box that moves is drawn where it goes, and dashed where it stands now.

    Parameters
    ----------
    plan
        The plan of one wall, inches.
    room
        Paper inches, width and height, that the drawing may take.
    unit
        How lengths are lettered.
    crew
        Whether it is for those who build; without it the drawing has no dimensions, numbers and signs.
    places
        Where the centres of boxes that move go, wall inches by name; None is as decided.
    """
    places = planned_places(plan) if places is None else places
    survey, width = plan.survey, plan_width(plan)
    tops = [float(frame.rect.top) for frame in plan.frames]
    highest = max([36.0, *tops, *(top_of(f) for f in survey.features if f.blocks and top_of(f) < 60)])
    ceiling = survey.ceiling.value if survey.ceiling else None
    across = _planned_across(plan, unit)
    below = room_under(across, width, unit)
    whole = max([LEAST_SHOWN, *(top + MARGIN for top in tops)])  # the wainscot is never cut
    board = Board.pin_up(width, highest, ceiling, below, BELOW_PLANNED, room, unit, whole)
    if not crew:
        board.below = board.above = UNLETTERED
    draw_wall(board, survey, lettered=crew)
    for frame in plan.frames:
        board.items += draw_frame(frame)
    for feature in survey.features:
        if feature.name in places:
            board.items += draw_moved(board, feature, places[feature.name])
        elif feature.kind not in BACKGROUND:
            board.items += draw_feature(board, feature)
    if crew:
        verdicts = {name: judgement.verdict for name, judgement in judged(plan).items() if name not in places}
        board.items += flags(board, survey, verdicts, places)
        board.items += dimensions(board, across, _planned_heights(board, plan))
    title = f"Planned elevation at {board.scale.name}: {survey.name}, {width_words(board, survey)}"
    return board.sheet(title, " ".join(_planned_words(board, plan, crew, places)))


def plan_width(plan: WallPlan) -> float:
    """The width to draw, inches: the wall's, or as far as its frames reach."""
    return max([wall_width(plan.survey), *(float(frame.rect.right) for frame in plan.frames)])


# What is planned.


def draw_frame(frame: Frame) -> Iterator[Item]:
    """A frame with its panels."""
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


def _existing_across(survey: WallSurvey, unit: Unit) -> list[Reading]:
    number = numbers(survey)
    readings = []

    def read(measured: Measured | None, tail: str) -> None:
        if measured is not None:
            readings.append(Reading(measured.value, f"{shown(measured.value, unit, measured.spread)}  {tail}"))

    for feature in survey.features:
        if feature.kind in WIDE:
            read(feature.left, f"({number[feature.name]}) left")
            read(feature.right, f"({number[feature.name]}) right")
        elif feature.name in number:
            read(feature.across, f"({number[feature.name]})")
        elif feature.kind in (Kind.CASING_EDGE, Kind.STUD):
            read(feature.left, "stud" if feature.kind is Kind.STUD else "casing")
    return readings


def _planned_across(plan: WallPlan, unit: Unit) -> list[Reading]:
    edges = {edge for frame in plan.frames for stile in frame.stiles for edge in (stile.rect.left, stile.rect.right)}
    return [Reading(float(edge), shown(float(edge), unit)) for edge in edges]


def _existing_heights(board: Board, survey: WallSurvey) -> list[Reading]:
    number = numbers(survey)
    together: dict[str, list[tuple[float, str | int]]] = {}

    def read(measured: Measured | None, what: str | int) -> None:
        if measured is not None:
            together.setdefault(board.show(measured.value), []).append((measured.value, what))

    for feature in survey.features:
        if feature.kind is Kind.WINDOW:
            read(feature.stool, "stool")
            read(feature.apron, "apron")
        elif feature.name in number:
            read(feature.up, number[feature.name])
        elif feature.kind is Kind.LEVEL_POINT:
            read(feature.up, "level")
    if survey.ceiling is not None and not board.cut:
        read(survey.ceiling, "ceiling")
    return [
        Reading(places[0][0], at_height(length, [what for _, what in places])) for length, places in together.items()
    ]


def _planned_heights(board: Board, plan: WallPlan) -> list[Reading]:
    readings: dict[str, Reading] = {}
    for frame in plan.frames:
        for member in frame.members:
            if what := HEIGHTS.get(member.role):
                at = float(member.rect.bottom if member.role is Role.TOP_RAIL else member.rect.top)
                readings.setdefault(board.show(at), Reading(at, at_height(board.show(at), [what])))
    return list(readings.values())


# The same in words.


def _existing_words(board: Board, survey: WallSurvey) -> str:
    number = numbers(survey)
    words = [f"{width_words(board, survey)}; left end {survey.left}, right end {survey.right}."]
    for feature in survey.features:
        across, up = feature.across or feature.left, feature.up
        name = f"{number[feature.name]} {feature.kind}" if feature.name in number else feature.kind.value
        if across is None:
            words.append(f"{name}: place not measured.")
        else:
            height = f", {board.show(up.value)} up" if up is not None and feature.rectangle else ""
            words.append(f"{name}: {board.show(across.value, across.spread)} from the left end{height}.")
    return " ".join(words)


def _planned_words(board: Board, plan: WallPlan, crew: bool, places: Mapping[str, float]) -> Iterator[str]:
    number = numbers(plan.survey)
    for frame in plan.frames:
        yield (
            f"{frame.count} panels, each opening {board.show(float(frame.panel_width))} wide, "
            f"from {board.show(float(frame.rect.left))} to {board.show(float(frame.rect.right))}."
        )
    if not crew:
        return
    yield f"{in_the_way(plan.conflicts, plan.undecided)}."
    for one in plan.conflicts:
        goes = f", moves to {board.show(places[one.feature])}" if one.feature in places else ""
        yield f"{number[one.feature]} {plan.survey.feature(one.feature).kind} {one.verdict}{goes}."
