"""What is cut from what at the least cost, and the proof of it: in whole numbers, and of no trade in particular."""

import time
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layout.patterns import Blank, Mode, Part
from layout.program import PRICES_PER_COST, Program, share

WIDENING = (16, 4, 1)  # patterns that lose a little are tried before all that could be in a better answer


class Lane(NamedTuple):
    """A strip of a blank and the parts crosscut from it, by their index."""

    width: int
    parts: tuple[int, ...]


class Layout(NamedTuple):
    """One blank, cut."""

    blank: int
    across: bool  # its lanes run across the blank's length
    lanes: tuple[Lane, ...]


@dataclass(frozen=True)
class Cutting:
    """Blanks to take and how to cut them, and the least that any answer can cost."""

    layouts: tuple[Layout, ...]
    cost: int
    bound: int  # no answer costs less
    short: tuple[int, ...]  # parts that the available blanks did not give, by their index

    @property
    def proven(self) -> bool:
        """Whether nothing cheaper exists."""
        return not self.short and self.cost <= self.bound


def cut(parts: Sequence[Part], blanks: Sequence[Blank], seconds: float = 20.0) -> Cutting:
    """Choose blanks of least cost and cut all parts from them.

    Parameters
    ----------
    parts
        Each fits at least one blank.
    blanks
        Costs are whole numbers above 0.
    seconds
        About when to stop and give the best found, with the bound proven so far.

    Returns
    -------
    Cutting
        `proven` where its cost is the least of all two-stage layouts.
    """
    until = time.monotonic() + seconds
    program = Program(parts, blanks)
    prices = program.generate(until)
    bound = -(-prices.bound // PRICES_PER_COST)
    best = program.dive(until)
    known = len(program.patterns)
    if best.cost > bound:
        best = program.better(best, share(until, 0.2))
    for part in WIDENING:
        if best.cost <= bound:
            break
        whole = program.complete(prices, ((best.cost - 1) * PRICES_PER_COST - prices.bound) // part)
        best = program.better(best, share(until, 0.5))
        if whole and part == 1:
            bound = max(bound, min(best.bound, best.cost))
        if not whole:
            break
    best = program.break_tie(best, known, until)
    layouts = _lay_out(program, best.counts)
    cost = sum(blanks[layout.blank].cost for layout in layouts)
    return Cutting(layouts, cost, bound * program.unit, _missing(parts, layouts))


def _lay_out(program: Program, counts: NDArray[np.int64]) -> tuple[Layout, ...]:
    """Blanks one by one, each lane with its parts; parts beyond the demand and blanks left empty are dropped."""
    wanted = [part.demand for part in program.parts]
    # Patterns found after the choice was made are not in it.
    used = list(zip(program.patterns, counts[len(program.parts) :].tolist(), strict=False))
    lanes: dict[int, deque[tuple[int, ...]]] = {kind: deque() for kind in range(len(program.kinds))}
    for pattern, count in used:
        for _ in range(count if pattern.lane else 0):
            lanes[pattern.of].append(tuple(_hand_out(pattern.counts, wanted)))
    layouts = []
    for pattern, count in used:
        for _ in range(0 if pattern.lane else count):
            mode = program.modes[pattern.of]
            ripped = [kind for kind, n in pattern.counts for _ in range(n) if lanes[kind]]
            filled = [(program.kinds[kind], lanes[kind].popleft()) for kind in ripped if lanes[kind]]
            longest = max((sum(kind.lengths[i] for i in parts) for kind, parts in filled), default=0)
            cut = tuple(Lane(kind.width, parts) for kind, parts in filled if parts)
            layouts.append(Layout(_least_alike(program.blanks, mode, longest), mode.across, cut))
    return tuple(sorted(layout for layout in layouts if layout.lanes))


def _least_alike(blanks: Sequence[Blank], mode: Mode, longest: int) -> int:
    """The blank of a mode, or one that costs less and differs in length alone, where that is long enough.

    A choice that was stopped may have taken a longer one.
    """
    own = blanks[mode.blank]
    like = (own.width, own.trims, own.lanes)
    fit = [
        b
        for b, blank in enumerate(blanks)
        if (blank.width, blank.trims, blank.lanes) == like and blank.length >= longest and blank.available is None
    ]
    return mode.blank if mode.across else min([mode.blank, *fit], key=lambda b: (blanks[b].cost, blanks[b].tie))


def _hand_out(counts: Sequence[tuple[int, int]], wanted: list[int]) -> Iterator[int]:
    for i, count in counts:
        given = min(count, wanted[i])
        wanted[i] -= given
        yield from [i] * given


def _missing(parts: Sequence[Part], layouts: Sequence[Layout]) -> tuple[int, ...]:
    left = [part.demand for part in parts]
    for layout in layouts:
        for lane in layout.lanes:
            for i in lane.parts:
                left[i] -= 1
    return tuple(i for i, count in enumerate(left) for _ in range(count))
