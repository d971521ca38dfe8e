"""Runs: where the shown face starts and stops, and what doors and windows take out of it."""

import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.lengths import MM
from capture.measured import Measured, Source
from capture.record import EndKind, Kind, Mark, Side
from capture.survey import Feature, WallSurvey
from layout.exact import plan_length
from layout.runs import Run, RunError, Stop, runs_of, split_wall
from layout.scheme import Scheme
from tests.test_layout_room import casing, seen, taped, wall, window

SCHEME = Scheme()


@pytest.mark.parametrize(
    ("measured", "exact"),
    [
        pytest.param(taped(143.375), Fraction(1147, 8), id="143 3/8 taped"),
        pytest.param(taped(Fraction(927) * MM), Fraction(927) * MM, id="927 mm taped"),
        pytest.param(taped(Fraction("92.75") * 10 * MM), Fraction("927.5") * MM, id="927.5 mm taped"),
        pytest.param(taped(36.3), Fraction("36.3"), id="36.3 in taped"),
        pytest.param(taped(143.37500000049), Fraction(1147, 8), id="taped, and given back by the adjustment"),
        pytest.param(seen(143.38), Fraction(1147, 8), id="a photo's place to 1/16"),
        pytest.param(Measured(60.03125, 0.05, Source.BOTH), Fraction(60), id="adjusted, a tie to the even sixteenth"),
        pytest.param(taped(60.0312345678), Fraction(60), id="readings evened out"),
    ],
)
def test_a_length_is_planned_as_it_was_read(measured: Measured, exact: Fraction) -> None:
    assert plan_length(measured) == exact


@given(st.integers(1, 40_000), st.sampled_from([Fraction(1, 64), MM, MM / 10, Fraction(1, 100)]))
def test_every_taped_length_survives_being_a_float(steps: int, step: Fraction) -> None:
    assert plan_length(taped(steps * step)) == steps * step


@pytest.mark.parametrize(
    ("kind", "start", "stop"),
    [
        pytest.param(EndKind.INSIDE_CORNER, Fraction(3, 4), Stop.INSIDE_CORNER, id="a thickness off the corner"),
        pytest.param(EndKind.BULLNOSE, Fraction(0), Stop.BULLNOSE, id="at the line where the round begins"),
        pytest.param(EndKind.OUTSIDE_CORNER, Fraction(-3, 4), Stop.OUTSIDE_CORNER, id="a thickness past the corner"),
        pytest.param(EndKind.CASING, Fraction(0), Stop.CASING, id="at the casing"),
        pytest.param(EndKind.OPEN, Fraction(0), Stop.OPEN, id="at the open end"),
    ],
)
def test_the_shown_face_starts_where_its_end_lets_it(kind: EndKind, start: Fraction, stop: Stop) -> None:
    (run,) = runs_of(wall(left=kind, right=kind), SCHEME)
    assert (run.left, run.right) == (start, 120 - start)
    assert run.left_end.stop is run.right_end.stop is stop


def test_the_wall_that_goes_in_first_hides_part_of_its_end_stile_and_shows_the_same_face() -> None:
    corner = wall(left=EndKind.INSIDE_CORNER)
    (first,), (second,) = runs_of(corner, SCHEME), runs_of(corner, SCHEME, left_first=False)
    assert (first.left_hidden, second.left_hidden) == (Fraction(3, 4), 0)
    assert first.left == second.left
    assert 'the left end stile is cut 3/4" wider' in first.notes[0]
    assert second.notes == ()


def test_an_edge_is_as_unsure_as_the_ends_it_lies_between() -> None:
    (run,) = runs_of(wall(width=seen(100, 0.2)), SCHEME)
    assert (run.left_sd, run.right_sd) == (0.0, 0.2)
    assert run.edge_sd(0) == 0.0
    assert run.edge_sd(50) == pytest.approx(0.1)  # half the right end's error
    assert run.edge_sd(130) == 0.2  # beyond the end, that of the end


def test_two_unsure_ends_share_the_error_of_an_edge_between_them() -> None:
    (run,) = [found for found in runs_of(wall(window("window 1", 40, 70, apron=24)), SCHEME) if "under" in found.name]
    middle = float(run.left + run.right) / 2
    assert run.edge_sd(middle) == pytest.approx(math.hypot(1 / 64, 1 / 64))  # two halves of 1/32, independent


@pytest.mark.parametrize(
    ("found", "parts"),
    [
        pytest.param([window("w", 40, 70, apron=24.25)], ["left of w", "under w", "right of w"], id="low window"),
        pytest.param([window("w", 40, 70, apron=36)], [""], id="window that ends at the cap"),
        pytest.param(
            [casing("a", 40, Side.RIGHT), casing("b", 76, Side.LEFT)],
            ["left of a", "right of b"],
            id="doorway",
        ),
        pytest.param([casing("a", 90, Side.RIGHT)], ["left of a"], id="opening that reaches the right end"),
        pytest.param([casing("b", 30, Side.LEFT)], ["right of b"], id="opening that reaches the left end"),
        pytest.param([window("w", 130, 160, apron=24)], [""], id="window marked past the wall's end"),
        pytest.param(
            [window("w", 40, 70, apron=24), window("v", 45, 65, apron=24)],
            ["left of w", "under w", "right of w"],
            id="a window marked twice",
        ),
        pytest.param([casing("b", 0.1, Side.LEFT)], [""], id="casing at the wall's own end"),
        pytest.param(
            [casing("a", 20, Side.RIGHT), casing("b", 50, Side.LEFT), window("w", 80, 100, apron=24)],
            ["left of a", "between b and w", "under w", "right of w"],
            id="door and window",
        ),
        pytest.param(
            [window("w", 0, 40, apron=24)], ["under w", "right of w"], id="window that starts at the wall's end"
        ),
    ],
)
def test_doors_and_low_windows_split_the_wall(found: list[Feature], parts: list[str]) -> None:
    runs = runs_of(wall(*found), SCHEME)
    assert [run.part for run in runs] == parts
    assert [run.name for run in runs] == [f"wall, {part}" if part else "wall" for part in parts]


@given(st.lists(st.floats(0, 110), min_size=1, max_size=4), st.booleans())
def test_runs_never_overlap_and_stay_on_the_wall(lefts: list[float], doors: bool) -> None:
    found = []
    for i, left in enumerate(lefts):
        if doors:
            found += [casing(f"a{i}", left, Side.RIGHT), casing(f"b{i}", left + 8, Side.LEFT)]
        else:
            found.append(window(f"w{i}", left, left + 30, apron=24))
    try:
        runs = runs_of(wall(*found), SCHEME)
    except RunError:
        return
    assert all(0 <= run.left < run.right <= 120 for run in runs)
    assert all(one.right <= other.left for one, other in pairwise(runs))


def _under(feature: Feature) -> Run:
    (run,) = [run for run in runs_of(wall(feature), SCHEME) if run.part.startswith("under")]
    return run


def test_under_a_window_the_run_ends_below_the_apron_and_has_no_cap() -> None:
    run = _under(window("w", 40, 70, stool=28.5, apron=24.25))
    assert (run.top, run.capped, run.notes) == (Fraction("24.25"), False, ())
    assert (run.height_at(2.0), run.height_at(22.0)) == ([], [(1.0, run.top_at)])
    assert run.top_at.sd == 1 / 32
    assert run.left_end.stop is run.right_end.stop is Stop.NEXT_FRAME


def test_without_an_apron_the_run_ends_under_the_stool_and_says_what_it_assumes() -> None:
    run = _under(window("w", 40, 70, stool=28.5))
    assert run.top == Fraction("27.75")  # stool 3/4 thick: common practice, no source
    assert run.notes == ('no apron marked at w: its stool is taken as 3/4" thick',)


def test_a_window_with_neither_ends_the_run_at_its_casing() -> None:
    assert _under(window("w", 40, 70, bottom=28.5)).top == Fraction("28.5")


def test_beside_a_thin_casing_the_frame_is_told_to_stand_proud() -> None:
    left, _, right = runs_of(wall(window("w", 40, 80, apron=24)), SCHEME)
    assert left.notes == (
        'the frame stands 1/16" proud of the casing at the right end, '  # 3/4 against the usual 11/16
        'taken as 11/16" off the wall, as usual: measure it: '
        "return the cap and ease the stile, or back the casing out",
    )
    assert "at the left end" in right.notes[0]


def test_a_casing_as_thick_as_the_frame_needs_no_word() -> None:
    thick = window("w", 40, 80, apron=24)
    flush = replace(thick, mark=thick.mark.model_copy(update={"projection": Fraction(3, 4)}))
    assert all(run.notes == () for run in runs_of(wall(flush), SCHEME))


@pytest.mark.parametrize(
    ("found", "note"),
    [
        pytest.param(
            [window("w", 8, 50, apron=24)],
            'wall, left of w is left plain: 8" wide, and two stiles with a panel need 11 1/4"',
            id="too narrow beside a window",
        ),
        pytest.param(
            [window("w", 40, 70, apron=10)],
            'wall, under w is left plain: 10" high, and two rails with a panel need 13 1/4"',
            id="too low under a window",
        ),
        pytest.param(
            [casing("a", 40, None)],
            "a is left out of the plan: on which side its opening is, is not known",
            id="casing of an unknown side",
        ),
        pytest.param(
            [Feature(Mark(name="a", kind=Kind.CASING_EDGE, side=Side.LEFT), None, None, None, None)],
            "a is left out of the plan: where it stands is not known",
            id="casing not measured",
        ),
        pytest.param(
            [Feature(Mark(name="w", kind=Kind.WINDOW), seen(40), None, seen(20), seen(80))],
            "w is left out of the plan: where its casing stands is not known",
            id="window not measured across",
        ),
        pytest.param(
            [Feature(Mark(name="w", kind=Kind.WINDOW), seen(40), seen(60), None, seen(80))],
            "w is left out of the plan: how low it reaches is not known",
            id="window not measured down",
        ),
    ],
)
def test_what_is_left_out_is_noted(found: list[Feature], note: str) -> None:
    assert split_wall(wall(*found), SCHEME).notes == (note,)


@pytest.mark.parametrize(
    ("survey", "sentence"),
    [
        pytest.param(
            WallSurvey("wall", EndKind.OPEN, EndKind.OPEN, None, ()),
            "The width of “wall” is not known; tape it from end to end",
            id="no width",
        ),
        pytest.param(wall(width=seen(-3)), 'The width of “wall” comes out as -3"; check its two ends', id="swapped"),
        pytest.param(
            wall(width=taped(9)),
            '“wall” is narrower than its frames: 9" of wall .* need 11 1/4", 2 1/4" more; take narrower stiles',
            id="too narrow",
        ),
        pytest.param(
            wall(width=taped(1), left=EndKind.INSIDE_CORNER, right=EndKind.INSIDE_CORNER),
            'at its two ends the frames that stand 3/4" off .* take 1 1/2", 1/2" too much',
            id="nothing between the neighbours",
        ),
        pytest.param(
            wall(window("w", 0, 120, apron=10)),
            'wall, under w is left plain: 10" high, .* need 13 1/4"; lower the rails or leave this wall out',
            id="all of it under a low window",
        ),
    ],
)
def test_a_wall_that_cannot_be_planned_says_why_and_what_to_do(survey: WallSurvey, sentence: str) -> None:
    with pytest.raises(RunError, match=sentence):
        runs_of(survey, SCHEME)
