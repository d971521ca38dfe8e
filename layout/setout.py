"""Setting out on the wall: running dimensions of every stile, and the order of work."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from layout.frames import Frame
from layout.pieces import Piece, PieceRole
from layout.scheme import Scheme
from layout.spacing import shown_pieces


@dataclass(frozen=True)
class StileMark:
    """Where a stile lands, from the left end of its run; inches."""

    name: str
    left: Fraction
    right: Fraction
    shown_left: Fraction
    shown_right: Fraction


@dataclass(frozen=True)
class Running:
    """Running dimensions of a run: all from its left end, so that nothing drifts; inches."""

    unit: str
    marks: tuple[StileMark, ...]
    length: Fraction
    shown_length: Fraction

    @property
    def left_over(self) -> Fraction:
        """What rounding the whole run added; the marks spread it and no single piece bears it."""
        return self.shown_length - self.length


def running_dimensions(frame: Frame, step: Fraction) -> Running:
    """Both edges of every stile from the run's left end.

    Parameters
    ----------
    frame
        The wainscot of one run.
    step
        1/16 in, or `capture.lengths.MM`.

    Returns
    -------
    Running
        Exact, and in whole steps: shown stiles and panels add up to the shown run.
    """
    edges = [edge for stile in frame.stiles for edge in (stile.rect.left, stile.rect.right)]
    exact = [edge - edges[0] for edge in edges]
    told = list(accumulate(shown_pieces([b - a for a, b in pairwise(exact)], step), initial=Fraction(0)))
    marks = tuple(
        StileMark(stile.name, *exact[2 * i : 2 * i + 2], *told[2 * i : 2 * i + 2])
        for i, stile in enumerate(frame.stiles)
    )
    return Running(frame.run.name, marks, exact[-1], told[-1])


_LATER = {
    PieceRole.BASE: "Fit the base.",
    PieceRole.CAP: "Fit the cap, corners first.",
    PieceRole.MOULDING: "Fit the panel moulding once the frame is fast, long points to the frame.",
}


BOXES_FIRST = (
    "First the boxes, power off and each proved dead: those that move or come forward are done before any wood goes "
    "up, by a licensed electrician where that is required; the electrician's brief names them."
)


def order_of_work(frames: Sequence[Frame], pieces: Sequence[Piece], scheme: Scheme) -> tuple[str, ...]:
    """What to do first and what last, in sentences; frames in room order, the first wall first."""
    return tuple(_steps(frames, pieces, scheme))


def _steps(frames: Sequence[Frame], pieces: Sequence[Piece], scheme: Scheme) -> Iterator[str]:
    head = max(stile.rect.top for frame in frames for stile in frame.stiles)
    roles = {piece.role for piece in pieces}
    yield (
        f"Strike a level line {scheme.show(head)} above the finished floor, at the top of the stiles, right round; "
        "take every height from it and not from the floor."
    )
    yield "Mark both edges of every stile on it, each by its running dimension from the one end."
    if PieceRole.SHEET in roles:
        yield "Put up the panel sheets, their seams on the marked centres of the stiles."
    units = ", then ".join(frame.run.name for frame in frames)
    yield f"Set {units}: at an inside corner the first runs into the corner and the next meets its face."
    for role, sentence in _LATER.items():
        if role in roles:
            yield sentence
    loose = dict.fromkeys(f"the {piece.name} of {piece.unit}" for piece in pieces if piece.loose)
    if loose:
        yield f"Last, loose until then and tried where they go before they are fixed: {', '.join(loose)}."
