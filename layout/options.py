"""The spacings that the rules allow on runs that share something in the way, and what each of them costs.

Runs of a wall are planned together where a thing reaches into the panels of both; every other run stands by itself.
Costs are worked out only when asked for: a bound that needs no look at the wall comes first.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, partial, reduce
from itertools import product

from capture.errors import PlainError
from layout.chain import Chain
from layout.meeting import Outline
from layout.nudge import Budget, Cost, Factor, OutOfReach, best_shifts
from layout.rules import StileRules, cannot_be_kept
from layout.runs import Run
from layout.scheme import Pin, Preference, Scheme
from layout.spacing import FrameFitError, Spacing, counts, fixed_count, miss, space
from layout.stakes import Face, Tally, Thing

Value = Fraction | int
MOST_TOGETHER = 5_000  # ways to combine the counts of runs that share something; the nearest to the width are kept


@dataclass
class Judged:
    """What an option comes to when every thing has been looked at."""

    tally: Tally
    spacings: tuple[Spacing, ...]  # nudged
    nudge: Fraction  # all shifts together, inches
    proven: bool = True  # whether no other nudges of these counts could do better


@dataclass(eq=False)
class Option:
    """A count for each run of a group."""

    group: "Group"
    spacings: tuple[Spacing, ...]  # before any nudge
    _judged: Judged | None = field(default=None, repr=False)
    _looked: bool = False

    @property
    def counts(self) -> tuple[int, ...]:
        """How many panels on each run."""
        return tuple(spacing.count for spacing in self.spacings)

    @cached_property
    def narrowest(self) -> Fraction:
        """Its narrowest panel, inches."""
        return min(min(spacing.panels) for spacing in self.spacings)

    @cached_property
    def widest(self) -> Fraction:
        """Its widest panel, inches."""
        return max(max(spacing.panels) for spacing in self.spacings)

    @cached_property
    def rough(self) -> tuple[float, float]:
        """Its narrowest and widest panel in floats, inches."""
        return float(self.narrowest), float(self.widest)

    @property
    def judged(self) -> Judged | None:
        """What it comes to; None where no nudge keeps the rules."""
        if not self._looked:
            self._judged, self._looked = self.group.judge(self), True
        return self._judged

    def value(self, preference: Preference) -> Value:
        """What it costs by one preference, all things looked at."""
        if preference in _PLAIN:
            return self._plain(preference)
        judged = self.judged
        if judged is None:
            raise ValueError("an option that breaks the rules has no cost")
        if preference is Preference.NUDGE:
            return judged.nudge
        return judged.tally.of(preference)

    def bound(self, preference: Preference) -> Value:
        """No more than it can cost, without a look at the wall unless one was taken; exact where it was proven."""
        if preference in _PLAIN:
            return self._plain(preference)
        if self._looked and self._judged is not None and self._judged.proven:
            return self.value(preference)
        return self._least.of(preference)

    @cached_property
    def _least(self) -> Tally:
        return self.group.least(self)

    @property
    def cut(self) -> bool:
        """Whether a limit kept it from being looked at whole."""
        return self._judged is not None and not self._judged.proven

    def _plain(self, preference: Preference) -> Value:
        return sum(self.counts) if preference is Preference.PANELS else self._miss

    @cached_property
    def _miss(self) -> Fraction:
        pairs = zip(self.spacings, self.group.runs, strict=True)
        return sum((miss(spacing, run, self.group.scheme) for spacing, run in pairs), Fraction(0))


_PLAIN = (Preference.WIDTH, Preference.PANELS)


class Group:
    """Runs of one wall that share something in the way; often just one run."""

    def __init__(
        self, faces: Sequence[Face], others: Sequence[Face], things: Sequence[Thing],
        rules: dict[str, StileRules], scheme: Scheme, budget: Budget,
    ) -> None:  # fmt: skip
        self.faces, self.scheme, self.budget = tuple(faces), scheme, budget
        self.runs = tuple(face.run for face in faces)
        self.things = tuple(things)
        self.rules = [rules[run.name] for run in self.runs]
        self._beside = {id(thing): [face.bare for face in others if thing.meets(face.whole)] for thing in things}
        self.complete = True  # whether all counts are among the options
        self.options = [Option(self, spacings) for spacings in self._spacings()]
        if self._bound_by_rules:
            self.options = [option for option in self.options if option.judged is not None]
        if not self.options:
            raise self._no_way()

    def _spacings(self) -> Iterable[tuple[Spacing, ...]]:
        ways = [_ways(run, self.scheme) for run in self.runs]
        if len(ways) == 1:
            return [(spacing,) for spacing in ways[0]]
        share = max(1, int(MOST_TOGETHER ** (1 / len(ways))))
        self.complete = all(len(way) <= share for way in ways)
        nearest = [
            sorted(way, key=partial(miss, run=run, scheme=self.scheme))[:share]
            for way, run in zip(ways, self.runs, strict=True)
        ]
        return product(*nearest)

    @property
    def _bound_by_rules(self) -> bool:
        ruled = any(rules.wanted or rules.forbidden for rules in self.rules)
        return ruled or any(thing.pin is Pin.CLEAR for thing in self.things)

    def _no_way(self) -> PlainError:
        if not self.complete:
            return FrameFitError(
                f"Whether shifts of up to {self.scheme.show(self.scheme.nudge)} can keep the rules of "
                f"“{self.runs[0].name}” takes too long to tell; allow smaller shifts or take a rule away."
            )
        for run, rules in zip(self.runs, self.rules, strict=True):
            ways = _ways(run, self.scheme)
            if min(rules.missed(spacing, self.scheme) for spacing in ways) > self.scheme.nudge:
                return cannot_be_kept(run, rules, ways, self.scheme)
        named = " and ".join(run.name for run in self.runs)
        wanted = [thing.feature.name for thing in self.things if thing.pin is Pin.CLEAR]
        if not wanted:
            return cannot_be_kept(self.runs[0], self.rules[0], _ways(self.runs[0], self.scheme), self.scheme)
        return FrameFitError(
            f"No spacing of “{named}” that its rules allow clears {' and '.join(wanted)}, which is pinned to be clear; "
            "move it, or allow stiles to shift more."
        )

    # What an option comes to.

    def judge(self, option: Option) -> Judged | None:
        """Look at every thing that depends on the option, with the best nudges allowed."""
        still = self._still(option)
        if not self.scheme.nudge or (still is not None and still.tally == Tally()):
            return still
        try:
            return self._nudged(option)
        except OutOfReach:
            if still is None:  # some shift may keep the rules all the same
                self.complete = False
                return None
            return Judged(still.tally, still.spacings, still.nudge, proven=False)

    def least(self, option: Option) -> Tally:
        """What an option counts whatever the nudges: things that would be struck even if every stile gave way."""
        if not self.scheme.nudge:
            return Tally()  # a look at the option itself costs no more
        return reduce(Tally.plus, (self._certain(thing, option) for thing in self.things), Tally())

    def _certain(self, thing: Thing, option: Option) -> Tally:
        return thing.least(self._outlines(thing, [spacing.lefts for spacing in option.spacings], self.scheme.nudge))

    def _still(self, option: Option) -> Judged | None:
        pairs = zip(self.rules, option.spacings, strict=True)
        if any(rules.missed(spacing, self.scheme) for rules, spacing in pairs):
            return None
        total = Tally()
        lefts = [spacing.lefts for spacing in option.spacings]
        for thing in self.things:
            tally = self._tally(thing, lefts)
            if tally is None:
                return None
            total = total.plus(tally)
        return Judged(total, option.spacings, Fraction(0))

    def _tally(self, thing: Thing, lefts: Sequence[Sequence[Fraction]]) -> Tally | None:
        return thing.tally(self._outlines(thing, lefts), self._doubts)

    @property
    def _doubts(self) -> bool:
        return Preference.DOUBTS in self.scheme.preferences

    def _outlines(
        self, thing: Thing, lefts: Sequence[Sequence[Fraction]], wider: Fraction = Fraction(0)
    ) -> list[Outline]:
        """The frames that a thing could meet, their stiles at `lefts`, every opening `wider` at both sides."""
        own = [
            face.outline(places, thing.near, wider)
            for face, places in zip(self.faces, lefts, strict=True)
            if thing.meets(face.whole)
        ]
        return [*own, *self._beside[id(thing)]]

    def _nudged(self, option: Option) -> Judged | None:
        chain = Chain(option.spacings, self.scheme)
        purse = _Purse(self.scheme.order)
        factors = [
            *(self._factor(thing, option, chain, purse) for thing in self.things),
            *chain.factors(self.rules, purse.packed(Tally())),
        ]
        if any(factor.cost(()) is None for factor in factors if not factor.scope):
            return None
        asked = [factor for factor in factors if factor.scope]
        weights = [purse.packed(Tally(), weight) for weight in chain.weights]
        found = best_shifts(chain.size, chain.most, asked, weights, purse.packed(Tally()), self.budget)
        if found is None:
            return None
        spacings = chain.shifted(range(chain.size), found)
        lefts = [spacing.lefts for spacing in spacings]
        tallies = [self._tally(thing, lefts) for thing in self.things]
        total = reduce(Tally.plus, (tally for tally in tallies if tally), Tally())
        return Judged(total, spacings, sum((abs(by) for one in spacings for by in one.nudges), Fraction(0)))

    def _factor(self, thing: Thing, option: Option, chain: Chain, purse: "_Purse") -> Factor:
        certain = not self._doubts and self._certain(thing, option).conflicts
        scope = () if certain else chain.near(thing.near, [thing.meets(face.zone) for face in self.faces])

        def cost(values: tuple[int, ...]) -> Cost | None:
            tally = self._tally(thing, chain.lefts(scope, values))
            return None if tally is None else purse.packed(tally)

        return Factor(scope, cost)


class _Purse:
    """What shifts can change, packed in the order of the preferences; those that nobody named come last."""

    def __init__(self, order: Sequence[Preference]) -> None:
        kinds = (Preference.CONFLICTS, Preference.MOVES, Preference.DOUBTS, Preference.NUDGE)
        ranked = sorted(kinds, key=lambda kind: order.index(kind) if kind in order else len(order))
        self._at = [ranked.index(kind) for kind in kinds]

    def packed(self, tally: Tally, steps: int = 0) -> Cost:
        parts = [0] * len(self._at)
        for at, value in zip(self._at, (*tally, steps), strict=True):
            parts[at] = value
        return tuple(parts)


def _ways(run: Run, scheme: Scheme) -> list[Spacing]:
    fixed = fixed_count(run, scheme)
    return [space(run, scheme, count) for count in ([fixed] if fixed else counts(run, scheme))]
