"""What each thing on a wall costs a plan: whether it is in the way, has to move, or is too close to tell.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from capture.record import TRAITS, Kind, Side
from capture.survey import Feature, WallSurvey
from layout.chances import FAR, PLAIN, chances_of, decide, edge_sds, harmless, plate_box
from layout.meeting import TOUCH, Box, Outline, Verdict, verdict_at
from layout.runs import Run
from layout.scheme import MOVES, STAY, Pin, Preference, Scheme, side_of


class Tally(NamedTuple):
    """What is in the way, counted."""

    conflicts: int = 0
    moves: int = 0
    doubts: int = 0

    def plus(self, other: "Tally") -> "Tally":
        """Both together."""
        return Tally(*(one + more for one, more in zip(self, other, strict=True)))

    def of(self, preference: Preference) -> int:
        """What it counts by one preference; 0 for those that count nothing on the wall."""
        counted = {Preference.CONFLICTS: self.conflicts, Preference.MOVES: self.moves, Preference.DOUBTS: self.doubts}
        return counted.get(preference, 0)


class Face:
    """One run's frame as far as a verdict asks for it, in floats, whatever its spacing."""

    def __init__(self, run: Run, scheme: Scheme) -> None:
        heights = run.heights(scheme)
        left, right = run.left - run.left_end.filler, run.right + run.right_end.filler
        foot = heights.bottom if scheme.base_thickness == scheme.build_up else heights.foot
        self.run = run
        self.whole = Box(float(left), float(run.bottom), float(right), float(run.top))
        self.plane = Box(float(left), float(foot), float(right), float(heights.head))
        self.tiers = [(float(low), float(high)) for low, high in heights.tiers]
        self.fields = [(float(low + scheme.border), float(high - scheme.border)) for low, high in heights.tiers]
        self.stile, self.end_stile, self.border = scheme.stile, scheme.outer_stile, scheme.border
        # Where openings can lie under any spacing; end stiles and rails stay where they are.
        self.zone = Box(
            float(run.left + scheme.outer_stile), self.tiers[0][0],
            float(run.right - scheme.outer_stile), self.tiers[-1][1],
        )  # fmt: skip

    @property
    def bare(self) -> Outline:
        """Its outline as if it had no opening."""
        return Outline(self.whole, self.plane, (), ())

    def outline(self, lefts: Sequence[Fraction], near: Box, wider: Fraction = Fraction(0)) -> Outline:
        """Its outline with stiles at `lefts`, only with the openings near a box, each `wider` at both sides."""
        openings: list[Box] = []
        fields: list[Box] = []
        for i in self.span(lefts, near, wider):
            left, right = lefts[i] + (self.stile if i else self.end_stile) - wider, lefts[i + 1] + wider
            across = float(left), float(right)
            inside = float(left + self.border), float(right - self.border)
            for (low, high), (field_low, field_high) in zip(self.tiers, self.fields, strict=True):
                openings.append(Box(across[0], low, across[1], high))
                fields.append(Box(inside[0], field_low, inside[1], field_high))
        return Outline(self.whole, self.plane, tuple(openings), tuple(fields))

    def span(self, lefts: Sequence[Fraction], near: Box, reach: Fraction = Fraction(0)) -> range:
        """Which panels come within `reach` of a box."""
        first = bisect_left(lefts, Fraction(near.left) - reach)  # the first stile that starts in it
        beyond = bisect_right(lefts, Fraction(near.right) + reach)
        return range(max(0, first - 1), min(beyond, len(lefts) - 1))


@dataclass(frozen=True)
class Thing:
    """Something measured that can be in the way."""

    feature: Feature
    plate: Box
    sds: tuple[float, float, float, float]
    clear: float
    pin: Pin | None
    near: Box  # nothing beyond it can change what it counts
    reach: float | None = None  # inches: how far a box that is to be moved can go at most; None is not known

    @classmethod
    def of(cls, feature: Feature, faces: Sequence[Face], wall: str, scheme: Scheme) -> "Thing | None":
        """What is known of it against the frames of its wall; None where it is not measured."""
        plate = plate_box(feature)
        if plate is None:
            return None
        run = min(faces, key=lambda face: max(face.whole.gaps(plate))).run
        sds, clear, pin = edge_sds(feature, run), float(scheme.clear(feature.kind)), scheme.pin(wall, feature.name)
        slack = feature.mark.cable_slack if pin in MOVES else None
        left, bottom, right, top = (clear + FAR * sd for sd in sds)
        aside = float(slack or 0)
        near = Box(plate.left - left - aside, plate.bottom - bottom, plate.right + right + aside, plate.top + top)
        return cls(feature, plate, sds, clear, pin, near, None if slack is None else aside)

    def meets(self, box: Box) -> bool:
        """Whether the box lies within its reach, touching counts."""
        return max(box.gaps(self.near)) <= 0

    def tally(self, outlines: Sequence[Outline], doubts: bool = True) -> Tally | None:
        """What it counts against these frames; None where a person wants it clear and it is not.

        Whether a conflict is too close to tell takes a longer look, and is only counted where `doubts` asks for it.
        """
        if self.pin in MOVES:
            return Tally(int(not self._finds_room(outlines)), 1)
        if len(outlines) == 1:
            free = harmless(self.plate, self.sds, outlines[0]) >= PLAIN
            if free or not (doubts or self.pin in STAY):  # what is decided to stay hangs on how it is struck
                return counted(Verdict.TIGHT if free else Verdict.SPLIT, self.feature, self.pin)
        return counted(self.verdict(outlines), self.feature, self.pin)

    def _finds_room(self, outlines: Sequence[Outline]) -> bool:
        """Whether a box that is to be moved has a place at its height, within its reach, that clears these frames."""
        if self.reach is None:
            return True  # told beside the plan where there is none: `layout.moves.decided_moves`
        wanted = Box(
            self.plate.left - self.clear, self.plate.bottom - self.clear,
            self.plate.right + self.clear, self.plate.top + self.clear,
        )  # fmt: skip
        beside = all(max(frame.whole.gaps(wanted)) >= -TOUCH for frame in outlines)
        side = side_of(self.pin)
        fields = (field for frame in outlines for field in frame.fields)
        return beside or any(
            (side is not Side.LEFT or field.left - wanted.left <= TOUCH)
            and (side is not Side.RIGHT or wanted.right - field.right <= TOUCH)
            and min(field.top - wanted.top, wanted.bottom - field.bottom) >= -TOUCH
            and field.right - field.left >= wanted.right - wanted.left - TOUCH
            and max(field.left - wanted.left, wanted.right - field.right) <= self.reach + TOUCH
            for field in fields
        )

    def least(self, outlines: Sequence[Outline]) -> Tally:
        """What it counts at least, if no opening that it could meet is larger than these."""
        if self.pin in STAY:
            return Tally()
        if len(outlines) != 1 or harmless(self.plate, self.sds, outlines[0]) >= PLAIN:
            return counted(Verdict.CLEAR, self.feature, self.pin) or Tally()
        return counted(Verdict.SPLIT, self.feature, self.pin) or Tally()

    def verdict(self, outlines: Sequence[Outline]) -> Verdict:
        """The verdict as `layout.verdicts.judge` tells it."""
        chances = chances_of(self.plate, self.sds, outlines, self.clear)
        return decide(chances, verdict_at(self.plate, outlines, self.clear))[0]


def helps(pin: Pin | None, verdict: Verdict, kind: Kind) -> bool:
    """Whether a decision answers what is in a thing's way; where that is too close to tell it may.

    An extender is for a box that sits whole on a member, a block for all else.
    """
    whole = verdict is Verdict.WHOLE and TRAITS[kind].wired
    answers = {Pin.EXTEND: whole, Pin.BLOCK_OUT: not whole}
    return verdict is Verdict.TOO_CLOSE or pin is None or answers.get(pin, True)


def counted(verdict: Verdict, feature: Feature, pin: Pin | None) -> Tally | None:
    """What a verdict counts: a thing that a person has decided about is no longer in the way."""
    if pin is Pin.CLEAR and verdict.conflict:
        return None
    if pin in MOVES:
        return Tally(moves=1)
    if not verdict.conflict or (pin in STAY and helps(pin, verdict, feature.kind)):
        return Tally()
    return Tally(1, int(TRAITS[feature.kind].wired), int(verdict is Verdict.TOO_CLOSE))


def unmeasured(survey: WallSurvey, scheme: Scheme) -> Tally:
    """What the things count that nobody measured."""
    total = Tally()
    for feature in survey.features:
        if feature.blocks and plate_box(feature) is None:
            pin = scheme.pin(survey.name, feature.name)
            total = total.plus(counted(Verdict.TOO_CLOSE, feature, pin) or Tally(1, 0, 1))
    return total
