"""The statistical claims, over five hundred walls drawn from what the program takes for granted."""

import pytest
from scipy import stats

from tests.simulation import try_walls

WALLS = 500


@pytest.fixture(scope="module")
def trials():
    return try_walls(range(WALLS))


@pytest.mark.slow
@pytest.mark.xdist_group("simulation")
class TestFiveHundredWalls:
    def test_nearly_all_are_solved_from_nothing(self, trials):
        assert trials.walls >= 0.95 * WALLS
        # One photo with one far card may have two answers; such a wall says that it does not fit.
        assert len(trials.failed) <= 0.01 * WALLS, trials.failed

    def test_the_error_is_as_small_as_the_observations_allow(self, trials):
        """RMS error over the Cramér-Rao bound; 1 is the best that any unbiased estimate can reach."""
        assert trials.over_bound <= 1.15

    def test_the_stated_interval_holds_as_often_as_stated(self, trials):
        assert 0.93 <= trials.inside <= 0.97

    def test_the_normalised_error_squared_passes_its_chi_square_test(self, trials):
        total = sum(s for s, _ in trials.squares)
        degrees = sum(n for _, n in trials.squares)
        low, high = stats.chi2.interval(0.999, degrees)
        assert low <= total <= high, trials.square
