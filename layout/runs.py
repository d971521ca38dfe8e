"""Where wainscot runs on a wall: from end to end, split by doors and windows.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor. A run's ends are those of
the face that one sees.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from capture.errors import PlainError
from capture.measured import Measured, Source, sd_of
from capture.record import EndDetail
from capture.survey import WallSurvey
from layout.ends import RunEnd, Stop, end_notes, wall_end
from layout.exact import plan_length
from layout.heights import Heights, least_height
from layout.openings import Level, Opening, openings
from layout.scheme import Scheme

__all__ = ["Run", "RunEnd", "RunError", "Stop", "WallRuns", "runs_of", "split_wall"]

NARROWEST_OPENING = Fraction(1)  # inches: a casing edge marked at the wall's own end opens nothing


class RunError(PlainError, ValueError):
    """A wall on which no wainscot can be planned."""


@dataclass(frozen=True)
class Run:
    """A stretch of wainscot between two ends, in wall inches."""

    wall: str
    part: str  # "" for the whole wall, else such as "left of window 1"
    left: Fraction
    right: Fraction
    top: Fraction
    left_end: RunEnd
    right_end: RunEnd
    bottom: Fraction = Fraction(0)
    capped: bool = True  # under a window the rail meets the apron without a cap
    top_at: Measured | None = None  # the line it hangs from or stands on, where that is unsure
    bottom_at: Measured | None = None
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The wall's name, and which part of it where it is split."""
        return f"{self.wall}, {self.part}" if self.part else self.wall

    @property
    def width(self) -> Fraction:
        """From shown end to shown end, inches."""
        return self.right - self.left

    @property
    def left_sd(self) -> float:
        """How unsure the left end is, inches."""
        return self.left_end.sd

    @property
    def right_sd(self) -> float:
        """How unsure the right end is, inches."""
        return self.right_end.sd

    @property
    def left_hidden(self) -> Fraction:
        """Extra width of the first stile, hidden behind the neighbour, inches."""
        return self.left_end.hidden

    @property
    def right_hidden(self) -> Fraction:
        """Extra width of the last stile, hidden behind the neighbour, inches."""
        return self.right_end.hidden

    def heights(self, scheme: Scheme) -> Heights:
        """Its level lines, inches above the floor."""
        return Heights.of(self.bottom, self.top, self.capped, scheme)

    def edge_sd(self, x: float) -> float:
        """How unsure a member's edge at x is, inches."""
        return sd_of(*self.edge_at(x))

    def edge_at(self, x: float) -> list[tuple[float, Measured]]:
        """What a member's edge at x moves with: members are spread evenly between the two ends."""
        share = self._share(x)
        ends = (1 - share, self.left_end.at), (share, self.right_end.at)
        return [(weight, at) for weight, at in ends if at]

    def doubtful_end(self, x: float) -> RunEnd:
        """The end that makes an edge at x the more unsure."""
        share = self._share(x)
        return self.left_end if (1 - share) * self.left_sd > share * self.right_sd else self.right_end

    def _share(self, x: float) -> float:
        """How far from its left end to its right one x lies, 0 to 1."""
        return min(1.0, max(0.0, (x - float(self.left)) / float(self.width)))

    def height_at(self, y: float) -> list[tuple[float, Measured]]:
        """What a member's edge at height y moves with: set out from the floor, hung from an apron, or over a window."""
        at = self.top_at if y > float(self.bottom + self.top) / 2 else self.bottom_at
        return [(1.0, at)] if at else []


class WallRuns(NamedTuple):
    """The runs of a wall and what was left out, in plain words."""

    runs: tuple[Run, ...]
    notes: tuple[str, ...]


def runs_of(
    survey: WallSurvey, scheme: Scheme, *, left_first: bool = True, right_first: bool = True
) -> tuple[Run, ...]:
    """The runs of a wall, left to right; see `split_wall`."""
    return split_wall(survey, scheme, left_first=left_first, right_first=right_first).runs


def split_wall(
    survey: WallSurvey,
    scheme: Scheme,
    *,
    left_first: bool = True,
    right_first: bool = True,
    corners: tuple[EndDetail, EndDetail] | None = None,
) -> WallRuns:
    """The runs of a wall, left to right, with notes on what was left out.

    Parameters
    ----------
    survey
        The wall as it stands.
    scheme
        The sizes wanted.
    left_first, right_first
        Whether this wall goes in before its neighbour at that inside corner. The first runs into the corner, and the
        neighbour's frame hides that much of its end stile; both show the same face.
    corners
        What is known of its left and right end; None takes what the survey tells.

    Returns
    -------
    WallRuns
        Runs in wall inches.

    Raises
    ------
    RunError
        The width is not known, or no part of the wall can hold a frame.
    """
    width, notes = _wall_width(survey, scheme)
    end = plan_length(width)
    gaps, left_out = openings(survey, scheme, end)
    details = corners or (survey.left_detail, survey.right_detail)
    proud = survey.conditions.casing
    left, left_end = wall_end(survey.left, scheme, left_first, details[0], proud)
    inward, right_end = wall_end(survey.right, scheme, right_first, details[1], proud)
    right_end = replace(right_end, at=width)
    _check_room(survey, scheme, end, (left_end, right_end))
    stretches = list(_stretches(survey.name, scheme, gaps, (left, left_end), (end - inward, right_end)))
    runs = [run for run in stretches if _fits(run, scheme)]
    if not runs:
        raise _too_narrow(survey.name, max(stretches, key=lambda run: run.width, default=None), scheme)
    left_out += [_left_plain(run, scheme) for run in stretches if run not in runs]
    noted = (replace(run, notes=(*notes, *run.notes, *end_notes(run.left_end, run.right_end, scheme))) for run in runs)
    return WallRuns(tuple(noted), tuple(left_out))


def _check_room(survey: WallSurvey, scheme: Scheme, width: Fraction, ends: tuple[RunEnd, RunEnd]) -> None:
    """Refuse a wall lower than the wainscot, or shorter than what the frames of its neighbours take of it."""
    if survey.ceiling is not None and (over := scheme.top - plan_length(survey.ceiling)) > 0:
        raise RunError(
            f"The wainscot is {scheme.show(scheme.top)} high and the ceiling over “{survey.name}” "
            f"{scheme.show(survey.ceiling.value)}, {scheme.show(over)} less; lower the top or leave this wall out."
        )
    taken = sum((end.inset + end.filler for end in ends), Fraction(0))
    if taken >= width:
        raise RunError(
            f"“{survey.name}” is {scheme.show(width)} long, and at its two ends the frames that stand "
            f"{scheme.show(scheme.build_up)} off the walls and the fillers take {scheme.show(taken)}, "
            f"{scheme.show(taken - width)} too much; take thinner members or leave this wall out."
        )


def _wall_width(survey: WallSurvey, scheme: Scheme) -> tuple[Measured, tuple[str, ...]]:
    width = survey.width
    if width is None:
        raise RunError(f"The width of “{survey.name}” is not known; tape it from end to end, or mark both ends.")
    if width.value <= 0:
        raise RunError(f"The width of “{survey.name}” comes out as {scheme.show(width.value)}; check its two ends.")
    if width.source in (Source.PHOTO, Source.USUAL):
        return width, (f"width {scheme.show(plan_length(width))} from {width.source} only: tape before cutting",)
    return width, ()


def _stretches(
    wall: str, scheme: Scheme, gaps: list[Opening], left: tuple[Fraction, RunEnd], right: tuple[Fraction, RunEnd]
) -> Iterator[Run]:
    """All stretches of wall between the gaps and under windows, left to right, whether a frame fits or not."""
    (start, start_end), (end, right_end), before = left, right, ""
    for gap in gaps:
        gap_left, gap_right = max(gap.left, start), min(gap.right, end)
        if gap_right - gap_left < NARROWEST_OPENING:
            continue  # at or beyond the wall's end, or within another opening
        if gap_left > start:
            stop = gap_left - gap.left_end.filler
            yield Run(wall, _part(before, gap.left_name), start, stop, scheme.top, start_end, gap.left_end)
        if gap.under is not None:
            yield _run_under(wall, gap, gap.under, gap_left, gap_right)
        if gap.over is not None:
            yield _run_over(wall, gap, gap.over, scheme, gap_left, gap_right)
        start, start_end, before = gap_right + gap.right_end.filler, gap.right_end, gap.right_name
    if end > start:
        yield Run(wall, _part(before, ""), start, end, scheme.top, start_end, right_end)


def _part(after: str, before: str) -> str:
    if after and before:
        return f"between {after} and {before}"
    return f"right of {after}" if after else f"left of {before}" if before else ""


def _run_under(wall: str, gap: Opening, top: Level, left: Fraction, right: Fraction) -> Run:
    ends, part = _next_frames(gap), f"under {gap.left_name}"
    return Run(wall, part, left, right, top.height, *ends, capped=False, top_at=top.at, notes=gap.notes)


def _run_over(wall: str, gap: Opening, foot: Level, scheme: Scheme, left: Fraction, right: Fraction) -> Run:
    ends, part = _next_frames(gap), f"over {gap.left_name}"
    return Run(wall, part, left, right, scheme.top, *ends, bottom=foot.height, bottom_at=foot.at)


def _next_frames(gap: Opening) -> tuple[RunEnd, RunEnd]:
    return RunEnd(Stop.NEXT_FRAME, gap.left_end.at), RunEnd(Stop.NEXT_FRAME, gap.right_end.at)


def _fits(run: Run, scheme: Scheme) -> bool:
    return run.width >= scheme.least_run and run.top - run.bottom >= least_height(run.bottom, run.capped, scheme)


def _left_plain(run: Run, scheme: Scheme) -> str:
    if run.width < scheme.least_run:
        return (
            f"{run.name} is left plain: {scheme.show(run.width)} wide, "
            f"and two stiles with a panel need {scheme.show(scheme.least_run)}"
        )
    return (
        f"{run.name} is left plain: {scheme.show(run.top - run.bottom)} high, "
        f"and two rails with a panel need {scheme.show(least_height(run.bottom, run.capped, scheme))}"
    )


def _too_narrow(wall: str, widest: Run | None, scheme: Scheme) -> RunError:
    width = widest.width if widest else Fraction(0)
    short = scheme.least_run - width
    if widest and short <= 0:
        return RunError(_left_plain(widest, scheme) + "; lower the rails or leave this wall out.")
    return RunError(
        f"“{wall}” is narrower than its frames: {scheme.show(width)} of wall in one piece, and two stiles with a panel "
        f"need {scheme.show(scheme.least_run)}, {scheme.show(short)} more; take narrower stiles or leave this wall out."
    )
