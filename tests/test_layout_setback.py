"""Set-backs: cases worked out from NEC 2023 314.20, advice only."""

from fractions import Fraction

import pytest

from layout.setback import reach_needed


@pytest.mark.parametrize(
    ("set_back", "added", "combustible", "reach"),
    [
        # “What's Wrong Here? Hint: A Matter of Depth”, EC&M: paneling over gypsum after the box was legal; an extender.
        pytest.param("0", "1/4", True, "1/4", id="1/4 in panel over gypsum"),
        pytest.param("1/8", "3/4", True, "7/8", id="stile, box an eighth back already"),
        pytest.param("1/4", "0", False, "0", id="field left as gypsum: the 1/4 in stays allowed"),
        pytest.param("0", "5/8", False, "3/8", id="second layer of gypsum"),
        pytest.param("-1/4", "1/4", True, "0", id="box that stood proud"),
    ],
)
def test_a_box_reaches_the_new_face(set_back: str, added: str, combustible: bool, reach: str) -> None:
    assert reach_needed(Fraction(set_back), Fraction(added), combustible) == Fraction(reach)
