"""A short run of bad input; `make torture` is the long one."""

import pytest

from tests.fuzz import MEMORY, try_inputs


@pytest.mark.slow
def test_whatever_comes_in_is_taken_or_refused_in_a_sentence(tmp_path):
    counts, wrong, most = try_inputs(400, 7, tmp_path)
    assert not wrong
    assert most < MEMORY
    for name in ("photo", "job file", "length", "command"):  # the inputs are neither all good nor all hopeless
        assert counts[f"{name} taken"], name
        assert counts[f"{name} refused"], name
