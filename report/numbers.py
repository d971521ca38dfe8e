"""The number that each thing on a wall has on every paper: the same on the photo, the drawings and the tables."""

from collections.abc import Sequence

from capture.measured import Measured
from capture.record import TRAITS, Kind, Shape
from capture.survey import Feature, WallSurvey
from layout.plan import WallPlan
from layout.verdicts import Judgement

OPENINGS = (Kind.WINDOW, Kind.CASING_EDGE)


def numbers(survey: WallSurvey) -> dict[str, int]:
    """Numbers by name, from left to right; lines and points are lettered on the drawing instead."""
    things = [feature for feature in survey.features if TRAITS[feature.kind].shape is Shape.RECTANGLE]
    ordered = sorted(things, key=lambda feature: _place(feature.across or feature.left))
    return {feature.name: number for number, feature in enumerate(ordered, 1)}


def in_order(survey: WallSurvey) -> list[Feature]:
    """All features as a table lists them: the numbered ones by number, then lines and points from left to right."""
    number = numbers(survey)
    last = len(number) + 1
    return sorted(survey.features, key=lambda f: (number.get(f.name, last), f.kind.value, _place(f.across or f.left)))


def judged(plan: WallPlan) -> dict[str, Judgement]:
    """The judgement of each feature by its name."""
    return {judgement.feature: judgement for judgement in plan.judgements}


def by_number(plan: WallPlan) -> list[Judgement]:
    """All judgements of a wall, by the number of what they are about."""
    number = numbers(plan.survey)
    return sorted(plan.judgements, key=lambda judgement: number.get(judgement.feature, 0))


def in_the_way(conflicts: Sequence[Judgement], undecided: Sequence[Judgement]) -> str:
    """How much is in the way and how much of it is decided, such as “5 in the way, 4 decided, 1 to decide”."""
    decided = len(conflicts) - len(undecided)
    told = [f"{len(conflicts)} in the way"]
    told += [f"{decided} decided"] if decided else []
    told += [f"{len(undecided)} to decide"] if decided and undecided else []
    return ", ".join(told)


def _place(measured: Measured | None) -> float:
    return float("inf") if measured is None else measured.value
