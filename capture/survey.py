"""What stands on each wall now: every place in wall inches, with its plus-or-minus and where it comes from.

Frame: x runs right from the wall's left end, y up from the finished floor, z out of the wall into the room.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum
from math import hypot

from capture.lengths import Unit, show_length, show_spread
from capture.measured import Measured, sd_of
from capture.record import TRAITS, Conditions, EndDetail, EndKind, Kind, Mark, Shape


@dataclass(frozen=True)
class Feature:
    """One thing on the wall.

    Rectangles have all four edges; an upright line has `left` equal to `right`; a point `bottom` equal to
    `top` too. An edge that was never measured is None.
    """

    mark: Mark
    left: Measured | None
    right: Measured | None
    bottom: Measured | None
    top: Measured | None
    stool: Measured | None = None  # windows: top of the stool
    apron: Measured | None = None  # windows: bottom of the apron
    assumed: tuple[str, ...] = ()  # what was taken for granted, in plain words

    @property
    def name(self) -> str:
        """The mark's name."""
        return self.mark.name

    @property
    def kind(self) -> Kind:
        """The mark's kind."""
        return self.mark.kind

    @property
    def blocks(self) -> bool:
        """Whether it can stand in the way of a member."""
        return TRAITS[self.kind].blocks

    @property
    def rectangle(self) -> bool:
        """Whether it has a measured extent in both directions."""
        return TRAITS[self.kind].shape is Shape.RECTANGLE and None not in (self.left, self.right, self.bottom, self.top)

    @property
    def across(self) -> Measured | None:
        """Its centre across the wall."""
        return _middle(self.left, self.right)

    @property
    def up(self) -> Measured | None:
        """Its centre above the floor."""
        return _middle(self.bottom, self.top)


def _middle(low: Measured | None, high: Measured | None) -> Measured | None:
    if low is None or high is None:
        return None
    if low.errors is None or high.errors is None:
        # Both edges of one mark share nearly all their error (camera and scale), so the larger sd is the honest one.
        return Measured((low.value + high.value) / 2, max(low.sd, high.sd), low.source)
    middle = replace(low.errors, form=(low.errors.form + high.errors.form) / 2)
    return Measured((low.value + high.value) / 2, sd_of((0.5, low), (0.5, high)), low.source, middle)


class Grade(StrEnum):
    """How much a finding matters."""

    STOP = "stop"  # nothing that depends on it can be trusted
    WARN = "warning"
    NOTE = "note"


@dataclass(frozen=True)
class Finding:
    """Something the program noticed: a stable code, a place, a sentence, what to do, and what it is about."""

    code: str
    place: str
    sentence: str  # its lengths in inches
    remedy: str = ""
    grade: Grade = Grade.WARN
    subject: str = ""  # such as "card 3", where a program must know
    in_mm: str = ""  # the sentence with its lengths in millimetres, where it has any

    def told_in(self, unit: Unit) -> "Finding":
        """The same with the lengths of its sentence in a unit."""
        return replace(self, sentence=self.in_mm) if self.in_mm and unit is Unit.MM else self


# Findings that say that something is wrong with what was measured, so that nothing should be learnt from it.
MISFITS = frozenset(
    {"not-solved", "print-scale", "tape-disagrees", "mark-disagrees", "card-moved", "cards-moved", "card-scale",
     "card-proud", "poor-fit", "odd-size"}
)  # fmt: skip
CARD_ELSEWHERE = "card-elsewhere"  # a card that does not lie in the wall; it may hang on the next


@dataclass(frozen=True)
class Check:
    """A tape reading that was held back, against what everything else says of that distance."""

    start: str
    end: str
    reading: Measured
    predicted: Measured

    @property
    def agrees(self) -> bool:
        """Whether the two differ by no more than their joint 95 % interval."""
        return abs(self.reading.value - self.predicted.value) <= hypot(self.reading.spread, self.predicted.spread)

    def told(self, unit: Unit = Unit.INCH) -> str:
        """Both in one sentence."""
        outcome = "agrees" if self.agrees else "does NOT agree: look at the marks and the other readings"
        return (
            f"{self.start} to {self.end}: taped {show_length(self.reading.value, unit)}, "
            f"reckoned without it {self.predicted.show(unit)}; it {outcome}."
        )


@dataclass(frozen=True)
class Reading:
    """A tape reading that was used."""

    places: str  # such as "left end to receptacle 1"
    length: Measured
    off: float  # in: the reading less what all together make of the distance
    noticed: float | None  # in: the smallest error in it that would be noticed; None if nothing checks it

    def told(self, unit: Unit = Unit.INCH) -> str:
        """How it fits, in one sentence."""
        off = f"{show_length(abs(self.off), unit)} {'more' if self.off > 0 else 'less'} than all together make it"
        if abs(self.off) < 1 / 32:
            off = "as all together make it"
        check = (
            "nothing else checks it"
            if self.noticed is None
            else f"an error of {show_length(self.noticed, unit)} would be noticed"
        )
        return f"{self.places}: {show_length(self.length.value, unit)}, {off}; {check}."


@dataclass(frozen=True)
class Corner:
    """The corner at a wall's right end, measured through photos that show both sides of it."""

    next_wall: str
    turn: float  # degrees by which the next wall turns, 90 for a square corner
    turn_sd: float
    step: Measured  # in: how far the next wall's floor, where its heights start, lies above this one's

    def told(self, unit: Unit = Unit.INCH) -> str:
        """In one sentence."""
        way, by = "higher" if self.step.value > 0 else "lower", show_length(abs(self.step.value), unit)
        floor = f"{by} {way}" if by != show_length(0, unit) else "level with this one"
        return (
            f"It turns by {self.turn:.1f}° ± {1.96 * self.turn_sd:.1f}° to “{self.next_wall}”, where the floor starts "
            f"{floor} ({show_spread(self.step.spread, unit)})."
        )


@dataclass(frozen=True)
class WallSurvey:
    """One wall as it stands."""

    name: str
    left: EndKind
    right: EndKind
    width: Measured | None
    features: tuple[Feature, ...]
    ceiling: Measured | None = None
    level: str = ""  # what told level, in plain words
    lens: str = ""  # which calibrated lenses were used, in plain words
    findings: tuple[Finding, ...] = field(default=())
    checks: tuple[Check, ...] = ()  # readings held back, against their predictions
    readings: tuple[Reading, ...] = ()  # readings used
    corner: Corner | None = None  # at the right end
    left_detail: EndDetail = field(default_factory=EndDetail)  # what was noted of its ends
    right_detail: EndDetail = field(default_factory=EndDetail)
    conditions: Conditions = field(default_factory=Conditions)  # that it was found in, its house's where it has none

    def feature(self, name: str) -> Feature:
        """The feature of that name; KeyError if there is none."""
        for feature in self.features:
            if feature.name == name:
                return feature
        raise KeyError(name)
