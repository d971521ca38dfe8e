"""The floor line: check cases worked out from NEC 2023 210.52(A), advice only."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.floorline import TooFar, receptacle_spacing

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
