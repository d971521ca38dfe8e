"""Moving a box: every place offered truly clears, and no shorter move to that side would."""

from collections.abc import Sequence
from fractions import Fraction

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from capture.lengths import MM, Unit
from capture.record import EndKind, Kind, Mark, Side
from capture.survey import Feature, WallSurvey
from layout.exact import SIXTEENTH
from layout.floorline import FloorLine
from layout.frames import Frame, build_frames
from layout.meeting import Box
from layout.moves import Window, clear_windows, decided_moves, moves, plate_of
from layout.plan import WallPlan, plan_walls
from layout.runs import runs_of
from layout.scheme import Scheme
from tests.test_layout_room import box, casing, seen, stud, taped, wall, window

SCHEME = Scheme()


def frames_of(survey: WallSurvey, scheme: Scheme = SCHEME) -> tuple[Frame, ...]:
    return build_frames(runs_of(survey, scheme), scheme)


def sixty(*features: Feature) -> WallSurvey:
    return wall(*features, width=taped(60))


def windows_on(survey: WallSurvey, scheme: Scheme = SCHEME) -> tuple[Window, ...]:
    return clear_windows(survey.features[0], frames_of(survey, scheme), survey, scheme)


def moves_on(survey: WallSurvey) -> list[Fraction]:
    return [move.by for move in moves(survey.features[0], frames_of(survey), survey, SCHEME)]


def test_a_box_may_stand_where_its_plate_keeps_the_clear_field_on_both_sides() -> None:
    # Fields 4.625..27.125 and 32.875..55.375; half a plate and 1/2 in make 1.875.
    assert windows_on(sixty(box("r", 30, 14))) == (
        Window(Fraction("6.5"), Fraction("25.25")),
        Window(Fraction("34.75"), Fraction("53.5")),
    )


@pytest.mark.parametrize(
    ("feature", "left"),
    [
        pytest.param(
            box("r", 30, 9.375), 2, id="its plate half an inch above the moulding below"
        ),  # 6.625 + 0.5 + 2.25
        pytest.param(box("r", 30, 9.3125), 0, id="a sixteenth lower"),
        pytest.param(box("r", 30, 27.875), 2, id="half an inch below the moulding above"),  # 30.625 - 0.5 - 2.25
        pytest.param(box("r", 30, 28), 0, id="an eighth higher"),
        pytest.param(box("r", 30, 14, width=22), 0, id="a plate wider than a panel"),
        pytest.param(Feature(Mark(name="r", kind=Kind.JACK), seen(1), seen(3), None, None), 0, id="not measured up"),
        pytest.param(
            Feature(Mark(name="r", kind=Kind.JACK), None, None, seen(1), seen(3)), 0, id="not measured across"
        ),
    ],
)
def test_a_box_keeps_its_height_when_it_moves(feature: Feature, left: int) -> None:
    assert len(windows_on(sixty(feature))) == left


def test_the_places_that_another_box_takes_are_left_out() -> None:
    survey = sixty(box("r", 30, 14), box("jack", 16, 14, Kind.JACK, sd=0.0))
    # The jack's plate is 14.625..17.375; its neighbour keeps 1.875 from it.
    assert windows_on(survey)[:2] == (
        Window(Fraction("6.5"), Fraction("12.75")),
        Window(Fraction("19.25"), Fraction("25.25")),
    )


def test_an_unsure_neighbour_takes_more_places() -> None:
    survey = sixty(box("r", 30, 14), box("jack", 16, 14, Kind.JACK, sd=0.1))
    assert windows_on(survey)[0].right == Fraction(923, 64) - Fraction("1.875")  # 14.625 - 1.96 × 0.1 is 14.429, down


def test_a_box_that_is_not_measured_takes_no_places() -> None:
    unmeasured = Feature(Mark(name="jack", kind=Kind.JACK), seen(14), seen(17), None, None)
    assert len(windows_on(sixty(box("r", 30, 14), unmeasured))) == 2


def test_a_box_far_above_takes_no_places() -> None:
    assert len(windows_on(sixty(box("r", 30, 14), box("switch", 16, 46, Kind.SWITCH)))) == 2


@pytest.mark.parametrize(
    ("edges", "width"),
    [
        pytest.param((30.525, 33.275), Fraction("2.75"), id="the usual plate, whatever floats make of it"),
        pytest.param((30.5, 33.2), Fraction(173, 64), id="a measured 2.7 is up to the next sixty-fourth"),
    ],
)
def test_a_plate_is_never_taken_for_smaller_than_it_is(edges: tuple[float, float], width: Fraction) -> None:
    feature = Feature(Mark(name="r", kind=Kind.JACK), seen(edges[0]), seen(edges[1]), seen(11.75), seen(16.25))
    plate = plate_of(feature)
    assert plate is not None
    assert plate.width == width
    assert plate.height == Fraction("4.5")


@pytest.mark.parametrize(
    ("features", "least"),
    [
        # In the middle of the stile: 34.75 - 30 = 4 3/4 to the right, 30 - 25.25 = 4 3/4 to the left.
        pytest.param([box("r", 30, 14)], {Fraction("4.75"), Fraction("-4.75")}, id="middle of a stile"),
        # 34.75 - 28.01 = 6.74, up to 6 3/4; 28.01 - 25.25 = 2.76, up to 2 13/16.
        pytest.param([box("r", 28.01, 14)], {Fraction("6.75"), Fraction("-2.8125")}, id="rounded outward"),
        pytest.param([box("r", 57, 14)], {Fraction("-3.5")}, id="nothing to the right of the last panel"),
        pytest.param([box("r", 16, 14)], {Fraction("18.75")}, id="from a clear place, only to the next panel"),
    ],
)
def test_the_least_move_to_each_side_is_offered(features: list[Feature], least: set[Fraction]) -> None:
    assert set(moves_on(sixty(*features))) == least


@pytest.mark.parametrize(
    ("feature", "first"),
    [
        pytest.param(box("r", 29, 14), -1, id="the shorter move first"),
        pytest.param(box("r", 29, 14, stud_side=Side.LEFT), 1, id="but away from the stud"),
        pytest.param(box("r", 29, 14, stud_side=Side.RIGHT), -1, id="which may be the shorter one too"),
    ],
)
def test_the_side_without_the_stud_comes_first(feature: Feature, first: int) -> None:
    assert moves_on(sixty(feature))[0] * first > 0


def test_a_move_that_the_cable_reaches_comes_before_one_that_it_does_not() -> None:
    free = {abs(by): by for by in moves_on(sixty(box("r", 29, 14)))}
    near, far = sorted(free)
    slack = (near + far) / 2
    # Both sides free of studs: the nearer place is reached. With the stud there, the farther one comes first all the
    # same: nobody threads a box past a stud.
    assert moves_on(sixty(box("r", 29, 14, cable_slack=slack)))[0] == free[near]
    stud_side = Side.RIGHT if free[near] > 0 else Side.LEFT
    assert moves_on(sixty(box("r", 29, 14, cable_slack=slack, stud_side=stud_side)))[0] == free[far]


def _warned(*features: Feature, width: float = 60, side: int = 1) -> str:
    survey = wall(*features, width=taped(width))
    (move,) = [one for one in moves(features[0], frames_of(survey), survey, SCHEME) if one.by * side > 0]
    return "; ".join(move.warnings)


@pytest.mark.parametrize(
    ("features", "words"),
    [
        pytest.param([box("r", 30, 14)], "how far the cable lets the box move is not known", id="slack not known"),
        pytest.param(
            [box("r", 30, 14, cable_slack=Fraction(3))],
            'the cable lets the box move 3", less than the 4 3/4" to the right',
            id="too short",
        ),
        pytest.param(
            [box("r", 30, 14, stud_side=Side.RIGHT)], "the stud stands on the right of r", id="towards its stud"
        ),
        pytest.param([box("r", 30, 14), stud("stud 2", 33)], 'stud 2 at 33" is in the way', id="a stud between"),
        pytest.param(
            [box("r", 30, 14), stud("stud 2", 36)], 'stud 2 at 36" is in the way', id="a stud at the new place"
        ),
        pytest.param(
            # It goes to 34 3/4, so beyond 36 5/8 by half of what both are unsure.
            [box("r", 30, 14), stud("stud 2", 36.7)],
            'stud 2 at 36 11/16" ± 3/16" may be in the way',
            id="a stud close by",
        ),
    ],
)
def test_what_a_move_meets_is_told(features: list[Feature], words: str) -> None:
    assert words in _warned(*features)


@pytest.mark.parametrize(
    "features",
    [
        pytest.param([box("r", 30, 14, cable_slack=Fraction(5)), stud("stud 2", 40)], id="slack and room enough"),
        pytest.param([box("r", 30, 14, cable_slack=Fraction(5)), stud("stud 1", 25)], id="a stud on the other side"),
    ],
)
def test_a_move_that_meets_nothing_has_no_warning(features: list[Feature]) -> None:
    assert _warned(*features) == ""


def test_a_move_that_leaves_the_floor_line_too_far_from_a_receptacle_is_told() -> None:
    doors = casing("a", 150, Side.RIGHT), casing("b", 186, Side.LEFT)
    lone = box("r", 78, 14, cable_slack=Fraction(9))
    # From the open end to the door are 150 in: the box at 78 serves the door's end until it moves left.
    told = _warned(lone, *doors, width=300, side=-1)
    assert 'the 72" of NEC 2023 210.52(A)(1), or the locally adopted equivalent' in told
    assert 'after the move the floor line at 150" is' in told
    assert "round the corner" not in told


CASINGS = {"left": EndKind.CASING, "right": EndKind.CASING}


@pytest.mark.parametrize("known", [{}, {"stud_side": Side.LEFT}, {"cable_slack": Fraction(4)}])
def test_a_move_that_takes_a_receptacle_out_of_reach_comes_last(known: dict[str, object]) -> None:
    # 140 in between casings, a stile at 70: to the right 74 3/4 is 2 3/4 in more than 72 from the left casing.
    survey = wall(box("r", 71, 14, **known), box("r 2", 130, 14), width=taped(140), **CASINGS)
    frames = frames_of(survey, Scheme(panels={"wall": 2}))
    left, right = moves(survey.features[0], frames, survey, SCHEME)
    assert (left.by, left.breaks) == (Fraction("-5.75"), False)
    assert (right.by, right.breaks) == (Fraction("3.75"), True)
    assert any("floor line at 0" in warning for warning in right.warnings)


def test_where_a_receptacle_may_stand_keeps_it_in_reach_of_the_floor_line() -> None:
    # 130 in between casings: a lone receptacle serves both ends from 58 to 72; the stile leaves 60 1/4 and 69 3/4.
    survey = wall(box("r", 65, 14), width=taped(130), **CASINGS)
    frames = frames_of(survey, Scheme(panels={"wall": 2}))
    found = moves(survey.features[0], frames, survey, SCHEME)
    assert {move.window for move in found} == {
        Window(Fraction(58), Fraction("60.25")),
        Window(Fraction("69.75"), Fraction(72)),
    }
    jack = wall(box("r", 65, 14, Kind.JACK), width=taped(130), **CASINGS)  # of which the rule does not speak
    assert min(move.window.left for move in moves(jack.features[0], frames, jack, SCHEME)) < 10


def test_a_gap_round_a_corner_that_gets_narrower_is_not_told() -> None:
    """192 in between two; as one moves away from its casing, the middle goes from its wall to the other."""
    casing, corner = EndKind.CASING, EndKind.INSIDE_CORNER
    one = wall(box("r", 5, 14), width=taped(100), left=casing, right=corner, name="one")
    survey = wall(box("r 2", 97, 14), width=taped(100), left=corner, right=casing)
    frames = frames_of(survey, Scheme(panels={"wall": 1}))
    (move,) = moves(survey.features[0], frames, survey, SCHEME, FloorLine([one, survey]))
    assert -6 < move.by < -2
    assert not move.breaks
    assert not any("floor line" in warning for warning in move.warnings)


def test_what_was_too_far_already_and_gets_no_worse_is_not_told() -> None:
    far_off = box("r", 30, 14, cable_slack=Fraction(5))
    assert _warned(far_off, box("r 2", 60, 14), width=300) == ""


def test_a_jack_has_no_spacing_rule() -> None:
    assert _warned(box("j", 30, 14, Kind.JACK, cable_slack=Fraction(5)), width=60) == ""


def test_a_box_that_moves_goes_to_the_height_of_the_others() -> None:
    low = box("r", 30, 13, cable_slack=Fraction(5))
    others = box("r 2", 10, 14), box("r 3", 50, 14)
    assert _warned(low, *others) == 'r stands at 13" and the others at 14": set it at their height when it moves'
    assert _warned(box("r", 30, 14.05, cable_slack=Fraction(5)), *others) == ""
    counter = box("r 4", 55, 34)  # one that stands high by itself says nothing of the others
    assert '14": set it at their height' in _warned(low, *others, counter)
    assert _warned(low, others[0], counter) == ""


def test_a_receptacle_round_the_corner_serves_the_floor_line() -> None:
    lone = box("r", 30, 14, cable_slack=Fraction(9))
    here = wall(lone, width=taped(100), left=EndKind.CASING, right=EndKind.INSIDE_CORNER, name="here")
    there = wall(box("s", 4, 14), width=taped(60), left=EndKind.INSIDE_CORNER, right=EndKind.CASING, name="there")
    frames = frames_of(here)
    alone, served = (moves(lone, frames, here, SCHEME, FloorLine(room)) for room in ([here], [here, there]))
    assert any("floor line at" in warning for move in alone for warning in move.warnings)
    assert not any("floor line" in warning for move in served for warning in move.warnings)


def test_shown_places_are_rounded_inward() -> None:
    assert Window(Fraction("6.51"), Fraction("25.24")).shown(SIXTEENTH) == Window(
        Fraction("6.5625"), Fraction("25.1875")
    )


def test_a_metric_move_is_whole_millimetres_and_still_clears() -> None:
    survey, scheme = sixty(box("r", 28.01, 14)), Scheme(unit=Unit.MM)
    (left, _) = moves(survey.features[0], frames_of(survey), survey, scheme)
    assert left.by == -71 * MM  # 2.76 in is 70.1 mm
    assert left.window.shown(MM) == Window(166 * MM, 641 * MM)  # 165.1 and 641.35 mm


def test_a_window_narrower_than_a_sixteenth_is_shown_as_it_is() -> None:
    narrow = Window(Fraction("6.51"), Fraction("6.52"))
    assert narrow.shown(SIXTEENTH) == narrow


# --- an independent judge of clearance ---


def clears(place: float, feature: Feature, others: Sequence[Feature], frames: Sequence[Frame]) -> bool:
    """Whether the plate, widened by the clear field, lies in a field and meets no other plate."""
    plate = plate_of(feature)
    assert plate is not None
    wider = shapely.box(
        place - float(plate.width) / 2 - 0.5, float(plate.bottom) - 0.5,
        place + float(plate.width) / 2 + 0.5, float(plate.top) + 0.5,
    )  # fmt: skip
    fields = [shapely.box(*Box.of(panel.field)) for frame in frames for panel in frame.panels]
    taken = [shapely.box(*(edge.value for edge in (o.left, o.bottom, o.right, o.top) if edge)) for o in others]
    return any(wider.difference(field).area < 1e-9 for field in fields) and not any(
        wider.intersection(other).area > 1e-9 for other in taken
    )


places = st.integers(2 * 32, 118 * 32).map(lambda n: n / 32)
counts = st.integers(2, 7)


@st.composite
def walls(draw: st.DrawFn) -> tuple[WallSurvey, tuple[Frame, ...]]:
    boxes = [
        box(
            f"r{i}",
            draw(places),
            draw(st.sampled_from([12.0, 14.0, 16.0])),
            width=draw(st.sampled_from([2.75, 4.5625])),
        )
        for i in range(draw(st.integers(1, 4)))
    ]
    low_window = draw(st.booleans())
    survey = wall(*boxes, *([window("w", 40, 76, apron=24)] if low_window else []))
    scheme = SCHEME if low_window else Scheme(panels={"wall": draw(counts)})
    return survey, frames_of(survey, scheme)


@settings(max_examples=60, deadline=None)
@given(walls())
def test_every_place_offered_clears_everything(built: tuple[WallSurvey, tuple[Frame, ...]]) -> None:
    survey, frames = built
    feature, others = survey.features[0], [other for other in survey.features[1:] if other.blocks]
    for found in clear_windows(feature, frames, survey, SCHEME):
        for place in (found.left, (found.left + found.right) / 2, found.right):
            assert clears(float(place), feature, others, frames)


@settings(max_examples=15, deadline=None)
@given(walls())
def test_every_move_clears_and_no_shorter_one_to_that_side_would(built: tuple[WallSurvey, tuple[Frame, ...]]) -> None:
    survey, frames = built
    feature = survey.features[0]
    # Neighbours known exactly: an unsure one is given a wider berth than its nominal plate needs.
    others = [box(o.name, o.across.value, 14, sd=0.0) for o in survey.features[1:] if o.blocks and o.across]
    sure = wall(feature, *others)
    assert feature.across is not None
    here = feature.across.value
    assume(not clears(here, feature, others, frames))
    for move in moves(feature, frames, sure, SCHEME):
        assert move.by % SIXTEENTH == 0
        assert clears(here + float(move.by), feature, others, frames)
        shorter = [n / 16 for n in range(1, int(abs(move.by) * 16))]
        side = 1 if move.by > 0 else -1
        assert not any(clears(here + side * by, feature, others, frames) for by in shorter)


# --- boxes that a person wants moved ---


def pinned(*features: Feature, move: str, **known: object) -> WallPlan:
    pins = dict.fromkeys(move.split(), "move")
    return plan_walls([sixty(*features)], Scheme.model_validate({"pins": pins, **known})).walls[0]


def test_two_boxes_that_are_to_be_moved_do_not_meet() -> None:
    # Both stand on the middle stile; the first takes the place nearest to it, the second what is left beside that.
    planned = pinned(box("r", 30, 14, sd=0.0), box("s", 30.5, 14, sd=0.0), move="r s", panels={"wall": 2})
    assert planned.moves["r"].by == Fraction("-4.75")
    assert planned.moves["s"].by == Fraction("4.25")
    assert [f'{name} is taken to go {way}, and that place' in " ".join(planned.assumed) for name, way in
            (("R", '4 3/4" to the left'), ("S", '4 1/4" to the right'))] == [True, True]  # fmt: skip


@pytest.mark.parametrize(("pin", "by"), [("move left", Fraction("-4.25")), ("move right", Fraction("5.25"))])
def test_a_box_goes_to_the_side_that_is_decided(pin: str, by: Fraction) -> None:
    survey = sixty(box("r", 29.5, 14, sd=0.0))
    scheme = Scheme.model_validate({"pins": {"r": pin}, "panels": {"wall": 2}})
    planned = plan_walls([survey], scheme).walls[0]
    assert planned.moves["r"].by == by
    assert planned.wanted["r"] == Fraction("29.5") + by
    first, second = (remedy for remedy in planned.remedies["r"] if remedy.move is not None)
    assert first.move == by  # and told first
    assert second.move is not None
    assert second.move * by < 0
    assert planned.undecided == ()


def test_where_nothing_is_clear_on_the_side_that_is_decided_it_is_said() -> None:
    scheme = Scheme.model_validate({"pins": {"r": "move right"}, "panels": {"wall": 2}})
    planned = plan_walls([sixty(box("r", 57, 14, sd=0.0))], scheme).walls[0]  # on the right end stile
    assert planned.moves == {}
    (note,) = planned.notes
    assert note == "r is to be moved to the right, as decided, but nothing is clear there"
    assert [one.feature for one in planned.undecided] == ["r"]


@pytest.mark.parametrize(("pin", "count"), [("move", 2), ("move left", 2), ("move right", 3)])
def test_the_spacing_leaves_a_box_a_place_on_the_side_that_is_decided(pin: str, count: int) -> None:
    # Two panels of 24 3/4 come nearest to 27; with them, from 29 on, 4 in to the left are free and none to the right.
    near = box("r", 29, 14, sd=0.0, cable_slack=Fraction(4))
    wishes = {"preferences": "conflicts, width", "panel_width": "27", "pins": {"r": pin}}
    planned = plan_walls([sixty(near)], Scheme.model_validate(wishes)).walls[0]
    assert planned.frames[0].count == count
    assert all("cable" not in note for note in planned.notes)


def test_what_is_offered_for_another_box_keeps_the_new_place_free() -> None:
    # The jack's least move to the left would end where r goes: 25.25, 2.75 + 1/2 in to each side.
    features = box("r", 30, 14, sd=0.0), box("jack", 28.5, 14, Kind.JACK, sd=0.0)
    alone, beside = (pinned(*features, move=move, panels={"wall": 2}) for move in ("", "r"))
    least = [
        max(r.move for r in planned.remedies["jack"] if r.move is not None and r.move < 0)
        for planned in (alone, beside)
    ]
    assert least[0] == Fraction("-3.25")
    assert 28.5 + float(least[1]) <= 25.25 - 2.75 - 0.5


@given(st.lists(st.integers(8, 52), min_size=2, max_size=4, unique=True), st.sampled_from(["r0", "r0 r1"]))
def test_moved_boxes_clear_the_frame_and_each_other(places: list[int], move: str) -> None:
    """Shapely: the clear field of every moved plate overlaps no other thing, no member and no moulding."""
    survey = sixty(*(box(f"r{i}", place, 14, sd=0.0) for i, place in enumerate(places)))
    scheme = Scheme.model_validate({"pins": dict.fromkeys(move.split(), "move")})
    frames = plan_walls([survey], scheme).walls[0].frames
    done = decided_moves(frames, survey, scheme, FloorLine([survey]))
    wood = [m for frame in frames for m in (*frame.members, *(m for p in frame.panels for m in p.mouldings))]
    for name in done.moves:
        plate = plate_of(done.survey.feature(name))
        assert plate is not None
        field = shapely.box(*map(float, (plate.left - HALF, plate.bottom - HALF, plate.right + HALF, plate.top + HALF)))
        others = [plate_of(f) for f in done.survey.features if f.name != name]
        for there in (*(m.rect for m in wood), *(o for o in others if o is not None)):
            judge = shapely.box(*map(float, (there.left, there.bottom, there.right, there.top)))
            assert field.intersection(judge).area < 1e-9  # floats that touch
    assert set(done.moves) | {note.split()[0] for note in done.notes} >= set(move.split())


HALF = Fraction(1, 2)


@pytest.mark.parametrize(
    ("features", "known", "words"),
    [
        pytest.param(
            [box("r", 30, 14, cable_slack=Fraction(2))], {"panels": {"wall": 2}},
            'the least move that clears everything is 4 3/4" and the cable lets it go 2", 2 3/4" less', id="cable",
        ),
        pytest.param(
            [box("r", 30, 14, width=22)], {"panels": {"wall": 2}},
            'wants 23" of clear field and the widest panel at its height has 22 1/2", 1/2" less', id="too wide",
        ),
        pytest.param([box("r", 30, 5)], {}, "no panel is clear at its height", id="on the bottom rail"),
        pytest.param([box("r", 16, 14)], {}, "but clears everything where it stands", id="nothing in its way"),
        pytest.param(
            [Feature(Mark(name="r", kind=Kind.JACK), seen(1), seen(3), None, None)], {},
            "where it stands is not measured", id="not measured",
        ),
        pytest.param(
            [box("r", 30, 14), box("a", 15.9, 14, Kind.REGISTER, 18, 6), box("b", 44.1, 14, Kind.REGISTER, 18, 6)],
            {"panels": {"wall": 2}}, "other things take every place at its height", id="taken",
        ),
    ],
)  # fmt: skip
def test_a_move_that_cannot_be_made_is_told(features: list[Feature], known: dict[str, object], words: str) -> None:
    planned = pinned(*features, move="r", **known)
    (note,) = [note for note in planned.notes if "is to be moved, as decided" in note]
    assert words in note


def test_the_spacing_leaves_a_moved_box_a_place_that_its_cable_reaches() -> None:
    # Two panels of 24 3/4 come nearest to 27, but a stile stands on the box, 4 3/4 in from the next clear place.
    wishes = {"preferences": "conflicts, width", "panel_width": "27", "move": "r"}
    anywhere, near = (pinned(box("r", 30, 14, cable_slack=slack), **wishes) for slack in (None, Fraction(2)))
    assert (anywhere.frames[0].count, near.frames[0].count) == (2, 3)
    assert all("the cable lets it go" not in note for note in near.notes)
