"""Frames: every member at its exact place, nothing overlapping, nothing left open."""

from fractions import Fraction

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from capture.lengths import MM, nearest
from layout.frames import Frame, Rect, Role, build_frame, build_frames, spoken
from layout.runs import runs_of
from layout.scheme import Scheme
from layout.spacing import FrameFitError, best_count, space, wanted_width
from tests.test_layout_room import taped, wall, window

schemes = st.builds(
    Scheme,
    stile=st.fractions(2, 6, max_denominator=16),
    top_rail=st.fractions(2, 6, max_denominator=16),
    bottom_rail=st.fractions(2, 8, max_denominator=16),
    cap=st.sampled_from([Fraction(0), Fraction(3, 4), Fraction(5, 4)]),
    moulding=st.sampled_from([Fraction(0), Fraction(7, 8), Fraction(3, 2)]),
    panel_width=st.fractions(8, 40, max_denominator=8),
    end_stile=st.sampled_from([Fraction(0), Fraction(5)]),
    base=st.sampled_from([Fraction(0), Fraction(7, 2)]),
    ledge=st.sampled_from([Fraction(0), Fraction(5, 4)]),
    middle_rail_at=st.sampled_from([Fraction(0), Fraction(20)]),
    equal=st.booleans(),
    mirrored=st.booleans(),
)


def frame_of(width: Fraction | int, scheme: Scheme, count: int | None = None) -> Frame:
    (run,) = runs_of(wall(width=taped(Fraction(width))), scheme)
    return build_frame(run, scheme, count)


def polygon(rect: Rect) -> shapely.Polygon:
    return shapely.box(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top))


def test_members_stand_where_a_carpenter_would_set_them_out() -> None:
    frame = frame_of(60, Scheme())
    places = {member.name: member.rect for member in frame.members}
    whole = {
        "cap": (0, "35.25", 60, 36),  # 36 - 3/4
        "top rail": ("3.5", "31.75", "56.5", "35.25"),
        "bottom rail": ("3.5", 0, "56.5", "5.5"),
        "stile 1": (0, 0, "3.5", "35.25"),
        "stile 2": ("28.25", "5.5", "31.75", "31.75"),  # 3.5 + 24.75
        "stile 3": ("56.5", 0, 60, "35.25"),
    }
    assert places == {name: Rect(*(Fraction(edge) for edge in edges)) for name, edges in whole.items()}


def test_a_panel_has_its_moulding_a_reveal_inside_and_its_field_inside_that() -> None:
    panel = frame_of(60, Scheme()).panels[0]
    assert panel.opening == Rect(Fraction("3.5"), Fraction("5.5"), Fraction("28.25"), Fraction("31.75"))
    assert panel.moulding == panel.opening.inset(Fraction(1, 4))
    assert panel.field == panel.opening.inset(Fraction(9, 8))
    right = panel.mouldings[1]
    assert (right.name, right.role) == ("moulding of panel 1, right", Role.MOULDING)
    assert (right.rect.left, right.rect.right) == (Fraction("27.125"), Fraction(28))


def test_without_moulding_a_panel_is_all_field() -> None:
    panel = frame_of(60, Scheme(moulding=Fraction(0))).panels[0]
    assert (panel.moulding, panel.mouldings, panel.field) == (None, (), panel.opening)


def test_only_end_stiles_reach_the_floor() -> None:
    roles = {stile.name: (stile.role, stile.rect.bottom) for stile in frame_of(60, Scheme()).stiles}
    assert roles["stile 1"] == roles["stile 3"] == (Role.END_STILE, 0)
    assert roles["stile 2"] == (Role.STILE, Fraction("5.5"))


def test_the_cap_stands_past_the_face_of_the_stiles() -> None:
    cap, rail, *_ = frame_of(60, Scheme()).members
    assert cap.thickness - rail.thickness == Fraction(1, 2)


TALL = Scheme(
    top=Fraction(60), ledge=Fraction(1), base=Fraction(4), middle_rail=Fraction(3), middle_rail_at=Fraction(40),
    end_stile=Fraction(5),
)  # fmt: skip


def test_two_tiers_with_a_ledge_and_a_base_stand_as_a_carpenter_would_set_them_out() -> None:
    frame = frame_of(60, TALL)
    places = {member.name: member.rect for member in frame.members}
    whole = {
        "ledge": (0, 59, 60, 60),
        "cap": (0, "58.25", 60, 59),
        "top rail": (5, "54.75", 55, "58.25"),
        "middle rail": (5, 37, 55, 40),
        "bottom rail": (5, 4, 55, "9.5"),
        "base": (0, 0, 60, 4),
        "stile 1": (0, 4, 5, "58.25"),
        "stile 2": ("28.25", "9.5", "31.75", 37),  # 5 + (60 - 10 - 3.5) / 2
        "upper stile 2": ("28.25", 40, "31.75", "54.75"),
        "stile 3": (55, 4, 60, "58.25"),
    }
    assert places == {name: Rect(*(Fraction(edge) for edge in edges)) for name, edges in whole.items()}
    assert [panel.name for panel in frame.panels] == ["panel 1", "panel 2", "upper panel 1", "upper panel 2"]
    assert [stile.name for stile in frame.stiles] == ["stile 1", "stile 2", "stile 3"]
    assert frame.members[0].thickness == Fraction(3, 4) + 3
    assert (spoken("upper stile 2"), spoken("upper panel 1")) == ("upper stile 2", "the upper panel 1")


def test_over_a_window_the_frame_goes_on_between_its_casings() -> None:
    survey = wall(window("w", 40, 80, apron=24, bottom=28.5))
    tall = Scheme(top=Fraction(100))
    left, under, over, right = build_frames(runs_of(survey, tall), tall)  # the window's head is at 80
    assert [frame.run.part for frame in (left, under, over, right)] == ["left of w", "under w", "over w", "right of w"]
    assert (over.rect.left, over.rect.right, over.rect.bottom, over.rect.top) == (40, 80, 80, 100)
    assert under.rect.left == over.rect.left == left.rect.right  # all line up with the casing
    rails = {member.name: member.rect for member in over.members}
    assert rails["bottom rail over w"].height == tall.top_rail
    assert over.run.bottom_at.sd == 1 / 32


def test_full_panels_leave_the_rest_to_the_ends() -> None:
    # 60 - 4 × 3.5 = 46 of panels: 20, 20 and 6; or 13, 20 and 13.
    rest = Scheme(panel_width=Fraction(20), equal=False)
    both = rest.model_copy(update={"mirrored": True})
    assert space(frame_of(60, rest).run, rest, 3).panels == (20, 20, 6)
    assert space(frame_of(60, both).run, both, 3).panels == (13, 20, 13)
    assert best_count(frame_of(60, both).run, both) == 2  # both 24 3/4: nearer to 20 than 13 is


def test_a_wanted_proportion_sets_the_width() -> None:
    # The panels are 26 1/4 high.
    assert wanted_width(frame_of(60, Scheme()).run, Scheme(proportion=Fraction("1.5"))) == Fraction("17.5")


def test_shown_stiles_and_panels_add_up_to_the_shown_run() -> None:
    frame = frame_of(Fraction("142.625"), Scheme())
    shown = frame.shown_across(Fraction(1, 16))
    assert sum(shown) == Fraction("142.625")
    assert set(shown[::2]) == {Fraction("3.5")}
    assert set(shown[1::2]) <= {Fraction("24.3125"), Fraction("24.375")}  # each 24.325


@given(st.fractions(40, 300, max_denominator=64), st.integers(1, 9), st.sampled_from([Fraction(1, 16), MM]))
def test_shown_members_close_whatever_the_run(width: Fraction, count: int, step: Fraction) -> None:
    scheme = Scheme(stile=Fraction(3), reveal=Fraction(0), moulding=Fraction(0))
    frame = frame_of(width, scheme, min(count, 7))
    assert sum(frame.shown_across(step)) == nearest(frame.run.width, step)


def test_members_are_numbered_across_the_wall_and_named_by_their_part() -> None:
    scheme = Scheme()
    frames = build_frames(runs_of(wall(window("w", 44, 80, apron=24)), scheme), scheme)
    assert [stile.name for frame in frames for stile in frame.stiles] == [f"stile {n}" for n in range(1, 8)]
    assert [panel.name for frame in frames for panel in frame.panels] == [f"panel {n}" for n in range(1, 5)]
    assert [frame.members[0].name for frame in frames] == ["cap left of w", "top rail under w", "cap right of w"]


@given(st.fractions(30, 240, max_denominator=32), schemes)
def test_members_and_openings_tile_the_run_without_overlap(width: Fraction, scheme: Scheme) -> None:
    frame = frame_of(width, scheme)
    rects = [member.rect for member in frame.members] + [panel.opening for panel in frame.panels]
    assert sum(rect.width * rect.height for rect in rects) == frame.rect.width * frame.rect.height
    assert not any(one.overlaps(other) for i, one in enumerate(rects) for other in rects[:i])
    union = shapely.union_all([polygon(rect) for rect in rects])
    assert union.symmetric_difference(polygon(frame.rect)).area == pytest.approx(0, abs=1e-6)


@given(st.fractions(30, 240, max_denominator=32), schemes)
def test_every_panel_has_a_field_inside_its_moulding(width: Fraction, scheme: Scheme) -> None:
    for panel in frame_of(width, scheme).panels:
        assert panel.field.width >= 2
        assert panel.field.height >= 2
        assert panel.opening.contains(panel.field)
        assert panel.mouldings == () or panel.moulding is not None
        assert not any(member.rect.overlaps(panel.field) for member in panel.mouldings)


def test_two_hundred_panels_do_not_drift() -> None:
    frame = frame_of(3000, Scheme(), 200)
    assert frame.stiles[-1].rect.right == 3000


def test_a_count_that_does_not_fit_is_refused() -> None:
    with pytest.raises(FrameFitError, match='31 stiles of 3 1/2" take 108 1/2" of a run that is 60" long'):
        frame_of(60, Scheme(), 30)


@pytest.mark.parametrize(
    ("other", "overlaps", "contained"),
    [
        pytest.param((1, 1, 2, 2), True, True, id="inside"),
        pytest.param((0, 0, 4, 4), True, True, id="the same"),
        pytest.param((3, 3, 5, 5), True, False, id="across a corner"),
        pytest.param((4, 0, 5, 4), False, False, id="sharing an edge"),
        pytest.param((5, 0, 6, 4), False, False, id="apart"),
    ],
)
def test_rectangles_know_how_they_lie(other: tuple[int, int, int, int], overlaps: bool, contained: bool) -> None:
    square = Rect(Fraction(0), Fraction(0), Fraction(4), Fraction(4))
    rect = Rect(*map(Fraction, other))
    assert (square.overlaps(rect), square.contains(rect)) == (overlaps, contained)
