"""The camera model against OpenCV's, numeric differences and its own inverse."""

import cv2
import numpy as np
import pytest
import skimage.transform
from hypothesis import given
from hypothesis import strategies as st

from capture.camera import Camera, project, project_grid, project_with_derivatives, undistort
from tests.synthetic import look

SIZE = (2016, 1512)
WALL = (0.0, 0.0, 144.0, 96.0)


def a_phone(focal, x, y, distance, yaw, pitch, roll, k1, k2) -> Camera:
    return look(size=SIZE, f=focal, at=(x, y, distance), yaw=yaw, pitch=pitch, roll=roll, k1=k1, k2=k2)


# A phone's main lens (26 mm equivalent is 1,456 px at this size, give or take a quarter), mild radial terms, a room.
# Barrel terms stop short of where the model folds, r³ and r⁵ taking the radius back: 1 + 3 k1 r² + 5 k2 r⁴ > 0.3.
cameras = st.builds(
    a_phone,
    st.floats(1100, 1900), st.floats(20, 120), st.floats(30, 70), st.floats(60, 200),
    st.floats(-35, 35), st.floats(-15, 15), st.floats(-180, 180), st.floats(-0.05, 0.1), st.floats(-0.03, 0.1),
)  # fmt: skip
seeds = st.integers(0, 2**32 - 1)


def wall_points(camera: Camera, seed: int, n=40) -> np.ndarray:
    """Points on the wall and up to 6 in proud of it, near what the camera looks at."""
    rng = np.random.default_rng(seed)
    rays = rng.uniform((0.05, 0.05), (0.95, 0.95), (n, 2)) * SIZE
    z = rng.uniform(0, 6, n)
    points = camera.meet(rays, z)
    return points[np.isfinite(points).all(axis=1) & camera.sees(points)]


@given(cameras, seeds)
def test_projects_as_opencv_does(camera: Camera, seed: int) -> None:
    points = wall_points(camera, seed)
    f, cx, cy, k1, k2 = camera.lens
    K = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    theirs, _ = cv2.projectPoints(points, camera.pose[:3], camera.pose[3:], K, np.array([k1, k2, 0, 0]))
    # Both in double precision on numbers of some thousands: 1e3 units in the last place of 4,000 is 5e-10 px.
    np.testing.assert_allclose(camera.project(points), theirs.reshape(-1, 2), atol=5e-10, rtol=0)


@given(cameras)
def test_a_grid_is_projected_as_its_points_are(camera: Camera) -> None:
    x, y = np.linspace(-300, 400, 21), np.linspace(-100, 200, 16)
    points = np.stack([*np.meshgrid(x, y), np.zeros((16, 21))], axis=-1).reshape(-1, 3)
    pixels, faced = project_grid(camera.lens, camera.pose, x, y)
    np.testing.assert_array_equal(faced.ravel(), camera.faces(points))
    assert 0 < faced.sum()
    np.testing.assert_allclose(pixels[faced], camera.project(points[faced.ravel()]), atol=1e-8, rtol=1e-12)


@given(cameras, seeds)
def test_derivatives_agree_with_numeric_differences(camera: Camera, seed: int) -> None:
    points = wall_points(camera, seed, 6)
    lens, pose = camera.lens, camera.pose
    pixels, d_lens, d_pose, d_points = project_with_derivatives(lens, pose, points)
    np.testing.assert_allclose(pixels, project(lens, pose, points), atol=1e-9, rtol=0)

    def differences(function, at, steps):
        moves = np.diag(steps)
        return np.stack([function(at + move) - function(at - move) for move in moves], axis=-1) / (2 * steps)

    # Central differences err by h²/6 of the third derivative and by rounding, 4,000 px × 2e-16 / h. The steps make
    # both below 1e-6 of the columns' usual size (px a unit, given as the last number of each line).
    lens_steps = np.array([1e-3, 1e-3, 1e-3, 1e-4, 1e-4])
    assert_close(d_lens, differences(lambda v: project(v, pose, points), lens, lens_steps), 1e3)
    assert_close(d_pose, differences(lambda v: project(lens, v, points), pose, np.array([1e-5] * 3 + [1e-3] * 3)), 1e4)
    for i, point in enumerate(points):
        numeric = differences(lambda v: project(lens, pose, v[None])[0], point, np.full(3, 1e-3))
        assert_close(d_points[i], numeric, 1e2)


def assert_close(ours, numeric, scale):
    np.testing.assert_allclose(ours, numeric, rtol=1e-5, atol=1e-6 * scale)


@given(cameras, seeds)
def test_a_viewing_ray_meets_the_plane_where_the_point_was(camera: Camera, seed: int) -> None:
    points = wall_points(camera, seed)
    # A pixel is 0.05 to 1 in here, and the ray's grazing makes at most some tens of it: 1e-10 px is far below 1e-7 in.
    np.testing.assert_allclose(camera.meet(camera.project(points), points[:, 2]), points, atol=1e-7, rtol=0)


def test_a_proud_face_taken_for_the_wall_is_misplaced_by_its_lean() -> None:
    # A casing face 11/16 in off the wall, 30 degrees off the camera's foot: 0.6875 tan 30° = 0.397 in.
    camera = look(size=SIZE, f=1456.0, at=(50.0, 40.0, 100.0), k1=0, k2=0)
    edge = np.array([[50 + (100 - 0.6875) * np.tan(np.radians(30)), 40.0, 0.6875]])
    pixel = camera.project(edge)
    assert camera.meet(pixel, 0.0)[0, 0] - edge[0, 0] == pytest.approx(0.6875 / np.sqrt(3), abs=1e-9)
    assert camera.meet(pixel, 0.6875)[0] == pytest.approx(edge[0], abs=1e-9)


@given(cameras, seeds)
def test_undistorts_as_opencv_does(camera: Camera, seed: int) -> None:
    pixels = np.random.default_rng(seed).uniform((0, 0), SIZE, (40, 2))
    f, cx, cy, k1, k2 = camera.lens
    K = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    # OpenCV repeats a fixed point and stops at its criterion; ours is Newton. Both are told to go to 1e-12.
    criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 200, 1e-12)
    theirs = cv2.undistortPoints(pixels.reshape(-1, 1, 2), K, np.array([k1, k2, 0, 0]), criteria=criteria)
    np.testing.assert_allclose(undistort(camera.lens, pixels), theirs.reshape(-1, 2), atol=1e-9, rtol=0)


def test_a_pixel_at_the_lens_centre_stays_there() -> None:
    lens = np.array([1456.0, 1000.0, 750.0, 0.1, -0.05])
    assert undistort(lens, np.array([[1000.0, 750.0]])).tolist() == [[0.0, 0.0]]


def test_sees_only_what_is_in_front_and_inside_the_picture() -> None:
    camera = look(size=SIZE, f=1456.0, at=(50.0, 40.0, 100.0), k1=0, k2=0, centre=(0, 0))
    half_width = 100 * SIZE[0] / 2 / 1456
    points = np.array([
        (50, 40, 0), (50 + half_width - 1e-6, 40, 0), (50 + half_width + 1e-6, 40, 0),
        (50 - half_width + 1e-6, 40, 0), (50 - half_width - 1e-6, 40, 0), (50, 40, 150), (50, 40, 100),
    ])  # fmt: skip
    assert camera.sees(points).tolist() == [True, True, False, True, False, False, False]


def camera_of(homography: np.ndarray, cy: float) -> Camera:
    """The camera without distortion that sees the wall as `homography`, wall to pixels, its lens centre at height `cy`.

    Zhang 2000, section 3.1, equations 3 and 4: with h1, h2 the first two columns and w = K⁻ᵀK⁻¹, h1ᵀ w h2 = 0 and
    h1ᵀ w h1 = h2ᵀ w h2: linear in cx and in w33 = cx² + cy² + f², all times f².
    """
    h1, h2 = homography[:, 0], homography[:, 1]

    def form(p, q):  # pᵀ w q: what is known of it, and its slopes by cx and w33
        known = p[0] * q[0] + p[1] * q[1] - cy * (p[1] * q[2] + p[2] * q[1])
        return np.array([known, -(p[0] * q[2] + p[2] * q[0]), p[2] * q[2]])

    equations = np.array([form(h1, h2), form(h1, h1) - form(h2, h2)])
    cx, w33 = np.linalg.solve(equations[:, 1:], -equations[:, 0])
    f = np.sqrt(w33 - cx**2 - cy**2)
    columns = np.linalg.solve(np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]]), homography)
    columns /= np.linalg.norm(columns[:, 0])
    R = np.column_stack([columns[:, 0], columns[:, 1], np.cross(columns[:, 0], columns[:, 1])])
    return Camera.from_matrix((4032, 3024), np.array([f, cx, cy, 0, 0]), R, columns[:, 2])


def test_a_made_up_rectangle_has_its_middle_where_the_diagonals_cross() -> None:
    # Derived by hand: a rectangle 120 × 96 in at these pixels has its middle where the pixel diagonals cross,
    # (2161.6643, 1550.2134), and pixel (2000, 1500) is (53.7517, 45.7180) in. A bilinear warp gives (1987.5, 1525).
    corners = [(0, 0), (120, 0), (120, 96), (0, 96)]
    pixels = [(400, 300), (3600, 500), (3500, 2500), (450, 2800)]
    H = skimage.transform.ProjectiveTransform.from_estimate(np.array(corners, float), np.array(pixels, float)).params
    camera = camera_of(H, cy=1500)
    np.testing.assert_allclose(camera.project(np.array([(60, 48, 0)])), [(2161.6643, 1550.2134)], atol=5e-5, rtol=0)
    np.testing.assert_allclose(camera.meet(np.array([(2000, 1500)])), [(53.7517, 45.7180, 0)], atol=5e-5, rtol=0)


def test_a_camera_without_distortion_maps_the_wall_by_a_projective_transform() -> None:
    camera = look(size=SIZE, f=1456.0, at=(90.0, 50.0, 130.0), yaw=-20, pitch=8, roll=5, k1=0, k2=0)
    corners = np.array([(20.0, 10.0), (120.0, 10.0), (120.0, 90.0), (20.0, 90.0)])

    def on_wall(xy):
        return np.column_stack([xy, np.zeros(len(xy))])

    theirs = skimage.transform.ProjectiveTransform.from_estimate(corners, camera.project(on_wall(corners)))
    inside = np.random.default_rng(5).uniform((0, 0), (144, 96), (200, 2))
    # Four corners fix it exactly, but for rounding: condition number of the normalised system, below 1e4, times 1e-13.
    np.testing.assert_allclose(camera.project(on_wall(inside)), theirs(inside), atol=1e-8, rtol=0)
    pixels = camera.project(on_wall(inside))
    np.testing.assert_allclose(camera.meet(pixels)[:, :2], theirs.inverse(pixels), atol=1e-8, rtol=0)
