"""Equal panels on a run, exact; and lengths rounded for the eye without losing anything."""

from collections.abc import Sequence
from fractions import Fraction

from capture.errors import PlainError
from capture.lengths import nearest, show_length
from layout.exact import SIXTEENTH
from layout.runs import Run
from layout.scheme import Scheme


class FrameFitError(PlainError, ValueError):
    """A frame that its run cannot hold."""


def equal_panels(run_length: Fraction, count: int, stile: Fraction) -> Fraction:
    """The width of each panel between `count + 1` stiles, one at each end.

    Parameters
    ----------
    run_length
        From shown end to shown end, inches.
    count
        How many panels.
    stile
        Width of a stile, inches.

    Returns
    -------
    Fraction
        (run - (count + 1) stile) / count, inches, exact.

    Raises
    ------
    FrameFitError
        The stiles alone are as long as the run, or there is no panel.
    """
    if count < 1:
        raise FrameFitError(f"A frame needs at least one panel, not {count}; ask for 1 or more.")
    left_over = run_length - (count + 1) * stile
    if left_over <= 0:
        raise FrameFitError(
            f"{count + 1} stiles of {show_length(stile)} take {show_length((count + 1) * stile)} of a run that is "
            f"{show_length(run_length)} long, {show_length(-left_over)} too much; take fewer panels or narrower stiles."
        )
    return left_over / count


def positions(left: Fraction, count: int, stile: Fraction, panel: Fraction) -> tuple[Fraction, ...]:
    """Left edges of the `count + 1` stiles, each from the run's left end so that nothing drifts; inches."""
    return tuple(left + i * (stile + panel) for i in range(count + 1))


def fits(run: Run, scheme: Scheme, count: int) -> bool:
    """Whether `count` equal panels leave each its least width."""
    return count >= 1 and run.width >= (count + 1) * scheme.stile + count * scheme.least_opening


def best_count(run: Run, scheme: Scheme) -> int:
    """How many panels: the fixed count, or the one whose panels come closest to the width wanted.

    A tie goes to the smaller count: fewer members to make and fewer to meet a box.

    Parameters
    ----------
    run
        The stretch to fill.
    scheme
        Its `panels` fix the count of a run by name; otherwise `panel_width` is wanted.

    Returns
    -------
    int
        1 or more.

    Raises
    ------
    FrameFitError
        The fixed count, or even one panel, does not fit.
    """
    fixed = scheme.panels.get(run.name)
    if fixed is not None:
        if not fits(run, scheme, fixed):
            raise _no_room(run, scheme, fixed)
        return fixed
    if not fits(run, scheme, 1):
        raise _no_room(run, scheme, 1)
    # Panels only shrink as their number grows, so the best is next to where they cross the width wanted.
    crossing = int((run.width - scheme.stile) / (scheme.panel_width + scheme.stile))
    counts = [n for n in (crossing, crossing + 1) if fits(run, scheme, n)] or [max(1, crossing)]
    return min(counts, key=lambda n: (abs(equal_panels(run.width, n, scheme.stile) - scheme.panel_width), n))


def _no_room(run: Run, scheme: Scheme, count: int) -> FrameFitError:
    need = (count + 1) * scheme.stile + count * scheme.least_opening
    what = "one panel" if count == 1 else f"{count} panels"
    return FrameFitError(
        f"“{run.name}” is {scheme.show(run.width)} long and {what} need at least {scheme.show(need)}, "
        f"{scheme.show(need - run.width)} more; ask for fewer panels or narrower stiles."
    )


def shown_pieces(pieces: Sequence[Fraction], step: Fraction = SIXTEENTH) -> tuple[Fraction, ...]:
    """Pieces in a row, rounded so that they add up to the rounded whole.

    The running totals are exact and each is rounded once, a tie to the even step; rounding the pieces themselves
    would drift.

    Parameters
    ----------
    pieces
        Exact lengths in order from one end, inches.
    step
        1/16 in, or `capture.lengths.MM`.

    Returns
    -------
    tuple of Fraction
        Multiples of `step`, each within one step of its piece; their sum is the sum of `pieces` rounded once.
    """
    total = shown = Fraction(0)
    rounded = []
    for piece in pieces:
        total += piece
        rounded.append(nearest(total, step) - shown)
        shown += rounded[-1]
    return tuple(rounded)
