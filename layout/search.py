"""The search for the best pick of one option a group, and for the best of all others.

All preferences but one add up over the groups, so each takes its own best; panels alike from wall to wall couple them,
and there every window of widths that could hold an option of each group is gone through. Nothing is left out.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate

from layout.options import Option, Value
from layout.scheme import Preference, Scheme

Picks = tuple[Option, ...]
Lists = Sequence[tuple[Option, ...]]


def worth(picks: Picks, preference: Preference) -> Value:
    """What a pick comes to by one preference: the spread of its widths, or the sum over its groups."""
    if preference is Preference.MATCH:
        return max(option.widest for option in picks) - min(option.narrowest for option in picks)
    return sum(option.value(preference) for option in picks)


class Search:
    """Remembers which options of a group are best, for the same few are asked for again and again."""

    def __init__(self, scheme: Scheme) -> None:
        self.scheme, self.order = scheme, scheme.order
        self._asked: Lists | None = None
        self._answer: list[tuple[Lists, Picks]] = []
        self._least: dict[tuple[tuple[Option, ...], tuple[Preference, ...]], tuple[Option, ...]] = {}

    def best(self, lists: Lists) -> Picks | None:
        """The best pick of one option a group that the rules allow; None where they allow none."""
        return _lightest([picks for _, picks in self._bests(lists)], self.order)

    def second(self, lists: Lists, best: Picks) -> Picks | None:
        """The best pick that is not `best`; None where there is no other."""
        others = (self._another(some, best) if picks == best else picks for some, picks in self._bests(lists))
        return _lightest([picks for picks in others if picks], self.order)

    def _bests(self, lists: Lists) -> list[tuple[Lists, Picks]]:
        """The best pick within every window, remembered for the lists last asked for."""
        if self._asked is not lists:
            self._asked, self._answer = lists, [(some, self.coupled(some)) for some in self._windows(lists)]
        return self._answer

    def _another(self, lists: Lists, best: Picks) -> Picks | None:
        """The best pick that takes another option than `best` in some group."""
        found = []
        for i, taken in enumerate(best):
            others = tuple(option for option in lists[i] if option is not taken)
            if others:
                found.append(self.coupled([*lists[:i], others, *lists[i + 1 :]]))
        return _lightest(found, self.order)

    def _windows(self, lists: Lists) -> Iterator[Lists]:
        """The options as the rule of alike panels leaves them: everything, or one window of widths after the other."""
        if not self.scheme.matched:
            yield lists
            return
        for low in sorted({option.narrowest for options in lists for option in options}):
            if some := windowed(lists, low, low + self.scheme.match_within):
                yield some

    def coupled(self, lists: Lists) -> Picks:
        """The best pick where at most the preference for alike panels couples the groups."""
        if Preference.MATCH not in self.order:
            return tuple(self.least(options, self.order)[0] for options in lists)
        at = self.order.index(Preference.MATCH)
        best = [self.least(options, self.order[:at]) for options in lists]
        rest = self.order[at + 1 :]
        found = [tuple(self.least(options, rest)[0] for options in some) for some in _tightest(best)]
        return _lightest(found, rest) or found[0]

    def least(self, options: tuple[Option, ...], order: tuple[Preference, ...]) -> tuple[Option, ...]:
        """All options that are best by the preferences in order."""
        if len(options) == 1:
            return options
        if (options, order) not in self._least:
            self._least[options, order] = _least(options, order)
        return self._least[options, order]


def _lightest(found: list[Picks], order: Sequence[Preference]) -> Picks | None:
    """The first of those that are best by the preferences in order; None of none."""
    for preference in order:
        if len(found) < 2:
            break
        worths = [worth(picks, preference) for picks in found]
        least = min(worths)
        found = [picks for picks, value in zip(found, worths, strict=True) if value == least]
    return found[0] if found else None


def _least(options: Sequence[Option], order: Sequence[Preference]) -> tuple[Option, ...]:
    """All options that are best; those whose bound is worse than the best are never looked at."""
    bounds = [(tuple(option.bound(one) for one in order), option) for option in options]
    best: tuple[Value, ...] | None = None
    least: list[Option] = []
    for bound, option in sorted(bounds, key=lambda pair: pair[0]):
        if best is not None and bound > best:
            break
        value = tuple(option.value(one) for one in order)
        if best is None or value < best:
            best, least = value, [option]
        elif value == best:
            least.append(option)
    return tuple(least)


def windowed(lists: Lists, low: Fraction, high: Fraction) -> Lists | None:
    """Of each group the options whose panels lie between two widths; None where a group has none."""
    some = []
    near = float(low) - _CLOSE, float(high) + _CLOSE
    for options in lists:
        # Floats turn most away quickly; the exact widths decide.
        inside = tuple(
            option
            for option in options
            if near[0] <= option.rough[0] and option.rough[1] <= near[1]
            if low <= option.narrowest and option.widest <= high
        )
        if not inside:
            return None
        some.append(inside)
    return some


_CLOSE = 1e-6  # inches, far more than floats are off


def _tightest(lists: Lists) -> list[Lists]:
    """Every window of widths, as narrow as can be, that holds an option of each group."""
    if all(len(options) == 1 for options in lists):
        return [lists]
    spans = list(windows(lists))
    narrowest = min(high - low for low, high in spans)
    found = (windowed(lists, low, high) for low, high in spans if high - low == narrowest)
    return [some for some in found if some]


def windows(lists: Lists) -> Iterator[tuple[Fraction, Fraction]]:
    """For every width from the least on, the narrowest window from there up that holds an option of each group."""
    rising = [_rising(options) for options in lists]
    high = max(steps[0][1] for steps in rising)
    places = sorted((low, i, n) for i, steps in enumerate(rising) for n, (low, _) in enumerate(steps))
    for at, (low, i, n) in enumerate(places):
        if at == 0 or low != places[at - 1][0]:
            yield low, high
        if n + 1 == len(rising[i]):
            return  # from here up this group has nothing left
        high = max(high, rising[i][n + 1][1])


def _rising(options: Sequence[Option]) -> list[tuple[Fraction, Fraction]]:
    """By ascending narrowest panel: the least of the widest panels of the options from there on."""
    steps = sorted((option.narrowest, option.widest) for option in options)
    least = list(accumulate((widest for _, widest in reversed(steps)), min))[::-1]
    return [(narrowest, widest) for (narrowest, _), widest in zip(steps, least, strict=True)]
