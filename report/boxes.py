"""What the electrician needs to know of each wired box, as plain rows for paper and for CSV."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from capture.lengths import MM, Unit, show_length
from capture.measured import Measured
from capture.record import TRAITS, Kind, Mark, Side
from capture.survey import Feature, WallSurvey
from layout.floorline import REACH, FloorLine, Reached
from layout.moves import STUD_CLEAR, Window
from layout.new_places import apart
from layout.plan import WallPlan
from layout.scheme import Pin, Scheme
from layout.setback import reach_needed
from layout.verdicts import Judgement, Verdict
from report.numbers import judged, numbers
from report.tables import NOT_KNOWN, SIXTEENTH, what

STAYS = "stays, as decided"
CLEARS_NOWHERE = "no place at this height clears everything"
ON_THE_WOOD = (Verdict.SPLIT, Verdict.WHOLE)


@dataclass(frozen=True)
class ElectricianRow:
    """A box that is in the way: where it is, where it may go, and what is known of the wall behind it."""

    wall: str
    number: str
    what: str
    centre_now: str
    height: str
    may_stand: str
    wanted: str  # the place for its centre, from the left end
    least_move: str
    decided: str
    stud: str
    cable_slack: str
    gangs: str
    box: str
    wiring: str
    set_back: str
    why: str
    surface: str
    note: str


@dataclass(frozen=True)
class StayingRow:
    """A wired box that stays where it is, and what the new surface does to it."""

    wall: str
    number: str
    what: str
    centre: str
    height: str
    box: str
    surface: str


@dataclass(frozen=True)
class SpacingRow:
    """The worst place of one wall space along the floor line, before and after the moves."""

    space: str
    length: str
    before: str
    after: str


def windows_of(plan: WallPlan, name: str) -> list[Window]:
    """Where the centre of a box in the way may stand, wall inches, the window offered first at the front."""
    return [remedy.window for remedy in plan.remedies[name] if remedy.window is not None]


def window_wanted(plan: WallPlan, name: str) -> Window | None:
    """The window with the place where a box is wanted; None where it is wanted nowhere else."""
    wanted = plan.wanted.get(name)
    if wanted is None:
        return None
    return next((window for window in windows_of(plan, name) if window.left <= wanted <= window.right), None)


def comes_forward(plan: WallPlan, name: str) -> bool:
    """Whether a box that stays comes to stand in wood, so that it has to reach the new face."""
    return name not in plan.wanted and judged(plan)[name].likeliest in ON_THE_WOOD


def hindered(plan: WallPlan, name: str) -> bool:
    """Whether the place wanted is so only if at all: the cable is known not to reach, or a tape comes first."""
    by, slack = plan.wanted_by(name), plan.survey.feature(name).mark.cable_slack
    doubtful = any(one.feature == name and one.verdict is Verdict.TOO_CLOSE for one in plan.undecided)
    return by is not None and (doubtful or (slack is not None and slack < abs(by)))


def planned_places(plan: WallPlan) -> dict[str, float]:
    """Where the centres of boxes go of which it is decided that they move, wall inches, by name."""
    return {name: float(plan.wanted[name]) for name in plan.moves if name in plan.wanted}


def electrician_rows(plan: WallPlan, unit: Unit = Unit.INCH, scheme: Scheme | None = None) -> list[ElectricianRow]:
    """Every wired box in the way, with all the windows of places that it may go to."""
    number, verdicts = numbers(plan.survey), judged(plan)
    wired = [name for name in plan.remedies if TRAITS[plan.survey.feature(name).kind].wired]
    ordered = sorted(wired, key=number.__getitem__)
    return [_row(plan, number[name], verdicts[name], unit, scheme) for name in ordered]


def _row(plan: WallPlan, number: int, judgement: Judgement, unit: Unit, scheme: Scheme | None) -> ElectricianRow:
    feature = plan.survey.feature(judgement.feature)
    mark = feature.mark
    wanted, stays = plan.wanted.get(feature.name), feature.name in plan.stays
    return ElectricianRow(
        plan.name,
        str(number),
        what(mark),
        _shown(feature.across, unit),
        _shown(feature.up, unit),
        STAYS if stays else _windows(plan, feature.name, unit) or _nowhere(feature),
        show_length(wanted, unit) if wanted is not None else NOT_KNOWN,
        _move(plan, feature, unit),
        decision(plan, feature.name, scheme) or "not decided",
        f"on its {mark.stud_side}" if mark.stud_side else NOT_KNOWN,
        show_length(mark.cable_slack, unit) if mark.cable_slack is not None else NOT_KNOWN,
        str(mark.gangs),
        mark.box.value if mark.box else NOT_KNOWN,
        _wiring(plan, mark),
        show_length(mark.set_back, unit) if mark.set_back is not None else NOT_KNOWN,
        judgement.sentence,
        " ".join(_surfaces(mark, wanted is not None, judgement, scheme, unit)),
        "" if stays else "; ".join(dict.fromkeys(_minds(plan, feature, unit, scheme))),
    )


DECIDED = {
    Pin.MOVE: "decided: it moves",
    Pin.MOVE_LEFT: "decided: it moves to the left",
    Pin.MOVE_RIGHT: "decided: it moves to the right",
    Pin.LEAVE: "decided: it stays where it is",
    Pin.EXTEND: "decided: it stays and is brought forward",
    Pin.BLOCK_OUT: "decided: it stays, on a block",
}


def _wiring(plan: WallPlan, mark: Mark) -> str:
    """What was marked of this box, else what is noted of the wall or of the whole house."""
    noted = plan.survey.conditions.wiring
    if mark.wiring is not None:
        return mark.wiring.value
    return f"{noted.value}, by the conditions noted" if noted is not None else NOT_KNOWN


def decision(plan: WallPlan, name: str, scheme: Scheme | None) -> str:
    """What is decided about a thing in the way; "" where nothing is, or where it cannot be moved so."""
    pinned = scheme.pin(plan.name, name) if scheme is not None else None
    if pinned not in DECIDED:
        return ""
    if name in plan.vain:
        return f"{DECIDED[pinned]}, but that does not help there"
    return DECIDED[pinned] if name not in [judgement.feature for judgement in plan.undecided] else ""


def _shown(measured: Measured | None, unit: Unit) -> str:
    return measured.show(unit) if measured else NOT_KNOWN


def _windows(plan: WallPlan, name: str, unit: Unit) -> str:
    step = MM if unit is Unit.MM else SIXTEENTH
    # Inward to what a tape shows, so that the paper never offers a place that does not clear.
    windows = sorted(window.shown(step) for window in windows_of(plan, name))
    return "; or ".join(f"{show_length(low, unit)} to {show_length(high, unit)}" for low, high in windows)


def _minds(plan: WallPlan, feature: Feature, unit: Unit, scheme: Scheme | None) -> Iterator[str]:
    """What to mind of the moves, and what else stands where the box may, or may come to stand there."""
    windows = windows_of(plan, feature.name)
    for remedy in plan.remedies[feature.name]:
        if remedy.window is not None:
            yield from remedy.warnings
    told = [stud for remedy in plan.remedies[feature.name] for stud in remedy.studs]
    for stud in plan.survey.features:
        if stud.kind is not Kind.STUD or stud.across is None or stud.name in told:
            continue
        at = stud.across.value
        if any(window.left - STUD_CLEAR < at < window.right + STUD_CLEAR for window in windows):
            yield f"not within {show_length(STUD_CLEAR, unit)} of {stud.name}, at {show_length(at, unit)}"
    if scheme is not None:
        yield from _others_that_move(plan, feature, windows, unit, scheme)


def _others_that_move(
    plan: WallPlan, feature: Feature, windows: Sequence[Window], unit: Unit, scheme: Scheme
) -> Iterator[str]:
    """Boxes that may come to stand too close, wherever each of the two goes inside its windows."""
    number = numbers(plan.survey)
    for name in sorted(plan.wanted, key=number.__getitem__):
        far = apart(feature, plan.survey.feature(name), scheme) if name != feature.name else Fraction(0)
        theirs = windows_of(plan, name)
        if far and any(a.left - far < b.right and b.left < a.right + far for a in windows for b in theirs):
            yield f"its centre and that of {number[name]}, where they go, at least {show_length(far, unit)} apart"


def _nowhere(feature: Feature) -> str:
    """Why no place is offered: what a tape has to tell first, or that all is known and nothing clears."""
    measured = {"place along the wall": feature.across, "height": feature.up}
    lacks = [name for name, length in measured.items() if length is None]
    return f"tape its {' and its '.join(lacks)} first" if lacks else CLEARS_NOWHERE


def _move(plan: WallPlan, feature: Feature, unit: Unit) -> str:
    by = plan.wanted_by(feature.name)
    if by is None:
        return NOT_KNOWN
    side = Side.RIGHT if by > 0 else Side.LEFT
    stud = ", but the stud is on that side" if feature.mark.stud_side is side else ""
    return f"{show_length(abs(by), unit)} to the {side}{stud}"


# What the new surface does to a box.


def _surfaces(mark: Mark, moves: bool, judgement: Judgement, scheme: Scheme | None, unit: Unit) -> Iterator[str]:
    """At the new place, in a panel; and where it stands now, if it cannot move."""
    if scheme is None:
        yield f"The new surface is {NOT_KNOWN}."
        return
    if moves:
        yield f"At the new place {_surface(mark, scheme.build_up - scheme.thickness, unit)}."
    if judgement.likeliest in ON_THE_WOOD:
        yield f"{'If it stays' if moves else 'Where it stands'} {_surface(mark, scheme.build_up, unit)}."


def _surface(mark: Mark, added: Fraction, unit: Unit) -> str:
    if not added:
        return "the wall’s own face stays round it"
    front = f"{show_length(added, unit)} of wood comes in front"
    if mark.set_back is None:
        return f"{front}: bring the box forward by that and by what it is set back now, which is {NOT_KNOWN}"
    reach = reach_needed(mark.set_back, added, combustible=True)
    return f"{front}: bring the box forward {show_length(reach, unit)}, to the new face"


def staying_rows(plan: WallPlan, unit: Unit, scheme: Scheme | None) -> list[StayingRow]:
    """Every wired box that nothing is in the way of, by number."""
    number = numbers(plan.survey)
    wired = [f for f in plan.survey.features if TRAITS[f.kind].wired and f.name not in plan.remedies]
    return [_staying(plan, feature, number[feature.name], unit, scheme) for feature in _by(wired, number)]


def _by(features: Iterable[Feature], number: dict[str, int]) -> list[Feature]:
    return sorted(features, key=lambda feature: number[feature.name])


def _staying(plan: WallPlan, feature: Feature, number: int, unit: Unit, scheme: Scheme | None) -> StayingRow:
    box = feature.mark.box.value if feature.mark.box else NOT_KNOWN
    where = _shown(feature.across, unit), _shown(feature.up, unit)
    return StayingRow(plan.name, str(number), what(feature.mark), *where, box, _stays(plan, feature, unit, scheme))


def _stays(plan: WallPlan, feature: Feature, unit: Unit, scheme: Scheme | None) -> str:
    judgement = judged(plan).get(feature.name)
    if judgement is not None and judgement.verdict is Verdict.TOO_CLOSE:
        return f"Too close to tell. {judgement.sentence}"
    if scheme is None or not plan.frames or feature.across is None or feature.up is None:
        return f"What comes round it is {NOT_KNOWN}."
    x, y = feature.across.value, feature.up.value
    covered = any(f.rect.left <= x <= f.rect.right and f.rect.bottom <= y <= f.rect.top for f in plan.frames)
    if not covered:
        return "Outside the wainscot: nothing changes."
    told = _surface(feature.mark, scheme.build_up - scheme.thickness, unit)
    return f"In a panel: {told}."


# Receptacles along the floor line.


def spacing_rows(plans: Sequence[WallPlan], unit: Unit) -> list[SpacingRow]:
    """Every wall space of a room whose walls come in order, before and after every box stands where it is wanted."""
    before = FloorLine([plan.survey for plan in plans]).farthest()
    after = FloorLine([_moved(plan) for plan in plans]).farthest()
    return [
        SpacingRow(" and ".join(then.walls), show_length(then.length, unit), _worst(then, unit), _worst(later, unit))
        for then, later in zip(before, after, strict=True)
    ]


def _moved(plan: WallPlan) -> WallSurvey:
    """The wall with every box in the way where it is wanted."""
    return replace(plan.survey, features=tuple(_at_its_place(plan, f) for f in plan.survey.features))


def _at_its_place(plan: WallPlan, feature: Feature) -> Feature:
    wanted = plan.wanted.get(feature.name)
    if wanted is None or feature.left is None or feature.right is None or feature.across is None:
        return feature
    by = float(wanted) - feature.across.value
    left, right = (replace(edge, value=edge.value + by) for edge in (feature.left, feature.right))
    return replace(feature, left=left, right=right)


def _worst(reached: Reached, unit: Unit) -> str:
    worst = reached.worst
    unless = f", unless one {worst.unless} serves it" if worst.unless else ""
    if worst.distance is None:
        return f"no receptacle{unless}"
    told = f"{show_length(worst.distance, unit)} at {show_length(worst.at, unit)} of {worst.wall}"
    over = worst.distance - REACH
    if over <= 0:
        return f"{told}: within reach"
    return f"{told}: MORE than {show_length(REACH, unit)}, by {show_length(over, unit)}{unless}"
