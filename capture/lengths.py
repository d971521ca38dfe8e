"""Lengths as people write them, exact inside, rounded only when shown.

A length is a `fractions.Fraction` of an inch. A millimetre is 5/127 in exactly (the international
inch is 25.4 mm by definition, Federal Register 24 FR 5348, 1959).
"""

import re
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from functools import partial
from typing import Annotated

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

from capture.errors import PlainError

MM = Fraction(5, 127)  # one millimetre in inches
CM = 10 * MM
METRE = 1000 * MM
FOOT = Fraction(12)
LONGEST = Fraction(12_000)  # 1,000 ft: no wall is longer, so more is a slip of the thumb

GRADUATIONS = (2, 3, 4, 8, 16, 32, 64)  # parts of an inch on tapes and rules, and the thirds that people write

_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_NUMBER = r"(?:(?P<{0}whole>\d+)[\s-]+)?(?P<{0}num>\d+)/(?P<{0}den>\d+)|(?P<{0}dec>\d+(?:\.\d*)?|\.\d+)"
_INCH = r"(?:\"|''|in(?:ch(?:es)?)?\.?)"
_FOOT = r"(?:'|f(?:ee|oo)?t\.?)"
_FEET_INCHES = re.compile(
    rf"(?:{_NUMBER.format('f')})\s*{_FOOT}\s*-?\s*(?:(?:{_NUMBER.format('i')})\s*{_INCH}?)?", re.I
)
_INCHES = re.compile(rf"(?:{_NUMBER.format('i')})\s*{_INCH}?", re.I)
# A comma before just three digits may be a decimal or a thousands comma, a factor of 1,000 apart: not guessed.
_METRIC = re.compile(r"(?P<dec>\d+(?:\.\d*|,(?!\d{3}\D)\d*)?|[.,]\d+)\s*(?P<unit>mm|cm|m)", re.I)
_METRIC_UNITS = {"mm": MM, "cm": CM, "m": METRE}

ACCEPTED = 'write it like 36 1/2, 36-1/2", 3\' 0 1/2", 36.5 in, 927 mm or 92.7 cm'


class LengthError(PlainError, ValueError):
    """A length that cannot be read, or that no wall could have."""


class SizesError(PlainError):
    """A sentence with lengths in it: in inches, or by `told` in another unit.

    Parameters
    ----------
    words
        The sentence, or a function that makes it with another one that shows a length.
    """

    def __init__(self, words: str | Callable[[Callable[..., str]], str]) -> None:
        self.words = words
        super().__init__(self.told("in"))

    def told(self, unit: str) -> str:
        """The sentence with its lengths in a unit."""
        return self.words if isinstance(self.words, str) else self.words(partial(show_length, unit=Unit(unit)))


class Unit(StrEnum):
    """How lengths are shown: inches to a sixteenth, or whole millimetres."""

    INCH = "in"
    MM = "mm"


def parse_length(text: str) -> Fraction:
    """Read a length as people write it, exactly.

    Parameters
    ----------
    text
        ``36 1/2``, ``36-1/2"``, ``3' 0 1/2"``, ``36.5 in``, ``927 mm``, ``92.7 cm``; a bare number is inches.

    Returns
    -------
    Fraction
        Inches, never negative.

    Raises
    ------
    LengthError
        The text is not a length, has a zero denominator, or is over 1,000 ft.
    """
    plain = text.strip().replace("′", "'").replace("″", '"').replace("’", "'").replace("”", '"').replace("⁄", "/")
    for glyph, fraction in _VULGAR.items():
        plain = plain.replace(glyph, " " + fraction)
    plain = plain.strip()
    if len(plain) > 40:
        raise LengthError(f"“{text[:40]}…” is too long for a length; {ACCEPTED}.")
    length = _read(plain)
    if length is None:
        raise LengthError(f"“{text}” is not a length; {ACCEPTED}.")
    if length > LONGEST:
        raise LengthError(f"“{text}” is over 1,000 ft; check the unit, or {ACCEPTED}.")
    return length


def _read(plain: str) -> Fraction | None:
    if match := _METRIC.fullmatch(plain):
        return Fraction(match["dec"].replace(",", ".")) * _METRIC_UNITS[match["unit"].lower()]
    try:
        if match := _FEET_INCHES.fullmatch(plain):
            return FOOT * (_number(match, "f") or 0) + (_number(match, "i") or 0)
        if match := _INCHES.fullmatch(plain):
            return _number(match, "i")
    except (ZeroDivisionError, ValueError):
        pass
    return None


def _number(match: re.Match[str], prefix: str) -> Fraction | None:
    if match[prefix + "dec"]:
        return Fraction(match[prefix + "dec"])
    if match[prefix + "num"]:
        part = Fraction(int(match[prefix + "num"]), int(match[prefix + "den"]))
        # Beside whole inches stands what a tape shows: 31 3/18 is a slip. A fraction alone is how lengths are stored.
        if match[prefix + "whole"] and (part >= 1 or int(match[prefix + "den"]) not in GRADUATIONS):
            raise ValueError(part)
        return int(match[prefix + "whole"] or 0) + part
    return None


def nearest(length: Fraction, step: Fraction) -> Fraction:
    """The multiple of `step` nearest to `length`; an exact half goes to the even multiple.

    NIST Handbook 44, section 10.3: half-way between two graduations is read as the even one.
    """
    return round(length / step) * step


def show_length(length: Fraction | float, unit: Unit = Unit.INCH, step: Fraction = Fraction(1, 16)) -> str:
    """A length for the eye: ``36 1/2"`` to the nearest `step` of an inch, or ``927 mm``."""
    exact = Fraction(length)
    if unit is Unit.MM:
        return f"{round(exact / MM)} mm"
    rounded = nearest(exact, step)
    sign = "-" if rounded < 0 else ""
    whole, part = divmod(abs(rounded), 1)
    if not part:
        return f'{sign}{whole}"'
    return f'{sign}{whole} {part}"' if whole else f'{sign}{part}"'


def show_spread(spread: float, unit: Unit = Unit.INCH) -> str:
    """A plus-or-minus for the eye, rounded up so that it never claims too much: ``± 1/16"`` or ``± 2 mm``."""
    step = MM if unit is Unit.MM else Fraction(1, 32)
    steps = max(1, -int(-Fraction(spread) // step))
    return "± " + show_length(steps * step, unit, step)


def _read_stored(value: object) -> Fraction:
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str):
        return parse_length(value)
    raise ValueError(f"a length is stored as text such as “73/2”, not as {value!r}")


Length = Annotated[
    Fraction,
    BeforeValidator(_read_stored),
    PlainSerializer(str, return_type=str),
    WithJsonSchema({"type": "string", "description": "inches as an exact fraction, such as 73/2"}),
]
"""An exact length in a stored record: text such as ``73/2`` in JSON, a Fraction in Python."""
