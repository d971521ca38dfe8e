"""The cut list of the demo's room, by hand; and what holds for every wall."""

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from capture.lengths import MM, Unit, nearest
from capture.record import EndDetail, EndKind
from layout.boards import buy
from layout.cutlist import JointError, pieces_of
from layout.exact import SIXTEENTH
from layout.frames import Frame
from layout.pieces import CutKind, Edge, EndCut, Grain, Piece, PieceRole
from layout.plan import plan_walls
from layout.scheme import Scheme
from layout.setout import BOXES_FIRST, order_of_work, running_dimensions
from layout.shop import shop_of
from layout.stock import Material, Stock, softwood
from tests.test_layout_room import box, demo_room, taped, wall

F = Fraction
ALL_ENDS = list(EndKind)


def frames_of(*walls, scheme: Scheme | None = None) -> list[Frame]:
    plan = plan_walls(walls, scheme or Scheme())
    assert not any(wall.refused for wall in plan.walls)
    return [frame for wall in plan.walls for frame in wall.frames]


def cut(*walls, scheme: Scheme | None = None, **more) -> tuple[Piece, ...]:
    return pieces_of(frames_of(*walls, scheme=scheme), scheme or Scheme(), **more)


def one(pieces: tuple[Piece, ...], role: PieceRole, unit: str = "wall") -> Piece:
    (piece,) = [piece for piece in pieces if piece.role is role and piece.unit == unit]
    return piece


def plain(width: Fraction | int, left: EndKind = EndKind.OPEN, right: EndKind = EndKind.OPEN, name: str = "wall"):
    return wall(width=taped(F(width)), left=left, right=right, name=name)


@pytest.fixture(scope="module")
def demo() -> tuple[Piece, ...]:
    return cut(*demo_room())


def test_the_long_wall_of_the_demo_by_hand(demo: tuple[Piece, ...]) -> None:
    # Run 3/4 to 143 3/8, five panels of 24.325; frame 35 1/4 high, rails 3 1/2 and 5 1/2, so 26 1/4 between them.
    unit = [piece for piece in demo if piece.unit == "long wall"]
    rows = {(p.name, p.count): (p.length, p.width, p.thickness) for p in unit if p.role is not PieceRole.END_STILE}
    assert rows[("stile", 4)] == (F("26.25"), F(7, 2), F(3, 4))
    assert rows[("top rail", 1)] == (F("135.625"), F(7, 2), F(3, 4))  # 142.625 less two stiles
    assert rows[("bottom rail", 1)] == (F("135.625"), F(11, 2), F(3, 4))
    assert rows[("moulding", 10)] in [(F("25.75"), F(7, 8), F(1, 2)), (F("23.825"), F(7, 8), F(1, 2))]
    sides = sorted(p.length for p in unit if p.role is PieceRole.MOULDING)
    assert sides == [F("23.825"), F("25.75")]  # the opening less the reveal of 1/4 all round
    left, right = (p for p in unit if p.role is PieceRole.END_STILE)
    assert (left.length, left.width) == (F("35.25"), F("4.25"))  # 3 1/2 and 3/4 behind the next wall's frame
    assert left.notes == ("3/4\" of its width is hidden behind the next wall's frame",)
    # Bullnose of 3/4 in radius, taken as usual: (R + t) tan 22.5° = 0.6213 past the flat, 5/8 at 1/64.
    assert right.width == F(7, 2) + F(5, 8)
    assert right.edges == (Edge(), Edge(F("22.5")))


def test_one_strip_turns_the_bullnose_between_two_walls(demo: tuple[Piece, ...]) -> None:
    (strip,) = [piece for piece in demo if piece.role is PieceRole.STRIP]
    assert (strip.count, strip.length, strip.unit) == (1, F("35.25"), "long wall")
    assert strip.width == F(80, 64)  # 1.2426 to 1/64
    assert strip.edges == (Edge(F("22.5")), Edge(F("22.5")))
    assert float(strip.back_width) == pytest.approx(1.25 - 2 * 0.75 * (math.sqrt(2) - 1), abs=1e-12)
    assert strip.loose
    assert strip.cautions[0].startswith("narrow rip")  # 5/8 in at the heel
    passage = one(demo, PieceRole.STILE, "passage wall")
    assert not passage.cautions
    alone = cut(plain(60, EndKind.BULLNOSE))
    assert [piece.places for piece in alone if piece.role is PieceRole.STRIP] == [("left corner, strip 1",)]


def test_mouldings_are_four_to_a_panel_mitred_with_their_long_points_outside() -> None:
    (frame,) = frames_of(plain(100))
    pieces = [p for p in pieces_of([frame], Scheme()) if p.role is PieceRole.MOULDING]
    assert sum(piece.count for piece in pieces) == 4 * frame.count
    outer = frame.panels[0].moulding
    assert {piece.length for piece in pieces} == {outer.width, outer.height}
    for piece in pieces:
        assert piece.ends == (EndCut(CutKind.MITRE, F(45), "outer edge"),) * 2
        assert piece.long_point - piece.short_point == 2 * F(7, 8)  # 45°: the width at either end
        assert piece.material is Material.MOULDING
    field = frame.panels[0].field
    assert {piece.short_point for piece in pieces} == {field.width, field.height}


def test_a_square_corner_is_mitred_and_the_cap_goes_round_it() -> None:
    pieces = cut(plain(80, right=EndKind.OUTSIDE_CORNER))
    _, right = (p for p in pieces if p.role is PieceRole.END_STILE)
    assert right.width == F(7, 2)  # a whole stile shows; its long point lies past the wall's corner by the thickness
    assert right.edges[1] == Edge(F(45))
    assert right.back_width == F(7, 2) - F(3, 4)
    cap = one(pieces, PieceRole.CAP)
    # Open at the left: 1/2 past the frame and returned; at the corner 1 1/4 deep, mitred at 45°.
    assert cap.length == F(1, 2) + 80 + F(5, 4)
    assert (cap.width, cap.thickness) == (F(5, 4), F(3, 4))
    assert [end.angle for end in cap.ends] == [45, 45]
    assert cap.along("back") == 80 + F(1, 2) - F(5, 4)  # square to the wall at the corner, short at the return
    turned = one(pieces, PieceRole.CAP_RETURN)
    assert (turned.length, turned.count) == (F(5, 4), 1)


def test_the_cap_meets_its_neighbour_in_the_corner() -> None:
    pieces = cut(plain(80, EndKind.INSIDE_CORNER, EndKind.INSIDE_CORNER))
    cap = one(pieces, PieceRole.CAP)
    assert cap.length == 80  # from wall to wall at its back
    assert cap.ends == (EndCut(CutKind.MITRE, F(45), "back"),) * 2
    assert cap.along("front") == 80 - 2 * F(5, 4)


def test_at_a_casing_the_end_stile_is_loose_and_narrow() -> None:
    pieces = cut(plain(80, EndKind.CASING))
    left, right = (p for p in pieces if p.role is PieceRole.END_STILE)
    assert (left.width, left.loose) == (F(7, 2) - F(1, 8), True)
    assert left.notes == ('cut 1/8" narrow and pushed tight to the casing',)
    assert (right.width, right.loose) == (F(7, 2), False)


def test_rails_longer_than_stock_are_joined_over_a_stile() -> None:
    (frame,) = frames_of(plain(200))
    lengths = [p for p in pieces_of([frame], Scheme(), longest=F(95)) if p.role is PieceRole.TOP_RAIL]
    assert sum((p.length for p in lengths), F(0)) == 200 - 7
    assert len(lengths) == 3  # 193 over 95
    at = F(7, 2)
    for p in lengths[:-1]:
        at += p.length
        assert min(abs(at - middle) for middle in frame.middles) <= SIXTEENTH / 2
        assert p.length % SIXTEENTH == 0
        assert p.ends[1].note.startswith("joined over stile ")
    assert all(p.length <= 95 for p in lengths)
    assert lengths[0].places == ("top rail, length 1 of 3",)


def test_a_joined_cap_is_scarfed() -> None:
    lengths = [p for p in cut(plain(200), longest=F(143)) if p.role is PieceRole.CAP]
    assert len(lengths) == 2
    assert lengths[0].ends[1].kind is lengths[1].ends[0].kind is CutKind.BEVEL
    assert sum((p.length for p in lengths), F(0)) == 201 + F(3, 4)  # each laps the other by the thickness of the cap
    assert sum((p.short_point for p in lengths), F(0)) == 201 - F(3, 4) - 2 * F(5, 4)
    assert all(p.length <= 143 for p in lengths)


@given(
    st.fractions(30, 400, max_denominator=16),
    st.sampled_from(ALL_ENDS),
    st.sampled_from(ALL_ENDS),
    st.sampled_from([None, F(95), F(191)]),
)
def test_pieces_add_up_to_their_run(width: Fraction, left: EndKind, right: EndKind, longest: Fraction | None) -> None:
    (frame,) = frames_of(plain(width, left, right))
    pieces = pieces_of([frame], Scheme(), longest=longest)
    assert all(p.length > 0 and p.width > 0 and p.thickness > 0 and p.short_point >= 0 for p in pieces)
    assert longest is None or all(p.length <= longest for p in pieces)
    stiles = [p for p in pieces if p.role in (PieceRole.STILE, PieceRole.END_STILE)]
    assert sum(p.count for p in stiles) == frame.count + 1
    for role in (PieceRole.TOP_RAIL, PieceRole.BOTTOM_RAIL):
        assert sum((p.count * p.length for p in pieces if p.role is role), F(0)) == frame.run.width - 7
    places = [place for p in pieces for place in p.places]
    assert len(places) == len(set(places))


def test_sheets_meet_behind_stiles_and_reach_the_corner() -> None:
    scheme = Scheme(panel="sheet")
    (frame,) = frames_of(plain(120, EndKind.INSIDE_CORNER), scheme=scheme)
    sheets = [p for p in pieces_of([frame], scheme, sheet_grain=Grain.ALONG) if p.role is PieceRole.SHEET]
    assert sum((p.count * p.width for p in sheets), F(0)) == 120
    assert {p.length for p in sheets} == {F("35.25")}
    assert {(p.thickness, p.material, p.grain) for p in sheets} == {(F(1, 4), Material.SHEET, Grain.ALONG)}


def test_a_row_is_cut_to_the_saws_step() -> None:
    pieces = cut(*demo_room())
    for piece in pieces:
        sawn = piece.sawn(SIXTEENTH)
        assert sawn.length == nearest(piece.length, SIXTEENTH)
        assert replace(sawn, length=piece.length) == piece
    sheets = [p for p in cut(plain(F("100.1")), scheme=Scheme(panel="sheet")) if p.role is PieceRole.SHEET]
    assert any(p.width % SIXTEENTH for p in sheets)
    assert not any(p.sawn(SIXTEENTH).width % SIXTEENTH for p in sheets)


def test_a_back_beyond_the_face_is_what_gets_ripped() -> None:
    stile = Piece("stile", PieceRole.STILE, "wall", ("stile 1",), F(30), F(3), F(3, 4), edges=(Edge(), Edge(F(-45))))
    assert stile.back_width == stile.sawn_width == F(15, 4)
    odd = replace(stile, edges=(Edge(), Edge(F(-10))))
    assert odd.sawn_width == F(3) + F(9, 64)  # 0.1322 beyond the face, the next 1/64 up
    assert replace(stile, edges=(Edge(), Edge(F(45)))).sawn_width == 3


def test_no_stile_for_a_joint_is_refused_in_a_sentence() -> None:
    with pytest.raises(JointError) as refused:
        cut(plain(100), scheme=Scheme(panels={"wall": 1}), longest=F(71))
    assert str(refused.value) == (
        'The top rail of “wall” is 93" long, and two places for a joint lie 93" apart, 22" more than the longest board '
        'gives (71"); take longer stock or narrower panels.'
    )


@given(st.fractions(30, 400, max_denominator=127), st.sampled_from([SIXTEENTH, MM]))
def test_running_dimensions_close(width: Fraction, step: Fraction) -> None:
    (frame,) = frames_of(plain(width))
    running = running_dimensions(frame, step)
    assert running.marks[0].left == running.marks[0].shown_left == 0
    assert running.marks[-1].right == running.length == frame.run.width
    assert running.marks[-1].shown_right == running.shown_length == nearest(running.length, step)
    assert running.left_over == running.shown_length - running.length
    for mark, stile in zip(running.marks, frame.stiles, strict=True):
        assert (mark.left, mark.right) == (stile.rect.left - frame.run.left, stile.rect.right - frame.run.left)
        assert abs(mark.shown_left - mark.left) <= step / 2
        assert abs(mark.shown_right - mark.right) <= step / 2


def test_running_dimensions_of_the_worked_example() -> None:
    # 143 3/8 in, 6 stiles of 3 1/2: panels of 24.475 in, which rounded one by one would miss by 1/32 in; derived.
    (frame,) = frames_of(plain(F("143.375")), scheme=Scheme(panels={"wall": 5}))
    marks = running_dimensions(frame, SIXTEENTH).marks
    assert [mark.left for mark in marks] == [i * (F(7, 2) + F("24.475")) for i in range(6)]
    assert marks[1].shown_left == F(28)  # 27.975
    assert marks[-1].shown_right == F("143.375")


def test_the_order_of_work_ends_with_what_is_loose() -> None:
    frames = frames_of(*demo_room())
    steps = order_of_work(frames, pieces_of(frames, Scheme()), Scheme())
    assert steps[0].startswith('Strike a level line 35 1/4" above the finished floor')
    assert "Set long wall, then passage wall, then window wall, left of window" in steps[2]
    assert steps[-1] == (
        "Last, loose until then and tried where they go before they are fixed: the corner strip of long wall, "
        "the end stile of window wall, left of window, the end stile of window wall, right of window."
    )
    sheets = Scheme(panel="sheet")
    frames = frames_of(*demo_room(), scheme=sheets)
    sheeted = order_of_work(frames, pieces_of(frames, sheets), sheets)
    assert "panel sheets" in sheeted[2]


def test_boxes_come_before_wood_where_there_are_any() -> None:
    def orders(*things):
        return shop_of(plan_walls([wall(*things, width=taped(120))], Scheme()), seconds=1).orders[0].steps

    assert orders(box("r", 30, 14))[0] == BOXES_FIRST
    assert orders(box("r", 30, 14))[1:] == orders()
    assert all(word in BOXES_FIRST for word in ("power off", "proved dead", "licensed electrician"))


def test_the_demos_boards_are_proven() -> None:
    sawn = [piece.sawn(SIXTEENTH) for piece in cut(*demo_room(), longest=F(191))]
    yard = [softwood("1", width, feet) for width in ("4", "6") for feet in (8, 10, 12, 14, 16)]
    yard += [Stock("moulding", F(7, 8), F(1, 2), F(feet * 12), Material.MOULDING) for feet in (8, 12, 16)]
    packings = buy(sawn, yard)
    assert all(packing.proven for packing in packings)
    bought = sum(len(packing.boards) for packing in packings)
    assert sum(len(b.cuts) for packing in packings for b in packing.boards) == sum(piece.count for piece in sawn)
    assert bought == sum(packing.amount for packing in packings)


# --- base, middle rail, filler, ledge, two tiers, returns ---

TALL = Scheme(top=F(60), base=F(5), middle_rail_at=F(40), ledge=F(1, 2), filler_width=F(3, 4))


@pytest.fixture(scope="module")
def tall() -> dict[str, tuple[Piece, ...]]:
    """The pieces of one wall, an inside corner at its left and a casing at its right, by role."""
    pieces = cut(plain(100, EndKind.INSIDE_CORNER, EndKind.CASING), scheme=TALL)
    return {role: tuple(p for p in pieces if p.role is role) for role in PieceRole}


def test_a_base_runs_from_the_corner_to_the_casing(tall: dict[str, tuple[Piece, ...]]) -> None:
    (base,) = tall[PieceRole.BASE]
    assert (base.length, base.width, base.thickness) == (F(100), F(5), F(3, 4))
    assert base.ends == (EndCut(), EndCut())  # the first at the corner runs into it


def test_end_stiles_stand_on_the_base_and_reach_under_the_cap(tall: dict[str, tuple[Piece, ...]]) -> None:
    assert {p.length for p in tall[PieceRole.END_STILE]} == {60 - F(1, 2) - F(3, 4) - 5}


def test_two_tiers_have_a_middle_rail_and_stiles_of_their_own(tall: dict[str, tuple[Piece, ...]]) -> None:
    (rail,) = tall[PieceRole.MIDDLE_RAIL]
    (top,) = tall[PieceRole.TOP_RAIL]
    assert (rail.length, rail.width) == (top.length, F(7, 2)) == (100 - F(3, 4) - F(3, 4) - 7, F(7, 2))
    # Below 40 - 3 1/2 - 5 1/2 - 5 = 26; above 60 - 1 1/4 - 3 1/2 - 40 = 15 1/4.
    assert {(p.length, p.count) for p in tall[PieceRole.STILE]} == {(F(26), 3), (F("15.25"), 3)}
    assert sum(p.count for p in tall[PieceRole.MOULDING]) == 2 * 4 * 4  # two tiers of four panels


def test_a_filler_is_cut_narrow_and_stays_loose(tall: dict[str, tuple[Piece, ...]]) -> None:
    (filler,) = tall[PieceRole.FILLER]
    assert (filler.width, filler.length, filler.loose) == (F(5, 8), F("53.75"), True)
    assert filler.cautions[0].startswith("narrow rip")
    assert not any(p.loose for p in tall[PieceRole.END_STILE])  # the filler is what is pushed tight


def test_a_ledge_lies_on_the_cap(tall: dict[str, tuple[Piece, ...]]) -> None:
    rows = {p.name: (p.length, p.width, p.thickness, p.ends) for p in tall[PieceRole.CAP]}
    mitre = EndCut(CutKind.MITRE, F(45), "back")
    assert rows["cap"] == (F(100), F(5, 4), F(3, 4), (mitre, EndCut()))  # 3/4 of wood and 1/2 past it
    assert rows["ledge"] == (F(100), F(15, 4), F(1, 2), (mitre, EndCut()))  # 3/4 and 3


def test_an_open_end_has_returns_of_cap_and_ledge() -> None:
    pieces = cut(plain(100), scheme=TALL)
    returns = {p.name: (p.count, p.length) for p in pieces if p.role is PieceRole.CAP_RETURN}
    # As long as they are deep; long points to the front, square at the wall.
    assert returns == {"cap return": (2, F(5, 4)), "ledge return": (2, F(15, 4))}
    (ledge,) = (p for p in pieces if p.name == "ledge")
    assert ledge.length == 100 + 2 * 3


# --- corners that are not square ---


def corner_pieces(angle: int, scheme: Scheme) -> tuple[dict[str, Piece], dict[str, Piece]]:
    detail = EndDetail.model_validate({"angle": angle, "relief_bevel": "yes"})
    one = replace(plain(80, right=EndKind.INSIDE_CORNER, name="one"), right_detail=detail)
    other = replace(plain(80, left=EndKind.INSIDE_CORNER, name="other"), left_detail=detail)
    pieces = cut(one, other, scheme=scheme)
    return tuple({p.role: p for p in pieces if p.unit == unit and p.role is not PieceRole.END_STILE}
                 | {"stile": next(p for p in pieces if p.unit == unit and p.role is PieceRole.END_STILE
                                  and p.edges[at].angle == (0 if unit == "one" else angle - 85))}
                 for unit, at in (("one", 1), ("other", 0)))  # fmt: skip


@pytest.mark.parametrize("angle", [85, 90, 98])
def test_an_inside_corners_angle_and_relief_reach_the_pieces(angle: int) -> None:
    one, other = corner_pieces(angle, Scheme(base=F(5), panel="sheet"))
    # 90 - angle / 2 for the mitre, angle - 90 for the edge and 5° of relief; plane geometry.
    assert one[PieceRole.CAP].ends[1] == EndCut(CutKind.MITRE, 90 - F(angle, 2), "back")
    assert other[PieceRole.CAP].ends[0] == one[PieceRole.CAP].ends[1]
    # Both caps' backs run to the wall's corner; at the open end 1/2 in past the frame.
    assert one[PieceRole.CAP].length == other[PieceRole.CAP].length == 80 + F(1, 2)
    assert other["stile"].edges[0] == Edge(F(angle - 85))
    assert any("is relief" in note for note in other["stile"].notes)
    # The second base is coped where the first one's face passes its own: 3/4 / tan(angle / 2) short of the corner.
    short = 0.75 / math.tan(math.radians(angle / 2))
    assert other[PieceRole.BASE].ends[0].kind is CutKind.COPE
    assert float(80 - other[PieceRole.BASE].length) == pytest.approx(short, abs=1 / 64)
    assert one[PieceRole.BASE].ends[1].kind is CutKind.SQUARE


def test_the_second_walls_sheets_stop_at_the_face_of_the_firsts() -> None:
    sheets = Scheme(panel="sheet")
    one = plain(80, right=EndKind.INSIDE_CORNER, name="one")
    pieces = cut(one, plain(80, left=EndKind.INSIDE_CORNER, name="other"), scheme=sheets)
    wide = {
        unit: sum((p.count * p.width for p in pieces if p.role is PieceRole.SHEET and p.unit == unit), F(0))
        for unit in ("one", "other")
    }
    assert wide == {"one": 80, "other": 80 - F(1, 4)}


def test_sheets_reach_behind_a_filler_and_stop_at_an_outside_corner() -> None:
    sheets = Scheme(panel="sheet", filler_width=F(3, 4))
    pieces = cut(plain(80, EndKind.CASING, EndKind.OUTSIDE_CORNER), scheme=sheets)
    assert sum((p.count * p.width for p in pieces if p.role is PieceRole.SHEET), F(0)) == 80


# --- closure ---


@given(
    st.fractions(60, 400, max_denominator=127),
    st.sampled_from([Unit.INCH, Unit.MM]),
    st.sampled_from([None, F(95), F(140)]),
    st.booleans(),
)
@example(F(615, 2), Unit.MM, None, False)  # 7810.5 mm, a tie, with an odd number of millimetres before the last sheet
def test_shown_pieces_sum_to_the_shown_run(width: Fraction, unit: Unit, longest: Fraction | None, equal: bool) -> None:
    """In inches and in millimetres: stiles and panels, lengths of a joined rail, and sheets behind them."""
    stile = F(7, 2) if unit is Unit.INCH else 90 * MM
    scheme = Scheme(unit=unit, panel="sheet", equal=equal, stile=stile)
    (frame,) = frames_of(plain(width), scheme=scheme)
    whole = nearest(frame.run.width, scheme.step)
    assert sum(frame.shown_across(scheme.step)) == whole
    sawn = [piece.sawn(scheme.step) for piece in pieces_of([frame], scheme, longest=longest)]
    for role in (PieceRole.TOP_RAIL, PieceRole.BOTTOM_RAIL):
        rail = sum((p.count * p.length for p in sawn if p.role is role), F(0))
        # A length just half-way between two marks goes to the even one, so a stile may turn the tie the other way.
        tie = frame.run.width / scheme.step % 1 == F(1, 2)
        assert abs(rail + 2 * stile - whole) <= (scheme.step if tie else 0)
    assert sum((p.count * p.width for p in sawn if p.role is PieceRole.SHEET), F(0)) == whole
