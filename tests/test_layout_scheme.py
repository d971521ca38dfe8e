"""The scheme: usual sizes, kept exactly, and refused where they contradict each other."""

from fractions import Fraction

import pytest
from pydantic import ValidationError

from layout.scheme import Scheme, SchemeError, check_scheme


def test_the_usual_scheme_is_sound() -> None:
    check_scheme(Scheme())
    assert Scheme().border == Fraction(9, 8)  # 1/4 reveal + 7/8 moulding
    assert Scheme().least_run == Fraction("11.25")  # 2 × 3.5 + 2 × 1.125 + 2


def test_a_scheme_comes_back_from_its_json_exactly() -> None:
    scheme = Scheme(stile=Fraction(445, 127), panels={"long wall": 5})  # 89 mm
    assert Scheme.model_validate_json(scheme.model_dump_json()) == scheme


def test_without_moulding_the_field_is_the_opening() -> None:
    assert Scheme(moulding=Fraction(0)).border == 0


@pytest.mark.parametrize(
    ("panel", "build_up"),
    [
        pytest.param("painted wall", Fraction(3, 4), id="the frame on the wall"),
        pytest.param("sheet", Fraction(1), id="the frame on a 1/4 in sheet"),
    ],
)
def test_the_build_up_counts_the_sheet_behind_the_frame(panel: str, build_up: Fraction) -> None:
    assert Scheme.model_validate({"panel": panel}).build_up == build_up


@pytest.mark.parametrize(
    ("given", "complaint"),
    [
        pytest.param({"stile": "0"}, "must be more than nothing", id="no stile"),
        pytest.param({"top": Fraction(-1)}, "must be", id="below the floor"),
        pytest.param({"cap": Fraction(-1, 4)}, "a length that a wall could have", id="negative cap"),
        pytest.param({"panel_width": Fraction(20_000)}, "a length that a wall could have", id="a third of a mile"),
        pytest.param({"stile": 3.5}, "stored as text", id="a bare float"),
        pytest.param({"panel": "cork"}, "painted wall", id="unknown panel"),
        pytest.param({"panels": {"long wall": 0}}, "greater than or equal to 1", id="no panel"),
        pytest.param({"stiles": "3 1/2"}, "Extra inputs", id="unknown key"),
    ],
)
def test_a_size_that_no_wainscot_has_is_refused(given: dict[str, object], complaint: str) -> None:
    with pytest.raises(ValidationError, match=complaint):
        Scheme.model_validate(given)


@pytest.mark.parametrize(
    ("scheme", "sentence"),
    [
        pytest.param(
            Scheme(top=Fraction(10)),
            # 3/4 + 3 1/2 + 5 1/2 = 9 3/4; + 4 1/4 - 10 = 4
            r'\(9 3/4"\) and the least panel .*\(4 1/4"\) are taller than the wainscot \(10"\) by 4"; raise',
            id="rails taller than the top",
        ),
        pytest.param(
            Scheme(panel_width=Fraction(4)),
            r'Panels 4" wide are wanted, but .* only from 4 1/4" on, 1/4" more; take wider',
            id="mouldings wider than the panel",
        ),
    ],
)
def test_sizes_that_clash_are_named_with_the_shortfall(scheme: Scheme, sentence: str) -> None:
    with pytest.raises(SchemeError, match=sentence):
        check_scheme(scheme)
