"""Shifts found by eliminating variables are those of trying all."""

from collections.abc import Callable
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.nudge import Budget, Cost, Factor, OutOfReach, best_shifts

COUNT, MOST = 5, 2
values = st.integers(0, 3)


@st.composite
def factors(draw: st.DrawFn) -> Factor:
    scope = tuple(sorted(draw(st.sets(st.integers(0, COUNT - 1), min_size=1, max_size=3))))
    table = {
        state: draw(st.one_of(st.none(), st.tuples(values, values), st.tuples(values, values)))
        for state in product(range(-MOST, MOST + 1), repeat=len(scope))
    }
    return Factor(scope, _from(table))


def _from(table: dict[tuple[int, ...], Cost | None]) -> Callable[[tuple[int, ...]], Cost | None]:
    return lambda state: table[state]


def total(found: list[Factor], weights: list[Cost], state: tuple[int, ...]) -> Cost | None:
    cost = [0, 0]
    for factor in found:
        more = factor.cost(tuple(state[v] for v in factor.scope))
        if more is None:
            return None
        cost = [a + b for a, b in zip(cost, more, strict=True)]
    for value, weight in zip(state, weights, strict=True):
        cost = [a + abs(value) * b for a, b in zip(cost, weight, strict=True)]
    return tuple(cost)


@given(st.lists(factors(), max_size=4), st.lists(values, min_size=COUNT, max_size=COUNT))
def test_the_best_shifts_cost_as_little_as_any(found: list[Factor], steps: list[int]) -> None:
    weights = [(0, step) for step in steps]
    everything = (total(found, weights, state) for state in product(range(-MOST, MOST + 1), repeat=COUNT))
    least = min((cost for cost in everything if cost is not None), default=None)
    best = best_shifts(COUNT, MOST, found, weights, (0, 0), Budget(10_000))
    assert (None if best is None else total(found, weights, best)) == least


def test_a_budget_that_does_not_go_round_is_told() -> None:
    factor = Factor((0, 1), lambda state: (abs(state[0] - state[1]), 0))
    with pytest.raises(OutOfReach):
        best_shifts(2, MOST, [factor], [(0, 1), (0, 1)], (0, 0), Budget(24))
    assert best_shifts(2, MOST, [factor], [(0, 1), (0, 1)], (0, 0), Budget(25)) == (0, 0)  # 5 × 5 looks
