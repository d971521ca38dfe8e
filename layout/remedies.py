"""What can be done about a box in the way: each way with its numbers, so that they can be compared.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import partial

from capture.record import TRAITS, Side
from capture.survey import Feature, WallSurvey
from layout.floorline import FloorLine
from layout.frames import Frame, build_frame, frame_of, spoken
from layout.moves import Decided, Move, Window, decided_moves, moves, plate_of
from layout.rules import rules_of
from layout.scheme import MOVES, Pin, Scheme, side_of
from layout.setback import reach_needed
from layout.spacing import Spacing, fits, space
from layout.stakes import Face, Thing, helps
from layout.verdicts import Judgement, Verdict, judge

COUNT_REACH = 2  # panels more or fewer that are tried
FORGIVEN = Fraction(1, 2)  # inches: a stile out of its equal place that the eye forgives; common practice, no source


class Way(StrEnum):
    """The kinds of remedy, in the order in which they are told."""

    SHIFT = "shift a stile"
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
    panel_width: tuple[Fraction, Fraction] | None = None  # before and after, inches; of a shift the widest panel's
    pieces: int = 0  # made besides, or fewer: stiles, mouldings, blocks
    shift: tuple[str, Fraction] | None = None  # a stile and how far, to the right positive, inches
    warnings: tuple[str, ...] = ()
    studs: tuple[str, ...] = ()  # that those name


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
    judgements: Sequence[Judgement],
    frames: Sequence[Frame],
    survey: WallSurvey,
    scheme: Scheme,
    line: FloorLine | None = None,
    decided: Decided | None = None,
) -> dict[str, tuple[Remedy, ...]]:
    """`remedies_for` every conflict of a wall, by feature; what another count would leave is worked out once a run.

    A box that is pinned to be moved counts as standing at its new place already, which all that is offered for other
    things keeps free.

    Parameters
    ----------
    judgements
        All of the wall, or of one run.
    frames, survey, scheme
        As for `remedies_for`; what the scheme pins comes first.
    line
        The floor line of the room; None takes that of this wall alone.
    decided
        The wall with its pinned moves made; None makes them.
    """
    found: dict[str, tuple[Remedy, ...]] = {}
    line = line or FloorLine([survey])
    decided = decided or decided_moves(frames, survey, scheme, line)
    for run in dict.fromkeys(judgement.run for judgement in judgements):
        in_the_way = [judgement for judgement in judgements if judgement.run == run and judgement.verdict.conflict]
        if not in_the_way:
            continue
        left = sum(judgement.feature not in decided.moves for judgement in in_the_way)
        # A count that leaves as much in the way as now is no remedy.
        counts = [
            (count, still)
            for count, still in _other_counts(run, frames, survey, decided, scheme)
            if count.conflicts_left < max(left, 1)
        ]
        for judgement in in_the_way:
            feature = survey.feature(judgement.feature)
            if not feature.rectangle:
                found[feature.name] = ()  # nothing can be said of a box that is not measured
                continue
            others = left - (feature.name not in decided.moves)
            own = _of_one_box(judgement, feature, frames, decided.survey, scheme, others, line)
            pin = scheme.pin(survey.name, feature.name)
            freed = (count for count, still in counts if feature.name not in still)
            ranked = sorted((*freed, *own), key=_preference)
            found[feature.name] = tuple(sorted(ranked, key=partial(_unlike, pin)))
    return found


def in_vain(
    judgements: Sequence[Judgement], remedies: Mapping[str, Sequence[Remedy]], survey: WallSurvey, scheme: Scheme
) -> Iterator[tuple[str, str]]:
    """What was decided about a thing of a wall and does not help where it stands: its name, and a sentence."""
    for judgement in judgements:
        name, pin = judgement.feature, scheme.pin(survey.name, judgement.feature)
        if pin not in IN_PLACE:
            continue
        start, ways = f"{name} is to {IN_PLACE[pin]}, as decided, but", remedies.get(name, ())
        if not judgement.verdict.conflict:
            yield name, f"{start} nothing is in its way where it stands: decide anew"
        elif not helps(pin, judgement.verdict, survey.feature(name).kind):
            others = ", ".join(dict.fromkeys(remedy.kind for remedy in ways if remedy.kind is not Way.ACCEPT))
            yield name, f"{start} that does not help there: decide anew{f' ({others})' if others else ''}"


def _of_one_box(
    judgement: Judgement,
    feature: Feature,
    frames: Sequence[Frame],
    survey: WallSurvey,
    scheme: Scheme,
    others: int,
    line: FloorLine,
) -> Iterator[Remedy]:
    yield from _shifted(feature, judgement.run, frames, survey, scheme, others)
    yield from _in_place(judgement, feature, scheme, others)
    if TRAITS[feature.kind].wired:
        yield from (_moved(feature, move, scheme, others) for move in moves(feature, frames, survey, scheme, line))


def chosen(pin: Pin | None, remedy: Remedy) -> bool:
    """Whether a decision is for a remedy; a move whose side is not told may go to either."""
    side = side_of(pin)
    if side is not None and remedy.move is not None and (remedy.move > 0) != (side is Side.RIGHT):
        return False
    return pin is not None and PINNED.get(pin) is remedy.kind


def _unlike(pin: Pin | None, remedy: Remedy) -> bool:
    return not chosen(pin, remedy)


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


def _other_counts(
    run: str, frames: Sequence[Frame], survey: WallSurvey, decided: Decided, scheme: Scheme
) -> Iterator[tuple[Remedy, set[str]]]:
    """Other counts of panels, each with the names of what it leaves in the way."""
    place = next(i for i, frame in enumerate(frames) if frame.run.name == run)
    frame = frames[place]
    rules = rules_of([frame.run for frame in frames], survey, scheme)[run]
    for count in range(frame.count - COUNT_REACH, frame.count + COUNT_REACH + 1):
        if count == frame.count or not fits(frame.run, scheme, count):
            continue
        if rules.missed(space(frame.run, scheme, count), scheme):
            continue  # no stile may stand there, or one has to
        other = build_frame(frame.run, scheme, count)
        left = conflicts_on(run, (*frames[:place], other, *frames[place + 1 :]), decided.survey, scheme)
        panels = "1 panel" if count == 1 else f"{count} panels"
        told = ", ".join(f"{conflict.feature} ({conflict.verdict})" for conflict in left) or "nothing"
        remedy = Remedy(
            Way.COUNT,
            f"{panels} of {scheme.show(other.panel_width)} on {frame.run.name} in place of {frame.count} of "
            f"{scheme.show(frame.panel_width)} would leave {told} in the way.",
            conflicts_left=len(left),
            run=frame.run.name,
            count=(frame.count, count),
            panel_width=(frame.panel_width, other.panel_width),
            pieces=_pieces(other) - _pieces(frame),
        )
        yield remedy, {conflict.feature for conflict in left}


def _pieces(frame: Frame) -> int:
    return len(frame.members) + sum(len(panel.mouldings) for panel in frame.panels)


def _shifted(
    feature: Feature, run: str, frames: Sequence[Frame], survey: WallSurvey, scheme: Scheme, others: int
) -> Iterator[Remedy]:
    """The least shift of one stile that frees the thing and leaves no more of the others in the way."""
    place = next(i for i, frame in enumerate(frames) if frame.run.name == run)
    faces = [Face(frame.run, scheme) for frame in frames]
    thing = Thing.of(feature, faces, survey.name, scheme)
    if thing is None or not thing.meets(faces[place].zone):
        return
    still = [face.outline(frame.spacing.lefts, thing.near) for face, frame in zip(faces, frames, strict=True)]
    for stile, by, spacing in _single_shifts(frames[place], thing, scheme):
        moved = faces[place].outline(spacing.lefts, thing.near)
        if thing.verdict([*still[:place], moved, *still[place + 1 :]]).conflict:
            continue
        other = frame_of(frames[place].run, scheme, spacing)
        left = conflicts_on(run, (*frames[:place], other, *frames[place + 1 :]), survey, scheme)
        if len(left) <= others:
            yield _shift(feature, frames[place], other, stile, by, len(left), scheme)
            return


def _single_shifts(frame: Frame, thing: Thing, scheme: Scheme) -> Iterator[tuple[int, Fraction, Spacing]]:
    """Every shift of one stile near a thing, the least first, that leaves both panels beside it wide enough."""
    most = max(scheme.nudge, FORGIVEN)
    reach = most + scheme.border
    for steps in range(1, int(most // scheme.step) + 1):
        for stile in range(1, frame.count):
            left = frame.spacing.lefts[stile]
            if left + scheme.stile + reach < thing.near.left or left - reach > thing.near.right:
                continue
            for by in (-steps * scheme.step, steps * scheme.step):
                nudges = list(frame.spacing.nudges)
                nudges[stile - 1] += by
                spacing = frame.spacing.nudged(nudges)
                if min(spacing.openings(scheme)[stile - 1 : stile + 1]) >= scheme.least_opening:
                    yield stile, by, spacing


def _shift(feature: Feature, frame: Frame, other: Frame, stile: int, by: Fraction, left: int, scheme: Scheme) -> Remedy:
    name, side = frame.stiles[stile].name, "right" if by > 0 else "left"
    beside = [panel.opening.width for panel in other.panels[stile - 1 : stile + 1]]
    return Remedy(
        Way.SHIFT,
        f"Shift {name} by {scheme.show(abs(by))} to the {side}: the panels beside it become "
        f"{scheme.show(beside[0])} and {scheme.show(beside[1])}, and {feature.name} is free.",
        conflicts_left=left,
        run=frame.run.name,
        panel_width=(frame.panel_width, max(beside)),
        shift=(name, by),
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
        studs=move.studs,
    )


def _in_place(judgement: Judgement, feature: Feature, scheme: Scheme, others: int) -> Iterator[Remedy]:
    """What can be done without moving anything; accepting leaves the conflict as it is."""
    name, member, likely = feature.name, spoken(judgement.against), judgement.likeliest
    wired = TRAITS[feature.kind].wired
    forward = scheme.show(reach_needed(Fraction(0), scheme.build_up, combustible=True))
    if likely is Verdict.WHOLE and wired:
        yield Remedy(
            Way.EXTENDER,
            f"Cut {member} round {name} and bring the box forward {forward} with a listed extender.",
            conflicts_left=others,
            pieces=1,
            warnings=(_EXTENDER.format(scheme.show(FREE_WIRE)),),
        )
    elif likely.conflict:
        yield Remedy(Way.BLOCK_OUT, _block_out(judgement, feature, scheme), conflicts_left=others, pieces=1)
    yield Remedy(Way.ACCEPT, _accept(judgement), conflicts_left=others + 1, warnings=judgement.also)


def _block_out(judgement: Judgement, feature: Feature, scheme: Scheme) -> str:
    plate = plate_of(feature)
    block = plate.inset(-scheme.clear(feature.kind)) if plate else None
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


IN_PLACE = {Pin.EXTEND: "get an extender", Pin.BLOCK_OUT: "be blocked out"}
PINNED: dict[Pin, Way] = dict.fromkeys(MOVES, Way.MOVE) | {
    Pin.LEAVE: Way.ACCEPT, Pin.EXTEND: Way.EXTENDER, Pin.BLOCK_OUT: Way.BLOCK_OUT,
}  # fmt: skip
FREE_WIRE = Fraction(3)  # inches outside the box; NEC 2023 300.14
_EXTENDER = (
    "what the box is set back already comes on top (NEC 2023 314.20), and each wire reaches {} outside the new front "
    "edge (300.14), or the locally adopted equivalent"
)
