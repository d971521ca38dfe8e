"""The proven best plan of a room: over all spacings that the rules allow, by the preferences in their order.

A plan is compared preference by preference, the first that differs decides; `layout.search` leaves nothing out, so
the plan is the best there is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from capture.survey import WallSurvey
from layout.nudge import Budget
from layout.options import Group, Option, Value
from layout.rules import RuleError, StileRules, rules_of
from layout.runs import Run
from layout.scheme import Preference, Scheme
from layout.search import Lists, Picks, Search, windowed, windows, worth
from layout.spacing import Spacing
from layout.stakes import Face, Tally, Thing, unmeasured


@dataclass(frozen=True)
class Wish:
    """A wall whose runs are to be divided."""

    survey: WallSurvey
    runs: tuple[Run, ...]


COMES_TO = {
    Preference.WIDTH: "panels off the width wanted by {} in all",
    Preference.CONFLICTS: "{} to decide",
    Preference.MOVES: "{} to move",
    Preference.MATCH: "walls unlike by {}",
    Preference.DOUBTS: "{} too close to tell",
    Preference.NUDGE: "stiles shifted by {} in all",
    Preference.PANELS: "{} panels",
}


@dataclass(frozen=True)
class Choice:
    """How all runs of a room are divided, and why."""

    spacings: dict[str, Spacing]  # by the run's name
    values: dict[Preference, Value]  # what it comes to, in the order of the preferences; lengths in inches
    runner_up: "Choice | None" = None  # the best plan of other counts
    lost_by: Preference | None = None  # by which the runner-up loses; None where it is as good
    gap: tuple[Preference, Value] | None = None  # what is not proven: by so much at most could a plan be better
    instead: "Choice | None" = None  # other counts in the whole room that leave least in the way, panels most alike

    @property
    def proven(self) -> bool:
        """Whether no other plan can be better."""
        return self.gap is None

    def told(self, scheme: Scheme) -> str:
        """The choice against its runner-up, in a few sentences."""
        values = ", ".join(COMES_TO[one].format(_shown(one, value, scheme)) for one, value in self.values.items())
        words = [f"Best, what counts most first: {values}."]
        if self.runner_up is None:
            words.append("No other count is allowed.")
        else:
            words.append(self._against(self.runner_up, scheme))
        if self.instead:
            words.append(self._instead(self.instead, scheme))
        if self.gap:
            preference, most = self.gap
            words.append(f"Not proven: {preference} could be better by {_shown(preference, most, scheme)} at most.")
        return " ".join(words)

    def _against(self, other: "Choice", scheme: Scheme) -> str:
        start = f"The runner-up has {self._changed(other)}"
        if self.lost_by is None:
            return f"{start} and is as good."
        worse, here = (_shown(self.lost_by, choice.values[self.lost_by], scheme) for choice in (other, self))
        return f"{start} and loses by {self.lost_by}: {worse} against {here}."

    def _changed(self, other: "Choice") -> str:
        changed = [
            f"{spacing.count} in place of {self.spacings[run].count} panels on {run}"
            for run, spacing in other.spacings.items()
            if spacing.count != self.spacings[run].count
        ]
        return " and ".join(changed) or "stiles shifted otherwise"

    def _instead(self, other: "Choice", scheme: Scheme) -> str:
        widths = [panel for spacing in other.spacings.values() for panel in spacing.panels]
        return (
            f"Least to decide in the whole room, {other.values[Preference.CONFLICTS]}, is left by "
            f"{self._changed(other)}, with panels {scheme.show(min(widths))} to {scheme.show(max(widths))} wide."
        )


def _shown(preference: Preference, value: Value, scheme: Scheme) -> str:
    lengths = (Preference.WIDTH, Preference.MATCH, Preference.NUDGE)
    return scheme.show(Fraction(value)) if preference in lengths else str(value)


def wish_groups(wish: Wish, scheme: Scheme, budget: Budget) -> tuple[list[Group], Tally]:
    """The runs of a wall in groups that share something in the way, and what counts whatever the spacing.

    Raises
    ------
    PlainError
        The runs cannot be divided as the rules want.
    """
    faces = [Face(run, scheme) for run in wish.runs]
    rules = rules_of(wish.runs, wish.survey, scheme)
    blocking = [feature for feature in wish.survey.features if feature.blocks]
    things = [thing for f in blocking if (thing := Thing.of(f, faces, wish.survey.name, scheme)) is not None]
    fixed = unmeasured(wish.survey, scheme)
    for thing in things:
        if not any(thing.meets(face.zone) for face in faces):
            fixed = fixed.plus(_whatever(thing, faces, wish.survey.name))
    return list(_grouped(faces, things, rules, scheme, budget)), fixed


def _whatever(thing: Thing, faces: Sequence[Face], wall: str) -> Tally:
    """What a thing counts that no spacing can change."""
    found = thing.tally([face.bare for face in faces])
    if found is None:
        raise RuleError(
            f"{thing.feature.name} on “{wall}” is pinned to be clear, but stands on rails or end stiles, which no "
            "spacing moves; pin it otherwise, or change their sizes."
        )
    return found


def _grouped(
    faces: Sequence[Face], things: Sequence[Thing], rules: dict[str, StileRules], scheme: Scheme, budget: Budget
) -> Iterator[Group]:
    groups = [[face] for face in faces]
    for thing in things:
        met = [group for group in groups if any(thing.meets(face.zone) for face in group)]
        if len(met) > 1:
            groups = [group for group in groups if group not in met]
            groups.append([face for face in faces if any(face in group for group in met)])
    for group in sorted(groups, key=lambda group: faces.index(group[0])):
        others = [face for face in faces if face not in group]
        own = [thing for thing in things if any(thing.meets(face.zone) for face in group)]
        yield Group(group, others, own, rules, scheme, budget)


def choose(groups: Sequence[Group], fixed: Tally, scheme: Scheme) -> Choice:
    """The best plan of a room, and its runner-up.

    Parameters
    ----------
    groups
        All runs of the room.
    fixed
        What counts whatever the spacing.
    scheme
        Its rules and the order of its preferences.

    Raises
    ------
    RuleError
        Panels of all walls alike are asked for and cannot be had.
    """
    search = Search(scheme)
    lists = [tuple(group.options) for group in groups]
    best = search.best(lists)
    if best is None:
        raise _never_alike(lists, scheme)
    second = search.second(lists, best)
    values = _values(best, scheme.order, fixed)
    runner_up = None if second is None else Choice(_named(second), _values(second, scheme.order, fixed))
    lost_by = None if runner_up is None else _first_unlike(values, runner_up.values)
    instead = _instead(lists, best, fixed, scheme)
    return Choice(_named(best), values, runner_up, lost_by, _gap(best, lists, scheme.order), instead)


def _named(picks: Picks) -> dict[str, Spacing]:
    named = {}
    for option in picks:
        judged = option.judged
        spacings = judged.spacings if judged else option.spacings
        named.update({run.name: spacing for run, spacing in zip(option.group.runs, spacings, strict=True)})
    return named


def _values(picks: Picks, order: Sequence[Preference], fixed: Tally) -> dict[Preference, Value]:
    return {preference: worth(picks, preference) + fixed.of(preference) for preference in order}


def _first_unlike(one: dict[Preference, Value], other: dict[Preference, Value]) -> Preference | None:
    return next((preference for preference in one if one[preference] != other[preference]), None)


LEAST = (Preference.CONFLICTS, Preference.MOVES, Preference.MATCH, Preference.WIDTH)


def _instead(lists: Lists, best: Picks, fixed: Tally, scheme: Scheme) -> Choice | None:
    """The plan that leaves least in the way, with panels most alike; None where the best leaves no more."""
    if not worth(best, Preference.CONFLICTS):
        return None
    other = Search(scheme.model_copy(update={"preferences": LEAST})).best(lists)
    if other is None or worth(other, Preference.CONFLICTS) >= worth(best, Preference.CONFLICTS):
        return None
    return Choice(_named(other), _values(other, LEAST, fixed), gap=_gap(other, lists, LEAST))


# What a limit leaves open.


def _gap(best: Picks, lists: Lists, order: Sequence[Preference]) -> tuple[Preference, Value] | None:
    """By how much a plan could be better at most, where a limit kept some from being looked at; None is proven."""
    if all(options[0].group.complete and not any(option.cut for option in options) for options in lists):
        return None
    alone = [one for one in order if one is not Preference.MATCH]
    floors = [min(_floor(option, alone) for option in options) for options in lists]
    floor: dict[Preference, Value] = {one: sum(least[i] for least in floors) for i, one in enumerate(alone)}
    for preference in order:
        # Alike panels may be had for nothing, for all we know.
        over = worth(best, preference) - floor.get(preference, 0)
        if over > 0:
            return preference, over
    return None


def _floor(option: Option, order: Sequence[Preference]) -> tuple[Value, ...]:
    if not option.group.complete:
        return (0,) * len(order)
    return tuple(option.bound(preference) for preference in order)


def _never_alike(lists: Lists, scheme: Scheme) -> RuleError:
    """Panels of all walls alike cannot be had: how near they come, and where."""
    low, high = min(windows(lists), key=lambda window: window[1] - window[0])
    some = windowed(lists, low, high) or []
    named = {}
    for options in some:
        for option in options:
            if option.narrowest == low or option.widest == high:
                named[" and ".join(run.name for run in option.group.runs)] = option
    runs = " and ".join(f"“{name}”" for name in named)
    return RuleError(
        f"Panels of all walls are to be alike within {scheme.show(scheme.match_within)}, but those of {runs} come no "
        f"nearer than {scheme.show(high - low)}, {scheme.show(high - low - scheme.match_within)} more; "
        "allow more, or free a count that is fixed."
    )
