"""The wall's bow beforehand, against finite differences and draws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from capture.beliefs import BOW_REACH, BOW_ROUGH, BOW_SD
from capture.bow import CARD_HALF, bow_covariance, whitened

places = st.tuples(st.floats(-100, 100), st.floats(0, 80))


def height_covariance(a, b):
    """Squared-exponential kernel (Rasmussen & Williams 2006, eq. 4.9) between two places."""
    return BOW_SD**2 * np.exp(-np.sum((np.subtract(a, b) / BOW_REACH) ** 2) / 2)


@given(places, places)
def test_slopes_are_the_derivatives_of_heights(a, b):
    """Covariances of derivatives are the derivatives of the covariance (eq. 9.1), here by central differences."""
    C = bow_covariance(np.array([a, b]), np.zeros((0, 2)), BOW_SD)
    h = 0.05
    ways = ((h, 0.0), (0.0, h))
    for i, way in enumerate(ways):
        ahead, behind = np.add(b, way), np.subtract(b, way)
        slope_b = (height_covariance(a, ahead) - height_covariance(a, behind)) / (2 * h)
        # Error of central differences: h² / 6 times a third derivative, at most 1.4 sd² / reach³.
        assert C[0, 4 + i] == pytest.approx(slope_b, abs=h**2 * BOW_SD**2 / BOW_REACH**3)
        for j, other in enumerate(ways):
            both = [
                height_covariance(np.add(a, s * np.array(other)), np.add(b, t * np.array(way)))
                for s, t in ((1, 1), (1, -1), (-1, 1), (-1, -1))
            ]
            mixed = (both[0] - both[1] - both[2] + both[3]) / (4 * h**2)
            assert C[1 + j, 4 + i] == pytest.approx(mixed, abs=2 * h**2 * BOW_SD**2 / BOW_REACH**4)


@given(st.lists(places, min_size=1, max_size=6), st.lists(places, max_size=6))
def test_it_is_a_covariance_even_where_things_touch(cards, marks):
    C = bow_covariance(np.array(cards), np.array([*marks, cards[0]]), BOW_SD)
    np.testing.assert_allclose(C, C.T, atol=1e-15)
    assert np.linalg.eigvalsh(C).min() > 0
    W = whitened(C)
    np.testing.assert_allclose(W @ C @ W.T, np.eye(len(C)), atol=1e-6)


def test_each_card_and_mark_is_as_rough_as_stated():
    C = bow_covariance(np.array([[10.0, 20.0]]), np.array([[10.0, 20.0]]), BOW_SD)
    assert C[0, 0] == pytest.approx(BOW_SD**2 + BOW_ROUGH**2)
    assert C[0, 3] == pytest.approx(BOW_SD**2)  # a mark on a card shares the wall, not the tape under it
    assert C[1, 1] == pytest.approx((BOW_SD / BOW_REACH) ** 2 + (BOW_ROUGH / CARD_HALF) ** 2)


def test_a_straightedge_ten_feet_long_finds_the_gap_that_the_trade_tolerates():
    """1/4 in in 10 ft (wallboard specifications, as reported): of drawn walls, few show a wider gap mid-span."""
    at = np.array([[x, 40.0] for x in (0.0, 60.0, 120.0)])
    C = bow_covariance(np.zeros((0, 2)), at, BOW_SD)
    gap = np.array([-0.5, 1.0, -0.5])
    sd = float(np.sqrt(gap @ C @ gap))
    # The gap under the middle has sd 0.15: 90 % of walls stay within 1/4 in, half of the rest within 3/8.
    assert chi2.cdf((1 / 4 / sd) ** 2, 1) > 0.88
    assert chi2.cdf((3 / 8 / sd) ** 2, 1) > 0.98
