"""The scheme: usual sizes, kept exactly, and refused where they contradict each other."""

from fractions import Fraction

import pytest
from pydantic import ValidationError

from layout.scheme import Pin, Preference, Scheme, SchemeError, check_scheme


def test_the_usual_scheme_is_sound() -> None:
    check_scheme(Scheme())
    assert Scheme().border == Fraction(9, 8)  # 1/4 reveal + 7/8 moulding
    assert Scheme().least_run == Fraction("11.25")  # 2 × 3.5 + 2 × 1.125 + 2


def test_a_scheme_comes_back_from_its_json_exactly() -> None:
    scheme = Scheme(stile=Fraction(445, 127), panels={"long wall": 5})  # 89 mm
    assert Scheme.model_validate_json(scheme.model_dump_json()) == scheme


def test_wishes_are_read_as_they_are_typed() -> None:
    typed = {
        "preferences": "conflicts, width", "equal": "no", "proportion": "1.6", "goes_first": "long wall, hall",
        "stile_at": {"long wall": "centre, 48"}, "pins": {"receptacle 1": "block out"},
    }  # fmt: skip
    scheme = Scheme.model_validate(typed)
    assert scheme.preferences == (Preference.CONFLICTS, Preference.WIDTH)
    assert scheme.order == (*scheme.preferences, Preference.NUDGE, Preference.PANELS)
    assert (scheme.equal, scheme.proportion, scheme.goes_first) == (False, Fraction(8, 5), ("long wall", "hall"))
    assert scheme.stile_at == {"long wall": ("centre", "48")}
    assert scheme.pin("hall", "receptacle 1") is Pin.BLOCK_OUT
    assert Scheme.model_validate_json(scheme.model_dump_json()) == scheme


def test_a_pin_of_one_wall_goes_before_that_of_all() -> None:
    scheme = Scheme(pins={"r": Pin.MOVE, "hall: r": Pin.LEAVE})
    assert (scheme.pin("hall", "r"), scheme.pin("den", "r"), scheme.pin("den", "s")) == (Pin.LEAVE, Pin.MOVE, None)


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
        pytest.param({"proportion": "tall"}, "a plain number, such as 1.6", id="a proportion in words"),
        pytest.param({"proportion": "99"}, "between 0 and 20", id="an absurd proportion"),
        pytest.param({"preferences": "width, width"}, "at most once", id="a preference twice"),
        pytest.param({"preferences": "beauty"}, "'width', 'conflicts'", id="an unknown preference"),
        pytest.param({"pins": {"r": "hide"}}, "'clear', 'move'", id="an unknown pin"),
        pytest.param({"nudge": Fraction(-1)}, "a length that a wall could have", id="a negative shift"),
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
        pytest.param(
            Scheme(top=Fraction(60), middle_rail_at=Fraction(12)),
            # 12 - 3 1/2 - 5 1/2 = 3
            r'middle rail at 12" leaves 3" below it, .* needs 4 1/4", 1 1/4" more; move the rail',
            id="no room below the middle rail",
        ),
        pytest.param(
            Scheme(top=Fraction(60), middle_rail_at=Fraction(53)),
            r'middle rail at 53" leaves 2 3/4" above it',  # 60 - 3/4 - 3 1/2 - 53
            id="no room above the middle rail",
        ),
        pytest.param(
            Scheme(top=Fraction(60), middle_rail_at=Fraction(40), middle_rail=Fraction(0)),
            r'Two tiers part at 40", but the middle rail between them is 0 high',
            id="tiers without a rail",
        ),
        pytest.param(
            Scheme(top=Fraction(16), base=Fraction(4)),
            r'cap, ledge, base and rails \(13 3/4"\) and .* taller than the wainscot \(16"\) by 2"; raise',
            id="a base that leaves no panel",
        ),
        pytest.param(
            Scheme(filler_width=Fraction(1, 8)),
            r'A filler 1/8" wide cut 1/8" narrow leaves nothing; show more than 1/8"',
            id="a filler cut away",
        ),
        pytest.param(
            Scheme(nudge=Fraction(8)),
            r'shifted by 8", further than a stile and the least panel together \(7 3/4"\)',
            id="a shift past the next panel",
        ),
    ],
)
def test_sizes_that_clash_are_named_with_the_shortfall(scheme: Scheme, sentence: str) -> None:
    with pytest.raises(SchemeError, match=sentence):
        check_scheme(scheme)
