"""Equal panels, exact; and shown pieces that lose nothing."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.lengths import MM, nearest
from layout.exact import SIXTEENTH
from layout.runs import Run, runs_of
from layout.scheme import Scheme
from layout.spacing import FrameFitError, best_count, equal_panels, fits, shown_pieces
from tests.test_layout_room import taped, wall

lengths = st.fractions(min_value=Fraction(1, 64), max_value=300, max_denominator=254)


def run_of(width: Fraction | int) -> Run:
    (run,) = runs_of(wall(width=taped(Fraction(width))), Scheme())
    return run


@pytest.mark.parametrize(
    ("run_length", "count", "stile", "panel"),
    [
        # Worked here from (run - n w) / (n - 1); no page publishes these two.
        pytest.param(Fraction(120), 4, Fraction(7, 2), Fraction("25.625"), id="120 in wall, 5 stiles"),
        pytest.param(Fraction(1147, 8), 5, Fraction(7, 2), Fraction("24.475"), id="143 3/8 in wall, 6 stiles"),
        # Gaps at both ends are panels between pieces of which the two end ones are taken off the run.
        # “How To Calculate Even Spacing”: 68 in opening, 13 pickets of 3 in; 29 in over 14 gaps.
        pytest.param(Fraction(68 + 2 * 3), 14, Fraction(3), Fraction(29, 14), id="68 in opening, 13 pickets"),
        # “How to Calculate Even Spacing”: 75 in rail, 15 balusters of 2 in (its inputs; its answer is wrong, below).
        pytest.param(Fraction(75 + 2 * 2), 16, Fraction(2), Fraction("2.8125"), id="75 in rail, 15 balusters"),
    ],
)
def test_equal_spacing_agrees_with_worked_examples(
    run_length: Fraction, count: int, stile: Fraction, panel: Fraction
) -> None:
    assert equal_panels(run_length, count, stile) == panel


def test_a_published_example_that_does_not_add_up_is_not_followed() -> None:
    # “How to Calculate Even Spacing” prints 3 in for 15 balusters of 2 in on 75 in, but 30 + 16 × 3 = 78.
    assert equal_panels(Fraction(75 + 2 * 2), 16, Fraction(2)) != 3
    assert 15 * 2 + 16 * 3 != 75


@given(lengths, st.integers(1, 30), lengths)
def test_stiles_and_panels_fill_the_run_exactly(run_length: Fraction, count: int, stile: Fraction) -> None:
    if run_length <= (count + 1) * stile:
        with pytest.raises(FrameFitError):
            equal_panels(run_length, count, stile)
        return
    panel = equal_panels(run_length, count, stile)
    assert (count + 1) * stile + count * panel == run_length


@pytest.mark.parametrize(
    ("width", "wanted", "count"),
    [
        pytest.param(Fraction("142.625"), 24, 5, id="24.325 is closer than 19.69 or 31.28"),
        pytest.param(Fraction(60), 24, 2, id="24.75 rather than 15.33"),
        pytest.param(Fraction(44), 24, 2, id="16.75 misses 24 by less than 37"),
        pytest.param(Fraction(12), 24, 1, id="one narrow panel is better than none"),
        pytest.param(Fraction(300), 4.25, 38, id="never a panel without a field"),
        # one panel of 31.5 or two of 14, each 8.75 from 22.75
        pytest.param(Fraction("38.5"), Fraction("22.75"), 1, id="a tie goes to fewer panels"),
    ],
)
def test_the_count_is_the_one_whose_panels_come_closest(width: Fraction, wanted: float, count: int) -> None:
    assert best_count(run_of(width), Scheme(panel_width=Fraction(wanted))) == count


@given(st.fractions(12, 300, max_denominator=64), st.fractions(5, 40, max_denominator=16))
def test_no_other_count_comes_closer(width: Fraction, wanted: Fraction) -> None:
    scheme, run = Scheme(panel_width=wanted), run_of(width)

    def miss(count: int) -> tuple[Fraction, int]:
        return abs(equal_panels(width, count, scheme.stile) - wanted), count

    assert best_count(run, scheme) == min((n for n in range(1, 80) if fits(run, scheme, n)), key=miss)


def test_a_fixed_count_is_kept() -> None:
    assert best_count(run_of(120), Scheme(panels={"wall": 7})) == 7


@pytest.mark.parametrize(
    ("count", "sentence"),
    [
        pytest.param(0, "at least one panel, not 0; ask for 1 or more", id="no panel"),
        pytest.param(
            20,
            # 21 × 3.5 = 73.5
            r'21 stiles of 3 1/2" take 73 1/2" of a run that is 60" long, 13 1/2" too much; take fewer panels',
            id="nothing but stiles",
        ),
    ],
)
def test_a_spacing_that_cannot_be_says_by_how_much(count: int, sentence: str) -> None:
    with pytest.raises(FrameFitError, match=sentence):
        equal_panels(Fraction(60), count, Fraction(7, 2))


@pytest.mark.parametrize(
    ("width", "scheme", "sentence"),
    [
        pytest.param(
            60,
            Scheme(panels={"wall": 9}),
            r'“wall” is 60" long and 9 panels need at least 73 1/4", 13 1/4" more; ask',  # 10 × 3.5 + 9 × 4.25
            id="too many fixed",
        ),
        pytest.param(
            12,
            Scheme(stile=Fraction(5)),
            r'“wall” is 12" long and one panel need at least 14 1/4", 2 1/4" more',  # 2 × 5 + 4.25
            id="not even one",
        ),
    ],
)
def test_a_count_that_does_not_fit_is_refused(width: int, scheme: Scheme, sentence: str) -> None:
    with pytest.raises(FrameFitError, match=sentence):
        best_count(run_of(width), scheme)


@pytest.mark.parametrize(
    ("pieces", "step", "shown"),
    [
        # 29 in over 14 gaps: rounding the gap first gives 14 × 2 1/16 = 28 7/8 and drifts 1/8 in.
        pytest.param([Fraction(29, 14)] * 14, SIXTEENTH, Fraction(29), id="29 in over 14 gaps"),
        pytest.param([Fraction("24.475")] * 5, SIXTEENTH, Fraction("122.375"), id="five panels of 24.475"),
        pytest.param([Fraction(92, 12)] * 12, Fraction(1, 8), Fraction(92), id="92 in divided in 12"),
        pytest.param([Fraction("24.325")] * 5, MM, 3089 * MM, id="121.625 in is 3,089.275 mm"),
    ],
)
def test_shown_pieces_close_where_rounded_gaps_drift(pieces: list[Fraction], step: Fraction, shown: Fraction) -> None:
    rounded = shown_pieces(pieces, step)
    assert sum(rounded) == shown
    assert all(piece % step == 0 for piece in rounded)


def test_rounding_each_gap_by_itself_drifts_by_an_eighth() -> None:
    assert 29 - 14 * nearest(Fraction(29, 14), SIXTEENTH) == Fraction(1, 8)


@pytest.mark.parametrize(
    ("exact", "shown"),
    [
        # NIST Handbook 44, section 10.3: half-way is read as the even graduation.
        pytest.param(Fraction(1, 32), Fraction(0), id="1/32 is 0"),
        pytest.param(Fraction(3, 32), Fraction(1, 8), id="3/32 is 2/16"),
        pytest.param(Fraction(5, 32), Fraction(1, 8), id="5/32 is 2/16"),
        pytest.param(Fraction(7, 32), Fraction(1, 4), id="7/32 is 4/16"),
        # Decimal equivalents, n/64 = 0.015625 n.
        pytest.param(Fraction("0.578125"), Fraction(9, 16), id="37/64 to the nearest sixteenth"),
        pytest.param(Fraction("0.984375"), Fraction(1), id="63/64 to the nearest sixteenth"),
    ],
)
def test_a_tie_goes_to_the_even_sixteenth(exact: Fraction, shown: Fraction) -> None:
    assert shown_pieces([exact]) == (shown,)


@given(st.lists(lengths, max_size=40), st.sampled_from([SIXTEENTH, MM]))
def test_shown_pieces_add_up_to_the_shown_run_and_stay_near_their_own(pieces: list[Fraction], step: Fraction) -> None:
    rounded = shown_pieces(pieces, step)
    assert sum(rounded) == nearest(sum(pieces, Fraction(0)), step)
    assert all(abs(one - other) <= step for one, other in zip(pieces, rounded, strict=True))
