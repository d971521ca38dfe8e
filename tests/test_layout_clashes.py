"""What cannot be built: one sentence that names the two things that clash, and by how much; no silent clip."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import PlainError
from capture.measured import Measured, Source
from capture.record import EndDetail, EndKind, Kind, Side
from capture.survey import WallSurvey
from layout.boards import buy
from layout.cutlist import JointError, pieces_of
from layout.packing import Saw
from layout.plan import plan_walls
from layout.scheme import Scheme
from layout.stock import Material, Stock, StockError, softwood, take_off
from tests.test_layout_room import box, casing, taped, wall, window

F = Fraction
INSIDE, OUTSIDE, BULLNOSE = EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER, EndKind.BULLNOSE


def refusal(*surveys: WallSurvey, **wishes: object) -> str:
    """Why a room, or its first wall, is refused; "" where it is planned."""
    try:
        return plan_walls(surveys, Scheme.model_validate(wishes)).walls[0].refused
    except PlainError as error:
        return str(error)


def low(ceiling: float) -> WallSurvey:
    return replace(wall(), ceiling=Measured(ceiling, 0.03, Source.TAPE))


def cornered(kind: EndKind, width: float = 120, **known: object) -> WallSurvey:
    return replace(wall(width=taped(width), left=kind), left_detail=EndDetail.model_validate(known))


# 3/4 + 3 1/2 + 5 1/2 = 9 3/4 of cap and rails; the least panel is 2 (1/4 + 7/8) + 2 = 4 1/4, the least run 11 1/4.
@pytest.mark.parametrize(
    ("survey", "wishes", "words"),
    [
        # Frames that cannot fit.
        (wall(width=taped(10)), {}, r'narrower than its frames: 10" .* need 11 1/4", 1 1/4" more'),
        (wall(), {"panels": {"wall": 20}}, r'is 120" long and 20 panels need at least 158 1/2", 38 1/2" more'),
        (wall(), {"top": "13"}, r'\(9 3/4"\) and the least panel .* taller than the wainscot \(13"\) by 1"'),
        (wall(), {"stile": "60"}, r'120" of wall in one piece, and two stiles with a panel need 124 1/4", 4 1/4" more'),
        (low(35.5), {}, r'wainscot is 36" high and the ceiling over “wall” 35 1/2", 1/2" less'),
        (wall(width=taped(2), left=INSIDE, right=INSIDE), {"thickness": "3"}, r'is 2" long, .* take 6", 4" too much'),
        (wall(casing("c", 8, Side.RIGHT), casing("d", 112, Side.LEFT)), {}, r'8" of wall in one piece'),
        (wall(window("w", 9, 111, apron=12)), {}, r'under w is left plain: 12" high, .* need 13 1/4"'),
        # Sizes that clash.
        (wall(), {"moulding": "12"}, r'Panels 24" wide .* only from 26 1/2" on, 2 1/2" more'),
        (wall(), {"reveal": "12"}, r'Panels 24" wide .* narrower moulding'),
        (wall(), {"base": "5", "base_thickness": "0"}, r'base is 5" high and 0" thick'),
        (wall(), {"moulding_thickness": "0"}, r'moulding is 7/8" wide and 0" thick'),
        (wall(), {"plate_clear": "12"}, r'12" is wanted on each side of a plate, .* has 21 3/4" .*, 2 1/4" too little'),
        (wall(), {"proportion": "10"}, r'26 1/4" high .* would be 2 5/8" wide, .* needs 4 1/4", 1 5/8" more'),
        (wall(), {"middle_rail_at": "40"}, r'middle rail at 40" leaves -8 1/4" above it'),
        (wall(), {"filler_width": "1/8"}, r'filler 1/8" wide cut 1/8" narrow leaves nothing'),
        # Ends that contradict themselves.
        (cornered(OUTSIDE, radius="3/4"), {}, r'square outside corner has no round, but one of 3/4" is told'),
        (cornered(OUTSIDE, joint="butted", angle=93), {}, "turns 90°, and this one turns 87°, 3° off"),
        (cornered(OUTSIDE, joint="butted"), {"stile": "1/2"}, r'A face of 1/2" is no wider .* thick \(3/4"\), by 1/4"'),
        (cornered(BULLNOSE, radius="3/4", flat_to_flat="2"), {}, r'radius, but 3/4" is told, 11/16" off'),
        (cornered(INSIDE, out_of_plumb="5"), {}, r'5" out of plumb, and its stile shows 3 1/2", 1 1/2" less'),
        # Rules that contradict one another.
        (wall(), {"stile_at": {"wall": "60"}, "no_stile": {"wall": "58 to 63"}}, r'wanted at 60 .* reaches 2" past it'),
        (wall(), {"stile_at": {"wall": "150"}}, r'wanted at 150 .* “wall”, is from 0" to 120", 30" away'),
        (wall(), {"stile_at": {"wall": "55"}, "panels": {"wall": 2}}, r"at 55.*the nearest, 2 panels, misses by 3 1/4"),
        (wall(), {"no_stile": {"wall": "0 to 2"}}, r'none at 0 to 2\): .* misses by 2", and no shift is allowed'),
        (wall(box("r", 60, 2.5, sd=0.0)), {"pins": {"r": "clear"}}, "pinned to be clear, but stands on rails"),
        (wall(), {"nudge": "8"}, r'shifted by 8", further than a stile and the least panel together \(7 3/4"\)'),
        # Stock with no joint allowed.
        (wall(), {"stock_length": "34"}, r'Stile 1 of “wall” is 35 1/4" long in one piece .* gives 34", 1 1/4" less'),
        (
            wall(), {"stock_length": "50", "panels": {"wall": 1}},
            r'cap of “wall” is 121" long, and two places for a joint lie 121" apart, 71 3/4" more than .* \(49 1/4"\)',
        ),
    ],
)  # fmt: skip
def test_what_clashes_is_named_with_the_shortfall(survey: WallSurvey, wishes: dict[str, object], words: str) -> None:
    said = refusal(survey, **wishes)
    assert re.search(words, said)
    assert one_sentence(said)


def one_sentence(said: str) -> bool:
    return said.endswith(".") and ". " not in said and "\n" not in said


def test_panels_alike_that_counts_forbid_are_refused_by_how_much() -> None:
    walls = wall(width=taped(60), name="a"), wall(width=taped(100), name="b")
    said = refusal(*walls, matched=True, match_within="1", panels={"a": 2, "b": 2})
    # 60 - 10 1/2 over 2 is 24 3/4; 100 - 10 1/2 over 2 is 44 3/4.
    assert re.search(r'alike within 1", but those of “a” and “b” come no nearer than 20", 19" more', said)
    assert one_sentence(said)


def test_two_things_told_of_one_corner_are_refused() -> None:
    left, right = wall(right=INSIDE, name="a"), wall(left=INSIDE, name="b")
    both = replace(left, right_detail=EndDetail(angle=91)), replace(right, left_detail=EndDetail(angle=89))
    assert "corner of “a” and “b” has two values for its angle, 91 and 89" in refusal(*both)
    assert "“a” and “b” are both to go in before" in refusal(left, right, goes_first="a, b")


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ({"proportion": "2"}, 'be 3 1/2" wide, and one needs 4 1/4"'),  # 7 in of panel under the window
        ({"top": "60", "middle_rail_at": "36"}, "“wall, under w” has one tier of panels"),
    ],
)
def test_what_gives_way_under_a_window_is_told(wishes: dict[str, object], words: str) -> None:
    scheme = Scheme.model_validate(wishes)
    planned = plan_walls([wall(window("w", 40, 80, apron=16))], scheme).walls[0]
    assert words in "\n".join(planned.assumed)
    assert words not in "\n".join(plan_walls([wall()], scheme).walls[0].assumed)


# --- stock ---

PIECES = pieces_of(plan_walls([wall()], Scheme()).walls[0].frames, Scheme())
MOULDING = Stock("moulding", F(7, 8), F(1, 2), F(96), Material.MOULDING)


@pytest.mark.parametrize(
    ("stocks", "saw", "words"),
    [
        ([softwood("1", "4", 8), softwood("1", "6", 8)], Saw(), r'113" long in one piece .* gives 95", 18" less'),
        ([softwood("1", "4", 12)], Saw(), r'bottom rail” .* is 5 1/2" wide and the widest .* is 3 1/2", 2" less'),
        ([softwood("5/4", "6", 12)], Saw(), r'is 3/4" thick and no board in stock is: .* is 1", 1/4" more'),
        ([softwood("1", "6", 12)], Saw(), r"no moulding in stock|no moulding at all"),
        ([softwood("1", "6", 12), MOULDING], Saw(kerf=F(2)), r'kerf \(2"\) is more .* wide \(1 1/4"\), by 3/4"'),
        ([softwood("1", "6", 12), MOULDING], Saw(trim=F(60)), r'113" long in one piece .* gives 84", 29" less'),
        (
            [replace(softwood("1", "6", 12), available=1), MOULDING], Saw(), "stock runs out: 1 “1 × 6” of 144",
        ),
    ],
)  # fmt: skip
def test_stock_that_does_not_do_is_named_with_the_piece(stocks: list[Stock], saw: Saw, words: str) -> None:
    with pytest.raises(StockError, match=words) as refused:
        buy(PIECES, stocks, saw)
    assert one_sentence(str(refused.value))


def test_a_waste_that_is_no_share_is_refused() -> None:
    with pytest.raises(StockError, match="10 times what the pieces take is to be added for waste"):
        take_off(PIECES, F(10))
    with pytest.raises(StockError, match="give a share from 0 to 1"):
        take_off(PIECES, F(-1, 10))


def test_a_stile_longer_than_the_longest_board_is_no_matter_for_a_joint() -> None:
    frames = plan_walls([wall()], Scheme()).walls[0].frames
    with pytest.raises(JointError, match=r'Stile 1 of “wall” is 35 1/4" long in one piece .* 30", 5 1/4" less'):
        pieces_of(frames, Scheme(), longest=F(30))


lengths = st.fractions(0, 60, max_denominator=8)


@given(st.fractions(1, 200, max_denominator=8), lengths, lengths, lengths, lengths, st.sampled_from(list(EndKind)))
def test_whatever_the_sizes_a_wall_is_planned_or_refused_in_a_sentence(
    width: Fraction, stile: Fraction, rail: Fraction, moulding: Fraction, thickness: Fraction, end: EndKind
) -> None:
    """Any sizes at all: no other error than a plain one, and nothing planned that does not fit its run."""
    wishes = {
        "stile": stile + F(1, 8),
        "bottom_rail": rail + F(1, 8),
        "moulding": moulding,
        "thickness": thickness + F(1, 8),
    }
    survey = wall(box("r", float(width) / 2, 14, Kind.JACK), width=taped(width), left=end, right=end)
    said = refusal(survey, **wishes)
    assert said == "" or one_sentence(said)
    frames = () if said else plan_walls([survey], Scheme.model_validate(wishes)).walls[0].frames
    for frame in frames:
        assert frame.stiles[-1].rect.right == frame.run.right
        assert all(panel.field.width >= 2 and panel.field.height >= 2 for panel in frame.panels)
        assert all(a.rect.right < b.rect.left for a, b in zip(frame.stiles, frame.stiles[1:], strict=False))
