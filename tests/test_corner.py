"""Two walls that meet, and one camera in both frames."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.corner import TIE_SD, across, corner_belief, tie
from capture.record import EndKind
from tests.synthetic import look

angles = st.floats(-1.2, 1.2)
INSIDE = corner_belief(EndKind.INSIDE_CORNER, EndKind.INSIDE_CORNER, None)


def corner_of(belief, right_end=120.0):
    return belief.mean + np.array([0, 0, 0, right_end, 0, 0])


@pytest.mark.parametrize(
    ("kinds", "radius", "along", "towards_the_room"),
    [
        pytest.param((EndKind.INSIDE_CORNER, EndKind.INSIDE_CORNER), None, (120, 0), 1, id="inside"),
        pytest.param((EndKind.OUTSIDE_CORNER, EndKind.OUTSIDE_CORNER), None, (120, 0), -1, id="outside"),
        pytest.param((EndKind.BULLNOSE, EndKind.BULLNOSE), 0.75, (120.75, -0.75), -1, id="bullnose"),
    ],
)
def test_the_next_wall_runs_where_the_corner_says(kinds, radius, along, towards_the_room):
    """Seen from the room an inside corner comes towards one, an outside corner goes away; a round keeps its radius."""
    belief = corner_belief(*kinds, radius)
    camera = look(at=(60, 50, 120))
    in_next = across(corner_of(belief), camera.pose, backward=True)

    R = cv2.Rodrigues(in_next[:3])[0]
    centre = -R.T @ in_next[3:]
    # The camera stands 120 in off the first wall: so far along the next one, on this side of it or behind.
    assert centre[0] == pytest.approx(towards_the_room * (120 - along[1]), abs=1e-9)
    assert centre[2] == pytest.approx(towards_the_room * (along[0] - 60), abs=1e-9)
    assert centre[1] == pytest.approx(50)


def test_ends_that_make_no_corner_have_none():
    assert corner_belief(EndKind.CASING, EndKind.INSIDE_CORNER, None) is None
    assert corner_belief(EndKind.INSIDE_CORNER, EndKind.OUTSIDE_CORNER, None) is None
    assert corner_belief(EndKind.OPEN, EndKind.OPEN, None) is None


@given(st.tuples(angles, angles, angles), st.tuples(*[st.floats(-100, 100)] * 3))
def test_going_across_and_back_changes_nothing(turn, shift):
    corner = np.array([*turn, *shift])
    pose = look(at=(30, 45, 100), yaw=20, pitch=5).pose
    back = across(corner, across(corner, pose), backward=True)
    np.testing.assert_allclose(back, pose, atol=1e-9)


@given(st.tuples(angles, angles, angles), st.tuples(*[st.floats(-100, 100)] * 3))
def test_a_camera_that_is_one_ties_without_strain(turn, shift):
    corner = np.array([*turn, *shift])
    pose = look(at=(30, 45, 100), yaw=20, pitch=5).pose
    v, *_ = tie(corner, across(corner, pose), pose)
    assert np.abs(v).max() * TIE_SD < 1e-9


@given(st.tuples(angles, angles, angles), st.tuples(*[st.floats(-50, 50)] * 3), st.integers(0, 2))
def test_derivatives_of_the_tie_agree_with_differences(turn, shift, which):
    corner = np.array([*turn, *shift])
    poses = [look(at=(30, 45, 100), yaw=20, pitch=5).pose, look(at=(10, 50, 90), yaw=-30).pose]
    arguments = [corner, *poses]
    derivatives = tie(*arguments)[1 + which]
    for k in range(6):
        ends = []
        for step in (1e-6, -1e-6):
            there = [a.copy() for a in arguments]
            there[which][k] += step
            ends.append(tie(*there)[0])
        # Central differences of terms up to 150 in over 0.01: rounding 1e-16 × 1.5e4 / 1e-6, curvature far below.
        np.testing.assert_allclose(derivatives[:, k], (ends[0] - ends[1]) / 2e-6, atol=2e-3, rtol=1e-5)
