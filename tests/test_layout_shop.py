"""What goes to the shop: whole, exact, and what fails in one place leaves the rest."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from capture.lengths import MM, Unit
from capture.measured import Source
from capture.record import EndKind, Kind, Mark, Side
from capture.survey import Feature
from layout.pieces import Piece, PieceRole
from layout.plan import Plan, plan_walls
from layout.scheme import Pin, Scheme
from layout.shop import Shop, joined, shop_of
from layout.stock import Material
from layout.yard import Yard
from tests.test_layout_room import box, demo_room, taped, wall, window
from tests.test_report_wall import measured

F = Fraction


def own_room(scheme: Scheme | None = None) -> Plan:
    """A casing end with filler, a wall of 24 ft, an inside corner, a bullnose, an open end; two tiers and a ledge."""
    walls = [
        wall(width=taped(F(288)), left=EndKind.CASING, right=EndKind.INSIDE_CORNER, name="gallery"),
        wall(width=taped(F(97)), left=EndKind.INSIDE_CORNER, right=EndKind.BULLNOSE, name="chimney wall"),
        wall(width=taped(F(60)), left=EndKind.BULLNOSE, right=EndKind.OPEN, name="return"),
    ]
    wanted = scheme or Scheme(
        top=F(54), middle_rail_at=F(34), filler_width=F(1), base=F(5), panel="sheet", ledge=F(3, 4)
    )
    return plan_walls(walls, wanted)


@pytest.fixture(scope="module")
def own() -> Shop:
    return shop_of(own_room(), seconds=2)


def singles(pieces: tuple[Piece, ...]) -> Counter:
    return Counter((piece.unit, piece.name, place) for piece in pieces for place in piece.places)


def test_every_piece_is_cut_from_some_board_just_once(own):
    cut = [cut for packing in own.packings for board in packing.boards for cut in board.cuts]
    assert Counter((c.piece.unit, c.piece.name, c.place) for c in cut) == singles(own.pieces)
    assert own.amiss == ()


def test_what_is_longer_than_the_longest_board_is_joined_over_a_stile(own):
    rails = [p for p in own.pieces if p.unit == "gallery" and p.role is PieceRole.TOP_RAIL]
    assert sum(rail.count for rail in rails) == 2
    assert all(rail.length <= 16 * 12 - 1 for rail in rails)  # 16 ft less an inch of trim
    assert any("joined over stile" in end.note for rail in rails for end in rail.ends)


def test_the_longest_board_that_fits_a_rail_decides_not_the_longest_of_all():
    yard = Yard(boards={"1 x 4": "8 ft", "1 x 12": "16 ft"})
    shop = shop_of(plan_walls([wall(width=taped(F(150)), left=EndKind.OPEN, right=EndKind.OPEN)], Scheme()), yard)
    assert max(p.length for p in shop.pieces if p.role is PieceRole.TOP_RAIL) <= 95
    assert max(p.length for p in shop.pieces if p.role is PieceRole.BOTTOM_RAIL) == 143  # ripped from the wide ones
    assert shop.short == ()


def cut_joints(pieces: tuple[Piece, ...]) -> list[tuple[str, str, str]]:
    """Run, member and stile of every joint that the cut list has."""
    return sorted(
        (piece.unit, place.split(",")[0], piece.ends[0].note.removeprefix("joined over "))
        for piece in pieces
        for place in piece.places
        if piece.ends[0].note.startswith("joined over ")
    )


@pytest.mark.parametrize(
    "yard", [None, Yard(boards={"1 x 4": "8 ft"}), Yard(longest="10 ft")], ids=["usual", "4s", "10"]
)
@pytest.mark.parametrize("stock_length", [F(0), F(80), F(400)])
def test_the_plan_tells_the_joints_of_the_cut_list(yard: Yard | None, stock_length: Fraction) -> None:
    """Whatever the longest board noted: the yard may have shorter ones, or the scheme ask for them."""
    walls = [wall(width=taped(F(n)), left=EndKind.OPEN, right=EndKind.OPEN, name=f"{n}") for n in (288, 150)]
    plan = plan_walls(walls, Scheme(stock_length=stock_length))
    told = [(wall.name, joint.member, joint.stile) for wall in joined(plan, yard).walls for joint in wall.joints]
    assert sorted(told) == cut_joints(shop_of(plan, yard, seconds=0.5).pieces)
    assert len(told) >= 3


def test_a_wall_that_the_yards_boards_cannot_make_says_so_in_the_plan() -> None:
    walls = [wall(width=taped(F(n)), left=EndKind.OPEN, right=EndKind.OPEN, name=f"{n}") for n in (40, 120)]
    plan = plan_walls(walls, Scheme(panels={"120": 1}))
    short, long = joined(plan, Yard(longest="8 ft")).walls
    assert short.notes == ()
    (note,) = long.notes
    assert note.startswith("cannot be cut as planned: ")
    assert note.endswith(shop_of(plan, Yard(longest="8 ft")).refused[0].sentence)


def test_what_is_decided_to_stay_is_to_be_fitted_round():
    plan = plan_walls([wall(box("r", 30, 14, sd=0.01), width=taped(F(60)))], Scheme(panels={"wall": 2}))
    stays = plan_walls(
        [wall(box("r", 30, 14, sd=0.01), width=taped(F(60)))], Scheme(panels={"wall": 2}, pins={"r": Pin.EXTEND})
    )
    line = "Fit round what stays, by tape from the thing itself: stile 2 round r on wall."
    for planned, told in ((plan, 0), (stays, 1)):
        (order,) = shop_of(planned, seconds=0.5).orders
        assert order.steps.count(line) == told
    assert order.steps.index(line) == 1  # after the boxes


def test_each_member_is_joined_by_its_own_boards():
    """The middle rail has 8 ft boards and the others 16 ft: only it is joined, and no wall without one is."""
    two_tiers = wall(width=taped(F(132)), left=EndKind.OPEN, right=EndKind.OPEN, name="two tiers")
    sill = window("window", 10, 140, apron=21)
    low = wall(sill, width=taped(F(150)), left=EndKind.OPEN, right=EndKind.OPEN, name="low")
    wide = {"two tiers": 3, "low, under window": 1}
    sizes = {"top": F(42), "middle_rail_at": F(24), "middle_rail": F(11, 2), "bottom_rail": F(29, 4)}
    plan = plan_walls([two_tiers, low], Scheme(panels=wide, **sizes))
    yard = Yard(boards={"1 x 4": "16 ft", "1 x 6": "8 ft", "1 x 8": "16 ft"})
    first, second = joined(plan, yard).walls
    assert {joint.member for joint in first.joints} == {"middle rail"}
    assert (second.joints, second.notes) == ((), plan.wall("low").notes)
    shop = shop_of(plan, yard, seconds=0.5)
    assert (shop.refused, shop.short) == ((), ())
    assert max(p.length for p in shop.pieces if p.role is PieceRole.MIDDLE_RAIL) <= 95
    assert max(p.length for p in shop.pieces if p.role is PieceRole.TOP_RAIL) > 95


def test_a_stile_is_as_long_as_its_own_board():
    plan = plan_walls([wall(width=taped(F(100)), left=EndKind.OPEN, right=EndKind.OPEN)], Scheme(bottom_rail=F(11, 2)))
    yard = Yard(boards={"1 x 4": "8 ft", "1 x 6": "30 in, 8 ft"})
    assert shop_of(plan, yard, seconds=0.5).refused == ()
    (refusal,) = shop_of(plan, Yard(boards={"1 x 4": "30 in", "1 x 6": "8 ft"}), seconds=0.5).refused
    assert "long in one piece" in refusal.sentence


def test_running_dimensions_end_at_the_shown_run_and_heights_at_its_top(own):
    for run in own.set_out:
        assert run.running.marks[-1].shown_right == run.running.shown_length
        assert run.heights[-1].shown == 54
    assert {mark.name for mark in own.set_out[0].heights} >= {"top of middle rail", "top of ledge"}


def test_take_off_is_raised_by_the_waste_and_by_the_handbook_formula():
    # Board feet = thickness (in) × width (in) × length (ft) / 12, both nominal: Engineering Aid Basics, 6-3.
    plan = plan_walls([wall(width=taped(F(120)), left=EndKind.OPEN, right=EndKind.OPEN)], Scheme(cap=F(0)))
    shop = shop_of(plan, Yard(waste="20%"))
    fours = [p for p in shop.pieces if p.width == F(7, 2)]
    (row,) = [row for row in shop.take_off if row.width == F(7, 2)]
    feet = sum(p.count * float(p.length) / 12 for p in fours)
    assert float(row.lineal_feet) == pytest.approx(1.2 * feet, rel=1e-12)
    assert float(row.board_feet) == pytest.approx(1.2 * feet * 1 * 4 / 12, rel=1e-12)  # 3/4 × 3 1/2 is nominal 1 × 4
    assert float(row.square_feet) == pytest.approx(1.2 * feet * 3.5 / 12, rel=1e-12)


def test_a_refused_wall_is_told_and_the_others_still_come():
    plan = plan_walls([*demo_room(), wall(width=taped(F(4)), name="stub")], Scheme())
    shop = shop_of(plan)
    assert [refusal.wall for refusal in shop.refused] == ["stub"]
    assert {piece.unit for piece in shop.pieces} >= {"long wall", "passage wall"}
    assert shop.amiss[0] == plan.wall("stub").refused


def test_a_wall_that_no_joint_can_save_is_told_and_the_others_still_come():
    plan = plan_walls(
        [
            wall(width=taped(F(40)), left=EndKind.OPEN, right=EndKind.OPEN, name="short"),
            wall(width=taped(F(120)), left=EndKind.OPEN, right=EndKind.OPEN, name="long"),
        ],
        Scheme(panels={"long": 1}),
    )
    shop = shop_of(plan, Yard(longest="8 ft"))
    assert {piece.unit for piece in shop.pieces} == {"short"}
    assert [refusal.wall for refusal in shop.refused] == ["long"]


def test_stock_that_is_too_short_or_missing_is_one_sentence_and_the_rest_is_bought():
    shop = shop_of(own_room(), Yard(sheets={"MDF": "1/8: 48 x 96"}), seconds=1)
    (sentence,) = shop.short
    assert sentence.startswith('“panel sheet” of gallery is 1/4" thick and no sheet in stock is')
    assert {packing.material for packing in shop.packings} == {Material.BOARD, Material.MOULDING}


def test_rooms_are_cut_apart_and_bought_together():
    walls = [wall(width=taped(F(60)), left=EndKind.OPEN, right=EndKind.OPEN, name=name) for name in ("a", "b")]
    plan = plan_walls(walls, Scheme())
    shop = shop_of(plan, rooms=[["a"], ["b"]])
    assert [room.walls for room in shop.orders] == [("a",), ("b",)]
    assert {cut.piece.unit for p in shop.packings for board in p.boards for cut in board.cuts} == {"a", "b"}


def test_no_walls_at_all_give_an_empty_shop():
    shop = shop_of(Plan(Scheme(), ()))
    assert (shop.pieces, shop.packings, shop.orders, shop.amiss, shop.take_off) == ((), (), (), (), ())


def test_in_millimetres_the_saw_is_set_to_whole_ones_and_everything_is_bought():
    shop = shop_of(own_room(own_room().scheme.model_copy(update={"unit": Unit.MM})), seconds=2)
    assert all((piece.length / MM).denominator == 1 for piece in shop.pieces)
    assert all((run.running.shown_length / MM).denominator == 1 for run in shop.set_out)
    assert shop.amiss == ()


def test_the_end_of_a_run_that_rests_on_a_photo_alone_is_to_be_taped_first():
    survey = wall(width=taped(F(100)), left=EndKind.OPEN, right=EndKind.OPEN, name="hall")
    assert shop_of(plan_walls([survey], Scheme())).untaped == ()
    seen = replace(survey, width=measured(100.0, 0.05, Source.PHOTO))
    (told,) = shop_of(plan_walls([seen], Scheme())).untaped
    assert told == 'the right end of hall, 100" from the wall\'s left end, ± 1/8" by photo'  # 1.96 · 0.05, rounded up


def test_where_one_run_ends_as_the_next_begins_that_place_is_taped_once():
    left, right = (measured(at, 0.05, Source.PHOTO) for at in (40.0, 80.0))
    seen = replace(window("window 1", 40, 80, stool=28.5, apron=24.25), left=left, right=right)
    survey = wall(seen, width=taped(F(120)), left=EndKind.OPEN, right=EndKind.OPEN, name="hall")
    told = shop_of(plan_walls([survey], Scheme())).untaped
    parts = ["hall, left of window 1", "hall, under window 1", "hall, right of window 1"]
    assert told == tuple(
        f'the right end of {one} and the left end of {other}, {at}" from the wall\'s left end, ± 1/8" by photo'
        for (one, other), at in zip(pairwise(parts), (40, 80), strict=True)
    )


def test_a_taped_width_is_enough_where_photos_show_the_end_too():
    at = measured(100.0, 0.05, Source.PHOTO)
    end = Feature(Mark(name="right end", kind=Kind.WALL_END, side=Side.RIGHT), at, at, None, None)
    survey = wall(end, width=taped(F(100)), left=EndKind.OPEN, right=EndKind.OPEN, name="hall")
    assert shop_of(plan_walls([survey], Scheme())).untaped == ()
