"""The best shift of every stile, proven: variables eliminated one by one, from left to right.

Each thing on the wall asks only for the few stiles near it, so once all that ask for a stile have been heard, only the
best way to every state of its neighbours is kept (dynamic programming over a chain; Bellman 1957).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

Cost = tuple[int, ...]


class OutOfReach(Exception):
    """More looks were needed than allowed."""


class Budget:
    """How many looks at a thing may still be taken."""

    def __init__(self, looks: int) -> None:
        self.left = looks

    def spend(self, looks: int = 1) -> None:
        """Take some; OutOfReach if there are not as many."""
        if looks > self.left:
            raise OutOfReach
        self.left -= looks


@dataclass(frozen=True)
class Factor:
    """Something that asks for a few variables."""

    scope: tuple[int, ...]  # the variables, ascending
    cost: Callable[[tuple[int, ...]], Cost | None]  # of their values; None forbids them


def best_shifts(
    count: int, most: int, factors: Sequence[Factor], weights: Sequence[Cost], nothing: Cost, budget: Budget
) -> tuple[int, ...] | None:
    """The values of all variables with the least cost, compared item by item.

    Parameters
    ----------
    count
        How many variables.
    most
        Each may take the whole numbers from -most to most; one that no factor asks for stays 0.
    factors
        What they cost together; costs are added.
    weights
        What a step of each variable costs by itself.
    nothing
        No cost at all.
    budget
        How many looks at factors may be taken.

    Returns
    -------
    tuple of int, or None
        None where every choice is forbidden.

    Raises
    ------
    OutOfReach
        The budget does not go round.
    """
    asked = {v for factor in factors for v in factor.scope}
    last = [max((max(f.scope) for f in factors if v in f.scope), default=v) for v in range(count)]
    alive: tuple[int, ...] = ()
    table: _Table = {(): (nothing, ())}
    for v in range(count):
        looks = [_Looked(factor, budget) for factor in factors if max(factor.scope) == v]
        scope = (*alive, v)
        alive = tuple(u for u in scope if last[u] > v)
        steps = [(value, _times(weights[v], abs(value))) for value in _values(most if v in asked else 0)]
        table = _extended(table, steps, looks, scope, [scope.index(u) for u in alive])
    return min(table.values())[1] if table else None


_Table = dict[tuple[int, ...], tuple[Cost, tuple[int, ...]]]  # state: the best cost that leads to it, and how


def _values(most: int) -> list[int]:
    return sorted(range(-most, most + 1), key=lambda value: (abs(value), value))


def _extended(
    table: _Table,
    steps: Sequence[tuple[int, Cost]],
    looks: Sequence["_Looked"],
    scope: tuple[int, ...],
    kept: Sequence[int],
) -> _Table:
    """Every state with one more variable, kept by what later factors still ask for."""
    after: _Table = {}
    for state, (cost, chosen) in table.items():
        for value, step in steps:
            now = (*state, value)
            total = _total(_added(cost, step), looks, scope, now)
            key = tuple(now[i] for i in kept)
            if total is not None and (key not in after or total < after[key][0]):
                after[key] = total, (*chosen, value)
    return after


class _Looked:
    """A factor that remembers what it was asked."""

    def __init__(self, factor: Factor, budget: Budget) -> None:
        self.scope, self._cost, self._budget = factor.scope, factor.cost, budget
        self._known: dict[tuple[int, ...], Cost | None] = {}

    def cost(self, values: tuple[int, ...]) -> Cost | None:
        """What it costs at these values."""
        if values not in self._known:
            self._budget.spend()
            self._known[values] = self._cost(values)
        return self._known[values]


def _total(cost: Cost, looks: Sequence[_Looked], scope: tuple[int, ...], now: tuple[int, ...]) -> Cost | None:
    for look in looks:
        more = look.cost(tuple(now[scope.index(v)] for v in look.scope))
        if more is None:
            return None
        cost = _added(cost, more)
    return cost


def _times(cost: Cost, by: int) -> Cost:
    return tuple(by * part for part in cost)


def _added(one: Cost, other: Cost) -> Cost:
    return tuple(a + b for a, b in zip(one, other, strict=True))
