"""How far the floor line is from a receptacle: advice for whoever moves one.

Rule: NEC 2023 210.52(A)(1) and (2), or the locally adopted equivalent: no point along the floor line of a wall space
2 ft or wider may be more than 6 ft from a receptacle; doorways and similar openings break the line; a receptacle more
than 5 ft 6 in above the floor does not count. Local code and the authority having jurisdiction decide.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

REACH = Fraction(72)  # inches; 210.52(A)(1)
LEAST_SPACE = Fraction(24)  # inches; 210.52(A)(2)(1), measured round corners
HIGHEST = Fraction(66)  # inches; 210.52 opening text, item (4)


@dataclass(frozen=True)
class TooFar:
    """A place on the floor line that is too far from every receptacle of its wall space."""

    at: Fraction  # wall inches
    distance: Fraction | None  # to the nearest receptacle, inches; None where there is none

    @property
    def over(self) -> Fraction | None:
        """By how much it is beyond 6 ft, inches."""
        return None if self.distance is None else self.distance - REACH


def receptacle_spacing(
    spaces: Iterable[tuple[Fraction, Fraction]], receptacles: Iterable[tuple[Fraction, Fraction]]
) -> tuple[TooFar, ...]:
    """The worst place of each stretch of floor line that is too far from a receptacle.

    Parameters
    ----------
    spaces
        Left and right of each wall space, inches along the floor line, measured round corners.
    receptacles
        Place along the same line and height above the floor of each receptacle's centre, inches.

    Returns
    -------
    tuple of TooFar
        Left to right; empty where the rule holds.
    """
    counted = sorted(place for place, height in receptacles if height <= HIGHEST)
    return tuple(
        worst
        for left, right in spaces
        if right - left >= LEAST_SPACE
        for worst in _worst_places(left, right, [place for place in counted if left <= place <= right])
        if worst.distance is None or worst.distance > REACH
    )


def _worst_places(left: Fraction, right: Fraction, places: list[Fraction]) -> Iterator[TooFar]:
    if not places:
        yield TooFar((left + right) / 2, None)
        return
    yield TooFar(left, places[0] - left)
    for one, other in pairwise(places):
        yield TooFar((one + other) / 2, (other - one) / 2)
    yield TooFar(right, right - places[-1])
