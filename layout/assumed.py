"""What a plan takes for granted, told in plain words so that nothing is decided in silence."""

from collections.abc import Iterator, Sequence

from capture.record import TRAITS, EndKind, Kind
from capture.survey import WallSurvey
from layout.corners import SHARED, Corners
from layout.frames import Frame, spoken
from layout.meeting import Verdict
from layout.scheme import Pin, Scheme
from layout.verdicts import Judgement


def assumptions(
    survey: WallSurvey, frames: Sequence[Frame], judgements: Sequence[Judgement], corners: Corners, scheme: Scheme
) -> Iterator[str]:
    """What the plan of a wall takes for granted, a sentence each."""
    yield from _ends(survey, frames, corners)
    if sum(feature.kind is Kind.FLOOR_POINT for feature in survey.features) < 2:
        yield "The floor is taken as level: fewer than two floor points are marked."
    for frame in frames:
        yield from _spacing(frame, scheme)
    for judgement in judgements:
        yield from _thing(survey, judgement, scheme)


def _ends(survey: WallSurvey, frames: Sequence[Frame], corners: Corners) -> Iterator[str]:
    sides = (
        ("left", survey.left, corners.left, corners.left_wall, corners.left_first),
        ("right", survey.right, corners.right, corners.right_wall, corners.right_first),
    )
    square = [side for side, kind, detail, _, _ in sides if kind in SHARED and detail.angle is None]
    plumb = [side for side, kind, detail, _, _ in sides if kind is not EndKind.OPEN and detail.out_of_plumb is None]
    if square:
        yield f"The corner at the {_both(square)} is taken as square: no angle was measured."
    if plumb:
        yield f"The wall is taken as plumb at the {_both(plumb)}: nothing else was measured."
    for side, kind, _, other, first in sides:
        if kind in (EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER):
            order = "before" if first else "after"
            yield f"At the {side} end “{survey.name}” goes in {order} {f'“{other}”' if other else 'the next wall'}."
    for frame in frames:
        for end in (frame.run.left_end, frame.run.right_end):
            yield from (words[:1].upper() + words[1:] + "." for words in end.assumed)


def _both(sides: Sequence[str]) -> str:
    return "left end and at the right end" if len(sides) == 2 else f"{sides[0]} end"


def _spacing(frame: Frame, scheme: Scheme) -> Iterator[str]:
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


def _thing(survey: WallSurvey, judgement: Judgement, scheme: Scheme) -> Iterator[str]:
    feature, pin = survey.feature(judgement.feature), scheme.pin(survey.name, judgement.feature)
    start = feature.name[:1].upper() + feature.name[1:]
    if pin is not None:
        yield f"{start}: {DECIDED[pin]}, as decided."
    elif judgement.verdict is Verdict.TOO_CLOSE and judgement.clearance is not None:
        yield (
            f"{start} counts as in the way, being too close to tell at {spoken(judgement.against)}: "
            f"likely ({judgement.probability:.0%}) {judgement.likeliest}."
        )
    wired = TRAITS[feature.kind].wired
    if judgement.verdict.conflict and wired and feature.mark.cable_slack is None and pin in (None, Pin.MOVE):
        yield f"How far the cable of {feature.name} reaches is not known: moves are offered as if it did."
    if feature.kind is Kind.HEATER:
        yield (
            f"{start} is kept {scheme.show(scheme.heater_clear)} clear of wood: "
            "its maker's instructions decide, look there first."
        )


DECIDED = {
    Pin.CLEAR: "the frame clears it",
    Pin.MOVE: "the box is moved, and the frame does not mind where it stands now",
    Pin.LEAVE: "it stays as it is",
    Pin.EXTEND: "it stays and gets an extender",
    Pin.BLOCK_OUT: "it stays and is blocked out",
}
