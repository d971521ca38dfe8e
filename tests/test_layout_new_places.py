"""Where boxes are wanted: one beside the other, each in a window of its own."""

from fractions import Fraction

import shapely
from hypothesis import given
from hypothesis import strategies as st

from capture.record import Kind, Side
from layout.moves import plate_of
from layout.new_places import apart
from layout.plan import WallPlan, plan_walls
from layout.scheme import Pin, Scheme
from tests.test_layout_room import box, taped, wall

TWO = Scheme(
    panels={"wall": 2}
)  # on 60 in a stile in the middle; boxes clear from 6 1/2 to 25 1/4 and 34 3/4 to 53 1/2


def planned(*boxes, scheme: Scheme = TWO, width: float = 60) -> WallPlan:
    return plan_walls([wall(*boxes, width=taped(width))], scheme).walls[0]


def test_two_boxes_on_one_stile_are_not_wanted_in_one_place():
    # Each alone would go to 25 1/4; two plates and 1/2 in between ask for 3 1/4 in.
    plan = planned(box("r", 29, 14, stud_side=Side.RIGHT), box("s", 29.5, 14, stud_side=Side.RIGHT))
    assert plan.wanted == {"r": Fraction("25.25"), "s": 22}
    windows = [remedy.window for remedy in plan.remedies["s"] if remedy.window is not None]
    assert windows[0].right == Fraction("25.25")  # what is told of it holds for it alone


def test_a_decided_move_comes_before_what_is_only_offered():
    plan = planned(
        box("r", 29, 14, sd=0.0, stud_side=Side.RIGHT), box("s", 29.5, 14, sd=0.0, stud_side=Side.RIGHT),
        scheme=TWO.model_copy(update={"pins": {"s": Pin.MOVE}}),
    )  # fmt: skip
    assert plan.wanted["s"] == Fraction("25.25")
    assert plan.wanted["r"] == Fraction("22")


def test_one_that_finds_no_place_beside_another_takes_the_other_side():
    first = box("r", 30, 14, stud_side=Side.RIGHT, width=20)  # leaves no place in the left panel
    plan = planned(first, box("s", 29.5, 14, stud_side=Side.RIGHT))
    assert plan.wanted["r"] < 30 < plan.wanted["s"]


def test_boxes_of_which_one_passes_above_the_other_need_no_distance():
    low, high, beside = box("a", 30, 12), box("b", 30, 30), box("c", 30, 14, Kind.JACK)
    assert (apart(low, high, TWO), apart(low, beside, TWO)) == (0, Fraction("3.25"))


@given(st.lists(st.tuples(st.integers(5, 115), st.sampled_from([12, 14, 40])), min_size=2, max_size=5, unique=True))
def test_places_wanted_keep_plates_apart_where_there_is_room(places):
    """Shapely: no two plates where they are wanted overlap; ten feet have room for five."""
    plan = planned(*(box(f"r{i}", x, y, sd=0.0) for i, (x, y) in enumerate(places)), width=120, scheme=Scheme())
    plates = {}
    for name, x in plan.wanted.items():
        plate = plate_of(plan.survey.feature(name))
        assert plate is not None
        half = plate.width / 2
        plates[name] = shapely.box(float(x - half), float(plate.bottom), float(x + half), float(plate.top))
    for one, mine in plates.items():
        assert all(mine.intersection(other).area < 1e-9 for name, other in plates.items() if name != one)
