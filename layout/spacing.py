"""Where the stiles of a run may stand, exact; and lengths rounded for the eye without losing anything."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise

from capture.lengths import SizesError, nearest
from layout.exact import SIXTEENTH
from layout.runs import Run
from layout.scheme import Scheme


class FrameFitError(SizesError, ValueError):
    """A frame that its run cannot hold."""


@dataclass(frozen=True)
class Spacing:
    """One way to divide a run."""

    panels: tuple[Fraction, ...]  # widths of the openings before any nudge, left to right, inches
    lefts: tuple[Fraction, ...]  # left edge of every stile, the two end ones too, wall inches, nudged
    nudges: tuple[Fraction, ...]  # how far each inner stile is shifted, to the right positive, inches

    @property
    def count(self) -> int:
        """How many panels."""
        return len(self.panels)

    def openings(self, scheme: Scheme) -> tuple[Fraction, ...]:
        """The widths of the openings as they come out, nudges counted; inches."""
        widths = (scheme.outer_stile, *(scheme.stile,) * (self.count - 1))
        return tuple(right - left - width for (left, right), width in zip(pairwise(self.lefts), widths, strict=True))

    def nudged(self, nudges: Sequence[Fraction]) -> "Spacing":
        """The same with its inner stiles shifted from where they stand before any nudge."""
        by = [Fraction(0), *(new - old for new, old in zip(nudges, self.nudges, strict=True)), Fraction(0)]
        lefts = tuple(left + shift for left, shift in zip(self.lefts, by, strict=True))
        return replace(self, lefts=lefts, nudges=tuple(nudges))


def equal_panels(run_length: Fraction, count: int, stile: Fraction, end_stile: Fraction | None = None) -> Fraction:
    """The width of each panel between `count + 1` stiles, one at each end.

    Parameters
    ----------
    run_length
        From shown end to shown end, inches.
    count
        How many panels.
    stile
        Width of a stile, inches.
    end_stile
        Width of each of the two end ones, inches; None takes that of the others.

    Returns
    -------
    Fraction
        (run - 2 ends - (count - 1) stile) / count, inches, exact.

    Raises
    ------
    FrameFitError
        The stiles alone are as long as the run, or there is no panel.
    """
    if count < 1:
        raise FrameFitError(f"A frame needs at least one panel, not {count}; ask for 1 or more.")
    taken = (count - 1) * stile + 2 * (stile if end_stile is None else end_stile)
    if taken >= run_length:
        raise FrameFitError(
            lambda show: (
                f"{count + 1} stiles of {show(stile)} take {show(taken)} of a run that is "
                f"{show(run_length)} long, {show(taken - run_length)} too much; "
                "take fewer panels or narrower stiles."
            )
        )
    return (run_length - taken) / count


def wanted_width(run: Run, scheme: Scheme) -> Fraction:
    """The panel width wanted on a run, inches: as told, or by the proportion of its tallest panels."""
    if not scheme.proportion:
        return scheme.panel_width
    tallest = max(high - low for low, high in run.heights(scheme).tiers)
    return max(tallest / scheme.proportion, scheme.least_opening)


def space(run: Run, scheme: Scheme, count: int) -> Spacing:
    """The run divided into `count` panels under the scheme's rules, no stile nudged.

    Raises
    ------
    FrameFitError
        The stiles alone are as long as the run, or there is no panel.
    """
    panels = _widths(run, scheme, count)
    steps = (panels[0] + scheme.outer_stile, *(panel + scheme.stile for panel in panels[1:]))
    lefts = tuple(accumulate(steps, initial=run.left))
    return Spacing(panels, lefts, (Fraction(0),) * (count - 1))


def _widths(run: Run, scheme: Scheme, count: int) -> tuple[Fraction, ...]:
    each = equal_panels(run.width, count, scheme.stile, scheme.outer_stile)
    full = wanted_width(run, scheme)
    if scheme.equal or count == 1:
        return (each,) * count
    if not scheme.mirrored:
        return (*(full,) * (count - 1), count * each - (count - 1) * full)
    if count == 2:
        return each, each
    end = (count * each - (count - 2) * full) / 2
    return (end, *(full,) * (count - 2), end)


def fits(run: Run, scheme: Scheme, count: int) -> bool:
    """Whether `count` panels can be had, each of its least width."""
    if count < 1 or run.width < _need(scheme, count):
        return False
    return scheme.equal or min(_widths(run, scheme, count)) >= scheme.least_opening


def counts(run: Run, scheme: Scheme) -> Iterator[int]:
    """All counts that fit, from the smallest."""
    most = (run.width - 2 * scheme.outer_stile + scheme.stile) // (scheme.least_opening + scheme.stile)
    return (count for count in range(1, int(most) + 1) if fits(run, scheme, count))


def fixed_count(run: Run, scheme: Scheme) -> int | None:
    """The count that a person fixed for the run.

    Raises
    ------
    FrameFitError
        It does not fit, or there is none and even one panel does not.
    """
    fixed = scheme.panels.get(run.name)
    least = fixed or 1
    if run.width < _need(scheme, least):
        raise _no_room(run, scheme, least)
    if fixed is not None and not fits(run, scheme, fixed):
        raise _no_rest(run, scheme, fixed)
    return fixed


def best_count(run: Run, scheme: Scheme) -> int:
    """How many panels if nothing but their width matters: the fixed count, or the one that comes closest.

    A tie goes to the smaller count: fewer members to make and fewer to meet a box.

    Parameters
    ----------
    run
        The stretch to fill.
    scheme
        Its `panels` fix the count of a run by name; otherwise `wanted_width` is wanted.

    Returns
    -------
    int
        1 or more.

    Raises
    ------
    FrameFitError
        The fixed count, or even one panel, does not fit.
    """
    fixed = fixed_count(run, scheme)
    if fixed is not None:
        return fixed
    return min(counts(run, scheme), key=lambda count: (miss(space(run, scheme, count), run, scheme), count))


def miss(spacing: Spacing, run: Run, scheme: Scheme) -> Fraction:
    """How far its panel that comes least close is from the width wanted, inches; near enough is 0."""
    wanted = wanted_width(run, scheme)
    off = max(abs(panel - wanted) for panel in spacing.panels)
    return off if off > scheme.width_within else Fraction(0)


def _need(scheme: Scheme, count: int) -> Fraction:
    return 2 * scheme.outer_stile + (count - 1) * scheme.stile + count * scheme.least_opening


def _no_room(run: Run, scheme: Scheme, count: int) -> FrameFitError:
    need = _need(scheme, count)
    what = "one panel" if count == 1 else f"{count} panels"
    return FrameFitError(
        f"“{run.name}” is {scheme.show(run.width)} long and {what} need at least {scheme.show(need)}, "
        f"{scheme.show(need - run.width)} more; ask for fewer panels or narrower stiles."
    )


def _no_rest(run: Run, scheme: Scheme, count: int) -> FrameFitError:
    left_over = min(_widths(run, scheme, count))
    return FrameFitError(
        f"{count} panels on “{run.name}”, the full ones {scheme.show(wanted_width(run, scheme))} wide, leave "
        f"{scheme.show(left_over)} for one at the end, and a panel needs {scheme.show(scheme.least_opening)}, "
        f"{scheme.show(scheme.least_opening - left_over)} more; ask for fewer panels, or for equal ones."
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
