"""A measured length made exact, so that the plan can be."""

from fractions import Fraction

from capture.lengths import MM, nearest
from capture.measured import Measured, Source

SIXTEENTH = Fraction(1, 16)
GRADUATIONS = (Fraction(1, 64), MM / 10, Fraction(1, 1000))  # what tapes are read to; 1/1000 for decimals of an inch
SOLVED_TO = Fraction(1, 10**7)  # inches: the adjustment gives a lone reading back to some 1e-9


def plan_length(measured: Measured) -> Fraction:
    """The exact length to plan with.

    A taped length is recovered as it was read (64ths, tenths of a millimetre, decimals of an inch); what was seen, or
    evened out between several readings, is rounded to 1/16 in, about as fine as it is known.

    Parameters
    ----------
    measured
        Inches, wall frame.

    Returns
    -------
    Fraction
        Inches.
    """
    exact = Fraction(measured.value)
    if measured.source is Source.TAPE:
        for graduation in GRADUATIONS:
            read = nearest(exact, graduation)
            if abs(read - exact) < SOLVED_TO:
                return read
    return nearest(exact, SIXTEENTH)
