"""What can be done about a box in the way: each way with its numbers, so that they can be compared.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from capture.record import TRAITS
from capture.survey import Feature, WallSurvey
from layout.frames import Frame, build_frame, spoken
from layout.moves import Move, Window, moves, plate_of
from layout.scheme import Scheme
from layout.spacing import fits
from layout.verdicts import Judgement, Verdict, judge

COUNT_REACH = 2  # panels more or fewer that are tried


class Way(StrEnum):
    """The kinds of remedy, in the order in which they are told."""

    COUNT = "another panel count"
    MOVE = "move the box"
    EXTENDER = "extender"
    BLOCK_OUT = "block out"
    ACCEPT = "accept"


@dataclass(frozen=True)
class Remedy:
    """One thing that could be done, and what it costs."""

    kind: Way
    sentence: str
    boxes_moved: int = 0
    conflicts_left: int = 0  # on this run, once it is done
    move: Fraction | None = None  # inches, to the right positive; the least that truly clears
    window: Window | None = None  # where the box's centre may stand, wall inches
    run: str = ""
    count: tuple[int, int] | None = None  # panels before and after
    panel_width: tuple[Fraction, Fraction] | None = None  # before and after, inches
    warnings: tuple[str, ...] = ()


def remedies_for(
    judgement: Judgement, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme
) -> tuple[Remedy, ...]:
    """All that could be done about one conflict, those that leave least behind first.

    Parameters
    ----------
    judgement
        What is in the way; nothing is offered for what is clear or tight.
    frames
        All frames of its wall, with equal panels.
    survey
        The wall as it stands.
    scheme
        The sizes wanted.

    Returns
    -------
    tuple of Remedy
        Lengths in wall inches.
    """
    if not judgement.verdict.conflict:
        return ()
    return all_remedies(conflicts_on(judgement.run, frames, survey, scheme), frames, survey, scheme)[judgement.feature]


def all_remedies(
    judgements: Sequence[Judgement], frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme
) -> dict[str, tuple[Remedy, ...]]:
    """`remedies_for` every conflict of a wall, by feature; what another count would leave is worked out once a run.

    Parameters
    ----------
    judgements
        All of the wall, or of one run.
    frames, survey, scheme
        As for `remedies_for`.
    """
    found: dict[str, tuple[Remedy, ...]] = {}
    for run in dict.fromkeys(judgement.run for judgement in judgements):
        in_the_way = [judgement for judgement in judgements if judgement.run == run and judgement.verdict.conflict]
        if not in_the_way:
            continue
        # A count that leaves as much in the way as now is no remedy.
        counts = tuple(c for c in _other_counts(run, frames, survey, scheme) if c.conflicts_left < len(in_the_way))
        for judgement in in_the_way:
            feature = survey.feature(judgement.feature)
            others = len(in_the_way) - 1
            if not feature.rectangle:
                found[feature.name] = ()  # nothing can be said of a box that is not measured
                continue
            own = _of_one_box(judgement, feature, frames, survey, scheme, others)
            found[feature.name] = tuple(sorted((*counts, *own), key=_preference))
    return found


def _of_one_box(
    judgement: Judgement, feature: Feature, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme, others: int
) -> Iterator[Remedy]:
    yield from _in_place(judgement, feature, scheme, others)
    if TRAITS[feature.kind].wired:
        yield from (_moved(feature, move, scheme, others) for move in moves(feature, frames, survey, scheme))


def _preference(remedy: Remedy) -> tuple[int, int, int, Fraction]:
    """What leaves least behind first; moves stay in their own order, which knows studs and slack."""
    order = remedy.conflicts_left, list(Way).index(remedy.kind)
    if remedy.kind is Way.MOVE:
        return *order, 0, Fraction(0)
    before, after = remedy.panel_width or (Fraction(0), Fraction(0))
    return *order, len(remedy.warnings), abs(after - before)


def conflicts_on(run: str, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme) -> tuple[Judgement, ...]:
    """What is in the way on the run of that name."""
    judged = (judge(feature, frames, scheme) for feature in survey.features if feature.blocks)
    return tuple(judgement for judgement in judged if judgement.run == run and judgement.verdict.conflict)


def _other_counts(run: str, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme) -> Iterator[Remedy]:
    place = next(i for i, frame in enumerate(frames) if frame.run.name == run)
    frame = frames[place]
    for count in range(frame.count - COUNT_REACH, frame.count + COUNT_REACH + 1):
        if count == frame.count or not fits(frame.run, scheme, count):
            continue
        other = build_frame(frame.run, scheme, count)
        left = conflicts_on(run, (*frames[:place], other, *frames[place + 1 :]), survey, scheme)
        panels = "1 panel" if count == 1 else f"{count} panels"
        told = ", ".join(f"{conflict.feature} ({conflict.verdict})" for conflict in left) or "nothing in the way"
        yield Remedy(
            Way.COUNT,
            f"{panels} of {scheme.show(other.panel_width)} on {frame.run.name} in place of {frame.count} of "
            f"{scheme.show(frame.panel_width)} would leave {told}.",
            conflicts_left=len(left),
            run=frame.run.name,
            count=(frame.count, count),
            panel_width=(frame.panel_width, other.panel_width),
        )


def _moved(feature: Feature, move: Move, scheme: Scheme, others: int) -> Remedy:
    side = "right" if move.by > 0 else "left"
    shown = move.window.shown(scheme.step)
    return Remedy(
        Way.MOVE,
        f"Move {feature.name} by {scheme.show(abs(move.by))} to the {side}; its centre may stand from "
        f"{scheme.show(shown.left)} to {scheme.show(shown.right)} from the wall's left end.",
        boxes_moved=1,
        conflicts_left=others,
        move=move.by,
        window=move.window,
        warnings=move.warnings,
    )


def _in_place(judgement: Judgement, feature: Feature, scheme: Scheme, others: int) -> Iterator[Remedy]:
    """What can be done without moving anything; accepting leaves the conflict as it is."""
    name, member, likely = feature.name, spoken(judgement.against), judgement.likeliest
    wired = TRAITS[feature.kind].wired
    forward = scheme.show(scheme.build_up)
    if likely is Verdict.WHOLE and wired:
        yield Remedy(
            Way.EXTENDER,
            f"Cut {member} round {name} and bring the box forward {forward} with a listed extender.",
            conflicts_left=others,
        )
    elif likely.conflict:
        yield Remedy(Way.BLOCK_OUT, _block_out(judgement, feature, scheme), conflicts_left=others)
    yield Remedy(Way.ACCEPT, _accept(judgement), conflicts_left=others + 1, warnings=judgement.also)


def _block_out(judgement: Judgement, feature: Feature, scheme: Scheme) -> str:
    plate = plate_of(feature)
    block = plate.inset(-scheme.plate_clear) if plate else None
    size = f" at least {scheme.show(block.width)} wide and {scheme.show(block.height)} high" if block else ""
    if judgement.likeliest is Verdict.STRIKES_MOULDING:
        return f"Set a flat block{size} round {feature.name} and stop {spoken(judgement.against)} against it."
    return (
        f"Set a block{size} round {feature.name}, flush with the face of {spoken(judgement.against)}, "
        "so that it seats on one plane."
    )


def _accept(judgement: Judgement) -> str:
    name, member = judgement.feature, spoken(judgement.against)
    return {
        Verdict.STRIKES_MOULDING: f"Accept it and cut {member} round the plate of {name}; the cut is seen.",
        Verdict.SPLIT: f"Accept it and cut {member} round {name}; the cut is seen.",
        Verdict.WHOLE: f"Accept it: {name} stays on {member}, which is cut round it.",
    }.get(judgement.likeliest, f"Accept it: {name} stays, likely {judgement.likeliest}; tape it first.")
