"""How far a box ends behind the new face, and how far it has to be brought forward: advice.

Rule: NEC 2023 314.20, or the locally adopted equivalent: in a surface that burns (wood, MDF, hardboard) a box may not
be set back at all, in one that does not (gypsum, plaster, tile) by no more than 1/4 in. Local code and the authority
having jurisdiction decide.
"""

from fractions import Fraction

GRACE = Fraction(1, 4)  # inches; 314.20, surfaces that do not burn


def reach_needed(set_back: Fraction, added: Fraction, combustible: bool) -> Fraction:
    """How far an extender has to bring a box forward.

    Parameters
    ----------
    set_back
        How far the box stands behind the old face now, inches; below 0 it stands proud.
    added
        How far the new face comes forward, inches.
    combustible
        Whether the new face round the box burns.

    Returns
    -------
    Fraction
        Inches; 0 where it may stay as it is.
    """
    return max(Fraction(0), set_back + added - (0 if combustible else GRACE))
