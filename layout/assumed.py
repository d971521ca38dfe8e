"""What a plan takes for granted, told in plain words so that nothing is decided in silence."""

from collections.abc import Iterator, Mapping, Sequence

from capture.record import TRAITS, EndKind, Kind
from capture.survey import WallSurvey
from layout.bevels import show_degrees
from layout.corners import SHARED, SURE, CornerEnd, Corners, angle_seen, odd
from layout.frames import Frame, spoken
from layout.meeting import Verdict
from layout.moves import Move
from layout.rules import StileRules, rules_of
from layout.scheme import MOVES, Pin, Scheme
from layout.spacing import best_count, space
from layout.verdicts import Judgement

FINDER = 0.5  # degrees to which an angle finder is read; common practice, no source


def assumptions(
    survey: WallSurvey,
    frames: Sequence[Frame],
    judgements: Sequence[Judgement],
    corners: Corners,
    moves: Mapping[str, Move],
    scheme: Scheme,
) -> Iterator[str]:
    """What the plan of a wall takes for granted, a sentence each.

    Parameters
    ----------
    survey, frames, judgements
        The wall as it stands, as planned, and what is in the way.
    corners
        What is known of its two ends.
    moves
        Where boxes go that are pinned to be moved, by name.
    scheme
        The sizes wanted.
    """
    yield from _ends(survey, frames, corners, scheme)
    if sum(feature.kind is Kind.FLOOR_POINT for feature in survey.features) < 2:
        if survey.conditions.level is None:
            yield "The floor is taken as level: fewer than two floor points are marked."
        elif survey.conditions.level.off:
            yield "How the floor falls is not known, only by how much in all: fewer than two floor points are marked."
    rules = rules_of([frame.run for frame in frames], survey, scheme)
    for frame in frames:
        yield from _spacing(frame, rules[frame.run.name], scheme)
    for judgement in judgements:
        yield from _thing(survey, judgement, moves.get(judgement.feature), scheme)


def _ends(survey: WallSurvey, frames: Sequence[Frame], corners: Corners, scheme: Scheme) -> Iterator[str]:
    sides = ("left", survey.left, corners.left), ("right", survey.right, corners.right)
    square = [side for side, kind, end in sides if kind in SHARED and end.detail.angle is None and not end.seen]
    plumb = [side for side, kind, end in sides if kind is not EndKind.OPEN and end.detail.out_of_plumb is None]
    if square:
        plural, are = ("corner", "is") if len(square) == 1 else ("corners", "are")
        yield f"The {plural} at the {_both(square)} {are} taken as square: no angle was measured."
    for side, _, end in sides:
        yield from _angle_seen(side, end)
    lean = survey.conditions.plumb
    if plumb and lean is None:
        yield f"The wall is taken as plumb at the {_both(plumb)}: nothing else was measured."
    elif plumb and lean is not None and lean.off:
        yield (
            f"The wall is noted {scheme.show(lean.off)} out of plumb, and what stands at the {_both(plumb)} is taken "
            "as plumb: it was not measured there."
        )
    for side, kind, end in sides:
        if kind in (EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER):
            order, other = "before" if end.first else "after", f"“{end.wall}”" if end.wall else "the next wall"
            yield f"At the {side} end “{survey.name}” goes in {order} {other}."
    for frame in frames:
        for one in (frame.run.left_end, frame.run.right_end):
            yield from (words[:1].upper() + words[1:] + "." for words in one.assumed)


def _angle_seen(side: str, end: CornerEnd) -> Iterator[str]:
    """What photos show of a corner's angle, and what is made of it."""
    if end.seen is None:
        return
    shown = f"{float(angle_seen(end.seen)):.1f}° ± {SURE * end.seen.turn_sd:.1f}°"
    if end.noted and end.detail.angle is not None:
        if abs(180 - float(end.detail.angle) - end.seen.turn) > SURE * end.seen.turn_sd + FINDER:
            told = show_degrees(end.detail.angle)
            yield f"The corner at the {side} end is taken as {told}, as noted, but photos show {shown}: measure again."
    elif odd(end.seen):
        yield f"The corner at the {side} end is taken as photos show it, {shown}: measure it before bevels are cut."
    else:
        yield f"The corner at the {side} end is taken as square: photos show {shown}."


def _both(sides: Sequence[str]) -> str:
    return "left end and at the right end" if len(sides) == 2 else f"{sides[0]} end"


def _spacing(frame: Frame, rules: StileRules, scheme: Scheme) -> Iterator[str]:
    run, tiers = frame.run, frame.run.heights(scheme).tiers
    yield from _ruled(frame, rules, scheme)
    if scheme.middle_rail_at and len(tiers) == 1:
        yield f"“{run.name}” has one tier of panels: the middle rail leaves no room for two there."
    tallest = max(high - low for low, high in tiers)
    if scheme.proportion and tallest / scheme.proportion < scheme.least_opening:
        yield (
            f"The panels of “{run.name}” are wider than the proportion wants: {scheme.show(tallest)} high they would "
            f"be {scheme.show(tallest / scheme.proportion)} wide, and one needs {scheme.show(scheme.least_opening)}."
        )
    for stile, by in zip(frame.stiles[1:-1], frame.spacing.nudges, strict=True):
        if by:
            side = "right" if by > 0 else "left"
            yield f"{stile.name[:1].upper()}{stile.name[1:]} is shifted {scheme.show(abs(by))} to the {side}."
    exact = [panel.opening.width for panel in frame.panels if panel.opening.bottom == frame.panels[0].opening.bottom]
    shown = frame.shown_across(scheme.step)[1::2]
    if len(set(exact)) == 1 < len(set(shown)):
        words = " and ".join(scheme.show(width) for width in sorted(set(shown)))
        yield (
            f"The equal panels of {frame.run.name} are shown as {words}, so that the shown pieces add up to the run."
        )


def _ruled(frame: Frame, rules: StileRules, scheme: Scheme) -> Iterator[str]:
    """That a rule of the stiles, and not the width wanted, made the count what it is."""
    if not (rules.wanted or rules.forbidden):
        return
    run, count = frame.run, best_count(frame.run, scheme)
    if count == frame.count or rules.missed(space(run, scheme, count), scheme) <= scheme.nudge:
        return
    panels = "1 panel" if count == 1 else f"{count} panels"
    yield (
        f"“{run.name}” has {frame.count} panels of {scheme.show(frame.panel_width)}: with {panels} of "
        f"{scheme.show(space(run, scheme, count).panels[0])}, nearer to the width wanted, its stiles would not stand "
        f"as told ({rules.told})."
    )


def _thing(survey: WallSurvey, judgement: Judgement, move: Move | None, scheme: Scheme) -> Iterator[str]:
    feature, pin = survey.feature(judgement.feature), scheme.pin(survey.name, judgement.feature)
    start = feature.name[:1].upper() + feature.name[1:]
    if pin is not None:
        yield f"{start}: {DECIDED[pin]}, as decided."
    elif judgement.verdict is Verdict.TOO_CLOSE and judgement.clearance is not None:
        yield (
            f"{start} counts as in the way, being too close to tell at {spoken(judgement.against)}: "
            f"likely ({judgement.probability:.0%}) {judgement.likeliest}."
        )
    if move is not None:
        side = "right" if move.by > 0 else "left"
        yield f"{start} is taken to go {scheme.show(abs(move.by))} to the {side}, and that place is kept free."
    wired = TRAITS[feature.kind].wired
    if judgement.verdict.conflict and wired and feature.mark.cable_slack is None and pin in (None, *MOVES):
        yield f"How far the cable of {feature.name} reaches is not known: moves are offered as if it did."
    if feature.kind is Kind.HEATER:
        yield (
            f"{start} is kept {scheme.show(scheme.heater_clear)} clear of wood: "
            "its maker's instructions decide, look there first."
        )


DECIDED = {
    Pin.CLEAR: "the frame clears it",
    Pin.MOVE: "the box is moved, and the frame does not mind where it stands now",
    Pin.MOVE_LEFT: "the box is moved to the left, and the frame does not mind where it stands now",
    Pin.MOVE_RIGHT: "the box is moved to the right, and the frame does not mind where it stands now",
    Pin.LEAVE: "it stays where it is",
    Pin.EXTEND: "it stays and gets an extender",
    Pin.BLOCK_OUT: "it stays and is blocked out",
}
