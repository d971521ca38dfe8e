"""How wide letters stand on paper: those of the widest font that a paper may be set in, so that none runs over."""

from report.typeset import lettered

# Widths in letter sizes: by DejaVu Sans 2.37, which falls in where there is no Inter; raised and lowered figures, the
# hyphen and the fraction's stroke by Inter, where they are wider. Letters of about one width share the widest's.
_WIDTHS = {
    "ijl": 0.279,
    " \N{NO-BREAK SPACE}.,:;'’|⁄": 0.337,
    "()[]ftrI/″′": 0.412,
    "⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉-": 0.46,
    "szJ": 0.55,
    "0123456789abcdeghknopquvxy": 0.642,
    "ABEFKLPRSTVXYZ": 0.699,
    "CDGHNOQU±×=~+w": 0.838,
}
_WIDTH = {letter: width for letters, width in _WIDTHS.items() for letter in letters}
_OTHER = 1.0
_BOLD = 1.13  # DejaVu Sans Bold to DejaVu Sans, at most but for the narrowest letters


def wide(text: str, points: float, bold: bool = False) -> float:
    """Paper inches that a line of a drawing takes along its letters, at most, set `points` high."""
    sizes = sum(_WIDTH.get(letter, _OTHER) for letter in lettered(text))
    return sizes * points / 72 * (_BOLD if bold else 1.0)
