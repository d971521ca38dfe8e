"""Stretches of a line, from one place to another, both in it: what is left when others are taken out."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

Stretch = tuple[Fraction, Fraction]
"""From, to; inches. Equal where it is a single place."""


def without(stretches: Iterable[Stretch], low: Fraction, high: Fraction) -> Iterator[Stretch]:
    """What is left of stretches when all that lies between two places is taken; the two themselves are left."""
    for start, end in stretches:
        for left, right in ((start, min(end, low)), (max(start, high), end)):
            if left <= right:
                yield left, right
