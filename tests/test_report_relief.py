"""The members met by the camera's rays: against OpenCV's projection, Shapely's areas, and a slow march."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPoint

from report.rays import Rays, rays_of, samples_of
from report.relief import Met, Side, _meet_box, meet_shown, reaches_of
from report.solids import MISS, PROFILE_AT, Box, Ring, Solids, ring_height, solids_of
from report.views import CameraView, FlatView
from tests.test_report_overlay import by_opencv
from tests.test_report_wall import made_up_camera, made_up_plan

CAMERA = made_up_camera()
VIEW = CameraView(CAMERA)
WHOLE = ((0, 0), CAMERA.size)


def meet(solids, view, rays, corner) -> Met:
    """Whatever the view shows of the solids."""
    return meet_shown(reaches_of(solids, view), rays, corner)


def corners_of_members() -> np.ndarray:
    boxes = solids_of(made_up_plan()).boxes
    return np.array([(x, y, b.front) for b in boxes for x in (b.left, b.right) for y in (b.bottom, b.top)])


def test_rays_pass_through_the_corners_that_opencv_projects():
    """Exact: OpenCV's pixel of a corner gives a ray that passes the corner within what 64-bit Newton leaves."""
    corners = corners_of_members()
    x0, y0, sx, sy = VIEW.meets(by_opencv(CAMERA, corners)).T
    z = corners[:, 2]
    np.testing.assert_allclose(np.column_stack([x0 + sx * z, y0 + sy * z]), corners[:, :2], atol=1e-7)


@pytest.mark.parametrize("sample", [None, 0, 1, 2, 3])
def test_rays_between_those_worked_out_are_straight(sample):
    """Linear between nodes h apart is off by h²/8 times the second derivative, here in both ways, and float32.

    The slopes of all samples of a pixel are those of its middle.
    """
    off = np.array([(-1, -3), (3, -1), (-3, 1), (1, 3)])[sample] / 8 if sample is not None else np.zeros(2)
    rays = rays_of(VIEW, *WHOLE) if sample is None else samples_of(VIEW, *WHOLE)
    at = np.random.default_rng(1).integers(0, rays.sx.size, 500)
    row, column = np.unravel_index(at, rays.sx.shape)
    middle = np.column_stack([column, row])
    pixels = middle + off
    exact = np.column_stack([VIEW.meets(pixels)[:, :2], VIEW.meets(middle)[:, 2:]])
    bend = sum(
        np.abs(VIEW.meets(pixels + step) - 2 * VIEW.meets(pixels) + VIEW.meets(pixels - step)).max(axis=0)
        for step in np.array([(8.0, 0.0), (0.0, 8.0)])
    )
    starts = [part if sample is None else part[sample] for part in (rays.x0, rays.y0)]
    ours = np.column_stack([part.ravel()[at] for part in (*starts, rays.sx, rays.sy)])
    assert (np.abs(ours - exact).max(axis=0) <= bend / 8 + 200 * np.finfo(np.float32).eps).all()


def test_a_box_covers_the_area_that_its_projected_corners_enclose():
    """A straight edge misjudges a pixel by at most one of its four samples, so the area by a quarter of its length."""
    box = Box(30.0, 10.0, 34.0, 40.0, 0.0, 2.0)
    view = CameraView(replace(CAMERA, lens=np.array([*CAMERA.lens[:3], 0.0, 0.0])))  # edges stay straight
    met = meet(Solids((box,), ()), view, samples_of(view, *WHOLE), (0, 0))
    corners = [(x, y, z) for x in (30.0, 34.0) for y in (10.0, 40.0) for z in (0.0, 2.0)]
    hull = MultiPoint(by_opencv(view.camera, corners)).convex_hull
    assert abs(met.hit.sum() / 4 - hull.area) < hull.length / 4


def test_the_sides_of_a_box_show_on_the_side_of_the_eye():
    box = Box(20.0, 10.0, 24.0, 30.0, 0.0, 2.0)  # left of and below the eye: its right side and its top show
    met = meet(Solids((box,), ()), VIEW, rays_of(VIEW, *WHOLE), (0, 0))
    assert set(np.unique(met.side)) == {Side.NONE, Side.FRONT, Side.RIGHT, Side.UP}


def test_straight_on_no_side_shows():
    view = FlatView(10.0, 0.0, 60.0)
    met = meet(solids_of(made_up_plan()), view, rays_of(view, (0, 0), (1400, 600)), (0, 0))
    assert (met.side <= Side.FRONT).all()


@given(x=st.floats(-20, 60), y=st.floats(-10, 50), sx=st.floats(-2, 2), sy=st.floats(-2, 2), front=st.floats(0.25, 4))
def test_meeting_a_box_agrees_with_a_slow_march(x, y, sx, sy, front):
    """Down from above in steps of 1/500: the first step inside is no more than one step below the face met."""
    rays = Rays(*(np.full((1, 1), value, np.float32) for value in (x, y, sx, sy)))
    box, met = Box(10.0, 5.0, 30.0, 25.0, 0.0, front), Met(rays)
    _meet_box(met, (slice(0, 1), slice(0, 1)), box)
    z = np.linspace(front, 0, 501)
    px, py = x + sx * z, y + sy * z
    gap = np.min([px - 10, 30 - px, py - 5, 25 - py], axis=0)  # inside where positive
    inside = np.flatnonzero(gap > 1e-4)
    if inside.size:
        assert abs(met.z[0, 0] - z[inside[0]]) <= front / 500 + 1e-4
    elif (gap < -1e-4 - 4 * front / 500).all():  # it passes outside by more than it moves in a step
        assert met.z[0, 0] == MISS


def test_moulding_is_mitred_and_keeps_within_its_thickness():
    ring = Ring(0.0, 0.0, 20.0, 12.0, 0.875, 0.25, 0.5)
    x, y = np.meshgrid(np.linspace(-1, 21, 300, dtype=np.float32), np.linspace(-1, 13, 200, dtype=np.float32))
    height = ring_height(ring, x, y)
    on = height > MISS
    assert (height[on] <= 0.75).all()
    assert (height[on] >= 0.25).all()
    # float32 of 20 in is good to 2e-6, and the profile climbs up to 4 in per inch
    np.testing.assert_allclose(height[on], ring_height(ring, 20 - x, y)[on], atol=1e-5)
    assert PROFILE_AT[0] == 0
    assert PROFILE_AT[-1] == 1
    diagonal = np.linspace(0.1, 0.8, 8, dtype=np.float32)  # on the mitre both sides have the same height
    assert np.ptp(ring_height(ring, diagonal, diagonal) - ring_height(ring, diagonal, np.full(8, 6, np.float32))) < 1e-6


def test_moulding_stands_where_opencv_puts_it():
    """Its outer edge is met where its projected corner lies, within the march's step and half a pixel."""
    plan = made_up_plan()
    panel = plan.frames[0].panels[0]
    met = meet(solids_of(plan), VIEW, rays_of(VIEW, *WHOLE), (0, 0))
    outer, top = panel.moulding, float(panel.mouldings[0].thickness)
    at = (float(outer.left) + 0.15, float(outer.bottom + outer.top) / 2, top)  # on the profile's flat crown
    u, v = np.rint(by_opencv(CAMERA, [at])[0]).astype(int)
    assert met.z[v, u] == pytest.approx(top, abs=top / 8 + 0.01)
    assert cv2.countNonZero(met.side) > 0
