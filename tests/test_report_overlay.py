from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from capture.camera import Camera
from capture.record import Kind, Mark, Sight
from layout.scheme import Pin
from report.canvas import Canvas
from report.overlay import WORK_WIDTH, elevation_overlay, marked_photo, overlay
from report.symbols import SYMBOLS
from report.views import CameraView, FlatView, edges
from tests.test_report_wall import CHAIR, SCHEME, made_up_camera, made_up_picture, made_up_plan, made_up_survey, thing

CAMERA = made_up_camera()


def by_opencv(camera: Camera, points) -> np.ndarray:
    """The same projection by OpenCV's own model (k1, k2; no tangential terms)."""
    f, cx, cy, k1, k2 = camera.lens
    K = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1.0]])
    pixels, _ = cv2.projectPoints(
        np.asarray(points, float), camera.pose[:3], camera.pose[3:], K, np.array([k1, k2, 0.0, 0.0])
    )
    return pixels.reshape(-1, 2)


@pytest.fixture(scope="module")
def drawn():
    return np.asarray(overlay(made_up_picture(), CAMERA, made_up_plan(), [CHAIR])).astype(int)


@pytest.fixture(scope="module")
def bare():
    return np.asarray(made_up_picture()).astype(int)


@pytest.mark.parametrize("factor", [1.0, 0.5, 0.37])
def test_corners_of_members_fall_where_opencv_puts_them(factor):
    frame = made_up_plan().frames[0]
    corners = np.array(
        [
            (float(x), float(y), float(member.thickness))
            for member in frame.members
            for x in (member.rect.left, member.rect.right)
            for y in (member.rect.bottom, member.rect.top)
        ]
    )
    pixels, good = CameraView.scaled(CAMERA, factor).pixels(corners)
    expected = (by_opencv(CAMERA, corners) + 0.5) * factor - 0.5  # pixel centres at whole numbers in both pictures
    assert good.all()
    np.testing.assert_allclose(pixels, expected, atol=1e-6)


def test_a_stile_is_painted_at_its_face_and_the_wall_above_is_not(drawn, bare):
    stile = made_up_plan().frames[0].stiles[1]
    x, y = float(stile.rect.left + stile.rect.right) / 2, 26.0
    u, v = np.rint(by_opencv(CAMERA, [(x, y, float(stile.thickness))])[0]).astype(int)
    assert (drawn[v, u] > bare[v, u] + 40).all()
    u, v = np.rint(by_opencv(CAMERA, [(60.0, 60.0, 0.0)])[0]).astype(int)
    assert (drawn[v, u] == bare[v, u]).all()


def test_edges_are_where_their_stand_off_puts_them(drawn, bare):
    # Seen from above: the cap's top shows back to the wall, and the bottom rail's foot stands off by 3/4 in.
    cap = float(made_up_plan().frames[0].rect.top)
    (u, top), (_, foot) = by_opencv(CAMERA, [(30.0, cap, 0.0), (30.0, 0.0, 0.75)])
    column = np.flatnonzero(np.abs(drawn[:, round(u)] - bare[:, round(u)]).max(axis=1) > 8)
    # a pixel is changed by more than 8 steps where the paint covers some of it: within one pixel of the edge
    assert abs(column[0] - top) <= 1
    assert abs(column[-1] - foot) <= 1


def test_what_stands_in_front_is_left_as_it_was(drawn, bare):
    u, v = np.mean(CHAIR, axis=0).astype(int)
    assert (drawn[v - 60 : v + 60, u - 40 : u + 40] == bare[v - 60 : v + 60, u - 40 : u + 40]).all()


def test_a_box_that_is_decided_to_move_is_shown_where_it_goes_and_dashed_where_it_stands():
    plan = made_up_plan(scheme=SCHEME.model_copy(update={"pins": {"receptacle 2": Pin.MOVE}}))
    box, at = plan.survey.feature("receptacle 2"), plan.wanted["receptacle 2"]
    moved, before = (np.asarray(overlay(made_up_picture(), CAMERA, p)).astype(int) for p in (plan, made_up_plan()))

    def dark_along(picture, middle) -> float:
        """The share of the box's outline, with its middle there, that is drawn dark."""
        half = (box.right.value - box.left.value) / 2
        sides = np.linspace(box.bottom.value, box.top.value, 200)
        points = [(middle + side * half, y, float(box.mark.proud)) for side in (-1, 1) for y in sides]
        u, v = np.rint(by_opencv(CAMERA, points)).astype(int).T
        return float((picture[v, u].max(axis=1) < 60).mean())

    here, there = box.across.value, float(at)
    assert dark_along(before, here) > 0.95
    assert dark_along(moved, there) > 0.95
    assert 0.2 < dark_along(moved, here) < 0.8
    assert dark_along(before, there) < 0.2


def test_a_plate_in_a_panel_is_seen_through_the_paint(drawn, bare):
    u, v = np.rint(by_opencv(CAMERA, [(12.4, 16.2, 5 / 32)])[0]).astype(int)
    assert (drawn[v, u] == bare[v, u]).all()


def test_large_photos_are_worked_on_at_a_reduced_size():
    size = (2 * WORK_WIDTH, 3000)
    big = overlay(Image.new("RGB", size, (150, 150, 150)), made_up_camera(size), made_up_plan())
    assert big.size == (WORK_WIDTH, 1500)


def test_points_behind_the_camera_or_beyond_the_lens_model_are_not_trusted():
    barrel = Camera(CAMERA.size, np.array([*CAMERA.lens[:3], -0.3, 0.0]), CAMERA.pose)
    points = np.array([(66.0, 58.0, 0.0), (66.0, 58.0, 300.0), (2000.0, 58.0, 0.0)])
    assert CameraView(barrel).pixels(points)[1].tolist() == [True, False, False]


def test_edges_are_sampled_so_that_a_lens_can_bend_them():
    points = edges(np.array([(0, 0, 0), (10, 0, 0), (10, 1, 0), (0, 1, 0)]))
    gaps = np.linalg.norm(np.diff(np.vstack([points, points[:1]]), axis=0), axis=1)
    assert gaps.max() <= 3.0
    assert gaps.sum() == pytest.approx(22)


def test_a_rectified_elevation_is_drawn_at_its_own_scale():
    view = FlatView(10.0, -2.0, 60.0)
    pixels, _ = view.pixels(np.array([(-2.0, 60.0, 0.0), (8.0, 50.0, 3.0)]))
    np.testing.assert_allclose(pixels, [(-0.5, -0.5), (99.5, 99.5)])  # the outer corner, then 10 in each way
    plan = made_up_plan()
    flat = np.asarray(elevation_overlay(Image.new("RGB", (1480, 620), (150, 144, 134)), 10.0, -2.0, 60.0, plan))
    stile = plan.frames[0].stiles[3]
    u = round((float(stile.rect.left + stile.rect.right) / 2 + 2) * 10)
    assert flat[340, u].min() > 190
    assert flat[100, u].tolist() == [150, 144, 134]


def test_an_elevation_without_a_plan_shows_only_what_stands_there():
    image = Image.new("RGB", (1480, 900), (150, 144, 134))
    flat = np.asarray(elevation_overlay(image, 10.0, -2.0, 88.0, made_up_survey()))
    assert flat[700, 900].tolist() == [150, 144, 134]
    assert flat.min() < 60


def test_marks_are_outlined_through_the_camera():
    picture = np.asarray(marked_photo(made_up_picture(), CAMERA, made_up_survey(), (), "north 1")).astype(int)
    left, y = 12.4 - 2.75 / 2, 16.2
    u, v = np.rint(by_opencv(CAMERA, [(left, y, 5 / 32)])[0]).astype(int)
    assert picture[v, u - 1 : u + 2].min() < 80


def test_without_a_camera_the_taps_themselves_are_shown():
    mark = Mark(name="receptacle 1", kind=Kind.RECEPTACLE, sights=(Sight(photo="a", u=700, v=200),))
    for photo, shown in (("a", True), ("b", False)):
        picture = np.asarray(marked_photo(made_up_picture(), None, made_up_survey(), (mark,), photo)).astype(int)
        assert bool(picture[200, 700].max() < 60) is shown


def grey(colour) -> float:
    """Luma as a grey printer sees it (ITU-R BT.601)."""
    return float(np.dot(np.asarray(colour, float)[..., :3], (0.299, 0.587, 0.114)).item())


@pytest.mark.parametrize("ground", [0, 128, 255])
@pytest.mark.parametrize(("verdict", "symbol"), SYMBOLS.items())
def test_flags_read_in_grey_on_any_ground(verdict, symbol, ground):
    canvas = Canvas(Image.new("RGB", (1000, 200), (ground, ground, ground)))
    canvas.flag((500, 100), 7, symbol)
    ring, sign = canvas.pixels[80:120, 480:520], canvas.pixels[80:120, 518:550]
    for part in (ring, sign):
        luma = part.astype(float) @ (0.299, 0.587, 0.114)
        assert np.ptp(luma) > 200
    assert (canvas.pixels[:, :, 0] == canvas.pixels[:, :, 2]).all()  # ink and paper only: no colour tells anything


def test_paint_reads_against_a_mid_grey_wall(drawn, bare):
    cap = made_up_plan().frames[0].rect
    u, v = np.rint(by_opencv(CAMERA, [(20.0, float(cap.top) - 2.5, 0.75)])[0]).astype(int)
    assert grey(drawn[v, u]) - grey(bare[v, u]) > 50


def test_a_sheet_behind_the_frame_brings_it_forward():
    plain = np.asarray(overlay(made_up_picture(), CAMERA, made_up_plan()))
    sheet = np.asarray(overlay(made_up_picture(), CAMERA, made_up_plan(), behind=3.0))
    assert not np.array_equal(plain, sheet)


def test_a_photo_of_another_place_is_left_untouched():
    away = replace(CAMERA, pose=np.array([*CAMERA.pose[:3], CAMERA.pose[3], CAMERA.pose[4], -500.0]))
    picture = made_up_picture()
    np.testing.assert_array_equal(np.asarray(overlay(picture, away, made_up_plan())), np.asarray(picture))


def test_what_lies_beside_the_picture_is_not_drawn():
    """A thing above what the elevation shows has no outline."""
    picture = Image.new("RGB", (400, 200), (150, 150, 150))
    survey = made_up_survey()
    high = replace(survey, features=(thing("sconce jack", Kind.JACK, 20.0, 150.0),))
    drawn = np.asarray(elevation_overlay(picture, 4.0, 0.0, 50.0, high))
    assert (drawn == 150).all(axis=2).mean() > 0.95  # its number alone, at the edge
