import pytest

from report.cautions import cautions

LEAD, COMPOUND, ALUMINIUM, OLD = "Lead paint", "Old joint compound", "Aluminium wiring", "Old wiring"


# 40 CFR 745: before 1978; 16 CFR 1304 and old stock: before 1980; CPSC Publication 516: 1965 to 1973.
@pytest.mark.parametrize(
    ("year", "told"),
    [
        pytest.param(None, {LEAD, COMPOUND, ALUMINIUM}, id="unknown is taken as old"),
        pytest.param(1920, {LEAD, COMPOUND, OLD}, id="1920"),
        pytest.param(1964, {LEAD, COMPOUND, OLD}, id="1964"),
        pytest.param(1965, {LEAD, COMPOUND, ALUMINIUM}, id="first aluminium year"),
        pytest.param(1973, {LEAD, COMPOUND, ALUMINIUM}, id="last aluminium year"),
        pytest.param(1977, {LEAD, COMPOUND}, id="last lead year"),
        pytest.param(1978, {COMPOUND}, id="1978"),
        pytest.param(1980, set(), id="1980"),
        pytest.param(2020, set(), id="new"),
    ],
)
def test_the_year_built_decides_which_cautions_are_told(year, told):
    headings = {caution.heading for caution in cautions(year)}
    assert headings & {LEAD, COMPOUND, ALUMINIUM, OLD} == told
    assert {"Wiring", "Who does it", "Inside the wall", "Dust"} <= headings


def test_the_wiring_cautions_say_what_they_must():
    text = " ".join(caution.text for caution in cautions(2020))
    for words in (
        "not a wiring plan", "prove each box dead", "checked on a live source before and after",
        "licensed electrician", "authority having jurisdiction",
    ):  # fmt: skip
        assert words in text
