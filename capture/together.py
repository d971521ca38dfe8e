"""What the walls of a job share: lenses, the printed scale, and corners that one photo sees both sides of."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from capture.adjust import Solution
from capture.beliefs import CORNER_STEP_SD, LEVEL_SD, LOOSE
from capture.blunders import fits_together
from capture.camera import rotation
from capture.corner import CornerBelief, across, corner_belief
from capture.joint import Common, Tied
from capture.lenses import lens_key
from capture.memory import Memory
from capture.net import Net, Seen, Shot, Slots, with_shot
from capture.network import Assembly, named_columns
from capture.places import RIGHT_END
from capture.record import Kind
from capture.start import judge

Array = NDArray[np.float64]

ASTRAY = 6.0  # in: a card seen round the corner that lies further from where its own wall has it is not that card


@dataclass(frozen=True)
class Meeting:
    """Two walls of a room, by their places in it, that meet in a corner, and what is known of the corner beforehand."""

    left: int
    right: int
    belief: CornerBelief


@dataclass(frozen=True)
class Work:
    """A wall assembled and adjusted by itself."""

    assembly: Assembly
    solution: Solution

    @cached_property
    def sound(self) -> bool:
        """Whether it has photos, and nothing on it contradicts the rest."""
        return bool(self.assembly.net.shots) and fits_together(self.solution)


def meetings(room: Sequence[Work]) -> list[Meeting]:
    """The corners between a room's walls, which come in order."""
    found, n = [], len(room)
    for i in range(n if n > 2 else n - 1):  # two walls do not close a room
        a, b = room[i].assembly.wall, room[(i + 1) % n].assembly.wall
        radius = a.bullnose_radius if a.bullnose_radius is not None else b.bullnose_radius
        belief = corner_belief(a.right, b.left, None if radius is None else float(radius))
        if belief is not None:
            found.append(Meeting(i, (i + 1) % n, belief))
    return found


def look_round_corners(
    works: list[Work], corners: Sequence[Meeting], memory: Memory | None = None
) -> tuple[list[Work], list[Tied]]:
    """Photos of one wall that show cards of the next take part in both; returns the walls anew, and the ties."""
    memory, ties = memory or Memory(), []
    nets = [work.assembly.net for work in works]
    for corner in corners:
        for there, here, backward in ((corner.right, corner.left, False), (corner.left, corner.right, True)):
            for seen in works[there].assembly.seen:
                mine = _same(works[here].assembly, seen)
                if mine is None:
                    shot = _borrowed(works[there], works[here], corner, seen, backward)
                    if shot is None:
                        continue
                    theirs = works[there].assembly.net
                    lens = theirs.lens_keys.index(lens_key(seen))
                    nets[here] = with_shot(
                        nets[here], shot, lens_key(seen), theirs.lens_mean[lens], theirs.lens_sd[lens]
                    )
                    mine = shot.name
                elif backward:
                    continue  # the user gave the photo to both walls: tied once already
                ties.append((corner, (here, mine), (there, seen.name)))
    works = [
        work if net is work.assembly.net else _with_net(work, net, memory)
        for work, net in zip(works, nets, strict=True)
    ]
    return works, [_tie(works, *tie) for tie in ties]


def _with_net(work: Work, net: Net, memory: Memory) -> Work:
    """A wall adjusted with the photos that it borrows."""
    borrows = tuple(shot.name for shot in net.shots if shot.borrowed)
    return Work(replace(work.assembly, net=net), memory.adjust(net, (work.assembly.wall.name, borrows)))


def _tie(works: Sequence[Work], corner: Meeting, *pair: tuple[int, str]) -> Tied:
    shots = {wall: (wall, works[wall].solution.shot_index(name)) for wall, name in pair}
    return Tied(("corner", corner.left), shots[corner.left], shots[corner.right])


def _same(assembly: Assembly, photo: Seen) -> str | None:
    """The name under which a wall has this very photo too."""
    for own in assembly.seen:
        pairs = zip(own.cards, photo.cards, strict=False)
        if len(own.cards) == len(photo.cards) and all(np.array_equal(a.points, b.points) for a, b in pairs):
            return own.name
    return None


def _borrowed(owner: Work, wall: Work, corner: Meeting, seen: Seen, backward: bool) -> Shot | None:
    """The photo as a shot of the neighbouring wall, if it shows cards where that wall has them."""
    net = wall.assembly.net
    foreign = tuple(c for c in seen.cards if c.number in net.cards and c.number not in owner.assembly.net.cards)
    end = right_end((wall if not backward else owner).solution)
    if not foreign or end is None:
        return None
    camera = owner.solution.camera(seen.name)
    mean = corner.belief.mean + np.array([0, 0, 0, end, 0, 0])
    pose = across(mean, camera.pose, backward=backward)
    places = judge(pose, foreign, camera.lens).places
    known = {n: wall.solution.unknowns[wall.solution.slots.card(i)] for i, n in enumerate(net.cards)}
    good = tuple(
        c for c in foreign if c.number in places and np.hypot(*(places[c.number] - known[c.number])[:2]) < ASTRAY
    )
    if not good:
        return None
    return Shot(f"{seen.name} ({owner.assembly.wall.name})", seen.size, 0, good, pose, borrowed=True, turn=seen.turn)


def right_end(solution: Solution) -> float | None:
    """Where a wall's right end lies, inches; None where nothing tells."""
    column = named_columns(solution.net).get(f"{RIGHT_END}/across")
    if column is None or solution.covariance[column, column] > (LOOSE / 10) ** 2:
        return None
    return float(solution.unknowns[column])


def common_of(works: Sequence[Work], corners: Sequence[Meeting], tied: Sequence[Tied]) -> Common:
    """What the walls share, ready for the joint adjustment."""
    common = Common(tied=list(tied))
    for w, work in enumerate(works):
        if work.solution.net.shots:
            _share_lenses(common, w, work.solution)
    for corner in corners:
        if any(t.corner == ("corner", corner.left) for t in tied):
            _share_corner(common, works, corner)
    return common


def _share_lenses(common: Common, wall: int, solution: Solution) -> None:
    """Lenses and printed scale; what is known of each beforehand counts once."""
    net, slots = solution.net, Slots.of(solution.net)
    groups: list[tuple[Hashable, slice, Array, Array]] = [
        (("lens", key), slots.lens(i), net.lens_mean[i], np.diag(1.0 / net.lens_sd[i]))
        for i, key in enumerate(net.lens_keys)
    ]
    groups.append(("printed", slots.printed, net.print_mean, net.print_root))
    for key, where, mean, root in groups:
        first = common.add(key, solution.unknowns[where])
        common.share(wall, range(where.start, where.stop), first)
        known = [({first + n: float(w) for n, w in enumerate(row) if w}, float(row @ mean), 1.0) for row in root]
        common.wide.setdefault(key, (range(first, first + len(mean)), known))


def _share_corner(common: Common, works: Sequence[Work], corner: Meeting) -> None:
    key = ("corner", corner.left)
    for t in common.tied:
        if t.corner == key:
            for wall, shot in (t.left, t.right):
                pose = works[wall].solution.slots.pose(shot)
                first = common.add(("pose", wall, shot), works[wall].solution.unknowns[pose])
                common.share(wall, range(pose.start, pose.stop), first)
    left = works[corner.left].solution
    end = right_end(left)
    start = corner.belief.mean + np.array([0, 0, 0, end or 0.0, 0, 0])
    first = common.add(key, start)
    for n, (mean, sd) in enumerate(zip(corner.belief.mean, corner.belief.sd, strict=True)):
        terms = {first + n: 1.0}
        if n == 3 and end is not None:  # t lies at the left wall's right end
            column = named_columns(left.net)[f"{RIGHT_END}/across"]
            own = common.add(("end", corner.left), [end])
            common.share(corner.left, [column], own)
            terms[own] = -1.0
        common.know(terms, float(mean), float(sd))
    _share_level(common, works, corner, first + 4)


def _share_level(common: Common, works: Sequence[Work], corner: Meeting, step: int) -> None:
    """A level line that goes round the corner tells how far one floor lies above the other.

    Level points of both walls are taken for one line unless that would part their floors beyond belief.
    """
    pair = (corner.left, corner.right)
    columns = [column for w in pair if (column := next(_level_columns(works[w]), None)) is not None]
    if len(columns) < 2:
        return
    heights = [float(works[w].solution.unknowns[column]) for w, column in zip(pair, columns, strict=True)]
    if abs(heights[0] - heights[1]) > 3 * CORNER_STEP_SD:
        return
    terms = {step: -1.0}
    for sign, wall, column, height in zip((1.0, -1.0), pair, columns, heights, strict=True):
        own = common.add(("level", wall), [height])
        common.share(wall, [column], own)
        terms[own] = sign
    common.know(terms, 0.0, LEVEL_SD * 2**0.5)


def _level_columns(work: Work) -> Iterator[int]:
    columns = named_columns(work.solution.net)
    for mark in work.assembly.wall.marks:
        if mark.kind is Kind.LEVEL_POINT and f"{mark.name}/up" in columns:
            yield columns[f"{mark.name}/up"]


def turn_of(corner: Array, covariance: Array) -> tuple[float, float]:
    """By how much the next wall turns, degrees from above (inside corners turn towards the room), and its sd."""
    R = rotation(corner[:3])[0]
    return float(np.degrees(np.abs(np.arctan2(R[0, 2], R[2, 2])))), float(np.degrees(np.sqrt(covariance[1, 1])))
