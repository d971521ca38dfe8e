"""What a wall still lacks before anything can be planned on it, in plain sentences."""

from collections.abc import Iterator
from itertools import pairwise

from capture.lengths import Unit, show_length
from capture.record import Kind, Side, Wall
from wainscribe.actions import SolvedWall

REACH = 48.0  # in: a card this near an end keeps it sure; common practice, no source
GAP = 96.0  # in: the widest stretch that should lie between two cards
FEWEST = 3  # cards


def missing_on(solved: SolvedWall, unit: Unit = Unit.INCH) -> list[str]:
    """What is missing on a wall, the first thing to do first."""
    return list(_missing(solved, unit))


def _missing(solved: SolvedWall, unit: Unit) -> Iterator[str]:
    wall, net = solved.wall, solved.measured.solution.net
    measured = [photo for photo in wall.photos if not photo.record_only]
    if not measured:
        if not _by_tape(wall):
            yield "no photo with a card in it yet" if wall.photos else "no photo yet"
    elif not net.shots:
        yield "no photo that can be solved yet"
    else:
        yield from _cards(solved, unit)
    yield from _marks(wall)
    if net.shots and all(mark.kind is not Kind.LEVEL_POINT for mark in wall.marks):
        yield "no level line: if a laser or level shows one, mark it in a photo"
    if not wall.tapes and wall.width is None:
        yield "no tape reading yet"


def _cards(solved: SolvedWall, unit: Unit) -> Iterator[str]:
    solution = solved.measured.solution
    across = sorted(float(solution.unknowns[solution.slots.card(i)][0]) for i in range(len(solution.net.cards)))
    if len(across) < FEWEST:
        yield f"fewer than {FEWEST} cards"
    width = solved.measured.survey.width
    if solved.measured.assembly.anchored[0]:
        if across[0] > REACH:
            yield f"no card within {_feet(REACH, unit)} of the left end"
        if width is not None and width.value - across[-1] > REACH:
            yield f"no card within {_feet(REACH, unit)} of the right end"
    for low, high in pairwise(across):
        if high - low > GAP:
            yield f"no card in the {_feet(high - low, unit)} from {show_length(low, unit)} to {show_length(high, unit)}"


def _feet(length: float, unit: Unit) -> str:
    return show_length(length, unit) if unit is Unit.MM else f"{length / 12:.0f} ft"


def _by_tape(wall: Wall) -> bool:
    """Whether a wall is measured without any photo."""
    return wall.width is not None and any(tape.start == "left end" for tape in wall.tapes)


def _marks(wall: Wall) -> Iterator[str]:
    ends = {mark.side for mark in wall.marks if mark.kind is Kind.WALL_END}
    taped = {place for tape in wall.tapes if not tape.check_only for place in (tape.start, tape.end)}
    if Side.LEFT not in ends and "left end" not in taped:
        yield "the left end is not marked"
    if Side.RIGHT not in ends and wall.width is None and "right end" not in taped:
        yield "the right end is not marked, and the width is not taped"
    kinds = {mark.kind for mark in wall.marks}
    if Kind.FLOOR_POINT not in kinds and "floor" not in taped:
        yield "no floor point: mark where the base meets the floor"
