"""What a wall still lacks before anything can be planned on it, in plain sentences."""

from collections.abc import Iterator
from itertools import pairwise

from capture.lengths import Unit, show_length
from capture.places import FLOOR, LEFT_END, RIGHT_END
from capture.record import Kind, Side, Wall
from capture.tapes import readings
from wainscribe.actions import SolvedWall

REACH = 48.0  # in: a card this near an end keeps it sure; common practice, no source
GAP = 96.0  # in: the widest stretch that should lie between two cards
FEWEST = 3  # cards
NO_CARD = "no photo with a card in it yet; without one, mark by tape"


def missing_on(solved: SolvedWall, unit: Unit = Unit.INCH) -> list[str]:
    """What is missing on a wall, the first thing to do first."""
    return list(_missing(solved, unit))


def _missing(solved: SolvedWall, unit: Unit) -> Iterator[str]:
    wall, net = solved.wall, solved.measured.solution.net
    if net.shots:
        yield from _cards(solved, unit)
    elif LEFT_END not in _taped(wall)[1]:  # from there on a wall goes by tape alone
        yield NO_CARD if wall.photos else "no photo yet"
    yield from _marks(wall)
    if net.shots and all(mark.kind is not Kind.LEVEL_POINT for mark in wall.marks):
        yield "no level line: if a laser or level shows one, mark it in a photo"
    if not readings(wall):
        yield "no tape reading to measure by yet"


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


def _taped(wall: Wall) -> tuple[bool, set[str]]:
    """Whether it was taped from end to end, and the places that other readings reach."""
    reached = [{tape.start, tape.end} for tape in readings(wall)]
    whole = {LEFT_END, RIGHT_END}
    return whole in reached, {place for places in reached if places != whole for place in places}


def _marks(wall: Wall) -> Iterator[str]:
    ends = {mark.side for mark in wall.marks if mark.kind is Kind.WALL_END}
    width, taped = _taped(wall)
    if Side.LEFT not in ends and LEFT_END not in taped:
        yield "the left end is not marked"
    if Side.RIGHT not in ends and not width and RIGHT_END not in taped:
        yield "the right end is not marked, and the width is not taped"
    kinds = {mark.kind for mark in wall.marks}
    if Kind.FLOOR_POINT not in kinds and FLOOR not in taped:
        yield "no floor point: mark where the base meets the floor"
