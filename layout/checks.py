"""What else a careful carpenter looks for on a wall: windows that touch the rails, floors that are not level, slips.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from capture.measured import Measured, sd_of
from capture.record import TRAITS, Kind
from capture.survey import Feature, WallSurvey
from layout.frames import Frame
from layout.openings import STOOL_THICKNESS
from layout.scheme import Scheme

HORN = Fraction(1)  # inches that a stool reaches past the casing; common practice, no source
Span = tuple[Measured, Measured]  # from, to
SURE = 1.959964  # standard deviations on each side of a 95 % interval


def wall_checks(survey: WallSurvey, frames: Sequence[Frame], scheme: Scheme) -> Iterator[str]:
    """What was found on a wall besides the things that are judged, in plain words."""
    for feature in survey.features:
        if feature.kind is Kind.WINDOW:
            yield from _window(feature, frames, scheme)
    yield from _floor(survey, scheme)
    yield from _astray(survey, scheme)
    yield from _one_in_another(survey, scheme)


def _window(feature: Feature, frames: Sequence[Frame], scheme: Scheme) -> Iterator[str]:
    """A window's apron just over the cap, and its stool in the way of cap and rail beside it."""
    lowest = feature.apron or feature.bottom
    if lowest is not None:
        gap = Fraction(lowest.value) - scheme.top
        if 0 <= gap < scheme.plate_clear:
            yield f"the wainscot ends {scheme.show(gap)} under the casing of {feature.name}: let it meet, or lower it"
    if feature.stool is None or feature.left is None or feature.right is None:
        return
    high = Fraction(feature.stool.value)
    low = high - STOOL_THICKNESS
    for frame in frames:
        heights = frame.run.heights(scheme)
        gaps = (
            abs(frame.rect.right - Fraction(feature.left.value)),
            abs(frame.rect.left - Fraction(feature.right.value)),
        )
        if min(gaps) < HORN and low < heights.top and high > heights.tiers[-1][1]:
            yield (
                f"the stool of {feature.name}, {scheme.show(low)} to {scheme.show(high)} high, meets the top rail or "
                f"cap of {frame.run.name}: cut them round its horn"
            )


def _floor(survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    """How far the floor is out of level: the line stays level, what stands on the floor hides it."""
    points = [f.up for f in survey.features if f.kind is Kind.FLOOR_POINT and f.up is not None]
    foot = "base" if scheme.base else "bottom rail and end stiles"
    if len(points) < 2:
        noted = survey.conditions.level
        if noted and noted.off:
            words = (
                f"the floor is noted {scheme.show(noted.off)} out of level: the line stays level, and the {foot} take "
                "it up: cut up to that much longer where the floor is lowest, and scribe"
            )
            yield words.replace("the base take", "the base takes")
        return
    low, high = min(points, key=lambda up: up.value), max(points, key=lambda up: up.value)
    fall, spread = high.value - low.value, SURE * sd_of((1.0, high), (-1.0, low))
    if fall <= spread:
        return
    words = (
        f"the floor falls {scheme.show(fall)} {scheme.show_spread(spread)} along the wall: the line stays level, and "
        f"the {foot} take it up: cut {scheme.show(max(0.0, -low.value))} longer at the lowest place, "
        f"{scheme.show(max(0.0, high.value))} off at the highest, and scribe"
    )
    yield words.replace("the base take", "the base takes")


def _astray(survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    """What surely stands past an end of its wall: a reading of another wall, or a slip of a foot."""
    for feature in survey.features:
        if not feature.rectangle or feature.left is None or feature.right is None:
            continue
        past = [("left", -feature.right.value, SURE * feature.right.sd)]
        if survey.width is not None:
            over = feature.left.value - survey.width.value
            past.append(("right", over, SURE * sd_of((1.0, feature.left), (-1.0, survey.width))))
        for end, by, spread in past:
            if by > spread:
                where = f"{scheme.show(by)} past the {end} end of the wall"
                yield f"{feature.name} stands {where}: look at its reading again"


def _one_in_another(survey: WallSurvey, scheme: Scheme) -> Iterator[str]:
    """Boxes whose plates surely lie over each other, which no two do."""
    boxes = [(f, _sides(f)) for f in survey.features if TRAITS[f.kind].wired]
    known = [(feature, sides) for feature, sides in boxes if sides is not None]
    for (one, mine), (other, theirs) in combinations(known, 2):
        across, up = (_over(*a, *b) for a, b in zip(mine, theirs, strict=True))
        if across[0] > across[1] and up[0] > up[1]:
            yield f"{one.name} and {other.name} overlap by {scheme.show(across[0])}: look at their readings again"


def _sides(feature: Feature) -> tuple[Span, Span] | None:
    if feature.left is None or feature.right is None or feature.bottom is None or feature.top is None:
        return None
    return (feature.left, feature.right), (feature.bottom, feature.top)


def _over(low: Measured, high: Measured, other_low: Measured, other_high: Measured) -> tuple[float, float]:
    """By how much two spans overlap, and the spread of that."""
    end, start = min(high, other_high, key=_value), max(low, other_low, key=_value)
    return end.value - start.value, SURE * sd_of((1.0, end), (-1.0, start))


def _value(length: Measured) -> float:
    return length.value
