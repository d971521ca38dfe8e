"""What is in the way: every plate, register and box against every member, with its chances.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from capture.lengths import Unit
from capture.record import TRAITS, Kind
from capture.survey import Feature
from layout.chances import PLAIN, chances_of, decide, edge_sds, plate_box
from layout.frames import Frame, Member, Role, spoken
from layout.meeting import Box, Verdict, nearest_frame, outline, verdict_at
from layout.runs import Run, Stop
from layout.scheme import Scheme

__all__ = ["PLAIN", "TAPED_SD", "Judgement", "Verdict", "judge"]

TAPED_SD = 1 / 32  # inches, one standard deviation of a usual tape reading; common practice, no source
SURE = 1.959964  # standard deviations on each side of a 95 % interval


@dataclass(frozen=True)
class Judgement:
    """What is known of one thing on the wall against the plan."""

    wall: str
    run: str  # the run it stands in, or the nearest one
    feature: str
    verdict: Verdict
    likeliest: Verdict  # the verdict itself, or the best guess where it is too close to tell
    against: str  # the member in question
    clearance: (
        float | None
    )  # inches from the plate's edge to the edge in question, negative overlaps; None: not measured
    sd: float | None  # of the clearance, inches
    probability: float  # that the verdict holds, or for too close to tell, that the likeliest one does
    chances: tuple[tuple[Verdict, float], ...]  # of each exact verdict
    sentence: str
    tape_this: str | None = None  # the reading that would settle it
    also: tuple[str, ...] = ()


def judge(feature: Feature, frames: Sequence[Frame], scheme: Scheme) -> Judgement:
    """What stands between a thing on the wall and the planned frames; how doubt is told, see `layout.chances.decide`.

    Parameters
    ----------
    feature
        Something that can be in the way.
    frames
        All frames of its wall, at least one.
    scheme
        The sizes wanted.

    Returns
    -------
    Judgement
        With the reading to take where it is too close to tell.
    """
    plate = plate_box(feature)
    if plate is None:
        return _not_measured(feature, frames[0].run)
    run = nearest_frame(plate, frames).run
    sds = edge_sds(feature, run)
    outlines = [outline(frame) for frame in frames]
    clear = float(scheme.clear(feature.kind))
    chances = chances_of(plate, sds, outlines, clear)
    verdict, likeliest, probability = decide(chances, verdict_at(plate, outlines, clear))
    # Whole or not is a matter of the edge that might hang over, however much lies on the wood.
    in_doubt = verdict is Verdict.TOO_CLOSE and Verdict.WHOLE in sorted(chances, key=lambda one: -chances[one])[:2]
    member, clearance, edge = _turns_on(plate, frames, Verdict.WHOLE if in_doubt else likeliest)
    question = _Question(member, clearance, sds[edge], edge, in_doubt)
    return Judgement(
        run.wall,
        run.name,
        feature.name,
        verdict,
        likeliest,
        member.name,
        clearance,
        question.sd,
        probability,
        tuple(chances.items()),
        _sentence(feature, verdict, likeliest, probability, question, scheme),
        _reading(feature, run, question, plate, scheme) if verdict is Verdict.TOO_CLOSE else None,
        tuple(_also(feature, plate, likeliest, member, frames, scheme)),
    )


class _Question(NamedTuple):
    """What a verdict turns on: a member, and the plate's edge (0 left, 1 bottom, 2 right, 3 top) nearest to it."""

    member: Member
    clearance: float
    sd: float
    edge: int
    of_wood: bool  # whether a plate sits whole on wood or hangs over its edge


def _turns_on(plate: Box, frames: Sequence[Frame], verdict: Verdict) -> tuple[Member, float, int]:
    """The member that a verdict turns on, the signed clearance to it, and which edge of the plate it is."""
    members = [member for frame in frames for member in frame.members]
    mouldings = [member for frame in frames for panel in frame.panels for member in panel.mouldings]

    def nearness(member: Member) -> tuple[float, float]:
        there = Box.of(member.rect)
        return there.shared(plate), -max(there.gaps(plate))

    if verdict is Verdict.WHOLE:
        return max(members, key=nearness), *_inside(plate, frames)
    candidates = {
        Verdict.SPLIT: members,
        Verdict.STRIKES_MOULDING: mouldings,
    }.get(verdict, [*members, *mouldings])
    member = max(candidates, key=nearness)
    return member, *_largest(Box.of(member.rect).gaps(plate))


def _inside(plate: Box, frames: Sequence[Frame]) -> tuple[float, int]:
    """How far a plate lies within the wood, and which of its edges is nearest to leaving it."""
    ways = [_largest(Box.of(panel.opening).gaps(plate)) for frame in frames for panel in frame.panels]
    # Frames side by side make one surface, as high as the lower one.
    near = [frame for frame in frames if outline(frame).plane.shared(plate) > 0] or [nearest_frame(plate, frames)]
    planes = [outline(frame).plane for frame in near]
    lefts, bottoms, rights, tops = zip(*planes, strict=True)
    room = Box(min(lefts), max(bottoms), max(rights), min(tops)).room(plate)
    return min((*ways, *zip(room, range(4), strict=True)))


def _largest(gaps: tuple[float, float, float, float]) -> tuple[float, int]:
    edge = max(range(4), key=lambda i: gaps[i])
    return gaps[edge], edge


def _sentence(
    feature: Feature, verdict: Verdict, likeliest: Verdict, probability: float, question: _Question, scheme: Scheme
) -> str:
    member = spoken(question.member.name)
    size = f"{scheme.show(abs(question.clearance))} {scheme.show_spread(SURE * question.sd)}"
    start = feature.name[:1].upper() + feature.name[1:]
    told = {
        Verdict.CLEAR: f"is clear: {size} from {member}",
        Verdict.TIGHT: f"is tight: {size} from {member}, and {scheme.show(scheme.clear(feature.kind))} is wanted",
        Verdict.STRIKES_MOULDING: f"strikes {member}: {size} over it",
        Verdict.SPLIT: f"is split by {member}: {size} of it on the wood",
        Verdict.WHOLE: f"sits whole on {member}: {size} inside its edge",
    }
    if verdict is not Verdict.TOO_CLOSE:
        return f"{start} {told[verdict]}."
    if question.of_wood:
        place = f"{size} {'inside' if question.clearance >= 0 else 'past'} the edge of {member}"
    else:
        place = f"{size} {'from' if question.clearance >= 0 else 'over'} {member}"
    return f"{start} is too close to tell: {place}; likely ({probability:.0%}): {likeliest}."


def _reading(feature: Feature, run: Run, question: _Question, plate: Box, scheme: Scheme) -> str:
    """The reading that would settle it: of the plate, of the run's end if that is what is unsure, or a look."""
    fine = "to 1/16" if scheme.unit is Unit.INCH else "to 1 mm"
    edges = (feature.left, feature.bottom, feature.right, feature.top)
    measured = edges[question.edge]
    own_sd = measured.sd if measured else 0.0
    upright = question.edge in (1, 3)
    wall_sd = 0.0 if upright else run.edge_sd(plate[question.edge])
    if max(own_sd, wall_sd) <= TAPED_SD:
        return f"mark {spoken(question.member.name)} on the wall and hold the plate of {feature.name} against it"
    if wall_sd > own_sd:
        end = run.doubtful_end(plate[question.edge])
        if end.stop in (Stop.WINDOW, Stop.DOOR, Stop.NEXT_FRAME):
            side = "left" if end is run.left_end else "right"
            return f"tape from the left end to the casing at the {side} of {run.name}, {fine}"
        return f"tape the width of {run.wall}, {fine}"
    return f"tape from the {'floor' if upright else 'left end'} to {feature.name}, {fine}"


def _not_measured(feature: Feature, run: Run) -> Judgement:
    edges = {"left": feature.left, "right": feature.right, "bottom": feature.bottom, "top": feature.top}
    unknown = [side for side, edge in edges.items() if edge is None]
    missing, verb = " and ".join(unknown), "is" if len(unknown) == 1 else "are"
    start = feature.name[:1].upper() + feature.name[1:]
    return Judgement(
        run.wall,
        run.name,
        feature.name,
        Verdict.TOO_CLOSE,
        Verdict.TOO_CLOSE,
        "",
        None,
        None,
        0.0,
        (),
        f"{start} cannot be judged: its {missing} {verb} not measured; mark its opposite corners, or tape it.",
        f"tape {feature.name}: its {missing}",
    )


def _also(
    feature: Feature, plate: Box, likeliest: Verdict, against: Member, frames: Sequence[Frame], scheme: Scheme
) -> Iterator[str]:
    """What else a careful carpenter would say about it."""
    wired = TRAITS[feature.kind].wired
    above = plate.bottom - float(nearest_frame(plate, frames).run.top)
    if feature.kind in (Kind.SWITCH, Kind.THERMOSTAT) and above >= 0:
        yield f"{feature.name} stays above the cap, by {scheme.show(above)}"
    if feature.kind in (Kind.REGISTER, Kind.RETURN_GRILLE):
        if likeliest in (Verdict.SPLIT, Verdict.WHOLE) and against.role is Role.BOTTOM_RAIL:
            yield f"{spoken(against.name)} is cut by {feature.name}"
        return
    if likeliest is Verdict.SPLIT and wired:
        yield (
            f"the plate would sit half on {spoken(against.name)}: a plate has to seat on one plane "
            "(NEC 2023 406.6 and 404.9(A), or the locally adopted equivalent)"
        )
    forward = _wood_in_front(plate, likeliest, frames, scheme)
    if wired and forward:
        yield (
            f"the face comes forward {scheme.show(forward)}: a box in wood may not be set back at all "
            "(NEC 2023 314.20, or the locally adopted equivalent)"
        )


def _wood_in_front(plate: Box, likeliest: Verdict, frames: Sequence[Frame], scheme: Scheme) -> Fraction:
    """How far wood brings the finished face forward at the box, inches."""
    if likeliest in (Verdict.SPLIT, Verdict.WHOLE):
        return scheme.build_up
    if max(Box.of(nearest_frame(plate, frames).rect).gaps(plate)) >= 0:
        return Fraction(0)
    return scheme.build_up - scheme.thickness
