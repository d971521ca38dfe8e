"""A measured length, how unsure it is, and what it shares of that with the others of its wall."""

from dataclasses import dataclass, field
from enum import StrEnum
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from capture.lengths import Unit, show_length, show_spread

Array = NDArray[np.float64]


class Source(StrEnum):
    """Where a measured value comes from."""

    PHOTO = "photo"
    TAPE = "tape"
    BOTH = "photo and tape"
    USUAL = "usual size"  # a common size taken for granted, not measured


@dataclass(frozen=True)
class Errors:
    """What the error of a length is made of: a linear form of the errors of a wall's unknowns.

    `form` is (Q,) and `covariance` (Q, Q), the same for all lengths that one adjustment gave.
    """

    form: Array
    covariance: Array


@dataclass(frozen=True)
class Measured:
    """A measured length: inches in the wall frame, with one standard deviation and where it comes from."""

    value: float
    sd: float
    source: Source
    errors: Errors | None = field(default=None, compare=False, repr=False)  # None: it shares them with no other

    @property
    def spread(self) -> float:
        """Half the 95 % interval (normal distribution), inches."""
        return 1.959964 * self.sd

    def show(self, unit: Unit = Unit.INCH) -> str:
        """The value with its plus-or-minus, for the eye."""
        return f"{show_length(self.value, unit)} {show_spread(self.spread, unit)}"


def sd_of(*terms: tuple[float, Measured]) -> float:
    """Standard deviation of a weighted sum of lengths of one wall, inches.

    Lengths from one adjustment count with their joint covariance (JCGM 100:2008, 5.2.2, equation 13), others as
    independent. Where two plates are both too far right because the cards were printed too large, the distance
    between them is surer than either.
    """
    variance, joint = 0.0, dict[int, Errors]()
    for weight, one in terms:
        if one.errors is None:
            variance += (weight * one.sd) ** 2
        else:
            form, covariance = weight * one.errors.form, one.errors.covariance
            so_far = joint.get(id(covariance))
            joint[id(covariance)] = Errors(form if so_far is None else so_far.form + form, covariance)
    variance += sum(max(0.0, float(e.form @ e.covariance @ e.form)) for e in joint.values())
    return sqrt(variance)
