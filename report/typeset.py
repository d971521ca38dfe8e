"""Plain words made ready for paper: fractions, primes, spaces that hold, and nothing that breaks XML."""

import re
import unicodedata
from datetime import date, datetime

_FRACTION = re.compile(r"(?<![\d/.])(?:(\d+) )?(\d+)/(\d+)(?![\d/])")
_INCH = re.compile(r'(?<=\d)"')
_MINUS = re.compile(r"(?<![\w)])-(?=\d)")
_FOOT = re.compile(r"(?<=\d)'(?!\w)")
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_HOLD = "\N{NO-BREAK SPACE}"


def printable(text: object) -> str:
    """The text without control characters and lone surrogates, which neither XML nor a PDF can hold."""
    kept = (
        c if c not in "\n\t" else " " for c in str(text) if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cs")
    )
    return "".join(kept)


def typeset(text: object) -> str:
    """Lengths in a sentence as they should stand on paper: ``36 13⁄16″``, ``± 1⁄8″``, kept on one line.

    The fraction slash (U+2044) makes the text shaper set real fractions.
    """
    plain = _MINUS.sub("−", printable(text))
    set_text = _FRACTION.sub(lambda m: f"{m[1]}{_HOLD}{m[2]}⁄{m[3]}" if m[1] else f"{m[2]}⁄{m[3]}", plain)
    return _FOOT.sub("′", _INCH.sub("″", set_text)).replace("± ", f"±{_HOLD}").replace(" mm", f"{_HOLD}mm")


def sentence(text: object) -> str:
    """A note as a sentence: a capital first, a full stop last."""
    plain = str(text).strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "!", "?", "…")) else ".")


def lettered(text: object) -> str:
    """The same for drawings, where every letter is set alone: raised and lowered figures stand for the fraction."""

    def figures(match: re.Match[str]) -> str:
        part = match[2].translate(_RAISED) + "⁄" + match[3].translate(_LOWERED)
        return f"{match[1]}{_HOLD}{part}" if match[1] else part

    set_text = re.sub(r'(?<=[\d₀-₉])"', "″", _FRACTION.sub(figures, printable(text)))
    return _FOOT.sub("′", set_text)


def css_text(text: object) -> str:
    """The text as it may stand between quotes in a style: letters and figures as they are, all else as escapes."""
    return "".join(c if c.isalnum() or c == " " else f"\\{ord(c):06x} " for c in printable(text))


def long_date(day: date | None) -> str:
    """A date in words that no one can misread: ``25 November 2026``."""
    return f"{day.day} {day:%B} {day.year}" if day else "not recorded"


def when(taken: datetime | None) -> str:
    """When a photo was taken."""
    return f"{long_date(taken.date())}, {taken:%H:%M}" if taken else "time not recorded"
