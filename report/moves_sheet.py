"""The drawing for the electrician: every wired box where it is, and where it is wanted.

Frame: wall inches, x right from the left end, y up from the finished floor.
"""

from collections.abc import Iterator

from capture.lengths import Unit, show_length
from capture.record import TRAITS, Kind
from capture.survey import Feature
from layout.plan import WallPlan
from report.board import ROOM, Board, Room, draw_wall, shown, width_words
from report.boxes import window_wanted
from report.dimensions import Reading, at_height, dimensions, room_under
from report.drawing import Flag, Item, Line, Pen, Sheet
from report.numbers import numbers
from report.sheets import draw_frame, plan_width
from report.standing import draw_feature, draw_moved, draw_plate, outline_of

BELOW = 1.95  # paper inches that labels usually take under the floor
MARGIN = 4.0  # wall inches shown above the wainscot
RING = 0.1  # paper inches


def moves_sheet(plan: WallPlan, room: Room = ROOM, unit: Unit = Unit.INCH) -> Sheet:
    """Present places dashed, wanted ones drawn out, the planned frames behind them; to be called as `planned_sheet`."""
    survey, width = plan.survey, plan_width(plan)
    boxes = [f for f in survey.features if TRAITS[f.kind].wired and f.rectangle]
    tops = [*(float(frame.rect.top) for frame in plan.frames), *(outline_of(f).top for f in boxes)]
    ceiling = survey.ceiling.value if survey.ceiling else None
    number = numbers(survey)
    across = list(_across(plan, boxes, number, unit))
    below = room_under(across, width, unit)
    highest, whole = max([36.0, *tops]), max([48.0, *tops]) + MARGIN
    board = Board.pin_up(width, highest, ceiling, below, BELOW, room, unit, whole)
    draw_wall(board, survey)
    for frame in plan.frames:
        board.items += draw_frame(frame)
    for feature in survey.features:
        if feature.kind in (Kind.WINDOW, Kind.CASING_EDGE, Kind.STUD, Kind.REGISTER, Kind.HEATER):
            board.items += draw_feature(board, feature)
    for feature in boxes:
        board.items += _box(board, plan, feature, number[feature.name])
    board.items += dimensions(board, across, list(_up(board, boxes, number)))
    title = f"Boxes at {board.scale.name}: {survey.name}, {width_words(board, survey)}"
    return board.sheet(title, _words(board, plan, boxes, number))


def _box(board: Board, plan: WallPlan, feature: Feature, number: int) -> Iterator[Item]:
    now, wanted = outline_of(feature), plan.wanted.get(feature.name)
    radius = board.paper(RING)
    if wanted is None:
        yield from draw_plate(board, feature, now)
        yield Flag(((now.left + now.right) / 2, now.top + 1.35 * radius), radius, number)
        return
    yield from draw_moved(board, feature, float(wanted))
    yield Flag((float(wanted), now.top + 2.1 * radius), radius, number)
    yield from _window(board, plan, feature, now.bottom - 0.7 * radius)


def _window(board: Board, plan: WallPlan, feature: Feature, y: float) -> Iterator[Item]:
    """Where the centre may stand, as a bar with stops under the box."""
    window = window_wanted(plan, feature.name)
    if window is None:
        return
    left, right, stop = float(window.left), float(window.right), board.paper(0.04)
    yield Line(((left, y), (right, y)), Pen.FINE)
    for x in (left, right):
        yield Line(((x, y - stop), (x, y + stop)), Pen.FINE)


def _across(plan: WallPlan, boxes: list[Feature], number: dict[str, int], unit: Unit) -> Iterator[Reading]:
    for feature in boxes:
        wanted = plan.wanted.get(feature.name)
        if feature.across is not None:
            now = shown(feature.across.value, unit, feature.across.spread)
            yield Reading(feature.across.value, f"{now}  ({number[feature.name]}){' now' if wanted else ''}")
        if wanted is not None:
            yield Reading(float(wanted), f"{shown(float(wanted), unit)}  ({number[feature.name]}) NEW")


def _up(board: Board, boxes: list[Feature], number: dict[str, int]) -> Iterator[Reading]:
    together: dict[str, list[Feature]] = {}
    for feature in boxes:
        if feature.up is not None:
            together.setdefault(board.show(feature.up.value), []).append(feature)
    for length, features in together.items():
        if features[0].up is not None:
            yield Reading(features[0].up.value, at_height(length, [number[f.name] for f in features]))


def _words(board: Board, plan: WallPlan, boxes: list[Feature], number: dict[str, int]) -> str:
    told = []
    for feature in sorted(boxes, key=lambda f: number[f.name]):
        wanted = plan.wanted.get(feature.name)
        now = feature.across.show(board.unit) if feature.across else "not measured"
        to = f", wanted at {show_length(wanted, board.unit)}" if wanted is not None else ", stays"
        told.append(f"{number[feature.name]} {feature.name}: now at {now} from the left end{to}.")
    return " ".join(told) or "No wired box is marked on this wall."
