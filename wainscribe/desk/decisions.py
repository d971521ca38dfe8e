"""What is in the way, the most urgent first, and what can be done about each: what it costs, its picture, its pin."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from capture.errors import UnknownNameError
from capture.record import TRAITS
from capture.survey import Feature
from layout.frames import Frame, build_frame, frame_of
from layout.moves import plate_of
from layout.plan import Plan, WallPlan
from layout.remedies import PINNED, Remedy, Way, chosen
from layout.scheme import Pin, Scheme
from layout.verdicts import Judgement, Verdict
from report.drawing import Box, Item, Line, Pen, Scale, Sheet, Tone
from report.sheets import draw_frame
from wainscribe.job import Job

WAYS_PINNED = {way: pin for pin, way in PINNED.items() if way is not Way.MOVE}
ROUND = 20.0  # wall inches shown on each side of the thing
SMALL = 3.0  # paper inches that a sketch is wide


def conflicts(job: Job, plan: Plan, base: str) -> list[dict[str, Any]]:
    """Everything in the way, decided or not, the most urgent to decide first.

    Parameters
    ----------
    job, plan
        The job and its plan.
    base
        The address under which the job's walls are asked for.
    """
    found = [(wall, one) for wall in plan.walls for one in wall.conflicts]
    found.sort(key=lambda pair: _urgency(*pair))
    alike = Counter(mark.name for wall in job.walls for mark in wall.marks)
    return [_conflict(alike, wall, one, plan.scheme, base) for wall, one in found]


def _urgency(wall: WallPlan, one: Judgement) -> tuple[bool, bool, bool, float]:
    """What is not decided yet, sure, and needs an electrician comes first; then what overlaps most."""
    feature = wall.survey.feature(one.feature)
    clearance = one.clearance if one.clearance is not None else 0.0
    return one not in wall.undecided, one.verdict is Verdict.TOO_CLOSE, not TRAITS[feature.kind].wired, clearance


def _conflict(alike: Mapping[str, int], wall: WallPlan, one: Judgement, scheme: Scheme, base: str) -> dict[str, Any]:
    thing = thing_key(alike, wall.name, one.feature)
    at = f"{base}/walls/{quote(wall.name, safe='')}/remedies/{quote(one.feature, safe='')}"
    remedies = wall.remedies.get(one.feature, ())
    first = next((remedy for remedy in remedies if remedy.kind is Way.MOVE), None)
    return {
        "wall": wall.name,
        "thing": one.feature,
        "verdict": one.verdict.value,
        "decided": one not in wall.undecided,
        "sentence": one.sentence,
        "tape_this": one.tape_this,
        "remedies": [
            {
                "way": remedy.kind.value,
                "sentence": remedy.sentence,
                "costs": _costs(remedy, scheme),
                "warnings": list(remedy.warnings),
                "picture": f"{at}/{n}.svg",
                "pinned": _pinned(remedy, first, wall.name, one.feature, scheme),
                "pin": _pin(remedy, thing, scheme),
            }
            for n, remedy in enumerate(remedies)
        ],
    }


def thing_key(alike: Mapping[str, int], wall: str, name: str) -> str:
    """What the scheme calls a thing: its name, with its wall's where several things of the job have that name."""
    return name if alike[name] == 1 else f"{wall}: {name}"


def _costs(remedy: Remedy, scheme: Scheme) -> list[str]:
    costs = []
    if remedy.boxes_moved:
        costs.append(f"{remedy.boxes_moved} box to move")
    if remedy.pieces:
        pieces = "piece" if abs(remedy.pieces) == 1 else "pieces"
        costs.append(f"{abs(remedy.pieces)} {pieces} {'more' if remedy.pieces > 0 else 'fewer'} to make")
    if remedy.panel_width and remedy.panel_width[0] != remedy.panel_width[1]:
        costs.append(f"panels {scheme.show(remedy.panel_width[1])} wide, not {scheme.show(remedy.panel_width[0])}")
    costs.append(f"{remedy.conflicts_left or 'nothing'} left in the way on this run")
    return costs


def _pin(remedy: Remedy, thing: str, scheme: Scheme) -> dict[str, str]:
    """The wishes that choose it."""
    if remedy.move is not None:
        return {f"pin.{thing}": (Pin.MOVE_RIGHT if remedy.move > 0 else Pin.MOVE_LEFT).value}
    if remedy.kind in WAYS_PINNED:
        return {f"pin.{thing}": WAYS_PINNED[remedy.kind].value}
    if remedy.count is not None:
        return {f"panels.{remedy.run}": str(remedy.count[1])}
    by = abs(remedy.shift[1]) if remedy.shift else scheme.nudge
    return {f"pin.{thing}": Pin.CLEAR.value} | ({"nudge": str(by)} if by > scheme.nudge else {})


def _pinned(remedy: Remedy, first: Remedy | None, wall: str, name: str, scheme: Scheme) -> bool:
    """Whether it is decided; a box that is to move to the side that suits best goes by the first move."""
    if remedy.count is not None:
        return scheme.panels.get(remedy.run) == remedy.count[1]
    pin = scheme.pin(wall, name)
    if pin is Pin.MOVE:
        return remedy is first
    return chosen(pin, remedy) or (pin is Pin.CLEAR and remedy.kind is Way.SHIFT)


# The small picture of a remedy.


def remedy_sketch(plan: WallPlan, name: str, number: int, scheme: Scheme) -> Sheet:
    """The stretch of wall round a thing once a remedy is carried out.

    Raises
    ------
    UnknownNameError
        There is no such remedy any more.
    """
    found = plan.remedies.get(name, ())
    if not 0 <= number < len(found):
        raise UnknownNameError("remedy", f"{name}, {number}", list(plan.remedies))
    remedy, feature = found[number], plan.survey.feature(name)
    frames = [_after(frame, remedy, scheme) for frame in plan.frames]
    items: list[Item] = [item for frame in frames for item in draw_frame(frame)]
    others = [f for f in plan.survey.features if f.blocks and f.rectangle and f.name != name]
    items += [_box(other, Pen.MEDIUM) for other in others]
    items += _thing(feature, remedy, scheme)
    left, right = _stretch(feature, remedy, frames)
    top = max([float(frame.rect.top) for frame in frames], default=36.0) + 3.0
    items.append(Line(((left, 0.0), (right, 0.0)), Pen.HEAVY))
    return Sheet(
        remedy.kind.value, remedy.sentence, Scale("not to scale", SMALL / (right - left)), left, -1.0, right, top,
        tuple(items),
    )  # fmt: skip


def _after(frame: Frame, remedy: Remedy, scheme: Scheme) -> Frame:
    if frame.run.name != remedy.run:
        return frame
    if remedy.count is not None:
        return build_frame(frame.run, scheme, remedy.count[1])
    if remedy.shift is not None:
        nudges = list(frame.spacing.nudges)
        nudges[[stile.name for stile in frame.stiles].index(remedy.shift[0]) - 1] += remedy.shift[1]
        return frame_of(frame.run, scheme, frame.spacing.nudged(nudges))
    return frame


def _thing(feature: Feature, remedy: Remedy, scheme: Scheme) -> list[Item]:
    """The thing as it will stand; where it stood is dashed."""
    if remedy.move is not None:
        return [replace(_box(feature, Pen.FINE), dashed=True), _box(feature, Pen.HEAVY, float(remedy.move))]
    plate = plate_of(feature)
    if remedy.kind is Way.BLOCK_OUT and plate is not None:
        block = plate.inset(-scheme.clear(feature.kind))
        left, bottom, right, top = (float(side) for side in (block.left, block.bottom, block.right, block.top))
        return [Box(left, bottom, right, top, Pen.MEDIUM, Tone.WOOD), _box(feature, Pen.HEAVY)]
    return [_box(feature, Pen.HEAVY)]


def _box(feature: Feature, pen: Pen, by: float = 0.0) -> Box:
    left, bottom, right, top = _edges(feature)
    return Box(left + by, bottom, right + by, top, pen, Tone.PAPER)


def _edges(feature: Feature) -> tuple[float, ...]:
    """Left, bottom, right, top of a thing that was measured, inches."""
    return tuple(edge.value for edge in (feature.left, feature.bottom, feature.right, feature.top) if edge)


def _stretch(feature: Feature, remedy: Remedy, frames: Sequence[Frame]) -> tuple[float, float]:
    """From where to where the wall is shown: round the thing, or the whole run where all of it changes."""
    if remedy.count is not None:
        run = next(frame for frame in frames if frame.run.name == remedy.run)
        return float(run.rect.left) - 1, float(run.rect.right) + 1
    left, _, right, _ = _edges(feature)
    return left - ROUND, right + ROUND
