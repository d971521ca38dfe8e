"""How sure a verdict is: the chances of each, from how unsure the places are.

Both edges of a mark share their error (camera, scale), and so do a member's; the verdict only changes where a plate's
edge passes a member's, so its chances are exact sums over the few ways in which the edges can lie.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from capture.measured import Measured, sd_of
from capture.survey import Feature
from layout.meeting import TOUCH, Box, Outline, Verdict, verdict_at
from layout.runs import Run

PLAIN = 0.975  # a verdict is told outright from this probability on: one side of the 95 % interval
FAR = 8.0  # standard deviations beyond which nothing happens


def plate_box(feature: Feature) -> Box | None:
    """A thing's extent as measured; None where an edge is not."""
    left, bottom, right, top = feature.left, feature.bottom, feature.right, feature.top
    if left is None or bottom is None or right is None or top is None:
        return None
    return Box(left.value, bottom.value, right.value, top.value)


def edge_sds(feature: Feature, run: Run) -> tuple[float, float, float, float]:
    """How unsure each plate edge is against the members beside it: left, bottom, right, top."""
    across = [_against(edge, run.edge_at(edge.value)) for edge in (feature.left, feature.right) if edge]
    up = [_against(edge, run.height_at(edge.value)) for edge in (feature.bottom, feature.top) if edge]
    return across[0], up[0], across[1], up[1]


def _against(edge: Measured, member: Sequence[tuple[float, Measured]]) -> float:
    return sd_of((1.0, edge), *((-weight, at) for weight, at in member))


def chances_of(plate: Box, sds: Sequence[float], outlines: Sequence[Outline], clear: float) -> dict[Verdict, float]:
    """The probability of every exact verdict.

    Parameters
    ----------
    plate
        As measured, wall inches.
    sds
        Standard deviation of its left, bottom, right and top edge against the members, inches.
    outlines
        All frames of its wall, or those that it could meet.
    clear
        The clear field wanted round it, inches.
    """
    across, up = _breaks(outlines, clear)
    chances: dict[Verdict, float] = {verdict: 0.0 for verdict in Verdict if verdict is not Verdict.TOO_CLOSE}
    ups = list(_lies((plate.bottom, plate.top), (sds[1], sds[3]), up))
    for share, left, right in _lies((plate.left, plate.right), (sds[0], sds[2]), across):
        for part, bottom, top in ups:
            chances[verdict_at(Box(left, bottom, right, top), outlines, clear)] += share * part
    return chances


def _breaks(outlines: Sequence[Outline], clear: float) -> tuple[list[float], list[float]]:
    """The places across and up where a plate's edge, passing, may change the verdict."""
    across: list[float] = []
    up: list[float] = []
    for frame in outlines:
        for box in (frame.whole, frame.plane, *frame.openings, *frame.fields):
            for line in (across, box.left, box.right), (up, box.bottom, box.top):
                line[0].extend(place + by for place in line[1:] for by in (-clear, 0.0, clear))
    return across, up


def _lies(
    edges: tuple[float, float], sds: tuple[float, float], breaks: Sequence[float]
) -> Iterator[tuple[float, float, float]]:
    """Every way the two edges can lie between the breaks: its probability and one example.

    Both edges move together: z standard deviations each, one standard normal z.
    """
    cuts = {(place - edge) / sd for edge, sd in zip(edges, sds, strict=True) if sd > 0 for place in breaks}
    ends = [-FAR, *sorted(cut for cut in cuts if -FAR < cut < FAR), FAR]
    for low, high in pairwise(ends):
        share = _normal(high) - _normal(low)
        z = (low + high) / 2
        if share > 0:
            yield share, edges[0] + z * sds[0], edges[1] + z * sds[1]


def harmless(plate: Box, sds: Sequence[float], frame: Outline) -> float:
    """The probability that a plate is clear of one frame or tight to it: wholly in a field, or wholly beside the frame.

    The same as the sum of the two chances, but quick: it needs no look at the ways in which the edges can lie.

    Parameters
    ----------
    plate, sds
        As for `chances_of`.
    frame
        The only frame that the plate could meet, with all openings that it could.
    """
    left, bottom, right, top = sds
    beside = 1 - _over(plate.left, plate.right, left, right, frame.whole.left, frame.whole.right) * _over(
        plate.bottom, plate.top, bottom, top, frame.whole.bottom, frame.whole.top
    )
    return beside + sum(
        _between(plate.left, plate.right, left, right, field.left, field.right)
        * _between(plate.bottom, plate.top, bottom, top, field.bottom, field.top)
        for field in frame.fields
    )


def _between(low: float, high: float, low_sd: float, high_sd: float, least: float, most: float) -> float:
    """The probability that both edges lie between two places, touching allowed."""
    return _share(_z(least - low, low_sd, -TOUCH), _z(most - high, high_sd, TOUCH))


def _over(low: float, high: float, low_sd: float, high_sd: float, least: float, most: float) -> float:
    """The probability that what lies between the edges covers more than an edge of what lies between two places."""
    return _share(_z(least - high, high_sd, TOUCH), _z(most - low, low_sd, -TOUCH))


def _z(way: float, sd: float, touch: float) -> float:
    """How many standard deviations an edge may go until it is there; one that is sure may touch."""
    return way / sd if sd > 0 else math.copysign(math.inf, way + touch)


def _share(low: float, high: float) -> float:
    return max(0.0, _normal(high) - _normal(low))


def _normal(z: float) -> float:
    """The standard normal distribution function."""
    return (1 + math.erf(z / math.sqrt(2))) / 2


def decide(chances: dict[Verdict, float], nominal: Verdict) -> tuple[Verdict, Verdict, float]:
    """The verdict to tell, the likeliest one, and the probability behind it.

    Doubt between clear and tight is told as tight, and doubt between striking a moulding and being split as what the
    measured place says, for little depends on it; any other doubt is too close to tell.
    """
    likeliest = max(chances, key=lambda verdict: chances[verdict])
    if chances[Verdict.CLEAR] >= PLAIN:
        return Verdict.CLEAR, Verdict.CLEAR, chances[Verdict.CLEAR]
    harmless = chances[Verdict.CLEAR] + chances[Verdict.TIGHT]
    if harmless >= PLAIN:
        return Verdict.TIGHT, Verdict.TIGHT, harmless
    in_the_way = chances[Verdict.STRIKES_MOULDING] + chances[Verdict.SPLIT]
    if in_the_way >= PLAIN:
        return nominal, nominal, in_the_way
    if chances[Verdict.WHOLE] >= PLAIN:
        return Verdict.WHOLE, Verdict.WHOLE, chances[Verdict.WHOLE]
    return Verdict.TOO_CLOSE, likeliest, chances[likeliest]
