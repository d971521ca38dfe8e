"""The inner stiles of some runs as variables, each shifted by whole steps; and what the rules ask of them.

Frame: the wall's inches, x to the right from its left end.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from layout.meeting import Box
from layout.nudge import Cost, Factor
from layout.rules import Place, StileRules, distance, overlap, stile_faces
from layout.scheme import Scheme
from layout.spacing import Spacing


class _Stile(NamedTuple):
    """A stile that may be shifted: of which run, which one there, by which variable, and which way round."""

    run: int
    place: int
    variable: int
    way: int


class Chain:
    """Runs side by side; where ends are mirrored, the stiles of a pair go by one variable, in opposite ways."""

    def __init__(self, spacings: Sequence[Spacing], scheme: Scheme) -> None:
        self._spacings, self._scheme = tuple(spacings), scheme
        self.most = int(scheme.nudge // scheme.step)
        self.stiles: list[_Stile] = []
        self.size = 0
        for run, spacing in enumerate(spacings):
            self._add(run, spacing.count)
        self._at = {(stile.run, stile.place): stile for stile in self.stiles}
        self.weights = [sum(stile.variable == v for stile in self.stiles) for v in range(self.size)]

    def _add(self, run: int, count: int) -> None:
        for place in range(1, count):
            twin = count - place
            if not self._scheme.mirrored or place < twin:
                self.stiles.append(_Stile(run, place, self.size, 1))
                self.size += 1
            elif place > twin:
                mirror = next(one for one in self.stiles if (one.run, one.place) == (run, twin))
                self.stiles.append(_Stile(run, place, mirror.variable, -1))

    def shifted(self, scope: Sequence[int], values: Sequence[int]) -> tuple[Spacing, ...]:
        """The runs with the variables of `scope` at these values and all others at 0."""
        value = dict(zip(scope, values, strict=True))
        shifts = [[Fraction(0)] * (spacing.count - 1) for spacing in self._spacings]
        for stile in self.stiles:
            shifts[stile.run][stile.place - 1] = stile.way * value.get(stile.variable, 0) * self._scheme.step
        return tuple(one.nudged(by) if any(by) else one for one, by in zip(self._spacings, shifts, strict=True))

    def lefts(self, scope: Sequence[int], values: Sequence[int]) -> list[list[Fraction]]:
        """Left edges of all stiles of each run, with the variables of `scope` at these values and all others at 0."""
        value = dict(zip(scope, values, strict=True))
        lefts = [list(spacing.lefts) for spacing in self._spacings]
        for stile in self.stiles:
            if steps := value.get(stile.variable):
                lefts[stile.run][stile.place] += stile.way * steps * self._scheme.step
        return lefts

    def near(self, box: Box, met: Sequence[bool]) -> tuple[int, ...]:
        """The variables of the stiles whose edges, or the moulding's beside them, can come into the box.

        Parameters
        ----------
        box
            Wall inches.
        met
            Of each run, whether the box reaches into its openings at all.
        """
        reach = self._scheme.border + self._scheme.nudge
        found = set()
        for stile in self.stiles:
            left = self._spacings[stile.run].lefts[stile.place]
            if met[stile.run] and left - reach <= box.right and box.left <= left + self._scheme.stile + reach:
                found.add(stile.variable)
        return tuple(sorted(found))

    def factors(self, rules: Sequence[StileRules], free: Cost) -> Iterator[Factor]:
        """What the rules forbid: panels too narrow, places missed, places taken; `free` is what the rest costs."""
        for run, rule in enumerate(rules):
            for place in range(self._spacings[run].count):
                if self._spacings[run].panels[place] - 2 * self._scheme.nudge < self._scheme.least_opening:
                    yield self._wide_enough(run, place, free)
            for wanted in rule.wanted:
                yield self._held(run, wanted, free)
            for forbidden in rule.forbidden:
                yield from self._left_free(run, forbidden, free)

    def _of(self, run: int, places: Sequence[int]) -> tuple[int, ...]:
        return tuple(sorted({stile.variable for stile in self.stiles if stile.run == run and stile.place in places}))

    def _wide_enough(self, run: int, place: int, free: Cost) -> Factor:
        scope = self._of(run, (place, place + 1))

        def cost(values: tuple[int, ...]) -> Cost | None:
            left, right = (self._face(run, one, scope, values) for one in (place, place + 1))
            return free if right[0] - left[1] >= self._scheme.least_opening else None

        return Factor(scope, cost)

    def _held(self, run: int, wanted: Place, free: Cost) -> Factor:
        faces = stile_faces(self._spacings[run], self._scheme)
        reached = [i for i, face in enumerate(faces) if distance(face, wanted) <= self._scheme.nudge]
        scope = self._of(run, reached)

        def cost(values: tuple[int, ...]) -> Cost | None:
            held = (distance(self._face(run, place, scope, values), wanted) == 0 for place in reached)
            return free if any(held) else None

        return Factor(scope, cost)

    def _left_free(self, run: int, forbidden: Place, free: Cost) -> Iterator[Factor]:
        faces = stile_faces(self._spacings[run], self._scheme)
        for place, face in enumerate(faces):
            if overlap((face[0] - self._scheme.nudge, face[1] + self._scheme.nudge), forbidden):
                yield self._off(run, place, forbidden, free)

    def _off(self, run: int, place: int, forbidden: Place, free: Cost) -> Factor:
        scope = self._of(run, (place,))

        def cost(values: tuple[int, ...]) -> Cost | None:
            return None if overlap(self._face(run, place, scope, values), forbidden) else free

        return Factor(scope, cost)

    def _face(self, run: int, place: int, scope: Sequence[int], values: Sequence[int]) -> tuple[Fraction, Fraction]:
        """Left and right edge of one stile with the variables of `scope` at these values."""
        ends = (0, self._spacings[run].count)
        left = self._spacings[run].lefts[place]
        stile = self._at.get((run, place))
        if stile is not None and stile.variable in scope:
            left += stile.way * values[scope.index(stile.variable)] * self._scheme.step
        return left, left + (self._scheme.outer_stile if place in ends else self._scheme.stile)
