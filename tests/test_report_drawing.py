from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.lengths import Unit, show_length
from capture.record import EndKind, Kind
from capture.survey import WallSurvey
from layout.scheme import Pin
from report.drawing import Box, Dimension, Flag, Line, Text, choose_scale, hatch, spread_labels
from report.sheets import ROOM, existing_sheet, planned_sheet
from tests.test_report_wall import SCHEME, made_up_plan, made_up_survey, thing

PLACES = st.lists(st.floats(0, 100), min_size=1, max_size=12).map(sorted)


@given(PLACES)
def test_labels_never_touch(places):
    spread = spread_labels(places, 3.0, -1e9, 1e9)
    assert np.all(np.diff(spread) >= 3.0 - 1e-9)


@given(PLACES, st.integers(0, 2**32 - 1))
def test_no_other_way_moves_labels_less(places, seed):
    # Second route: any other spread that keeps the pitch has at least the same sum of squares.
    ours = np.array(spread_labels(places, 3.0, -1e9, 1e9))
    rng = np.random.default_rng(seed)
    other = np.sort(ours - 3.0 * np.arange(len(ours)) + rng.normal(0, 0.5, len(ours))) + 3.0 * np.arange(len(ours))
    assert np.sum((ours - places) ** 2) <= np.sum((other - places) ** 2) + 1e-9


def test_labels_far_apart_stay_where_they_are():
    assert spread_labels([0, 10, 20], 3, -1, 21) == [0, 10, 20]


def test_labels_stay_on_the_sheet_as_far_as_there_is_room():
    assert spread_labels([0.0, 0.1, 0.2], 1.0, 0.0, 9.0) == pytest.approx([0, 1, 2])
    assert spread_labels([8.9, 9.0], 1.0, 0.0, 9.0) == pytest.approx([8, 9])


@pytest.mark.parametrize(
    ("width", "unit", "name"),
    [
        pytest.param(60, Unit.INCH, "1 1/2\" = 1'", id="5 ft at 1:8 is 7 1/2 in"),
        pytest.param(144, Unit.INCH, "3/4\" = 1'", id="12 ft at 1:16 is 9 in"),
        pytest.param(160, Unit.INCH, "3/4\" = 1'", id="exactly the room"),
        pytest.param(161, Unit.INCH, "1/2\" = 1'", id="an inch more"),
        pytest.param(144, Unit.MM, "1:20", id="metric"),
        pytest.param(12_000, Unit.INCH, "1:1200", id="a thousand feet"),
    ],
)
def test_the_largest_usual_scale_that_fits_is_chosen(width, unit, name):
    assert choose_scale(width, 1, (10, 5), unit).name == name


def test_hatching_stays_inside():
    for line in hatch(2, 3, 7, 5, 0.7):
        for x, y in line.points:
            assert 2 - 1e-9 <= x <= 7 + 1e-9
            assert 3 - 1e-9 <= y <= 5 + 1e-9


@pytest.mark.parametrize("unit", list(Unit))
def test_both_drawings_fit_the_page(unit):
    for sheet in (existing_sheet(made_up_survey(), unit=unit), planned_sheet(made_up_plan(), unit=unit)):
        width, height = sheet.paper_size
        assert width <= ROOM[0] + 1e-9
        assert height <= ROOM[1] + 1e-9


def test_a_long_label_makes_a_drawing_higher_and_neither_smaller_nor_less_of_the_wall():
    high, wide = thing("jack 1", Kind.JACK, 100.0, 58.0), thing("damage 1", Kind.DAMAGE, 110.3, 20.0, w=9.2)
    surveys = [replace(made_up_survey(), features=features) for features in ((high,), (high, wide))]
    one, other = (existing_sheet(survey, (7.3, 5.2)) for survey in surveys)
    assert (one.scale, one.top) == (other.scale, other.top)
    assert one.bottom > other.bottom


def test_running_labels_keep_their_distance_on_paper():
    sheet = planned_sheet(made_up_plan())
    places = sorted(i.label.at[0] for i in sheet.items if isinstance(i, Dimension) and i.label.turned)
    assert np.min(np.diff(places)) * sheet.scale.factor >= 9 / 72  # no closer than their letters are high


def test_every_stile_edge_is_dimensioned_from_the_left_end():
    plan = made_up_plan()
    sheet = planned_sheet(plan)
    read = {round(i.path[0][0], 6) for i in sheet.items if isinstance(i, Dimension) and i.label.turned}
    for stile in plan.frames[0].stiles:
        assert {round(float(stile.rect.left), 6), round(float(stile.rect.right), 6)} <= read


def test_only_what_is_not_clear_carries_a_sign():
    flags = {i.number: i.symbol for i in planned_sheet(made_up_plan()).items if isinstance(i, Flag)}
    assert flags[1] is None
    assert flags[3] is not None


def test_a_box_that_is_decided_to_move_is_drawn_where_it_goes_and_dashed_where_it_stands():
    """With an arrow between, so that neither hangs on colour; its flag has no sign any more, for there it is clear."""
    plan = made_up_plan(scheme=SCHEME.model_copy(update={"pins": {"receptacle 2": Pin.MOVE}}))
    box, at = plan.survey.feature("receptacle 2"), float(plan.wanted["receptacle 2"])
    sheet = planned_sheet(plan)
    now, half = (box.left.value, box.right.value), (box.right.value - box.left.value) / 2
    boxes = {(round(i.left, 9), round(i.right, 9)): i.dashed for i in sheet.items if isinstance(i, Box)}
    assert boxes[round(now[0], 9), round(now[1], 9)]
    assert not boxes[round(at - half, 9), round(at + half, 9)]
    arrow = pytest.approx([sum(now) / 2, at])
    assert any(isinstance(i, Line) and [x for x, _ in i.points] == arrow for i in sheet.items)
    flags = {i.number: i for i in sheet.items if isinstance(i, Flag)}
    assert flags[3].symbol is None
    assert abs(flags[3].at[0] - at) < abs(flags[3].at[0] - sum(now) / 2)
    assert f"moves to {show_length(at)}" in sheet.description
    assert existing_sheet(plan.survey).items == existing_sheet(made_up_survey()).items


def test_without_the_crews_signs_only_what_will_be_seen_is_drawn():
    sheet = planned_sheet(made_up_plan(), crew=False)
    assert not any(isinstance(item, Flag | Dimension) for item in sheet.items)
    assert [item.text for item in sheet.items if isinstance(item, Text)] == ["window"]
    assert "In the way" not in sheet.description
    assert sheet.scale == planned_sheet(made_up_plan()).scale


def test_the_words_hold_the_same_numbers_as_the_drawing():
    sheet = existing_sheet(made_up_survey())
    assert '1 receptacle: 12 3/8" ± 1/8" from the left end, 16 3/16" up.' in sheet.description
    assert '144" ± 1/16" wide (tape)' in sheet.title


def test_three_hundred_things_are_drawn_and_labels_are_thinned():
    rng = np.random.default_rng(3)
    things = tuple(
        thing(f"jack {i}", Kind.JACK, x, y) for i, (x, y) in enumerate(rng.uniform((3, 5), (380, 70), (300, 2)))
    )
    survey = WallSurvey("long", EndKind.OPEN, EndKind.OPEN, None, things)
    sheet = existing_sheet(survey)
    places = sorted(i.label.at[0] for i in sheet.items if isinstance(i, Dimension) and i.label.turned)
    assert np.min(np.diff(places)) * sheet.scale.factor >= 9 / 72
    assert sum(isinstance(i, Flag) for i in sheet.items) == 300
    assert sheet.paper_size[0] <= ROOM[0] + 1e-9


def test_an_empty_unmeasured_wall_still_has_a_drawing():
    sheet = existing_sheet(WallSurvey("bare", EndKind.OPEN, EndKind.BULLNOSE, None, ()))
    assert "width not measured" in sheet.title
