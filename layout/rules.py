"""Where a stile must stand and where none may: places in words, made exact for each run.

Frame: the wall's inches, x to the right from its left end.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from capture.errors import PlainError
from capture.lengths import LengthError, parse_length
from capture.survey import WallSurvey
from layout.exact import plan_length
from layout.runs import Run
from layout.scheme import Scheme
from layout.spacing import Spacing

CENTRE = "centre"


class RuleError(PlainError, ValueError):
    """A rule of the spacing that cannot be kept, or two that contradict each other."""


class Place(NamedTuple):
    """A place or a stretch on a wall, inches, and how a person called it."""

    left: Fraction
    right: Fraction
    words: str


@dataclass(frozen=True)
class StileRules:
    """The rules of one run."""

    wanted: tuple[Place, ...] = ()  # each must lie on a stile's face
    forbidden: tuple[Place, ...] = ()  # no stile may lie on any of it

    @property
    def told(self) -> str:
        """In a person's own words."""
        named = [f"at {place.words}" for place in self.wanted] + [f"none at {place.words}" for place in self.forbidden]
        return ", ".join(named)

    def missed(self, spacing: Spacing, scheme: Scheme) -> Fraction:
        """How far stiles would have to shift to keep every rule, the worst of them, inches; 0 keeps all."""
        faces = stile_faces(spacing, scheme)
        off = [min(distance(face, place) for face in faces) for place in self.wanted]
        in_it = [max(overlap(face, place) for face in faces) for place in self.forbidden]
        return max((*off, *in_it), default=Fraction(0))


def stile_faces(spacing: Spacing, scheme: Scheme) -> list[tuple[Fraction, Fraction]]:
    """Left and right edge of every stile, wall inches."""
    ends = (0, spacing.count)
    widths = (scheme.outer_stile if i in ends else scheme.stile for i in range(spacing.count + 1))
    return [(left, left + width) for left, width in zip(spacing.lefts, widths, strict=True)]


def distance(face: tuple[Fraction, Fraction], place: Place) -> Fraction:
    """How far a stile is from holding the place on its face, inches."""
    return max(face[0] - place.left, place.right - face[1], Fraction(0))


def overlap(face: tuple[Fraction, Fraction], place: Place) -> Fraction:
    """How far a stile would have to shift to leave the place free, inches."""
    return max(min(face[1] - place.left, place.right - face[0]), Fraction(0))


def rules_of(runs: Sequence[Run], survey: WallSurvey, scheme: Scheme) -> dict[str, StileRules]:
    """The rules of a wall's runs, by the run's name.

    Raises
    ------
    RuleError
        A place that is not on the wall's runs, or a stile both wanted and forbidden.
    """
    rules = {run.name: _rules(run, survey, scheme) for run in runs}
    for words in scheme.stile_at.get(survey.name, ()):
        if not any(words in [place.words for place in rule.wanted] for rule in rules.values()):
            raise _nowhere(words, runs, survey, scheme)
    return rules


def _nowhere(words: str, runs: Sequence[Run], survey: WallSurvey, scheme: Scheme) -> RuleError:
    place = _place(words, runs[0], survey, a_point=True)
    off, run = min(((max(run.left - place.left, place.left - run.right), run) for run in runs), key=lambda one: one[0])
    return RuleError(
        f"A stile is wanted at {words} on “{survey.name}”, but no wainscot runs there: the nearest, “{run.name}”, is "
        f"from {scheme.show(run.left)} to {scheme.show(run.right)}, {scheme.show(off)} away; take the place away."
    )


def _rules(run: Run, survey: WallSurvey, scheme: Scheme) -> StileRules:
    wanted = tuple(_places(scheme.stile_at, run, survey, scheme, a_point=True))
    forbidden = tuple(_places(scheme.no_stile, run, survey, scheme, a_point=False))
    for place in wanted:
        for free in forbidden:
            inside = min(place.left - free.left, free.right - place.right)
            if inside >= 0:
                raise RuleError(
                    f"On “{run.name}” a stile is wanted at {place.words} ({scheme.show(place.left)}) and none may "
                    f"stand at {free.words} ({scheme.show(free.left)} to {scheme.show(free.right)}), "
                    f"which reaches {scheme.show(inside)} past it; take one of the two away."
                )
    return StileRules(wanted, forbidden)


def _places(
    told: dict[str, tuple[str, ...]], run: Run, survey: WallSurvey, scheme: Scheme, a_point: bool
) -> Iterator[Place]:
    """The places told for a run by its own name or its wall's, as far as it reaches there."""
    for name in dict.fromkeys((run.wall, run.name)):
        for words in told.get(name, ()):
            place = _place(words, run, survey, a_point)
            if place.left <= run.right and run.left <= place.right:
                yield place


def _place(words: str, run: Run, survey: WallSurvey, a_point: bool) -> Place:
    if words.lower() in (CENTRE, "center"):
        middle = (run.left + run.right) / 2
        return Place(middle, middle, words)
    marked = next((feature for feature in survey.features if feature.name == words), None)
    if marked is not None:
        if marked.left is None or marked.right is None:
            raise RuleError(f"Where {words} stands on “{run.wall}” is not known; mark or tape it first.")
        left, right = plan_length(marked.left), plan_length(marked.right)
        return Place((left + right) / 2, (left + right) / 2, words) if a_point else Place(left, right, words)
    first, to, second = words.partition(" to ")
    try:
        left = parse_length(first)
        right = parse_length(second) if to and not a_point else left
    except LengthError:
        raise RuleError(
            f"“{words}” is no place on “{run.wall}”: write a length from its left end, the name of a mark, or centre."
        ) from None
    if right < left or (to and a_point):
        raise RuleError(f"“{words}” is no stretch of “{run.wall}” to keep free of stiles; write it like 30 to 34.")
    return Place(left, right, words)


def cannot_be_kept(run: Run, rules: StileRules, spacings: Sequence[Spacing], scheme: Scheme) -> RuleError:
    """Why no spacing of a run keeps its rules: the one that comes nearest, and what it misses."""
    nearest = min(spacings, key=lambda spacing: rules.missed(spacing, scheme))
    short = rules.missed(nearest, scheme)
    panels = "1 panel" if nearest.count == 1 else f"{nearest.count} panels"
    allowed = f"a shift of {scheme.show(scheme.nudge)} is allowed" if scheme.nudge else "no shift is allowed"
    return RuleError(
        f"No spacing of “{run.name}” has its stiles as wanted ({rules.told}): the nearest, {panels}, misses by "
        f"{scheme.show(short)}, and {allowed}; allow more or take a place away."
    )
