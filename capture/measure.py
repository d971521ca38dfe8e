"""From what was noted and seen to what stands on the walls: assemble, adjust, look round corners, read off."""

from collections.abc import Sequence
from dataclasses import dataclass

from capture.adjust import Solution
from capture.blunders import fits_together
from capture.joint import Joint, adjust_together
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

    Returns
    -------
    list of MeasuredWall
        Wall by wall through all rooms. A wall that does not fit together in itself takes no part in the joint
        adjustment, so that it harms no other.
    """
    memory = memory or Memory()
    works = [[_alone(wall, seen, printed, lenses, memory) for wall, seen in room] for room in rooms]
    flat = [work for room in works for work in room]
    corners: dict[int, Corner] = {}
    sound = {id(w) for w in flat if w.assembly.net.shots and fits_together(w.solution)} if len(flat) > 1 else set()
    if len(sound) > 1:
        flat, corners = _together(flat, meetings(works), sound, memory)
    noted = [wall for room in rooms for wall, _ in room]
    return [
        MeasuredWall(survey_of(wall, w.assembly, w.solution, corners.get(i)), w.solution, w.assembly)
        for i, (wall, w) in enumerate(zip(noted, flat, strict=True))
    ]


def _alone(wall: Wall, seen: Sequence[Seen], printed: PrintRun, lenses: Sequence[Lens], memory: Memory) -> Work:
    assembly = memory.once(
        "assembled", lambda: assemble(wall, seen, printed, lenses, memory.join), wall, list(seen), printed, list(lenses)
    )
    return Work(assembly, memory.adjust(assembly.net, wall.name))


def _together(
    flat: list[Work], corners: list[Meeting], sound: set[int], memory: Memory
) -> tuple[list[Work], dict[int, Corner]]:
    """The sound walls adjusted together, in their places among all; and the corners between them, by the left wall."""
    places = [i for i, work in enumerate(flat) if id(work) in sound]
    among = {i: n for n, i in enumerate(places)}
    here = [Meeting(among[m.left], among[m.right], m.belief) for m in corners if m.left in among and m.right in among]
    works, tied = look_round_corners([flat[i] for i in places], here, memory)
    joint = adjust_together([w.solution for w in works], common_of(works, here, tied))
    done = list(flat)
    for i, work, solution in zip(places, works, joint.walls, strict=True):
        done[i] = Work(work.assembly, solution)
    return done, {places[m.left]: corner for m in here if (corner := _corner(joint, m, done[places[m.right]]))}


def _corner(joint: Joint, meeting: Meeting, right: Work) -> Corner | None:
    found = joint.corners.get(("corner", meeting.left))
    if found is None:
        return None
    corner, covariance = found
    turn, sd = turn_of(corner, covariance)
    step = Measured(float(corner[4]), float(covariance[4, 4]) ** 0.5, Source.PHOTO)
    return Corner(right.assembly.wall.name, turn, sd, step)
