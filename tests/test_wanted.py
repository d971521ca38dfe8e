"""Work that ends once nobody wants it, and leaves nothing half done."""

import numpy as np
import pytest

from capture.joint import SETTLED
from capture.measure import measure_walls
from capture.memory import Memory
from capture.wanted import asking, still_wanted
from tests.test_together import PRINTED, house


class Unwanted(Exception):
    """What the asker raises."""


def asker(most):
    """Asks that are counted; the last one ends the work."""
    asked = []

    def ask():
        asked.append(1)
        if len(asked) == most:
            raise Unwanted

    return asked, ask


@pytest.mark.parametrize("part", [0.0, 0.3, 0.6, 1.0], ids=lambda part: f"{part:.0%} of the way")
def test_a_solve_ends_at_its_next_step_and_the_next_solve_is_a_fresh_one(part):
    """In walls alone, round the corner or of all together: the work asks at every step that takes milliseconds."""
    rooms, memory = house(2), Memory()
    asked, ask = asker(most=None)
    with asking(ask):
        fresh = measure_walls(rooms, PRINTED)
    steps = max(1, round(part * len(asked)))
    asked, ask = asker(steps)
    with pytest.raises(Unwanted), asking(ask):
        measure_walls(rooms, PRINTED, memory=memory)
    assert len(asked) == steps
    for mine, anew in zip(measure_walls(rooms, PRINTED, memory=memory), fresh, strict=True):
        sd = np.sqrt(np.diag(anew.solution.covariance))
        assert np.abs((mine.solution.unknowns - anew.solution.unknowns) / sd).max() < SETTLED


def test_who_had_work_done_within_other_work_is_asked_no_more_after_it():
    outer, inner = [], []
    with asking(lambda: outer.append(1)):
        with asking(lambda: inner.append(1)):
            still_wanted()
        still_wanted()
    still_wanted()
    assert (outer, inner) == ([1], [1])
