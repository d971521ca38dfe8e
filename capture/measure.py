"""From what was noted and seen to what stands on the walls: assemble, adjust, look round corners, read off."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import partial

from capture.adjust import Solution
from capture.joint import Joint, Linked, adjust_together
from capture.measured import Measured, Source
from capture.memory import Memory
from capture.net import Seen
from capture.network import Assembly, assemble
from capture.readout import survey_of
from capture.record import Lens, PrintRun, Wall
from capture.survey import Corner, WallSurvey
from capture.together import Meeting, Work, common_of, look_round_corners, meetings, turn_of


@dataclass(frozen=True)
class MeasuredWall:
    """One wall, solved."""

    survey: WallSurvey
    solution: Solution
    assembly: Assembly


def measure_wall(wall: Wall, seen: Sequence[Seen], printed: PrintRun, lenses: Sequence[Lens] = ()) -> MeasuredWall:
    """Adjust one wall by itself and read its survey off the solution; see `measure_walls`."""
    return measure_walls([[(wall, seen)]], printed, lenses)[0]


def measure_walls(
    rooms: Sequence[Sequence[tuple[Wall, Sequence[Seen]]]],
    printed: PrintRun,
    lenses: Sequence[Lens] = (),
    memory: Memory | None = None,
    ahead: Collection[str] = (),
) -> list[MeasuredWall]:
    """Adjust the walls of a job, each by itself and then all together, and read their surveys off the solution.

    Parameters
    ----------
    rooms
        The walls of each room in order, as noted, each with its photos that show cards; none for a wall surveyed by
        tape alone.
    printed
        The print run of the cards.
    lenses
        Lenses as calibrated.
    memory
        What earlier solves of this job left; it changes no answer by more than the solver's tolerance.
    ahead
        The walls, by name, that are wanted ahead of the others: only they come back, and the rooms without them stay
        as linearised earlier where they hardly moved. None is all.

    Returns
    -------
    list of MeasuredWall
        Wall by wall through all rooms. A wall that does not fit together in itself takes no part in the joint
        adjustment, so that it harms no other.
    """
    memory = memory or Memory()
    works = [[_alone(wall, seen, printed, lenses, memory) for wall, seen in room] for room in rooms]
    near = [r for r, room in enumerate(rooms) if not ahead or any(wall.name in ahead for wall, _ in room)]
    solved = {}
    if sum(map(len, works)) > 1 and sum(work.sound for room in works for work in room) > 1:
        solved = _together(works, memory, near)
    measured = []
    for r in near:
        for i, (wall, _) in enumerate(rooms[r]):
            if not ahead or wall.name in ahead:
                work, corner = solved.get((r, i), (works[r][i], None))
                survey = survey_of(wall, work.assembly, work.solution, corner)
                measured.append(MeasuredWall(survey, work.solution, work.assembly))
    return measured


def _alone(wall: Wall, seen: Sequence[Seen], printed: PrintRun, lenses: Sequence[Lens], memory: Memory) -> Work:
    def work() -> Work:
        content = wall, list(seen), printed, list(lenses)
        assembly = memory.once("assembled", lambda: assemble(wall, seen, printed, lenses, memory.join), *content)
        return Work(assembly, memory.adjust(assembly.net, wall.name))

    return memory.again(("alone", wall.name), work, wall, seen, printed, *lenses)


@dataclass(frozen=True)
class _Sound:
    """The walls of a room that fit together, each with what it borrows of the next, and what they share."""

    places: list[int]  # in the room
    works: list[Work]
    corners: list[Meeting]
    linked: Linked


def _sound(room: Sequence[Work], memory: Memory) -> _Sound:
    places = [i for i, work in enumerate(room) if work.sound]
    among = {i: n for n, i in enumerate(places)}
    met = [m for m in meetings(room) if m.left in among and m.right in among]
    corners = [Meeting(among[m.left], among[m.right], m.belief) for m in met]
    works, tied = look_round_corners([room[i] for i in places], corners, memory)
    return _Sound(places, works, corners, Linked([w.solution for w in works], common_of(works, corners, tied)))


def _together(
    rooms: Sequence[Sequence[Work]], memory: Memory, near: Collection[int]
) -> dict[tuple[int, int], tuple[Work, Corner | None]]:
    """The sound walls of the rooms near, by room and place, adjusted together; with the corner at each right end."""
    sound = [memory.again(("sound", r), partial(_sound, room, memory), *room) for r, room in enumerate(rooms)]
    joint = adjust_together([one.linked for one in sound], memory.joint, near)
    found = {}
    for r in near:
        here = sound[r]
        corners = {m.left: _corner(joint, r, m, here.works[m.right]) for m in here.corners}
        for n, (i, work) in enumerate(zip(here.places, here.works, strict=True)):
            found[r, i] = Work(work.assembly, joint.wall(r, n)), corners.get(n)
    return found


def _corner(joint: Joint, room: int, meeting: Meeting, right: Work) -> Corner | None:
    found = joint.corner(room, ("corner", meeting.left))
    if found is None:
        return None
    corner, covariance = found
    turn, sd = turn_of(corner, covariance)
    step = Measured(float(corner[4]), float(covariance[4, 4]) ** 0.5, Source.PHOTO)
    return Corner(right.assembly.wall.name, turn, sd, step)
