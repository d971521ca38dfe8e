"""One photo redrawn square-on: places, what it looked at, how fine it is; against truth, OpenCV and scikit-image."""

import tracemalloc

import cv2
import numpy as np
import pytest
import skimage.transform
from hypothesis import given, settings
from hypothesis import strategies as st

from capture import rectify
from capture.camera import Camera, project_with_derivatives
from capture.mosaic import View, elevation
from capture.rectify import Raster, redraw, resolution, seen
from tests.synthetic import look

SQUARE = 6.0  # in
SIZE = (1008, 756)


def drawn_alone(photo: np.ndarray, camera: Camera, extent, px_per_inch: float):
    return elevation([View("photo", photo, camera)], extent, px_per_inch)


def checker_photo(camera: Camera, oversample=3) -> np.ndarray:
    """A colour photo of a wall painted in 6 in squares, black and white, each pixel the mean of what falls on it."""
    width, height = camera.size
    sub = (np.arange(oversample) + 0.5) / oversample - 0.5
    u, v = ((np.arange(n)[:, None] + sub).ravel() for n in (width, height))
    paint = np.empty((height, width))
    for first in range(0, height, 64):
        rows = v[first * oversample : (first + 64) * oversample]
        at = camera.meet(np.stack(np.meshgrid(u, rows), axis=-1).reshape(-1, 2))[:, :2]
        white = (np.floor(at / SQUARE).sum(axis=1) % 2 == 0).reshape(-1, oversample, width, oversample)
        paint[first : first + len(white)] = white.mean(axis=(1, 3))
    return np.repeat((40 + 180 * paint)[..., None].round().astype(np.uint8), 3, axis=2)


@pytest.fixture(scope="module")
def checker() -> tuple[Camera, np.ndarray]:
    camera = look(size=SIZE, f=728.0, at=(55.0, 48.0, 80.0), yaw=12, pitch=-4, roll=3, centre=(4.0, -3.0))
    return camera, checker_photo(camera)


@pytest.mark.parametrize("scale", [pytest.param(8.0, id="about as fine as the photo"), pytest.param(4.0, id="half")])
def test_an_elevation_puts_every_corner_of_a_checker_wall_where_it_is(checker, scale) -> None:
    camera, photo = checker
    drawn = drawn_alone(photo, camera, (24.0, 12.0, 120.0, 84.0), scale)
    gray = cv2.cvtColor(drawn.rgb, cv2.COLOR_RGB2GRAY)
    corners = np.array([(x, y) for x in np.arange(30, 120, SQUARE) for y in np.arange(18, 84, SQUARE)])
    round_about = np.array([(-2, -2, 0), (-2, 2, 0), (2, -2, 0), (2, 2, 0)]) + np.insert(corners, 2, 0, axis=1)[:, None]
    corners = corners[[camera.sees(points).all() for points in round_about]]
    assert len(corners) > 100
    # The centre of pixel column c lies at left + (c + 1/2) / scale, of row r at top - (r + 1/2) / scale.
    expected = (corners - (24.0, 84.0)) * (drawn.px_per_inch, -drawn.px_per_inch) - 0.5
    found = expected.astype(np.float32).reshape(-1, 1, 2).copy()
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-4)
    cv2.cornerSubPix(gray, found, (9, 9), (-1, -1), stop)
    error = found.reshape(-1, 2) - expected
    # cv2 rounds where it samples to 1/32 px of the photo (INTER_BITS = 5). The mean over the corners is far below that
    # unless the frame is off: half a pixel of either picture would show as 0.5.
    assert np.abs(error.mean(axis=0)).max() < 1 / 32
    assert np.sqrt((error**2).mean()) < 3 / 32


def looks_by_opencv(camera: Camera, points: np.ndarray) -> np.ndarray:
    """Where a photo looks by OpenCV's own projection, but for what its lens terms would fold back into the picture."""
    f, cx, cy, k1, k2 = camera.lens
    pixels, _ = cv2.projectPoints(
        points, camera.pose[:3], camera.pose[3:], np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]]),
        np.array([k1, k2, 0, 0]),
    )  # fmt: skip
    inside = ((pixels.reshape(-1, 2) >= -0.5) & (pixels.reshape(-1, 2) <= np.array(camera.size) - 0.5)).all(axis=1)
    in_camera = points @ camera.R.T + camera.pose[3:]
    r = np.linspace(0, 10, 1_000_001)
    bent = r * (1 + k1 * r**2 + k2 * r**4)
    turn = np.append(r[1:][np.diff(bent) <= 0], np.inf)[0]  # to 1e-5, far beyond the picture's corner
    with np.errstate(all="ignore"):
        aside = np.hypot(in_camera[:, 0], in_camera[:, 1]) / in_camera[:, 2]
    return inside & (in_camera[:, 2] > 1) & (aside < turn)


@pytest.mark.parametrize(
    "camera",
    [
        pytest.param(look(size=SIZE, f=728.0, at=(55.0, 48.0, 80.0), yaw=12, pitch=-4, roll=3), id="from the front"),
        pytest.param(look(size=(756, 1008), f=728.0, at=(20.0, 40.0, 60.0), yaw=-8, pitch=5), id="portrait"),
        pytest.param(look(size=SIZE, f=728.0, at=(-90.0, 48.0, 30.0), yaw=65, k1=0.1, k2=0.1), id="along the wall"),
        pytest.param(look(size=SIZE, f=728.0, at=(0.0, 48.0, 30.0), yaw=75, k1=-0.1, k2=0.0), id="half turned away"),
    ],
)
def test_an_elevation_is_left_blank_exactly_where_the_photo_did_not_look(camera) -> None:
    photo = np.full((camera.size[1], camera.size[0], 3), 200, np.uint8)
    drawn = drawn_alone(photo, camera, (-60.0, 0.0, 60.0, 96.0), 4.0)
    raster = Raster.over((-60.0, 0.0, 60.0, 96.0), 4.0)
    expected = looks_by_opencv(camera, raster.centres()).reshape(raster.height, raster.width)
    assert 0.1 < expected.mean() < 0.9
    np.testing.assert_array_equal(drawn.seen, expected)
    np.testing.assert_array_equal(seen(camera, raster), expected)
    assert (drawn.rgb[~drawn.seen] == 255).all()
    assert (drawn.rgb[drawn.seen] == 200).all()


def test_what_lens_terms_would_fold_back_into_the_picture_is_not_seen() -> None:
    # 1 + k1 r² + k2 r⁴ = 0 at r² = 4.1537: 64 degrees off the axis the terms would put a point in the very middle.
    camera = look(size=SIZE, f=728.0, at=(0.0, 48.0, 80.0), k1=0.05, k2=-0.07, centre=(0.0, 0.0))
    aside = np.array([[np.sqrt(4.1537) * 80, 48.0, 0.0]])
    assert np.linalg.norm(camera.project(aside) - (503.5, 377.5)) < 1
    assert not camera.sees(aside)[0]
    assert camera.sees(np.array([[20.0, 48.0, 0.0]]))[0]


def test_an_elevation_is_drawn_at_the_scale_asked_for_and_says_what_the_photo_gave() -> None:
    # Square-on from 100 in with f = 728 px: 7.28 px an inch all over, lens terms aside.
    camera = look(size=SIZE, f=728.0, at=(70.0, 48.0, 100.0), k1=0, k2=0)
    extent = (30.0, 20.0, 110.0, 76.0)
    for scale in (4.0, 7.28, 40.0):
        drawn = drawn_alone(np.zeros((756, 1008, 3), np.uint8), camera, extent, scale)
        assert drawn.px_per_inch == scale
        assert drawn.rgb.shape[:2] == (round(56 * scale), round(80 * scale))
        np.testing.assert_allclose(drawn.fineness, 7.28, rtol=1e-6)  # float32


def test_an_elevation_of_a_wall_that_the_photo_does_not_show_is_blank() -> None:
    camera = look(size=SIZE, f=728.0, at=(70.0, 48.0, 100.0))
    drawn = drawn_alone(np.zeros((756, 1008, 3), np.uint8), camera, (500.0, 0.0, 540.0, 30.0), 4.0)
    assert not drawn.seen.any()
    assert (drawn.rgb == 255).all()
    assert not drawn.fineness.any()


@settings(max_examples=20)
@given(
    st.floats(20, 140), st.floats(30, 70), st.floats(60, 200), st.floats(-60, 60), st.floats(-15, 15),
    st.floats(-180, 180), st.floats(-0.05, 0.1), st.floats(-0.03, 0.1), st.sampled_from([4.0, 18.0]),
)  # fmt: skip
def test_the_map_is_interpolated_to_a_fiftieth_of_a_pixel(x, y, distance, yaw, pitch, roll, k1, k2, scale) -> None:
    at = (x - distance * np.tan(np.radians(yaw)), y, distance)
    camera = look(at=at, yaw=yaw, pitch=pitch, roll=roll, k1=k1, k2=k2)
    raster = Raster.over((0.0, 0.0, 168.0, 96.0), scale)
    for tile in list(raster.tiles())[:: 5 if scale > 4 else 1]:
        rows, columns = (np.arange(float(part.start), part.stop) for part in tile)
        nodes = rectify._nodes(camera, raster, tile)
        points = raster.points(rows, columns)
        looked = camera.sees(points)
        if nodes is None:
            assert not looked.any()
            continue
        off = np.linalg.norm(nodes.pixels().reshape(-1, 2) - camera.project(points), axis=1)[looked]
        # Chosen by the bound to be under 1/64; float32 places of up to 4,032 px round by 2.4e-4 more.
        assert off.max(initial=0) < 0.02


def test_one_photo_without_distortion_agrees_with_scikit_images_warp() -> None:
    # A photo coarser than the picture: no averaging, only interpolation.
    camera = look(size=SIZE, f=728.0, at=(70.0, 48.0, 100.0), yaw=-20, pitch=8, roll=5, k1=0, k2=0)
    noise = np.random.default_rng(1).uniform(0, 255, (756, 1008, 3)).astype(np.float32)
    soft = cv2.normalize(cv2.GaussianBlur(noise, (0, 0), 4), None, 20, 235, cv2.NORM_MINMAX)
    photo = soft.round().astype(np.uint8)
    raster = Raster.over((50.0, 30.0, 90.0, 60.0), 16.0)
    pixels, looked = redraw(photo, camera, raster, (slice(0, raster.height), slice(0, raster.width)))
    assert looked.all()

    corners = np.array([(0, 0), (639, 0), (639, 479), (0, 479)], float)  # column, row
    on_wall = np.column_stack([50 + (corners[:, 0] + 0.5) / 16, 60 - (corners[:, 1] + 0.5) / 16, np.zeros(4)])
    theirs = skimage.transform.ProjectiveTransform.from_estimate(corners, camera.project(on_wall))
    warped = skimage.transform.warp(photo.astype(float), theirs, output_shape=(480, 640), order=3)
    # Theirs, cubic convolution with a = -1/2, is exact for slopes and curvature. So is ours for slopes: of a curvature
    # c its filter takes c / 12, and interpolation adds up to c / 8 half-way between two pixels. OpenCV rounds its
    # places to 1/32 (1/64 off each way), we ours to 1/64, and filter and result are rounded to whole grey levels.
    values = photo.astype(float)
    slope = sum(np.abs(np.diff(values, axis=axis)).max() for axis in (0, 1))
    curvature = sum(np.abs(np.diff(values, 2, axis=axis)).max() for axis in (0, 1))
    bound = slope * 2 / 64 + curvature / 12 + 2 * 0.5
    assert bound < 8  # of 215 grey levels
    assert np.abs(pixels - warped).max() < bound
    assert (
        abs(np.mean(pixels - warped)) < 0.05
    )  # a picture shifted or turned would still be right on average; see above


@pytest.mark.parametrize("long", [12, 6, 4])
def test_a_photo_coarser_than_the_picture_keeps_its_finest_detail(long: int) -> None:
    # Stripes of `long` px: square-on from 50 in, 14.56 px an inch, drawn at 24.
    camera = look(size=SIZE, f=728.0, at=(20.0, 20.0, 50.0), k1=0, k2=0, centre=(0.0, 0.0))
    stripes = 128 + 100 * np.cos(2 * np.pi * np.arange(SIZE[0]) / long)
    photo = np.tile(stripes[None, :, None].round().astype(np.uint8), (SIZE[1], 1, 3))
    raster = Raster.over((5.0, 10.0, 35.0, 30.0), 24.0)
    pixels, looked = redraw(photo, camera, raster, (slice(0, raster.height), slice(0, raster.width)))
    assert looked.all()
    x, _ = raster.places(np.arange(1.0), np.arange(float(raster.width)))
    wave = np.exp(2j * np.pi * (x * 14.56 + camera.project(np.zeros((1, 3)))[0, 0]) / long)
    kept = 2 * np.abs((pixels[..., 0].mean(axis=0) - 128) @ wave.conj()) / len(wave) / 100
    # Linear interpolation keeps sinc² of a wave (Parker, Kenyon and Troxel 1983, "Comparison of interpolating methods
    # for image resampling"), and the filter before it makes it 1 + (1 - cos) / 6 as high: 0.999, 0.988 and 0.946.
    # Alone it would keep 0.977, 0.912 and 0.811; OpenCV's cubic kernel keeps 1.008, 1.015 and 0.986 by its own
    # transform. The picture is 437 px of the photo wide: part of a stripe too many is under a hundredth of it.
    expected = np.sinc(1 / long) ** 2 * (1 + (1 - np.cos(2 * np.pi / long)) / 6)
    assert kept == pytest.approx(expected, abs=0.01)
    assert kept > 0.94


@pytest.mark.parametrize("scale", [18.0, 9.0, 4.0])
def test_a_photo_finer_than_the_picture_is_averaged_so_that_nothing_aliases(scale) -> None:
    # Noise from pixel to pixel, the finest there can be: averaged over m by m pixels its deviation falls to 1 / m.
    camera = look(size=(2016, 1512), f=2000.0, at=(40.0, 40.0, 80.0), k1=0, k2=0)  # 25 px an inch
    noise = np.random.default_rng(2).normal(128, 30, (1512, 2016, 3)).clip(0, 255).round().astype(np.uint8)
    drawn = drawn_alone(noise, camera, (20.0, 20.0, 60.0, 60.0), scale)
    spread = float(drawn.rgb.std())
    mean = 30 * scale / 25  # of m by m pixels
    # Interpolation between averages only smooths more. Rounding to whole grey levels adds 1/12. Sampled without
    # averaging it would be 20 or more at any scale.
    assert 0.5 * mean < spread < np.hypot(mean, np.sqrt(1 / 12)) * 1.02
    assert drawn.rgb.mean() == pytest.approx(noise.mean(), abs=0.5)


def test_resolution_is_the_smaller_singular_value_of_the_cameras_derivatives() -> None:
    camera = look(at=(20.0, 50.0, 90.0), yaw=40, pitch=6, roll=20)
    points = np.random.default_rng(3).uniform((0, 0, 0), (144, 96, 0), (300, 3))
    points = points[camera.sees(points)]
    assert len(points) > 100
    exact = project_with_derivatives(camera.lens, camera.pose, points)[3][:, :, :2]
    singular = np.linalg.svd(exact, compute_uv=False)[:, 1]
    np.testing.assert_allclose(resolution(camera, points), singular, rtol=1e-6)


def test_a_large_photo_is_never_copied_whole() -> None:
    camera = look(size=(8160, 6120), f=5900.0, at=(84.0, 48.0, 126.0))  # 50 megapixels
    photo = np.zeros((6120, 8160, 3), np.uint8)
    tracemalloc.start()
    drawn = drawn_alone(photo, camera, (0.0, 0.0, 168.0, 96.0), 18.0)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # Beyond the picture and its mask, one tile: the part of the photo that it takes, twice, and its map.
    tile = (2 * 3 * 2.6**2 + 8 * 1.2) * rectify.TILE**2
    assert peak < drawn.rgb.nbytes + 2 * drawn.source.nbytes + 2 * tile
    assert peak < photo.nbytes / 2
