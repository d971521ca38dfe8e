"""One sign a verdict: a shape and a letter, so that it reads in black and white and without the other."""

from typing import NamedTuple

from layout.verdicts import Verdict

Polygon = tuple[tuple[float, float], ...]


class Symbol(NamedTuple):
    """A shape of two units' width about its middle (y up), filled or outlined, with its letter."""

    letter: str
    shape: Polygon
    filled: bool
    drop: float  # how far the letter sits below the middle, so that it stands in the shape's mass


_SQUARE: Polygon = ((-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88))
_DIAMOND: Polygon = ((0, -1.12), (1.12, 0), (0, 1.12), (-1.12, 0))
_TRIANGLE: Polygon = ((-1.15, -0.9), (1.15, -0.9), (0, 1.15))
_HEXAGON: Polygon = ((-1.05, 0), (-0.55, -0.92), (0.55, -0.92), (1.05, 0), (0.55, 0.92), (-0.55, 0.92))
_SHIELD: Polygon = ((-0.9, 0.9), (0.9, 0.9), (0.9, -0.25), (0, -1.1), (-0.9, -0.25))

SYMBOLS: dict[Verdict, Symbol] = {
    Verdict.CLEAR: Symbol("C", _HEXAGON, False, 0),
    Verdict.TIGHT: Symbol("T", _SHIELD, False, -0.1),
    Verdict.STRIKES_MOULDING: Symbol("M", _TRIANGLE, True, 0.28),
    Verdict.SPLIT: Symbol("S", _DIAMOND, True, 0),
    Verdict.WHOLE: Symbol("W", _SQUARE, True, 0),
    Verdict.TOO_CLOSE: Symbol("?", _DIAMOND, False, 0),
}
