"""How blanks can be cut: ripped into lanes along their whole length, then each lane crosscut into parts.

Whole units; the saw's kerf is in the sizes already: n parts with n - 1 cuts between them fit a lane just when n parts,
each a kerf longer, fit a lane a kerf longer.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Counts = dict[int, int]  # how many of which item


@dataclass(frozen=True)
class Part:
    """So many equal parts to cut."""

    length: int
    width: int
    demand: int
    turns: bool = False  # may lie across the blank: no grain to keep


@dataclass(frozen=True)
class Blank:
    """What parts are cut from."""

    length: int
    width: int
    cost: int
    tie: int = 0  # a second cost, to choose between answers of equal cost
    available: int | None = None  # None is as many as wanted
    trims: bool = (
        False  # a lane may hold narrower parts, trimmed after: sheets; a board's lanes are as wide as its parts
    )
    lanes: frozenset[int] | None = None  # the only widths to rip it to; None is any


class Mode(NamedTuple):
    """A blank and the direction of its lanes."""

    blank: int
    across: bool  # the lanes run across the blank's length
    length: int  # of a lane
    width: int  # of the blank, across its lanes


class Kind(NamedTuple):
    """All lanes of one width in one mode."""

    mode: int
    width: int
    lengths: tuple[int, ...]  # how long each part lies in it; 0 is not at all
    widest: tuple[int, ...]  # parts as wide as it: a lane holds one of them, or a narrower lane would do


def modes(blanks: Sequence[Blank]) -> list[Mode]:
    """The ways to rip each blank: a board along its length, a sheet either way."""
    found = []
    for b, blank in enumerate(blanks):
        found.append(Mode(b, False, blank.length, blank.width))
        if blank.trims:
            found.append(Mode(b, True, blank.width, blank.length))
    return found


def kinds(index: int, mode: Mode, parts: Sequence[Part], blank: Blank) -> Iterator[Kind]:
    """The lanes worth ripping in a mode: as wide as one of the parts."""
    for width in sorted({across for part in parts for _, across in _ways(part, mode) if across <= mode.width}):
        lengths = tuple(_length_in(part, mode, width, blank.trims) for part in parts)
        widest = tuple(i for i, part in enumerate(parts) if any(across == width for _, across in _ways(part, mode)))
        if any(lengths) and (blank.lanes is None or width in blank.lanes):
            yield Kind(index, width, lengths, widest)


def _ways(part: Part, mode: Mode) -> Iterator[tuple[int, int]]:
    """How a part can lie in a lane: its size along the lane and across."""
    if part.turns or not mode.across:
        yield part.length, part.width
    if part.turns or mode.across:
        yield part.width, part.length


def _length_in(part: Part, mode: Mode, width: int, trims: bool) -> int:
    """The shortest way to lie in a lane of that width; 0 if there is none."""
    ways = _ways(part, mode)
    fits = (along for along, across in ways if along <= mode.length and (across == width or (trims and across < width)))
    return min(fits, default=0)


class Knapsack:
    """The most that a length can hold, by dynamic programming, for every length up to the longest at once.

    Worths and sizes are whole numbers; an item of size 0 does not fit at all.
    """

    def __init__(self, worths: Sequence[int], sizes: Sequence[int], most: Sequence[int], longest: int) -> None:
        self._best = np.zeros(longest + 1, dtype=np.int64)
        self._sizes = sizes
        self._counts: list[tuple[int, NDArray[np.int16]]] = []
        for i, (worth, size, count) in enumerate(zip(worths, sizes, most, strict=True)):
            if worth > 0 and 0 < size <= longest and count > 0:
                self._add(i, worth, size, min(count, longest // size))

    def _add(self, item: int, worth: int, size: int, most: int) -> None:
        before, best = self._best, self._best.copy()
        counts = np.zeros(len(best), dtype=np.int16)
        for n in range(1, most + 1):
            with_n = before[: len(best) - n * size] + n * worth
            better = with_n > best[n * size :]
            best[n * size :][better] = with_n[better]
            counts[n * size :][better] = n
        self._best = best
        self._counts.append((item, counts))

    def best(self, length: int) -> tuple[int, Counts]:
        """What the best choice for a length is worth, and how many of each item it holds."""
        worth, chosen = int(self._best[length]), {}
        for item, counts in reversed(self._counts):
            if count := int(counts[length]):
                chosen[item] = count
                length -= count * self._sizes[item]
        return worth, chosen


class TooManyError(Exception):
    """A search for patterns that would not end in useful time."""


class Search:
    """All patterns that are worth at least so much and into which nothing more fits."""

    def __init__(self, steps: int) -> None:
        self._steps = steps  # left, over all calls

    def patterns(
        self, worths: Sequence[int], sizes: Sequence[int], most: Sequence[int], room: int, least: int
    ) -> Iterator[Counts]:
        """The patterns one by one; TooManyError when the steps are used up. An item of size 0 does not fit at all."""
        items = sorted((i for i in range(len(sizes)) if 0 < sizes[i] <= room), key=lambda i: -sizes[i])
        # The most that a unit of room can still be worth, from each item on, as two whole numbers.
        rates = [Fraction(0)] * (len(items) + 1)
        for at in reversed(range(len(items))):
            rates[at] = max(rates[at + 1], Fraction(worths[items[at]], sizes[items[at]]))
        dearest = [rate.as_integer_ratio() for rate in rates]

        def full(room: int, counts: Counts) -> bool:
            return room < next((sizes[i] for i in reversed(items) if counts.get(i, 0) < most[i]), room + 1)

        def extend(start: int, room: int, worth: int, counts: Counts) -> Iterator[Counts]:
            if counts and worth >= least and full(room, counts):
                yield counts
            for at in range(start, len(items)):
                self._steps -= 1
                if self._steps < 0:
                    raise TooManyError
                more, by = dearest[at]
                if more * room < (least - worth) * by:
                    return
                item = items[at]
                for count in range(min(most[item], room // sizes[item]), 0, -1):
                    with_item = {**counts, item: count}
                    yield from extend(at + 1, room - count * sizes[item], worth + count * worths[item], with_item)

        yield from extend(0, room, 0, {})
