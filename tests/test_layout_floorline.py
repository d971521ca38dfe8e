"""The floor line: check cases worked out from NEC 2023 210.52(A), advice only."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components, dijkstra

from capture.record import EndKind, Kind, Side
from capture.survey import WallSurvey
from layout.floorline import FarPlace, FloorLine, TooFar, receptacle_spacing
from tests.test_layout_room import box, casing, taped, wall

FT = 12


@pytest.mark.parametrize(
    ("space", "receptacles", "too_far"),
    [
        # NEC 2023 210.52(A)(1): no point more than 6 ft away.
        pytest.param(12 * FT, [(6 * FT, 14)], [], id="12 ft between doors, receptacle in the middle"),
        pytest.param(12 * FT, [(6 * FT + 1, 14)], [(0, 73)], id="moved an inch, the left end is an inch too far"),
        pytest.param(24 * FT, [(6 * FT, 14), (18 * FT, 14)], [], id="12 ft apart"),
        pytest.param(
            25 * FT, [(6 * FT, 14), (19 * FT, 14)], [(12 * FT + 6, 78)], id="13 ft apart, 6 in too far in the middle"
        ),
        # 210.52(A)(2)(1): 2 ft or wider.
        pytest.param(23, [], [], id="23 in is no wall space"),
        pytest.param(24, [], [(12, None)], id="24 in without one"),
        pytest.param(14 + 14, [], [(14, None)], id="14 in and 14 in round a corner are one space"),
        # 210.52, item (4): more than 5 ft 6 in above the floor does not count.
        pytest.param(10 * FT, [(5 * FT, 5 * FT + 7)], [(60, None)], id="only one, at 5 ft 7 in"),
        pytest.param(10 * FT, [(5 * FT, 5 * FT + 6)], [], id="at 5 ft 6 in it counts"),
    ],
)
def test_the_floor_line_is_never_more_than_six_feet_from_a_receptacle(
    space: int, receptacles: list[tuple[int, int]], too_far: list[tuple[int, int | None]]
) -> None:
    places = [(Fraction(place), Fraction(height)) for place, height in receptacles]
    found = receptacle_spacing([(Fraction(0), Fraction(space))], places)
    assert [(one.at, one.distance) for one in found] == too_far


def test_a_doorway_breaks_the_floor_line() -> None:
    spaces = [(Fraction(0), Fraction(30)), (Fraction(66), Fraction(120))]
    assert receptacle_spacing(spaces, [(Fraction(10), Fraction(14))]) == (TooFar(Fraction(93), None),)


def test_how_much_too_far_is_told_only_where_there_is_a_receptacle() -> None:
    assert TooFar(Fraction(0), Fraction(73)).over == 1
    assert TooFar(Fraction(0), None).over is None


@given(st.integers(24, 600), st.lists(st.integers(0, 600), max_size=6))
def test_the_worst_place_is_the_worst_of_all_places(width: int, receptacles: list[int]) -> None:
    on_it = [place for place in receptacles if place <= width]
    found = receptacle_spacing([(Fraction(0), Fraction(width))], [(Fraction(place), Fraction(14)) for place in on_it])
    half_inches = [Fraction(n, 2) for n in range(2 * width + 1)]
    far = max((min(abs(at - place) for place in on_it) for at in half_inches), default=None) if on_it else None
    assert max((one.distance for one in found if one.distance), default=None) == (far if far and far > 72 else None)
    assert any(one.distance is None for one in found) == (not on_it)


# --- round a room ---

INSIDE, DOOR = EndKind.INSIDE_CORNER, EndKind.CASING


def room(*walls: tuple[float, EndKind, EndKind, list[float]]) -> list[WallSurvey]:
    """Walls by width, left end, right end and places of receptacles; a switch on each, so that none is bare."""
    return [
        wall(
            *(box(f"r{i}", place, 14) for i, place in enumerate(places)),
            box("switch", 4, 46, Kind.SWITCH),
            width=taped(width), left=left, right=right, name=f"wall {n}",
        )
        for n, (width, left, right, places) in enumerate(walls, 1)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("walls", "far"),
    [
        # NEC 2023 210.52(A)(2)(1): a wall space is measured round corners.
        pytest.param([(14, DOOR, INSIDE, []), (14, INSIDE, DOOR, [])], [("wall 2", 0, None)], id="14 and 14: a space"),
        pytest.param([(14, DOOR, DOOR, []), (14, DOOR, DOOR, [])], [], id="14 and 14, a door between: none"),
        pytest.param([(60, DOOR, INSIDE, [24]), (36, INSIDE, DOOR, [])], [], id="served from round the corner: 72"),
        pytest.param([(60, DOOR, INSIDE, [24]), (37, INSIDE, DOOR, [])], [("wall 2", 37, 73)], id="an inch too far"),
    ],
)
def test_the_floor_line_goes_round_corners(walls: list, far: list[tuple[str, int, int | None]]) -> None:
    assert [(one.wall, one.at, one.distance) for one in FloorLine(room(*walls)).too_far()] == far


def test_the_last_wall_of_a_room_goes_on_into_the_first() -> None:
    walls = [(100, INSIDE, DOOR, [30]), (100, DOOR, INSIDE, [])]
    # From the receptacle back round the corner: 30 in, and 100 in to the door.
    assert FloorLine(room(*walls)).too_far() == [FarPlace("wall 2", Fraction(0), Fraction(130))]


def test_a_room_without_a_door_is_a_ring() -> None:
    walls = [(60, INSIDE, INSIDE, [30]), (60, INSIDE, INSIDE, []), (60, INSIDE, INSIDE, []), (60, INSIDE, INSIDE, [])]
    (far,) = FloorLine(room(*walls)).too_far()
    assert (far.wall, far.at, far.distance) == ("wall 3", 30, 120)  # just opposite
    assert FloorLine(room(*((width, a, b, [30]) for width, a, b, _ in walls))).too_far() == []


def test_where_a_corner_leads_to_a_wall_nobody_measured_it_is_said() -> None:
    (far,) = FloorLine(room((100, DOOR, INSIDE, [10]))).too_far()
    assert far.unless == "round a corner that was not measured"


def test_a_doorway_in_a_wall_breaks_the_line_of_the_room() -> None:
    doors = casing("a", 40, Side.RIGHT), casing("b", 70, Side.LEFT)
    survey = wall(*doors, box("r", 10, 14), width=taped(120), left=DOOR, right=DOOR, name="w")
    assert [(far.at, far.distance) for far in FloorLine([survey]).too_far()] == [(95, None)]


def walked(walls: list[tuple[int, list[int]]], joined: list[bool]) -> list[tuple[float, float | None]]:
    """Length and farthest distance of each wall space, by walking the floor line in steps of half an inch.

    Nodes are places, walls that meet in a corner share one; SciPy finds the spaces and the shortest ways.
    """
    node, edges, receptacles, first = 0, [], [], 0
    for n, (width, places) in enumerate(walls):
        start = node if n and joined[n - 1] else node + bool(n)
        node = start + 2 * width
        edges += [(k, k + 1) for k in range(start, node)]
        receptacles += [start + 2 * place for place in places]
    closing = len(walls) > 1 and joined[-1]
    edges = [(a, first if closing and b == node else b) for a, b in edges]
    receptacles = [first if closing and r == node else r for r in receptacles]
    ones, size = np.ones(len(edges)), node + 1
    graph = coo_matrix((ones, np.array(edges).T), (size, size)).tocsr()
    _, space = connected_components(graph, directed=False)
    far = dijkstra(graph, directed=False, indices=receptacles, min_only=True) if receptacles else np.full(size, np.inf)
    found = []
    for one in dict.fromkeys(space[a] for a, _ in edges):
        length = sum(space[a] == one for a, _ in edges) / 2
        worst = far[space == one].max() / 2
        found.append((float(length), None if np.isinf(worst) else float(worst)))
    return sorted(((length, far) for length, far in found if length >= 24), key=str)


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.integers(6, 150), st.lists(st.integers(0, 150), max_size=3), st.booleans()), min_size=1, max_size=4
    )
)
def test_the_farthest_place_is_what_a_walk_along_the_floor_finds(drawn: list[tuple[int, list[int], bool]]) -> None:
    # The centre of a plate is never at the very end of a wall.
    walls = [(width, [place for place in places if 0 < place < width]) for width, places, _ in drawn]
    joined = [corner for *_, corner in drawn]  # whether a wall meets the next in a corner, the last the first
    ends = [INSIDE if corner else DOOR for corner in joined]
    surveys = room(*((w, ends[n - 1], ends[n], [*places]) for n, (w, places) in enumerate(walls)))
    found = FloorLine(surveys).farthest()
    worst = [(float(one.length), one.worst.distance) for one in found]
    told = [(length, None if far is None else float(far)) for length, far in worst]
    assert sorted(told, key=str) == walked(walls, joined)
    for one in found:
        assert one.worst.wall in one.walls
        assert bool(one.worst.unless) == (len(walls) == 1 and joined[0])


def test_the_farthest_place_is_told_even_where_the_rule_holds() -> None:
    (one, _) = FloorLine(room((100, DOOR, DOOR, [40]), (60, DOOR, DOOR, [30]))).farthest()
    # At the door, which is the end of this wall and not the start of the next.
    far = FarPlace("wall 1", Fraction(100), Fraction(60))
    assert (one.walls, one.length, one.worst) == (("wall 1",), 100, far)


def test_a_space_round_a_corner_names_both_its_walls() -> None:
    (one,) = FloorLine(room((60, DOOR, INSIDE, [24]), (36, INSIDE, DOOR, []))).farthest()
    assert (one.walls, one.length, one.worst.wall, one.worst.at) == (("wall 1", "wall 2"), 96, "wall 2", 36)


# --- what a move may do to it ---


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(
            st.integers(24, 150), st.lists(st.integers(6, 140), min_size=1, max_size=3, unique=True), st.booleans()
        ),
        min_size=1,
        max_size=3,
    )
)
def test_a_receptacle_may_go_where_a_walk_along_the_floor_finds_all_served(
    drawn: list[tuple[int, list[int], bool]],
) -> None:
    walls = [(width, [place for place in places if place < width]) for width, places, _ in drawn]
    assume(walls[0][1])
    joined = [corner and len(walls) > 1 for *_, corner in drawn]
    ends = [INSIDE if corner else DOOR for corner in joined]
    surveys = room(*((w, ends[n - 1], ends[n], [*places]) for n, (w, places) in enumerate(walls)))
    assume(all_served(walls, joined))
    (width, places), *rest = walls
    parts = FloorLine(surveys).kept("wall 1", "r0", Fraction(1), Fraction(width - 1))
    for place in range(1, width, 3):
        allowed = any(low <= place <= high for low, high in parts)
        assert allowed == all_served([(width, [place, *places[1:]]), *rest], joined), place


def all_served(walls: list[tuple[int, list[int]]], joined: list[bool]) -> bool:
    return all(far is not None and far <= 72 for _, far in walked(walls, joined))


@settings(max_examples=80)
@given(st.integers(24, 400), st.sets(st.integers(3, 397), min_size=1, max_size=4), st.integers(0, 3))
def test_a_receptacle_may_go_where_it_serves_all_that_it_alone_serves(width: int, drawn: set[int], which: int) -> None:
    """Place by place in half inches, between two casings; a side that is too far already asks for nothing."""
    places = sorted(place for place in drawn if place < width)
    assume(places)
    here = places.pop(which % len(places))
    halves = [Fraction(n, 2) for n in range(2 * width + 1)]

    def served(at: Fraction, by: list[int]) -> bool:
        return any(abs(at - place) <= 72 for place in by)

    low, high = max((p for p in places if p < here), default=0), min((p for p in places if p > here), default=width)
    sides = [at for at in halves if low <= at <= here], [at for at in halves if here <= at <= high]
    whole = [side for side in sides if all(served(at, [here, *places]) for at in side)]
    beyond = [at for at in halves if not low <= at <= high]
    alone = [at for side in (*whole, beyond) for at in side if served(at, [here]) and not served(at, places)]
    parts = FloorLine(room((width, DOOR, DOOR, [here, *places]))).kept("wall 1", "r0", Fraction(1), Fraction(width - 1))
    for place in range(1, width, 3):
        told = any(left <= place <= right for left, right in parts)
        # A stretch that it alone serves may end between two half inches.
        if told != all(abs(place - at) <= 72 for at in alone):
            assert min(abs(place - end) for part in parts for end in part) <= Fraction(1, 2)


@pytest.mark.parametrize(
    ("width", "places", "parts"),
    [
        # Casings at both ends; a lone receptacle serves at most 144 in.
        pytest.param(150, [75], [(10, 130)], id="where the rule is broken already, nothing is left out"),
        pytest.param(300, [60, 230], [(10, 72)], id="a gap that is too wide already asks for nothing"),
        pytest.param(150, [60, 130], [(10, 72)], id="up to 72 from the left end"),
        pytest.param(140, [30, 70], [(10, 130)], id="the second serves all, so the first goes anywhere"),
        pytest.param(140, [70], [(68, 72)], id="a lone one serves both ends from a narrow stretch"),
    ],
)
def test_the_parts_of_a_wall_in_which_a_receptacle_keeps_the_line(
    width: float, places: list[float], parts: list[tuple[int, int]]
) -> None:
    line = FloorLine(room((width, DOOR, DOOR, places)))
    assert line.kept("wall 1", "r0", Fraction(10), Fraction(130)) == parts


def test_a_gap_that_lies_round_a_corner_may_get_narrower() -> None:
    """160 in between two, its middle in the corner: nearer to each other, nothing loses its receptacle."""
    line = FloorLine(room((100, DOOR, INSIDE, [20]), (100, INSIDE, DOOR, [80])))
    assert line.kept("wall 2", "r0", Fraction(10), Fraction(90)) == [(28, 90)]  # 72 in from the door at 100


def test_beyond_the_reach_of_what_may_stand_round_a_corner_a_place_is_judged() -> None:
    # From 12 to 82 this one alone; what stands beyond the right end at 154 may serve the rest.
    line = FloorLine(room((154, DOOR, INSIDE, [72])))
    assert line.kept("wall 1", "r0", Fraction(1), Fraction(150)) == [(10, 72)]


def test_what_nobody_marked_is_not_judged_for_certain() -> None:
    bare = wall(width=taped(100), left=INSIDE, right=DOOR, name="bare")
    (marked,) = room((60, DOOR, INSIDE, [10]))
    (far,) = FloorLine([marked, bare]).too_far()
    assert (far.wall, far.at, far.distance) == ("bare", 100, 150)
    assert far.unless == "on “bare” (nothing is marked there)"
    # So a move that would leave its far end alone is not known to break the rule.
    assert FloorLine([marked, bare]).kept("wall 1", "r0", Fraction(5), Fraction(50)) == [(5, 50)]


def test_between_two_receptacles_nothing_round_the_corner_helps() -> None:
    (mid, end) = FloorLine(room((300, DOOR, INSIDE, [10, 170]))).too_far()
    assert (mid.at, mid.unless) == (90, "")
    assert (end.at, end.unless) == (300, "round a corner that was not measured")


def test_what_surely_breaks_the_rule_is_told_before_what_another_receptacle_may_serve():
    # 90 in to either of two receptacles from between them; 130 in from the second to a corner that nobody measured.
    (space,) = FloorLine(room((330, DOOR, INSIDE, [20, 200]))).farthest()
    assert (space.worst.at, space.worst.distance, space.worst.unless) == (110, 90, "")


def test_what_another_could_serve_only_in_part_is_told_for_certain():
    # 200 in from the only receptacle to a corner that nobody measured: what stands beyond serves 72 of them at most.
    (far,) = FloorLine(room((210, DOOR, INSIDE, [10]))).too_far()
    assert (far.at, far.distance, far.unless) == (210, 200, "")
    (near,) = FloorLine(room((150, DOOR, INSIDE, [10]))).too_far()
    assert (near.at, near.distance, near.unless) == (150, 140, "round a corner that was not measured")
