"""Boards to buy: published optima, brute force, the saw's kerf, and what cannot be cut."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import combinations, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import OptimizeResult

from layout import program
from layout.boards import buy
from layout.cutting import cut
from layout.packing import Board, Objective, Packing, Saw
from layout.patterns import Blank, Knapsack, Part, Search, TooManyError
from layout.pieces import Grain, Piece, PieceRole
from layout.stock import Material, Stock, StockError, board_feet, softwood, take_off
from tests.packing import FINALS, INSTANCES, ROLLS, Instance

F = Fraction
NO_KERF = Saw(kerf=F(0), trim=F(0))
KERF = Saw(trim=F(0))  # 1/8 in


def piece(
    length: Fraction | int | str, width: Fraction | int | str = "7/2", count: int = 1, name: str = "stile", **more
) -> Piece:
    places = tuple(f"{name} {length} {i}" for i in range(count))
    return Piece(name, PieceRole.STILE, "wall", places, F(length), F(width), more.pop("thickness", F(3, 4)), **more)


def board(length: Fraction | int, width: Fraction | int | str = "7/2", **more) -> Stock:
    return Stock(f"{width} wide", F(width), more.pop("thickness", F(3, 4)), F(length), **more)


def sheet(length: int, width: int, **more) -> Stock:
    return Stock("sheet", F(width), F(1, 4), F(length), Material.SHEET, **more)


def panel(length: int, width: int, count: int = 1, grain: Grain = Grain.EITHER) -> Piece:
    return piece(length, width, count, "panel sheet", thickness=F(1, 4), material=Material.SHEET, grain=grain)


def alone(pieces: Sequence[Piece], stocks: Sequence[Stock], saw: Saw = KERF, **more) -> Packing:
    (packing,) = buy(pieces, stocks, saw, **more)
    check(packing, pieces, saw)
    return packing


def check(packing: Packing, pieces: Sequence[Piece], saw: Saw) -> None:
    """Each piece just once, nothing past an edge, a kerf between all; reckoned apart from the program's own check."""
    cut = Counter((c.piece.name, c.place) for b in packing.boards for c in b.cuts)
    assert cut == Counter((p.name, place) for p in pieces for place in p.places)
    for b in packing.boards:
        trim = saw.sheet_trim if b.stock.material is Material.SHEET else saw.trim
        cross_trim = saw.sheet_trim if b.stock.material is Material.SHEET else 0
        length, width = b.stock.length - trim, b.stock.width - cross_trim
        rects = []
        for lane in b.lanes:
            for c in lane.cuts:
                x, y, along, across = c.at, lane.at, c.length, c.width
                rects.append((y, x, across, along) if b.across else (x, y, along, across))
        assert all(0 <= x and x + w <= length and 0 <= y and y + h <= width for x, y, w, h in rects)
        for (x1, y1, w1, h1), (x2, y2, w2, h2) in combinations(rects, 2):
            k = saw.kerf
            assert x1 + w1 + k <= x2 or x2 + w2 + k <= x1 or y1 + h1 + k <= y2 or y2 + h2 + k <= y1


# Published optima ---------------------------------------------------------------------------------------------------


def as_boards(instance: Instance) -> tuple[list[Piece], list[Stock]]:
    counts = Counter(instance.items)
    return [piece(length, 1, n) for length, n in counts.items()], [board(instance.capacity, 1)]


def first_fit_decreasing(instance: Instance) -> int:
    room: list[int] = []
    for item in sorted(instance.items, reverse=True):
        i = next((i for i, left in enumerate(room) if left >= item), None)
        if i is None:
            room.append(instance.capacity)
            i = -1
        room[i] -= item
    return len(room)


@pytest.mark.parametrize(
    "instance",
    [
        pytest.param(INSTANCES["u120_00"], id="u120_00"),
        pytest.param(INSTANCES["t60_00"], id="t60_00"),
        pytest.param(ROLLS, id="paper rolls"),
        pytest.param(FINALS, id="finals"),
        pytest.param(INSTANCES["u120_01"], id="u120_01", marks=pytest.mark.slow),
        pytest.param(INSTANCES["u120_02"], id="u120_02", marks=pytest.mark.slow),
        pytest.param(INSTANCES["u120_08"], id="u120_08", marks=pytest.mark.slow),
        pytest.param(INSTANCES["t120_00"], id="t120_00", marks=pytest.mark.slow),
    ],
)
def test_published_instances_are_packed_to_their_proven_optimum(instance: Instance) -> None:
    packing = alone(*as_boards(instance), NO_KERF, seconds=120)
    assert (packing.amount, packing.bound) == (instance.fewest, instance.fewest)
    assert packing.told() == f"{instance.fewest} boards, proven the least."


def test_the_published_instances_are_not_those_that_any_rule_of_thumb_solves() -> None:
    assert sum(INSTANCES["u120_00"].items) == 7078  # as a check of the copy
    assert len(ROLLS.items) == 219
    assert (first_fit_decreasing(INSTANCES["u120_00"]), first_fit_decreasing(ROLLS)) == (49, 82)


def triplets(draws: Sequence[tuple[int, int]]) -> list[int]:
    """Falkenauer (1996): an item of 380 to 490 of 1000, a second between 250 and half the rest, and what is left."""
    items = []
    for first, share in draws:
        rest = 1000 - first
        second = 250 + share * (rest // 2 - 250) // 100
        items += [first, second, rest - second]
    return items


@settings(max_examples=25)
@given(st.lists(st.tuples(st.integers(380, 490), st.integers(0, 100)), min_size=1, max_size=8))
def test_triplets_that_fill_their_boards_take_a_third_as_many_boards(draws: list[tuple[int, int]]) -> None:
    packing = alone(*as_boards(Instance(1000, len(draws), triplets(draws))), NO_KERF)
    assert packing.amount == packing.bound == len(draws)
    assert not any(lane.left for b in packing.boards for lane in b.lanes)


# The saw's kerf -----------------------------------------------------------------------------------------------------


# n pieces of L with n - 1 kerfs between them: derived.
@pytest.mark.parametrize(
    ("stock", "length", "kerf", "fit"),
    [
        (96, "24", "0", 4),
        (96, "24", "1/8", 3),
        (96, "191/8", "1/8", 4),
        (96, "765/32", "1/8", 4),
        (144, "1149/32", "1/8", 4),
    ],
)
def test_pieces_that_a_board_yields(stock: int, length: str, kerf: str, fit: int) -> None:
    packing = alone([piece(length, count=fit)], [board(stock)], Saw(kerf=F(kerf), trim=F(0)))
    assert packing.amount == 1
    packing = alone([piece(length, count=fit + 1)], [board(stock)], Saw(kerf=F(kerf), trim=F(0)))
    assert packing.amount == packing.bound == 2


@pytest.mark.parametrize(("wide", "strip", "fit", "spare"), [("11/2", "7/4", 3, "0"), ("48", "11/2", 8, "3")])
def test_strips_that_a_wide_board_yields(wide: str, strip: str, fit: int, spare: str) -> None:
    packing = alone([piece(90, strip, count=fit)], [board(96, wide)])
    assert packing.amount == 1
    (b,) = packing.boards
    assert len(b.lanes) == fit
    assert b.spare == F(spare)
    assert alone([piece(90, strip, count=fit + 1)], [board(96, wide)]).amount == 2


def test_a_board_of_the_pieces_width_is_not_ripped_and_strips_share_a_wide_one() -> None:
    rail, strip, stile = piece(60, "7/2", 2, "rail"), piece(60, "5/4", 1, "strip"), piece(60, "17/4", 1, "end stile")
    crosscut, ripped = buy([rail, strip, stile], [board(96, "7/2"), board(96, "29/4")], KERF)
    assert [b.stock.width for b in crosscut.boards] == [F(7, 2), F(7, 2)]
    assert crosscut.crosscut_only
    (b,) = ripped.boards  # 4 1/4, 1 1/4 and a kerf out of 7 1/4
    assert [lane.width for lane in b.lanes] == [F(17, 4), F(5, 4)]
    assert b.spare == F("29/4") - F("17/4") - F("5/4") - 2 * F(1, 8)


def test_both_ends_are_trimmed_first() -> None:
    assert alone([piece(48, count=2)], [board(97)], Saw(kerf=F(0), trim=F(1))).amount == 1
    assert alone([piece(48, count=2)], [board(97)], Saw(kerf=F(0), trim=F(17, 16))).amount == 2


# Brute force --------------------------------------------------------------------------------------------------------


def least_by_force(items: tuple[int, ...], stocks: Sequence[tuple[int, int]]) -> int:
    """Over every way to take a set of items off a board, largest first; stocks are (length, cost); no kerf."""

    @cache
    def least(left: tuple[int, ...]) -> int:
        if not left:
            return 0
        first, rest = left[0], left[1:]
        best = 10**9
        for size in range(len(rest) + 1):
            for others in combinations(range(len(rest)), size):
                used = first + sum(rest[i] for i in others)
                costs = [cost for length, cost in stocks if used <= length]
                if costs:
                    kept = tuple(item for i, item in enumerate(rest) if i not in others)
                    best = min(best, min(costs) + least(kept))
        return best

    return least(tuple(sorted(items, reverse=True)))


@settings(max_examples=120)
@given(
    st.lists(st.integers(2, 24), min_size=1, max_size=8),
    st.lists(st.tuples(st.integers(24, 60), st.integers(1, 20)), min_size=1, max_size=3, unique_by=lambda s: s[0]),
    st.sampled_from([F(0), F(1, 2), F(1)]),
)
def test_least_cost_equals_brute_force(items: list[int], stocks: list[tuple[int, int]], kerf: Fraction) -> None:
    yard = [board(length, price=F(cost)) for length, cost in stocks]
    packing = alone(
        [piece(item, count=1, name=f"p{i}") for i, item in enumerate(items)],
        yard,
        Saw(kerf, F(0)),
        objective=Objective.COST,
    )
    doubled = tuple(int(2 * (item + kerf)) for item in items)
    assert packing.amount == least_by_force(doubled, [(int(2 * (length + kerf)), cost) for length, cost in stocks])
    assert packing.proven


@settings(max_examples=60)
@given(
    st.lists(st.integers(5, 24), min_size=1, max_size=6),
    st.lists(st.tuples(st.integers(24, 60), st.integers(0, 3)), min_size=1, max_size=2, unique_by=lambda s: s[0]),
)
def test_stock_that_runs_out_equals_brute_force(items: list[int], stocks: list[tuple[int, int]]) -> None:
    counts = product(*(range(n + 1) for _, n in stocks))
    enough = [
        sum(taken)
        for taken in counts
        if _holds(items, [s for (s, _), n in zip(stocks, taken, strict=True) for _ in range(n)])
    ]
    pieces, yard = (
        [piece(item, count=1, name=f"p{i}") for i, item in enumerate(items)],
        [board(s, available=n) for s, n in stocks],
    )
    if not enough:
        with pytest.raises(StockError, match="The stock runs out"):
            buy(pieces, yard, NO_KERF)
        return
    packing = alone(pieces, yard, NO_KERF)
    assert packing.amount == packing.bound == min(enough)
    taken = Counter(b.stock for b in packing.boards)
    assert all(taken[stock] <= (stock.available or 0) for stock in yard)


@settings(max_examples=60)
@given(
    st.lists(st.integers(5, 24), min_size=1, max_size=6),
    st.lists(
        st.tuples(st.integers(24, 60), st.integers(1, 9), st.integers(0, 3)),
        min_size=2,
        max_size=3,
        unique_by=lambda s: s[0],
    ),
)
def test_the_bound_claims_no_more_than_what_is_least_while_stock_lasts(
    items: list[int], stocks: list[tuple[int, int, int]]
) -> None:
    counts = Counter(items)
    parts = [Part(length, 1, n) for length, n in counts.items()]
    last = max(stocks)  # the longest never runs out
    blanks = [Blank(length, 1, cost, available=None if length == last[0] else there) for length, cost, there in stocks]
    takes = product(*(range(len(items) + 1 if s is last else s[2] + 1) for s in stocks))
    least = min(
        sum(n * cost for n, (_, cost, _) in zip(take, stocks, strict=True))
        for take in takes
        if _holds(items, [s[0] for s, n in zip(stocks, take, strict=True) for _ in range(n)])
    )
    found = cut(parts, blanks)
    assert found.bound <= least
    assert found.cost == least
    assert found.proven


def test_rips_of_a_house_are_proven_and_of_ten_boards_not_the_widest_are_taken() -> None:
    """Six thousand patterns could be in an answer of nine boards: there is none. Not all ten need be the largest."""
    sizes = [(2309, 22, 13), (983, 22, 13), (706, 22, 14), (566, 70, 14), (566, 68, 26), (566, 56, 42), (566, 22, 13),
             (514, 22, 14), (28, 22, 13), (22, 22, 13)]  # fmt: skip
    rip_to = {26: (22,), 42: (22,), 58: (22, 56)}
    lengths, widths = (1522, 1906, 2290, 2674, 3058), (26, 42, 58, 90, 118, 150, 182)  # 1 x 2 to 1 x 12, 8 to 16 ft
    blanks = [Blank(length, width, 1, nominal * feet // 2, lanes=frozenset(rip_to.get(width, (22, 56, 68, 70))))
              for width, nominal in zip(widths, (2, 3, 4, 6, 8, 10, 12), strict=True)
              for length, feet in zip(lengths, (8, 10, 12, 14, 16), strict=True)]  # fmt: skip
    found = cut([Part(*size) for size in sizes], blanks)
    assert found.cost == 10
    assert found.proven
    # HiGHS alone, asked for the least feet of ten boards over all six thousand patterns, finds 792 in 8 s.
    assert sum(blanks[layout.blank].tie for layout in found.layouts) <= 1.05 * 792


def test_of_answers_as_good_one_with_little_besides_is_found_where_patterns_are_few() -> None:
    """HiGHS alone, asked for the least area of the fewest boards over all patterns that could be in it, finds 104."""
    parts = [Part(33, 6, 8), Part(116, 3, 10), Part(83, 6, 9)]
    blanks = [Blank(length, width, 1, length * width // 100) for length in (120, 160, 200) for width in (10, 14, 22)]
    found = cut(parts, blanks)
    assert found.proven
    assert sum(blanks[layout.blank].tie for layout in found.layouts) <= 1.05 * 104


def _holds(items: Sequence[int], rooms: Sequence[int]) -> bool:
    """Whether all items fit the rooms, by trying each."""
    if not items:
        return True
    return any(
        room >= items[0] and _holds(items[1:], [*rooms[:i], room - items[0], *rooms[i + 1 :]])
        for i, room in enumerate(rooms)
    )


def partitions(items: Sequence[int]) -> Iterator[list[list[int]]]:
    """All ways to put things into groups."""
    if not items:
        yield []
        return
    for groups in partitions(items[1:]):
        yield [[items[0]], *groups]
        for i in range(len(groups)):
            yield [*groups[:i], [items[0], *groups[i]], *groups[i + 1 :]]


def fewest_groups(count: int, fits: Callable[[tuple[int, ...]], bool]) -> int:
    """The fewest blanks for things of which `fits` says whether some go on one, over all ways to group them."""
    known = cache(fits)
    return min(len(p) for p in partitions(range(count)) if all(known(tuple(sorted(group))) for group in p))


sizes = st.lists(st.tuples(st.integers(3, 12), st.integers(2, 7)), min_size=1, max_size=5)


@settings(max_examples=60)
@given(sizes, st.booleans())
def test_sheets_equal_brute_force_over_all_two_step_layouts(rects: list[tuple[int, int]], grained: bool) -> None:
    pieces = [panel(max(r), min(r), 1, Grain.ALONG if grained else Grain.EITHER) for r in rects]
    pieces = [Piece(**{**vars(p), "name": f"p{i}"}) for i, p in enumerate(pieces)]
    saw = Saw(kerf=F(1), sheet_trim=F(1))

    def on_one_sheet(group: tuple[int, ...]) -> bool:
        ways = [[(max(rects[i]), min(rects[i]))] + ([] if grained else [(min(rects[i]), max(rects[i]))]) for i in group]
        return any(
            _lanes_fit([(along, across) for along, across in lying], 15, 9)
            or _lanes_fit([(across, along) for along, across in lying], 9, 15)
            for lying in product(*ways)
        )

    packing = alone(pieces, [sheet(16, 10)], saw)
    assert packing.amount == packing.bound == fewest_groups(len(rects), on_one_sheet)
    if grained:
        assert all(c.length > c.width or c.length == c.width for b in packing.boards if not b.across for c in b.cuts)
    assert packing.by_area <= packing.amount


def _lanes_fit(rects: Sequence[tuple[int, int]], length: int, width: int) -> bool:
    """Whether rectangles (along, across) can be put into lanes of a sheet, a kerf of 1 between all."""
    for lanes in partitions(range(len(rects))):
        long = all(sum(rects[i][0] + 1 for i in lane) <= length + 1 for lane in lanes)
        if long and sum(max(rects[i][1] for i in lane) + 1 for lane in lanes) <= width + 1:
            return True
    return False


@settings(max_examples=60)
@given(sizes)
def test_rips_equal_brute_force_over_all_ways_to_rip_first(rects: list[tuple[int, int]]) -> None:
    pieces = [piece(max(r), min(r), 1, f"p{i}") for i, r in enumerate(rects)]

    def from_one_board(group: tuple[int, ...]) -> bool:
        """As on a sheet, but every lane is as wide as each of its pieces: no edge is sawn twice."""
        lying = [(max(rects[i]), min(rects[i])) for i in group]
        return any(
            all(sum(lying[i][0] + 1 for i in lane) <= 17 and len({lying[i][1] for i in lane}) == 1 for lane in lanes)
            and sum(lying[lane[0]][1] + 1 for lane in lanes) <= 11
            for lanes in partitions(range(len(lying)))
        )

    packing = alone(pieces, [board(16, 10)], Saw(kerf=F(1), trim=F(0)))
    assert packing.amount == packing.bound == fewest_groups(len(rects), from_one_board)


# What the proof stands on -------------------------------------------------------------------------------------------

few = st.lists(st.tuples(st.integers(0, 50), st.integers(0, 9), st.integers(0, 4)), min_size=1, max_size=5)


def _all_patterns(items: Sequence[tuple[int, int, int]], room: int) -> Iterator[tuple[int, ...]]:
    ranges = [range((most if size else 0) + 1) for _, size, most in items]
    return (c for c in product(*ranges) if sum(n * size for n, (_, size, _) in zip(c, items, strict=True)) <= room)


@given(few, st.integers(1, 20))
def test_the_knapsack_finds_the_most_that_a_length_holds(items: list[tuple[int, int, int]], room: int) -> None:
    worths, lengths, most = zip(*items, strict=True)
    worth, counts = Knapsack(worths, lengths, most, 25).best(room)
    patterns = _all_patterns(items, room)
    assert worth == max(sum(n * w for n, w in zip(c, worths, strict=True)) for c in patterns)
    assert worth == sum(n * worths[i] for i, n in counts.items())
    assert sum(n * lengths[i] for i, n in counts.items()) <= room
    assert all(n <= most[i] for i, n in counts.items())


@given(few, st.integers(1, 20), st.integers(0, 100))
def test_the_search_finds_every_full_pattern_worth_enough(
    items: list[tuple[int, int, int]], room: int, least: int
) -> None:
    worths, lengths, most = zip(*items, strict=True)
    every = set(_all_patterns(items, room))
    full = {
        c
        for c in every
        if any(c)
        and sum(n * w for n, w in zip(c, worths, strict=True)) >= least
        and not any(tuple(n + (i == j) for j, n in enumerate(c)) in every for i in range(len(items)))
    }
    found = [
        tuple(c.get(i, 0) for i in range(len(items)))
        for c in Search(10**6).patterns(worths, lengths, most, room, least)
    ]
    assert len(found) == len(set(found))
    assert set(found) == full


def test_a_search_without_end_is_given_up() -> None:
    with pytest.raises(TooManyError):
        list(Search(10).patterns([1] * 5, [1] * 5, [9] * 5, 20, 0))


def test_when_time_is_up_the_gap_is_told() -> None:
    packing = alone(*as_boards(INSTANCES["u120_00"]), NO_KERF, seconds=0.0)
    assert packing.amount > packing.bound > 0
    assert packing.gap == packing.amount - packing.bound
    assert packing.told().endswith("the search stopped before it could tell which is the least.")
    assert f"at least {packing.bound} boards" in packing.told()


def test_a_solver_stopped_before_it_has_an_answer_leaves_the_one_made_without_it(monkeypatch) -> None:
    """What SciPy's `milp` gives when its time is up with nothing found: no `x`, no bound (its documentation)."""
    stopped = OptimizeResult(x=None, mip_dual_bound=None, status=1, success=False)
    monkeypatch.setattr(program, "milp", lambda *args, **more: stopped)
    pieces, stocks = as_boards(INSTANCES["u120_00"])
    packing = alone(pieces, stocks, NO_KERF)
    assert sum(len(board.cuts) for board in packing.boards) == sum(piece.count for piece in pieces)
    assert packing.bound <= INSTANCES["u120_00"].fewest <= packing.amount


def test_no_board_is_longer_than_its_pieces_ask_even_if_the_choice_was_stopped(monkeypatch) -> None:
    monkeypatch.setattr(program.Program, "break_tie", lambda self, best, known, until: best)
    for stocks in ([board(192), board(144), board(96)], [board(96), board(144), board(192)]):
        packing = alone([piece(90)], stocks, KERF)
        assert [b.stock.length for b in packing.boards] == [96]
        packing = alone([piece(90), piece(50)], stocks, KERF)
        assert [b.stock.length for b in packing.boards] == [144]


# What is asked, what is kept ----------------------------------------------------------------------------------------


def test_each_objective_buys_what_is_least_by_it() -> None:
    pieces = [piece(40, count=3)]
    yard = [
        board(48, price=F(10), nominal=(F(1), F(4))),
        board(96, price=F(15), nominal=(F(1), F(4))),
        board(144, price=F(35), nominal=(F(1), F(4))),
    ]

    def bought(objective: Objective) -> list[Fraction]:
        return sorted(b.stock.length for b in alone(pieces, yard, objective=objective).boards)

    assert bought(Objective.COUNT) == [144]
    assert bought(Objective.COST) == [48, 96]  # 25, against 30 for two of 96 or three of 48 and 35 for one of 144
    assert sum(bought(Objective.LENGTH)) == sum(bought(Objective.BOARD_FEET)) == 144
    packing = alone(pieces, yard, objective=Objective.BOARD_FEET)
    assert packing.told() == "4.00 board feet, proven the least."  # 1 × 4 / 12 for each of 12 ft


def test_of_answers_with_as_few_boards_the_shorter_boards_are_bought() -> None:
    packing = alone([piece(40, count=2)], [board(length) for length in (96, 120, 192)])
    assert [b.stock.length for b in packing.boards] == [96]


def test_offcuts_worth_keeping_are_listed() -> None:
    saw = Saw(trim=F(0), keep_length=F(24), keep_width=F(3, 2))
    packing = alone([piece(60)], [board(96)], saw)
    assert [(o.length, o.width) for o in packing.offcuts] == [(96 - 60 - F(1, 8), F(7, 2))]
    assert not alone([piece(75)], [board(96)], saw).offcuts  # 20 7/8 in is not worth keeping
    ripped = alone([piece(96, "5/4")], [board(96, "7/2")], saw)
    assert [(o.length, o.width) for o in ripped.offcuts] == [(96, F(7, 2) - F(5, 4) - F(1, 8))]


def test_a_sheet_keeps_its_grain() -> None:
    assert alone([panel(40, 30, 2)], [sheet(96, 48)]).amount == 1
    stands = alone([panel(40, 30, 3, Grain.ALONG)], [sheet(96, 48)])
    assert stands.amount == 2  # with the grain two lie end to end; turned, three stand side by side
    assert alone([panel(40, 30, 3)], [sheet(96, 48)]).amount == 1
    lies = alone([panel(40, 30, 3, Grain.ACROSS)], [sheet(96, 48)])
    assert lies.amount == 1
    assert "proven the least" in lies.told()


def test_what_two_steps_cannot_prove_is_said() -> None:
    # Five pieces round a hole, as a pinwheel: in two steps they take two sheets, by area one would do.
    pinwheel = [panel(6, 4, 4), panel(2, 2)]
    packing = alone(pinwheel, [sheet(10, 10)], NO_KERF)
    assert (packing.amount, packing.bound, packing.by_area) == (2, 2, 1)
    assert packing.told() == "2 sheets, proven the least when strips are ripped first and then cut to length."


# Board measure ------------------------------------------------------------------------------------------------------


def test_dressed_sizes() -> None:
    # PS 20, as tabled in "Softwood Lumber – Standard Sizes" (Engineering ToolBox).
    widths = {n: softwood("1", str(n), 8).width for n in range(2, 13)}
    assert all(widths[n] == n - F(1, 2) for n in range(2, 8))
    assert all(widths[n] == n - F(3, 4) for n in range(8, 13))
    assert (softwood("2", "4", 8).thickness, softwood("2", "4", 8).width) == (F(3, 2), F(7, 2))
    thick = {"3/8": "5/16", "1/2": "7/16", "5/8": "9/16", "3/4": "5/8", "1": "3/4", "5/4": "1", "3/2": "5/4"}
    assert {n: softwood(n, "4", 8).thickness for n in thick} == {n: F(t) for n, t in thick.items()}
    with pytest.raises(StockError, match="No dressed size is known for a nominal 1 × 13"):
        softwood("1", "13", 8)


def test_board_measure() -> None:
    # Engineering Aid Basics (Naval Education and Training), 6-3: a 2 by 4 of 14 ft; lumber under 1 in counts as 1 in.
    assert softwood("2", "4", 14).board_feet == F(28, 3)
    assert board_feet(F(120), F(12), F(1)) == 10  # 10 ft, 12 in wide, 1 in thick: a shipper's glossary
    assert board_feet(F(120), F(12), F(1, 2)) == 10
    assert softwood("1", "4", 12).board_feet == 4


def test_take_off_with_waste() -> None:
    rails, mouldings = piece(96, "7/2", 3, "rail"), piece(24, "7/8", 4, "moulding", material=Material.MOULDING)
    board_row, moulding_row = take_off([rails, mouldings], F(1, 10))
    assert board_row.lineal_feet == 24 * F(11, 10)
    assert board_row.square_feet == 7 * F(11, 10)  # 3 × 8 ft × 3 1/2 in
    # Engineering Aid Basics, 6-3: nominal sizes are meant; by PS 20 a 3/4 × 3 1/2 is a nominal 1 × 4.
    assert (board_row.counted, board_row.board_feet) == ((1, 4), 8 * F(11, 10))
    assert (board_row.count, moulding_row.count, moulding_row.board_feet) == (3, 4, 0)
    assert moulding_row.lineal_feet == 8 * F(11, 10)


def test_a_width_without_a_nominal_one_is_counted_as_it_is() -> None:
    """3/4 × 3 3/8 is no size of PS 20, nor is 13/16 a thickness: 8 ft of them, the thickness no less than an inch."""
    ripped, thick = piece(96, "27/8", 1, "ripped"), piece(96, "27/8", 1, "thick", thickness=F(13, 16))
    (row,) = take_off([ripped])
    assert (row.counted, row.board_feet) == ((1, F(27, 8)), F(9, 4))
    (row,) = take_off([thick])
    assert (row.counted, row.board_feet) == ((F(13, 16), F(27, 8)), F(9, 4))


# Bad input ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pieces", "stocks", "saw", "words"),
    [
        pytest.param(
            [piece(150, name="top rail")],
            [board(96), board(144)],
            Saw(),
            '“top rail” of wall is 150" long in one piece and the longest stock, “7/2 wide” of 144", gives 143", '
            '7" less; add longer stock or allow a joint.',
            id="stock shorter than the piece",
        ),
        pytest.param(
            [piece(20, "1/16", name="filler")],
            [board(96)],
            Saw(),
            'The kerf (1/8") is more than “filler” of wall is wide (1/16"), by 1/16"; '
            "use a finer saw or another way to make it.",
            id="kerf wider than the piece",
        ),
        pytest.param(
            [piece(20)],
            [board(96, thickness=F(5, 8))],
            Saw(),
            '“stile” of wall is 3/4" thick and no board in stock is: the nearest, “7/2 wide” of 96", is 5/8", '
            '1/8" less; add the stock or change the thickness.',
            id="no such thickness",
        ),
        pytest.param(
            [piece(20)],
            [sheet(96, 48)],
            Saw(),
            '“stile” of wall is 3/4" thick and no board in stock is: there is no board at all; '
            "add the stock or change the thickness.",
            id="no board at all",
        ),
        pytest.param(
            [piece(20, "11/2", name="bottom rail")],
            [board(96)],
            Saw(),
            '“bottom rail” of wall is 5 1/2" wide and the widest stock that thick, “7/2 wide” of 96", is 3 1/2", '
            '2" less; add wider stock or glue up.',
            id="stock narrower than the piece",
        ),
        pytest.param(
            [panel(60, 50, grain=Grain.ALONG)],
            [sheet(96, 48)],
            Saw(),
            '“panel sheet” of wall is 60" by 50" and the largest sheet that thick, “sheet” of 96", gives 96" by 48" '
            'with its grain as wanted, 2" less; add larger sheets or allow a seam.',
            id="sheet smaller than the piece",
        ),
        pytest.param(
            [piece(-3)],
            [board(96)],
            Saw(),
            '“stile” of wall is -3" long; it cannot be cut.',
            id="negative piece",
        ),
        pytest.param(
            [piece(60, count=3, name="rail")],
            [board(96, available=2)],
            Saw(),
            'The stock runs out: 2 “7/2 wide” of 96" leave nothing for “rail” of wall, 60" long; add stock.',
            id="stock runs out",
        ),
    ],
)
def test_what_cannot_be_cut_is_refused_in_a_sentence(
    pieces: list[Piece], stocks: list[Stock], saw: Saw, words: str
) -> None:
    with pytest.raises(StockError) as refused:
        buy(pieces, stocks, saw)
    assert str(refused.value) == words


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: board(-3), '“7/2 wide” is said to be -3" long; give its actual size.'),
        (lambda: board(96, price=F(0)), "“7/2 wide” is said to cost 0; give what the yard asks for one."),
        (lambda: board(96, available=-1), "“7/2 wide” is said to be there -1 times; count from 0."),
        (lambda: Saw(kerf=F(-1, 8)), 'The kerf is said to be -1/8"; give 0 or more.'),
        (
            lambda: buy([piece(20)], [board(96)], objective=Objective.COST),
            '“7/2 wide” of 96" has no price, and the least cost is asked; give what the yard asks for one.',
        ),
        (
            lambda: buy([piece(F(1, 99991))], [board(96)], Saw(kerf=F(0))),
            "The sizes share no step coarser than 5e-06 in; round the pieces to the saw's step first.",
        ),
    ],
)
def test_stock_that_cannot_be_is_refused_in_a_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(StockError) as refused:
        make()
    assert str(refused.value) == words


def test_lanes_of_a_board_lie_a_kerf_apart() -> None:
    (b,) = alone([piece(90, "7/4", count=3)], [board(96, "11/2")]).boards
    assert _apart(b) == [F(1, 8), F(1, 8)]


def _apart(b: Board) -> list[Fraction]:
    return [after.at - (before.at + before.width) for before, after in pairwise(b.lanes)]
