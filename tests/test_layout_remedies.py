"""Remedies: what could be done, with its numbers, those that leave least behind first."""

from fractions import Fraction

import pytest

from capture.record import Kind, Side
from capture.survey import Feature, WallSurvey
from layout.frames import Frame, build_frames
from layout.plan import plan_walls
from layout.remedies import Remedy, Way, conflicts_on, remedies_for
from layout.runs import runs_of
from layout.scheme import Pin, Scheme
from layout.verdicts import Verdict, judge
from tests.test_layout_room import box, taped, wall, window

SCHEME = Scheme()


def frames_of(survey: WallSurvey, scheme: Scheme = SCHEME) -> tuple[Frame, ...]:
    return build_frames(runs_of(survey, scheme), scheme)


def remedies(feature: Feature, *others: Feature, scheme: Scheme = SCHEME) -> tuple[Remedy, ...]:
    survey = wall(feature, *others, width=taped(60))
    frames = frames_of(survey, scheme)
    return remedies_for(judge(feature, frames, scheme), frames, survey, scheme)


def the(kind: Way, ways: tuple[Remedy, ...]) -> Remedy:
    return next(way for way in ways if way.kind is kind)


@pytest.mark.parametrize(
    "feature",
    [
        pytest.param(box("r", 16, 14), id="clear"),
        pytest.param(box("r", 25.4375, 14), id="tight"),
    ],
)
def test_nothing_is_offered_for_what_is_not_in_the_way(feature: Feature) -> None:
    assert remedies(feature) == ()


def test_nothing_is_offered_for_what_is_not_measured() -> None:
    unmeasured = Feature(box("r", 28, 14).mark, None, None, None, None)
    assert remedies(unmeasured) == ()


def test_up_to_two_panels_more_or_fewer_are_tried_where_they_fit() -> None:
    # 2 panels are planned, none is no frame, and 4 of 10 5/8 have a stile at 28.25..31.75, where the box is again.
    counts = [way.count for way in remedies(box("r", 28, 14)) if way.count]
    assert sorted(counts) == [(2, 1), (2, 3)]


def test_a_count_that_leaves_the_thing_itself_in_the_way_is_no_remedy_for_it() -> None:
    survey = wall(box("r", 28, 14), box("r 2", 40, 34), width=taped(60))  # r 2 is on the top rail anyway
    frames = frames_of(survey)
    judged = [judge(feature, frames, SCHEME) for feature in survey.features]
    free, stuck = (remedies_for(one, frames, survey, SCHEME) for one in judged)
    assert {way.count for way in free if way.count} == {(2, 1), (2, 3)}
    assert [way for way in stuck if way.count] == []


def test_a_count_that_leaves_as_much_in_the_way_is_no_remedy() -> None:
    survey = wall(box("r", 28, 14), box("r 2", 20, 14))
    # Three panels of 15 1/3 have stiles at 18.83..22.33 and 37.67..41.17: r would be free and r 2 split instead.
    assert [way.count for way in remedies(*survey.features) if way.count] == [(2, 1)]


def test_another_count_tells_what_it_leaves_and_what_the_panels_become() -> None:
    ways = remedies(box("r", 28, 14))
    one = next(way for way in ways if way.count == (2, 1))
    assert one.sentence == '1 panel of 53" on wall in place of 2 of 24 3/4" would leave nothing in the way.'
    assert one.panel_width == (Fraction("24.75"), Fraction(53))
    assert (one.conflicts_left, one.boxes_moved, one.run) == (0, 0, "wall")


def test_a_count_that_catches_another_box_says_so_and_comes_later() -> None:
    # Two are split now by the stile at 28.25..31.75; three panels have stiles at 18.83..22.33 and 37.67..41.17.
    ways = remedies(box("r", 28, 14), box("r 2", 20, 14), box("r 3", 32, 14))
    three = next(way for way in ways if way.count == (2, 3))
    assert "would leave r 2 (split by a member)" in three.sentence
    assert three.conflicts_left == 1
    one = next(way for way in ways if way.count == (2, 1))
    assert ways.index(three) > ways.index(one)


def test_of_counts_that_leave_nothing_the_one_that_changes_the_panels_least_comes_first() -> None:
    survey = wall(box("r", 29.575, 14), width=taped(142.625))  # on the second stile of five panels of 24.325
    frames = frames_of(survey)
    ways = remedies_for(judge(survey.features[0], frames, SCHEME), frames, survey, SCHEME)
    # Panels of 19.69, 31.28, 16.38 and 42.88: changes of 4.64, 6.96, 7.95 and 18.55.
    assert [way.count for way in ways if way.count] == [(5, 6), (5, 4), (5, 7), (5, 3)]


def test_a_move_tells_how_far_and_where_the_centre_may_stand() -> None:
    first = the(Way.MOVE, remedies(box("r", 28.01, 14)))
    assert first.sentence == (
        'Move r by 2 13/16" to the left; its centre may stand from 6 1/2" to 25 1/4" from the wall\'s left end.'
    )
    assert first.move == Fraction("-2.8125")
    assert first.window == (Fraction("6.5"), Fraction("25.25"))
    assert (first.boxes_moved, first.conflicts_left) == (1, 0)


def test_of_two_moves_the_one_away_from_the_stud_comes_first_even_if_it_is_longer() -> None:
    left, right = (the(Way.MOVE, remedies(box("r", 29, 14, stud_side=side))).move for side in (Side.RIGHT, Side.LEFT))
    assert left < 0 < right
    assert abs(left) != abs(right)


def test_moving_one_box_leaves_the_other_conflicts_of_its_run() -> None:
    ways = remedies(box("r", 28, 14), box("r 2", 55, 14))
    assert the(Way.MOVE, ways).conflicts_left == 1


def test_a_box_on_another_run_does_not_count() -> None:
    found = window("w", 20, 45, apron=24)
    survey = wall(box("r", 1, 14), box("r 2", 47, 14), found, width=taped(80))
    left = conflicts_on("wall, left of w", frames_of(survey), survey, SCHEME)
    assert [conflict.feature for conflict in left] == ["r"]


@pytest.mark.parametrize(
    ("feature", "kind", "sentence"),
    [
        pytest.param(
            box("r", 30, 14),
            Way.EXTENDER,
            'Cut stile 2 round r and bring the box forward 3/4" with a listed extender.',
            id="whole on a stile",
        ),
        pytest.param(
            box("r", 28, 14),
            Way.BLOCK_OUT,
            # plate 2 3/4 × 4 1/2 and 1/2 in on every side
            'Set a block at least 3 3/4" wide and 5 1/2" high round r, flush with the face of stile 2, '
            "so that it seats on one plane.",
            id="half on a stile",
        ),
        pytest.param(
            box("r", 26.25, 14),
            Way.BLOCK_OUT,
            'Set a flat block at least 3 3/4" wide and 5 1/2" high round r '
            "and stop the moulding of panel 1, right against it.",
            id="on the moulding",
        ),
        pytest.param(
            box("g", 16, 6.75, Kind.REGISTER, 12, 6),
            Way.ACCEPT,
            "Accept it and cut the bottom rail round g; the cut is seen.",
            id="register in the rail",
        ),
        pytest.param(
            box("r", 30, 14), Way.ACCEPT, "Accept it: r stays on stile 2, which is cut round it.", id="whole, accepted"
        ),
        pytest.param(
            box("r", 26.25, 14),
            Way.ACCEPT,
            "Accept it and cut the moulding of panel 1, right round the plate of r; the cut is seen.",
            id="moulding cut",
        ),
        pytest.param(
            box("r", 25.6875, 14),
            Way.ACCEPT,
            "Accept it: r stays, likely tight; tape it first.",
            id="too close to tell",
        ),
    ],
)
def test_what_can_be_done_in_place_fits_the_verdict(feature: Feature, kind: Way, sentence: str) -> None:
    assert the(kind, remedies(feature)).sentence == sentence


@pytest.mark.parametrize(
    ("feature", "kinds"),
    [
        pytest.param(box("r", 30, 14), {Way.COUNT, Way.MOVE, Way.EXTENDER, Way.ACCEPT}, id="whole on a stile"),
        pytest.param(box("r", 28, 14), {Way.COUNT, Way.MOVE, Way.BLOCK_OUT, Way.ACCEPT}, id="split"),
        pytest.param(box("r", 25.6875, 14), {Way.SHIFT, Way.COUNT, Way.MOVE, Way.ACCEPT}, id="likely tight"),
        pytest.param(box("g", 16, 6.75, Kind.REGISTER, 12, 6), {Way.BLOCK_OUT, Way.ACCEPT}, id="a duct is not moved"),
    ],
)
def test_only_what_makes_sense_is_offered(feature: Feature, kinds: set[Way]) -> None:
    assert {way.kind for way in remedies(feature)} == kinds


def test_accepting_leaves_the_conflict_and_its_cautions() -> None:
    accept = the(Way.ACCEPT, remedies(box("r", 28, 14)))
    assert accept.conflicts_left == 1
    assert any("NEC 2023 406.6" in warning for warning in accept.warnings)


def test_the_frame_that_a_count_promises_leaves_just_what_it_says() -> None:
    feature, other = box("r", 28, 14), box("r 2", 20, 14)
    survey = wall(feature, other, width=taped(60))
    for way in remedies(feature, other):
        if way.count:
            frames = frames_of(survey, Scheme(panels={"wall": way.count[1]}))
            judged = [judge(one, frames, SCHEME).verdict for one in (feature, other)]
            assert sum(verdict.conflict for verdict in judged) == way.conflicts_left


def test_a_box_moved_as_told_is_clear() -> None:
    feature = box("r", 28.01, 14)
    for way in remedies(feature):
        if way.move is not None:
            moved = box("r", 28.01 + float(way.move), 14, sd=0.0)
            survey = wall(moved, width=taped(60, 0.0))
            assert judge(moved, frames_of(survey), SCHEME).verdict is Verdict.CLEAR


@pytest.mark.parametrize(
    ("x", "by"),
    [
        # sd 0: the plate's right edge may touch the moulding at 27 1/8.
        pytest.param(25.8125, Fraction(1, 16), id="a sixteenth over the moulding"),
        pytest.param(26.25, Fraction(1, 2), id="half an inch over it"),
        pytest.param(26.3125, None, id="further than the eye forgives"),
        pytest.param(33.6875, Fraction(-9, 16), id="to the other side, where that much is allowed"),
    ],
)
def test_the_least_shift_of_a_stile_that_frees_the_box_is_offered(x: float, by: Fraction | None) -> None:
    feature, scheme = box("r", x, 14, sd=0.0), Scheme(nudge=Fraction(5, 8) if x > 30 else Fraction(0))
    survey = wall(feature, width=taped(60, 0.0))
    frames = frames_of(survey, scheme)
    ways = remedies_for(judge(feature, frames, scheme), frames, survey, scheme)
    shifts = [way for way in ways if way.kind is Way.SHIFT]
    assert [way.shift for way in shifts] == ([] if by is None else [("stile 2", by)])
    if shifts:
        assert shifts[0] is ways[0]  # what changes least comes first
        assert shifts[0].conflicts_left == 0


def test_a_shift_tells_what_the_panels_become() -> None:
    way = the(Way.SHIFT, remedies(box("r", 25.8125, 14, sd=0.0)))
    assert way.sentence == (
        'Shift stile 2 by 1/8" to the right: the panels beside it become 24 7/8" and 24 5/8", and r is free.'
    )
    assert way.panel_width == (Fraction("24.75"), Fraction("24.875"))


def test_another_count_tells_how_many_pieces_it_takes() -> None:
    one = next(way for way in remedies(box("r", 28, 14)) if way.count == (2, 3))
    assert one.pieces == 5  # a stile and four sides of moulding


@pytest.mark.parametrize(
    ("pin", "kind"),
    [(Pin.MOVE, Way.MOVE), (Pin.LEAVE, Way.ACCEPT), (Pin.BLOCK_OUT, Way.BLOCK_OUT)],
)
def test_what_a_person_decided_comes_first(pin: Pin, kind: Way) -> None:
    survey = wall(box("r", 28, 14), width=taped(60))
    (planned,) = plan_walls([survey], Scheme(pins={"r": pin})).walls
    assert planned.remedies["r"][0].kind is kind
    assert planned.frames[0].count == 2  # the frame does not mind it any more


def test_an_extender_reaches_the_new_face_and_says_what_comes_on_top() -> None:
    way = the(Way.EXTENDER, remedies(box("r", 30, 14), scheme=Scheme(panel="sheet")))
    assert 'forward 1" with a listed extender' in way.sentence
    assert "or the locally adopted equivalent" in way.warnings[0]
