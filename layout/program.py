"""The mixed-integer program over cutting patterns, solved by HiGHS through SciPy; patterns by column generation.

The bound by prices is reckoned again in whole numbers, so that no rounding of the solver's can prove too much. Where
that does not reach, HiGHS is taken at its word that no choice costs less: costs are whole, and it is asked half a unit
off them.

References
----------
Gilmore and Gomory, "A linear programming approach to the cutting-stock problem", Operations Research 9 (1961): patterns
found one at a time by a knapsack. The same, "Multistage cutting stock problems of two and more dimensions", Operations
Research 13 (1965): lanes, then parts. Farley, "A note on bounding a class of linear programming problems", Operations
Research 38 (1990): a bound from any prices.
"""

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import islice
from math import gcd
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csc_array

from layout.patterns import Blank, Counts, Knapsack, Part, Search, TooManyError, kinds, modes

PRICES_PER_COST = 2**24  # prices are whole numbers, this many to one unit of cost: rounding loses under 1e-7 a part
MOST_PATTERNS = 20_000  # beyond these the full program takes longer than anyone waits for a saw list
MOST_STEPS = 500_000  # of the search for all patterns; some seconds
TIE_SECONDS = 2.0  # for a choice between answers that are equally good by what was asked
MOST_TIED = 2000  # patterns among which a choice between equals is found in a second
MOST_ROUNDS = 20  # of new patterns before the next blanks are taken
FULLER = 0.01  # of a blank's cost: enough to choose between patterns of equal worth, too little to outweigh one
SOLVER = 1e-6  # HiGHS holds rows and whole numbers to within this
INFEASIBLE = 2  # status of scipy.optimize.milp


class Prices(NamedTuple):
    """A price for each part, in whole numbers, at which no pattern is worth more than it costs."""

    parts: list[int]
    kinds: list[int]  # what the best lane of each kind is worth
    limits: list[int]  # by blank: what one more of it would save, where there are only so many
    bound: int  # what all parts together are worth: no answer costs less


@dataclass(order=True)
class Choice:
    """How often each pattern is used."""

    cost: int  # with what is short, at its penalty
    tie: int
    counts: NDArray[np.int64] = field(compare=False)
    bound: int = field(compare=False, default=0)  # of the program over the patterns known then


class Pattern(NamedTuple):
    """A lane of a kind and its parts, or a rip of a mode and its kinds of lane."""

    lane: bool
    of: int
    counts: tuple[tuple[int, int], ...]


class Program:
    """The program over all patterns known so far.

    Columns: each part left short, then patterns in the order found. Rows: each part's demand; lanes of each kind used,
    at most those ripped; blanks, at most those available.
    """

    def __init__(self, parts: Sequence[Part], blanks: Sequence[Blank]) -> None:
        self.parts, self.blanks = parts, blanks
        self.unit = gcd(*(blank.cost for blank in blanks))  # every answer costs a multiple of it
        self.modes = modes(blanks)
        self.kinds = [kind for m, mode in enumerate(self.modes) for kind in kinds(m, mode, parts, blanks[mode.blank])]
        self.limited = [b for b, blank in enumerate(blanks) if blank.available is not None]
        self.patterns: dict[Pattern, None] = {}  # a dict keeps the order and knows its own
        self._cost: list[int] = []
        self._tie: list[int] = []
        self._ends, self._rows, self._values = [0], list[int](), list[int]()  # the columns, one after the other
        self._short()
        self._start()

    def _short(self) -> None:
        """Parts may be left short where blanks run out, but at more than any answer that leaves nothing short."""
        total = sum(part.demand for part in self.parts)
        penalty = 1 + total * max(blank.cost for blank in self.blanks) // self.unit
        for i in range(len(self.parts)):
            self._column(penalty, total, [(i, 1)])

    def _start(self) -> None:
        """Each kind ripped alone, and each part alone in the narrowest lanes that hold it."""
        most = self._most([part.demand for part in self.parts])
        for k, kind in enumerate(self.kinds):
            mode = self.modes[kind.mode]
            self._rip(kind.mode, {k: min(most[k], mode.width // kind.width)})
            for i, (part, length) in enumerate(zip(self.parts, kind.lengths, strict=True)):
                if length and kind.width in (part.width, part.length):
                    self._lane(k, {i: min(part.demand, mode.length // length)})

    def _column(self, cost: int, tie: int, entries: Sequence[tuple[int, int]]) -> None:
        self._cost.append(cost)
        self._tie.append(tie)
        self._rows += [row for row, _ in entries]
        self._values += [value for _, value in entries]
        self._ends.append(len(self._rows))

    def _lane(self, kind: int, counts: Counts) -> None:
        pattern = Pattern(True, kind, tuple(sorted(counts.items())))
        if pattern not in self.patterns:
            self.patterns[pattern] = None
            self._column(0, 0, [*pattern.counts, (len(self.parts) + kind, -1)])

    def _rip(self, mode: int, counts: Counts) -> None:
        pattern = Pattern(False, mode, tuple(sorted(counts.items())))
        if pattern not in self.patterns:
            self.patterns[pattern] = None
            b = self.modes[mode].blank
            entries = [(len(self.parts) + kind, count) for kind, count in pattern.counts]
            if b in self.limited:
                entries.append((len(self.parts) + len(self.kinds) + self.limited.index(b), -1))
            self._column(self.blanks[b].cost // self.unit, self.blanks[b].tie, entries)

    @property
    def _least(self) -> NDArray[np.float64]:
        """The least value of each row."""
        stock = [-(self.blanks[b].available or 0) for b in self.limited]
        return np.array([part.demand for part in self.parts] + [0] * len(self.kinds) + stock, dtype=np.float64)

    @property
    def _matrix(self) -> csc_array:
        shape = (len(self.parts) + len(self.kinds) + len(self.limited), len(self._cost))
        return csc_array((np.array(self._values, float), np.array(self._rows), np.array(self._ends)), shape=shape)

    def generate(self, until: float) -> Prices:
        """Add patterns until none could better the relaxed program, or time is up."""
        demands = [part.demand for part in self.parts]
        least = self._least
        while True:
            _, duals = self._relax(least)
            if not self._improve(duals, demands) or time.monotonic() > until:
                return self._sound(duals)

    def _relax(self, least: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """How much of each pattern the relaxed program takes, and the price of each row."""
        relaxed = linprog(self._cost, A_ub=-self._matrix, b_ub=-least, method="highs")
        return relaxed.x, np.maximum(0.0, -relaxed.ineqlin.marginals)

    def _improve(self, duals: NDArray[np.float64], demands: Sequence[int], fuller: float = 0.0) -> bool:
        """Add what is worth more than it costs at these prices; whether anything was.

        `fuller`: how much more a part as large as a blank is taken to be worth, so that of equals the fuller is found.
        """
        known = len(self.patterns)
        prices = [int(price + fuller * share) for price, share in zip(self._whole(duals), self._shares, strict=True)]
        lanes = self._best_lanes(prices, demands)
        limits = dict(zip(self.limited, duals[len(self.parts) + len(self.kinds) :], strict=True))
        for m, mode in enumerate(self.modes):
            worth, rip = self._best_rip(m, [worth for worth, _ in lanes], demands)
            price = self.blanks[mode.blank].cost / self.unit + limits.get(mode.blank, 0.0)
            if worth > price * PRICES_PER_COST * (1 + SOLVER):
                self._rip(m, rip)
                for k in rip:
                    self._lane(k, lanes[k][1])
        return len(self.patterns) > known

    @cached_property
    def _shares(self) -> list[float]:
        """How much of the largest blank each part takes, in whole-number prices."""
        largest = max(blank.length * blank.width for blank in self.blanks)
        return [part.length * part.width / largest * PRICES_PER_COST for part in self.parts]

    def _whole(self, duals: NDArray[np.float64]) -> list[int]:
        return [int(dual * PRICES_PER_COST) for dual in duals[: len(self.parts)]]

    def _sound(self, duals: NDArray[np.float64]) -> Prices:
        """Whole prices, lowered until no rip of a blank that never runs out is worth more than it costs."""
        demands = [part.demand for part in self.parts]
        prices = self._whole(duals)
        worths = [worth for worth, _ in self._best_lanes(prices, demands)]
        over = [Fraction(self._best_rip(m, worths, demands)[0], self._price(m)) for m in self._endless()]
        prices = [int(price / max([Fraction(1), *over])) for price in prices]
        worths = [worth for worth, _ in self._best_lanes(prices, demands)]
        limits = [0] * len(self.blanks)
        for m, mode in enumerate(self.modes):
            limits[mode.blank] = max(limits[mode.blank], self._best_rip(m, worths, demands)[0] - self._price(m))
        bound = sum(demand * price for demand, price in zip(demands, prices, strict=True))
        bound -= sum(limits[b] * (self.blanks[b].available or 0) for b in self.limited)
        return Prices(prices, worths, limits, bound)

    def _price(self, mode: int) -> int:
        return self.blanks[self.modes[mode].blank].cost // self.unit * PRICES_PER_COST

    def _endless(self) -> list[int]:
        return [m for m, mode in enumerate(self.modes) if mode.blank not in self.limited]

    def _best_lanes(self, prices: Sequence[int], demands: Sequence[int]) -> list[tuple[int, Counts]]:
        """For each kind the worth of its best lane, and its parts."""
        longest = max(mode.length for mode in self.modes)
        sacks = {lengths: Knapsack(prices, lengths, demands, longest) for lengths in {k.lengths for k in self.kinds}}
        return [sacks[kind.lengths].best(self.modes[kind.mode].length) for kind in self.kinds]

    def _best_rip(self, mode: int, worths: Sequence[int], demands: Sequence[int]) -> tuple[int, Counts]:
        room = self.modes[mode].width
        return Knapsack(worths, self._widths(mode), self._most(demands), room).best(room)

    def _most(self, demands: Sequence[int]) -> list[int]:
        """How many lanes of each kind one blank can want."""
        return [sum(demands[i] for i in kind.widest) for kind in self.kinds]

    def _widths(self, mode: int) -> list[int]:
        return [kind.width if kind.mode == mode else 0 for kind in self.kinds]

    def dive(self, until: float) -> Choice:
        """Take whole blanks from the relaxed program, relax what is left with new patterns, and so on to the end.

        Then choose among the patterns taken: with few of them the choice is quick, and rarely a blank from the best.
        """
        n, least, taken = len(self.parts), self._least, np.zeros(0)
        while (least[:n] > 0).any():
            left = [int(rest) for rest in least[:n]]
            amounts, duals = self._relax(least)
            for _ in range(MOST_ROUNDS):
                if time.monotonic() > until or not self._improve(duals, left, fuller=FULLER):
                    break
                amounts, duals = self._relax(least)
            step = self._whole_blanks(amounts)
            taken = np.pad(taken, (0, len(step) - len(taken))) + step
            covered = self._matrix @ step
            if not covered[:n].any():
                break  # the rest is short
            covered[n : n + len(self.kinds)] = 0  # a lane left empty is not kept for later
            least = least - covered
            least[:n] = np.maximum(least[:n], 0)
        taken[:n] = least[:n]  # what is short
        return min(self._choice(taken), self.choose(share(until, 0.3), taken > 0))

    def _whole_blanks(self, amounts: NDArray[np.float64]) -> NDArray[np.float64]:
        """Blanks that are taken whole with all their lanes; where there are none, the one taken most, its lanes too."""
        step = np.zeros(len(amounts))
        used = {p: amounts[i] for i, p in enumerate(self.patterns, len(self.parts)) if amounts[i] > SOLVER}
        column = {p: i for i, p in enumerate(self.patterns, len(self.parts)) if p in used}
        rips = sorted((p for p in used if not p.lane), key=lambda p: -used[p])
        lanes: dict[int, list[Pattern]] = {}
        for pattern in sorted((p for p in used if p.lane), key=lambda p: -used[p]):
            lanes.setdefault(pattern.of, []).extend([pattern] * int(used[pattern] + SOLVER))
        for rip in rips:
            full = min(len(lanes.get(kind, ())) // count for kind, count in rip.counts)
            for _ in range(min(full, int(used[rip] + SOLVER))):
                step[column[rip]] += 1
                for kind, count in rip.counts:
                    for _ in range(count):
                        step[column[lanes[kind].pop(0)]] += 1
        if not step.any() and rips:
            step[column[rips[0]]] = 1
            for kind, count in rips[0].counts:
                most = sorted((p for p in used if p.lane and p.of == kind), key=lambda p: -used[p])
                for lane in most[:count]:
                    step[column[lane]] += 1
        return step

    def choose(self, seconds: float, among: NDArray[np.bool_]) -> Choice:
        """The best whole number of each of some patterns."""
        return self._solve(self._cost, among, seconds) or self._all_short()

    def better(self, best: Choice, seconds: float) -> Choice:
        """The best choice among all patterns known that costs less than this one; where there is none, this one.

        That there is none is far sooner proven than what would be the best without one at hand: the bound says it then.
        """
        found = self._solve(self._cost, np.ones(len(self._cost), bool), seconds, most=best.cost - 1)
        if found is None:
            return replace(best, bound=best.cost)
        return min(found, replace(best, bound=found.bound))

    def break_tie(self, best: Choice, known: int, until: float) -> Choice:
        """A choice of the same cost with a lower second cost, if one is found.

        First among the first `known` patterns and those of this choice; then, where they are not too many, among all.
        """
        if len({(blank.cost, blank.tie) for blank in self.blanks}) == 1:
            return best  # one kind of blank: nothing to choose between
        among = np.arange(len(self._cost)) < len(self.parts) + known
        among[: len(best.counts)] |= best.counts > 0
        best = self._lower(best, among, until)
        if among.all() or len(self.patterns) > MOST_TIED:
            return best
        return self._lower(best, np.ones(len(self._cost), bool), until)

    def _lower(self, best: Choice, among: NDArray[np.bool_], until: float) -> Choice:
        other = self._solve(self._tie, among, min(TIE_SECONDS, share(until, 0.25)), most=best.cost)
        return best if other is None else min(best, other)

    def _solve(
        self, goal: list[int], among: NDArray[np.bool_], seconds: float, most: int | None = None
    ) -> Choice | None:
        """The least of `goal` at a cost of at most `most`; None where it is proven that there is no such choice."""
        rows = [LinearConstraint(self._matrix, lb=self._least)]
        if most is not None:
            rows.append(LinearConstraint(np.array([self._cost], float), ub=most + 0.5))  # costs are whole
        upper = np.where(among, np.inf, 0.0)
        upper[: len(self.parts)] = np.inf
        options = {"time_limit": seconds, "mip_rel_gap": 0.0}
        solved = milp(goal, constraints=rows, integrality=np.ones(len(goal)), bounds=Bounds(0, upper), options=options)
        if solved.status == INFEASIBLE:
            return None
        if solved.x is None:
            return self._all_short(solved.mip_dual_bound)
        return self._choice(solved.x, solved.mip_dual_bound)

    def _all_short(self, bound: float | None = None) -> Choice:
        """What stands for no answer in time: all parts are short, which is worse than any."""
        return self._choice(np.pad(self._least[: len(self.parts)], (0, len(self.patterns))), bound)

    def _choice(self, amounts: NDArray[np.float64], bound: float | None = None) -> Choice:
        counts = np.rint(amounts).astype(np.int64)
        least = int(np.ceil(bound - SOLVER)) if bound is not None and np.isfinite(bound) else 0
        return Choice(int(counts @ self._cost), int(counts @ self._tie), counts, least)

    def complete(self, prices: Prices, slack: int) -> bool:
        """Add every pattern that loses no more than `slack`; False, and none added, if there are too many.

        At sound prices a pattern's loss is what it costs beyond what it is worth. All losses of an answer together are
        its cost less the bound, so none of its patterns loses more: with that slack the program is whole.
        """
        search = Search(MOST_STEPS)
        try:
            lanes = list(islice(self._lanes_losing(prices, slack, search), MOST_PATTERNS))
            rips = list(islice(self._rips_losing(prices, slack, search), MOST_PATTERNS))
        except TooManyError:
            return False
        if len(lanes) + len(rips) >= MOST_PATTERNS:
            return False
        for k, counts in lanes:
            self._lane(k, counts)
        for m, counts in rips:
            self._rip(m, counts)
        return True

    def _lanes_losing(self, prices: Prices, slack: int, search: Search) -> Iterator[tuple[int, Counts]]:
        demands = [part.demand for part in self.parts]
        for k, kind in enumerate(self.kinds):
            room, least = self.modes[kind.mode].length, prices.kinds[k] - slack
            for counts in search.patterns(prices.parts, kind.lengths, demands, room, least):
                yield k, counts

    def _rips_losing(self, prices: Prices, slack: int, search: Search) -> Iterator[tuple[int, Counts]]:
        for m, mode in enumerate(self.modes):
            least = self._price(m) + prices.limits[mode.blank] - slack
            most = self._most([part.demand for part in self.parts])
            for counts in search.patterns(prices.kinds, self._widths(m), most, mode.width, least):
                yield m, counts


def share(until: float, part: float) -> float:
    """Seconds: a part of the time left, but enough to try."""
    return max(0.1, part * (until - time.monotonic()))
