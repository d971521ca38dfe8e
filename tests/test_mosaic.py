"""One picture from several photos: places, light, seams, what nobody saw; against walls known exactly."""

from dataclasses import replace
from functools import partial

import cv2
import numpy as np
import pytest
import skimage.color
from hypothesis import given, settings
from hypothesis import strategies as st

from capture import cards
from capture.camera import Camera
from capture.detect import detect
from capture.exposure import LINEAR, coded, gains, levelled
from capture.mosaic import View, blur_of, elevation
from capture.rectify import Raster
from capture.seams import NOBODY
from tests import synthetic
from tests.synthetic import light, look, place

EXTENT = (0.0, 0.0, 120.0, 80.0)
SCALE = 10.0
PLACED = {1: (15.0, 55.0, 1.0), 2: (45.0, 25.0, -1.5), 3: (75.0, 55.0, 0.5), 4: (105.0, 25.0, 2.0)}
EYE = {"size": (1600, 1200), "f": 1170.0, "k1": 0.03, "k2": -0.03}
LEFT = look(at=(35.0, 42.0, 75.0), yaw=4, pitch=1, **EYE)
RIGHT = look(at=(82.0, 45.0, 78.0), yaw=-5, pitch=2, roll=1, **EYE)
EXPOSED = ((1.0, 1.0, 1.0), (0.7, 0.62, 0.5))  # the right photo darker and bluer: gains of 1 over these


def shot(linear: np.ndarray, exposure=(1.0, 1.0, 1.0), noise=1.0, seed=0, blur=0.6) -> np.ndarray:
    """A colour photo of linear light (height, width), by the sRGB curve (IEC 61966-2-1)."""
    exposed = cv2.GaussianBlur(linear, (0, 0), blur)[..., None] * np.array(exposure)
    noisy = coded(exposed) + np.random.default_rng(seed).normal(0, noise, exposed.shape)
    return noisy.clip(0, 255).round().astype(np.uint8)


def shining(camera: Camera, strength=0.25) -> np.ndarray:
    """What a lens takes from each pixel (height, width): cos⁴, as the law of image illumination has it, in part."""
    u, v = np.meshgrid(np.arange(camera.size[0]), np.arange(camera.size[1]))
    f, cx, cy = camera.lens[:3]
    cosine = 1 / np.sqrt(1 + ((u - cx) ** 2 + (v - cy) ** 2) / f**2)
    return 1 - strength + strength * cosine**4


@pytest.fixture(scope="module")
def views() -> list[View]:
    """A wall with four cards in two photos that share its middle, one darker, bluer, and darker to its corners."""
    with pytest.MonkeyPatch.context() as quick:
        quick.setattr(synthetic, "OVERSAMPLE", 4)
        scenes = [light(camera, PLACED) for camera in (LEFT, RIGHT)]
    return [
        View("left", shot(scenes[0], EXPOSED[0], seed=1), LEFT),
        View("right", shot(scenes[1] * shining(RIGHT), EXPOSED[1], seed=2), RIGHT),
    ]


@pytest.fixture(scope="module")
def joined(views):
    return elevation(views, EXTENT, SCALE)


def test_both_photos_are_used_and_the_scale_is_as_asked(joined) -> None:
    assert joined.px_per_inch == SCALE
    assert joined.rgb.shape == (800, 1200, 3)
    shares = np.bincount(joined.source.ravel(), minlength=256) / joined.source.size
    assert min(shares[:2]) > 0.2


def test_cards_found_in_the_mosaic_lie_where_they_hang_on_the_wall(joined) -> None:
    found = detect(cv2.cvtColor(joined.rgb, cv2.COLOR_RGB2GRAY), "mosaic").cards
    assert {card.number for card in found} == set(PLACED)
    errors = []
    for card in found:
        true = place(PLACED[card.number], cards.saddle_points())[card.which, :2]
        errors.append(card.points - ((true - (EXTENT[0], EXTENT[3])) * (SCALE, -SCALE) - 0.5))
    error = np.vstack(errors)
    # Saddle points of a photo scatter by up to 0.05 px (`net.CORNER_SD`); the photos are about as fine as the picture.
    # The map adds up to 1/64, cv2.remap's rounding 1/64 at most each way.
    assert np.abs(error.mean(axis=0)).max() < 2 / 64
    assert np.sqrt((error**2).mean()) < np.hypot(0.05, 2 / 64)


def test_the_srgb_curve_agrees_with_scikit_image() -> None:
    grey = np.repeat(np.arange(256)[:, None] / 255, 3, axis=1)
    # Y of a grey is its linear light; their matrix's middle row adds up to 1 within 1e-6.
    np.testing.assert_allclose(LINEAR, skimage.color.rgb2xyz(grey[None])[0, :, 1], atol=2e-6)
    np.testing.assert_allclose(coded(LINEAR), np.arange(256), atol=0.02)  # the standard's two pieces meet no closer


def flat_photos(exposures, tone=0.35, noise=1.0, seed=0) -> list[np.ndarray]:
    """Small pictures of one wall, plain but for a fall of light across it, at different exposures."""
    wall = np.tile(np.linspace(0.8, 1.0, 120) * tone, (80, 1))
    return [shot(wall, exposure, noise, seed + i) for i, exposure in enumerate(exposures)]


exposures = st.lists(st.tuples(*[st.floats(0.3, 1.8)] * 3), min_size=2, max_size=5)


@settings(max_examples=40)
@given(exposures)
def test_gains_are_found_for_each_photo_and_channel(exposures) -> None:
    small = flat_photos(exposures)
    free = [np.ones((80, 120), bool)] * len(small)
    gain, group = gains(small, free)
    assert (group == 0).all()
    np.testing.assert_allclose(np.log(gain).sum(axis=0), 0, atol=1e-9)
    found = levelled(gain, group, 0)
    np.testing.assert_allclose(found[0], 1)
    true = np.array(exposures[0]) / np.array(exposures)
    # A pixel's light is unsure by d log (light) / d value times its noise and rounding: 0.3 times 0.28 of full light
    # is a value of 82, where that is 2.4 / 82 a level, and less above. The mean of n pixels of two photos has √(2 / n)
    # of that; more photos only lessen it. Of up to 15 values five deviations. What the logarithm's bend adds is half
    # its variance, alike in both but for their tones.
    one = 2.4 / 82 * np.hypot(1.0, np.sqrt(1 / 12))
    bound = 5 * one * np.sqrt(2 / (80 * 120)) + one**2 / 2
    assert np.abs(np.log(found / true)).max() < bound


def test_a_thing_that_stands_elsewhere_in_each_photo_does_not_sway_the_gains() -> None:
    small = flat_photos([(1.0, 1.0, 1.0), (0.6, 0.7, 0.8)])
    free = [np.ones((80, 120), bool)] * 2
    plain = levelled(*gains(small, free), 0)
    small[0][:, 10:40] = 220  # a quarter of the wall behind something white in one photo,
    small[1][:, 90:100] = 30  # and a twelfth behind something dark in the other
    swayed = levelled(*gains(small, free), 0)
    # The median moves to a place at most (1/2) / (1 - 1/3) = 3/4 up the errors of the good pixels, 0.7 deviations, and
    # the mean of what lies round it moves less.
    assert np.abs(np.log(swayed / plain)).max() < 0.7 * np.sqrt(2) * 2.4 / 80 * np.hypot(1.0, np.sqrt(1 / 12))


def test_photos_that_share_nothing_keep_their_light() -> None:
    small = flat_photos([(1.0, 1.0, 1.0), (0.5, 0.5, 0.5), (0.7, 0.7, 0.7)])
    halves = [np.zeros((80, 120), bool) for _ in range(3)]
    halves[0][:, :50], halves[1][:, 30:60], halves[2][:, 80:] = True, True, True
    gain, group = gains(small, halves)
    assert group[0] == group[1] != group[2]
    found = levelled(gain, group, 0)
    assert found[1] == pytest.approx([2, 2, 2], rel=0.02)
    assert found[2] == pytest.approx([1, 1, 1])


def test_the_photo_that_gives_most_keeps_its_light_and_the_other_is_evened_to_it(joined) -> None:
    first = int(np.bincount(joined.source.ravel())[:2].argmax())
    assert joined.gain[first] == pytest.approx([1, 1, 1])
    true = np.array(EXPOSED[first]) / np.array(EXPOSED[1 - first])
    # cos⁴ takes up to 1/4 (1 - cos⁴ 41°) = 17 % from one photo's corner; the gain of the whole is off by less.
    assert np.abs(np.log(joined.gain[1 - first] / true)).max() < 0.17


def step_across_seams(joined) -> np.ndarray:
    """Mean grey levels (3,) by which the wall changes across upright seams, less what it changes just beside them."""
    source, rgb = joined.source.astype(int), joined.rgb.astype(float)
    row, column = np.nonzero((source[:, 1:] != source[:, :-1]) & (source[:, 1:] != NOBODY) & (source[:, :-1] != NOBODY))
    inside = (column >= 9) & (column < source.shape[1] - 10)
    row, column = row[inside], column[inside]
    assert len(row) > 300

    def mean(first, last):
        return np.mean([rgb[row, column + k] for k in range(first, last)], axis=0)

    sign = np.where(source[row, column] == 0, 1, -1)[:, None]
    change = mean(1, 5) - mean(-3, 1) - ((mean(5, 9) - mean(1, 5)) + (mean(-3, 1) - mean(-7, -3))) / 2
    return np.median(change * sign, axis=0)


def test_no_step_in_light_shows_at_the_seams(joined, views) -> None:
    # The least step that eight bits can tell is one grey level.
    assert np.abs(step_across_seams(joined)).max() < 1
    # Without evening the step is that of the exposures, dozens of levels: the measure sees steps.
    bare = replace(joined, rgb=np.where((joined.source == 0)[..., None], *[
        elevation([view], EXTENT, SCALE).rgb for view in views]))  # fmt: skip
    assert np.abs(step_across_seams(bare)).min() > 10


def test_evened_light_is_the_light_of_one_exposure_all_over(joined) -> None:
    first = int(np.bincount(joined.source.ravel())[:2].argmax())
    row, column = np.mgrid[4:796:8, 4:1196:8]
    plain = np.ones(row.shape, bool)  # away from the cards
    for x, y, _ in PLACED.values():
        plain &= (np.abs(column / SCALE - x) > 6.5) | (np.abs(80 - row / SCALE - y) > 8)
    values = joined.rgb[row, column][plain].astype(float)
    true = coded(0.45 * np.array(EXPOSED[first]))
    source = joined.source[row, column][plain]
    for i in range(2):
        # The darker corners of the right photo are its own and stay: 17 % of the light, 8 % of the value, at most.
        assert np.abs(np.median(values[source == i], axis=0) / true - 1).max() < 0.08


# Seams and plates.

PLATE = (3.0, 5.0)  # in
PROUD = 0.5


def plates_wall(camera: Camera, plates) -> np.ndarray:
    """Light (height, width) of a plain wall with white plates that stand proud of it."""
    linear = np.full((camera.size[1], camera.size[0]), 0.45)
    for x, y in plates:
        box = (x - PLATE[0] / 2, y - PLATE[1] / 2, x + PLATE[0] / 2, y + PLATE[1] / 2)
        corners = np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])])
        outline = camera.project(np.column_stack([corners, np.full(4, PROUD)]))
        cv2.fillPoly(linear, [(outline * 16).round().astype(np.int32)], 0.8, lineType=cv2.LINE_AA, shift=4)
    return linear


def boxes(plates, grown=0.0):
    w, h = PLATE[0] / 2 + grown, PLATE[1] / 2 + grown
    return [(x - w, y - h, x + w, y + h) for x, y in plates]


def sources(joined, box) -> set[int]:
    rows = slice(int((EXTENT[3] - box[3]) * SCALE), int(np.ceil((EXTENT[3] - box[1]) * SCALE)))
    return set(np.unique(joined.source[rows, int(box[0] * SCALE) : int(np.ceil(box[2] * SCALE))]).tolist())


@settings(max_examples=15)
@given(st.lists(st.tuples(st.floats(30, 90), st.floats(10, 70)), min_size=1, max_size=6))
def test_a_plate_is_never_cut_by_a_seam(plates) -> None:
    plain = [View("left", np.full((1200, 1600, 3), 150, np.uint8), LEFT),
             View("right", np.full((1200, 1600, 3), 150, np.uint8), RIGHT)]  # fmt: skip
    apart = [p for i, p in enumerate(plates) if all(abs(p[0] - q[0]) > 3 or abs(p[1] - q[1]) > 5 for q in plates[:i])]
    joined = elevation(plain, EXTENT, SCALE, boxes(apart))
    for box in boxes(apart):
        assert len(sources(joined, box)) == 1


def test_without_being_told_a_large_thing_may_be_cut_and_told_it_is_not() -> None:
    scenes = [View(name, shot(plates_wall(camera, [(60, 40)]), seed=i), camera)
              for i, (name, camera) in enumerate((("left", LEFT), ("right", RIGHT)))]  # fmt: skip
    window = (45.0, 5.0, 75.0, 75.0)
    assert sources(elevation(scenes, EXTENT, SCALE), window) == {0, 1}
    assert len(sources(elevation(scenes, EXTENT, SCALE, [window]), window)) == 1


def test_the_edges_of_a_proud_plate_are_not_doubled() -> None:
    plates = [(54.0, 30.0), (60.0, 45.0), (66.0, 60.0)]
    scenes = [View(name, shot(plates_wall(camera, plates), seed=i), camera)
              for i, (name, camera) in enumerate((("left", LEFT), ("right", RIGHT)))]  # fmt: skip
    joined = elevation(scenes, EXTENT, SCALE, boxes(plates, PROUD))
    bright = joined.seen & (joined.rgb[..., 1] > (coded(0.45) + coded(0.8)) / 2)
    count, _, stats, _ = cv2.connectedComponentsWithStats(bright.astype(np.uint8))
    assert count - 1 == len(plates)
    # Seen from z inches away a face that stands p proud is drawn larger by z / (z - p).
    near, far = (z / (z - PROUD) for z in (LEFT.centre[2], RIGHT.centre[2]))
    # One pixel: those that the edges fall in, half of each counted. OpenCV's fill takes in the pixels that its outline
    # touches, of which there are 15 an inch. Two pictures of it together would be 1/2 (47 / 76) in, or 3 px, wider.
    more = 1 + 2 * SCALE / 15
    for width, height in stats[1:, 2:4]:
        assert far * PLATE[0] * SCALE - 1 <= width <= near * PLATE[0] * SCALE + more
        assert far * PLATE[1] * SCALE - 1 <= height <= near * PLATE[1] * SCALE + more


def test_a_thing_that_no_photo_shows_whole_is_still_drawn() -> None:
    plain = [View(str(i), np.full((1200, 1600, 3), 150, np.uint8), c) for i, c in enumerate((LEFT, RIGHT))]
    joined = elevation(plain, EXTENT, SCALE, [(1.0, 1.0, 119.0, 79.0)])
    assert (joined.source == elevation(plain, EXTENT, SCALE).source).all()


# Which photo.


def plain_view(name: str, camera: Camera, tone=150, **more) -> View:
    return View(name, np.full((camera.size[1], camera.size[0], 3), tone, np.uint8), camera, **more)


def share(joined, i: int) -> float:
    return float((joined.source == i).mean())


def test_the_finer_photo_is_taken_where_both_look() -> None:
    far = look(at=(60.0, 40.0, 150.0), **EYE)
    near = look(at=(60.0, 40.0, 70.0), **EYE)
    joined = elevation([plain_view("far", far), plain_view("near", near)], EXTENT, SCALE)
    looked = near.sees(Raster.over(EXTENT, SCALE).centres()).reshape(joined.source.shape).astype(np.uint8)
    small = np.ones((11, 11), np.uint8)  # photos are chosen by pixels of half an inch, five of the picture's
    assert (joined.source[cv2.erode(looked, small) > 0] == 1).all()
    assert (joined.source[cv2.dilate(looked, small) == 0] == 0).all()


def test_a_blurred_photo_gives_way_to_a_sharp_one_and_counts_as_coarser() -> None:
    camera, other = look(at=(55.0, 40.0, 100.0), **EYE), look(at=(65.0, 40.0, 105.0), **EYE)
    moved, still = (partial(float, px) for px in (3.0, 0.8))
    joined = elevation([plain_view("moved", camera, blur=moved), plain_view("still", other, blur=still)], EXTENT, SCALE)
    assert share(joined, 0) == 0
    alone = [elevation([plain_view("photo", camera, blur=blur)], EXTENT, SCALE).fineness for blur in (still, moved)]
    np.testing.assert_allclose(alone[0], 3 * alone[1], rtol=1e-5)


def test_the_blur_of_a_photo_is_told_at_its_cards() -> None:
    camera = look(size=(1600, 1200), f=1170.0, at=(30.0, 40.0, 60.0), yaw=2)
    linear = light(camera, {1: (20.0, 45.0, 1.0), 2: (42.0, 35.0, -1.0)})
    for sigma in (1.0, 2.0):
        gray = shot(linear, blur=sigma)[..., 1]
        found = detect(gray, "photo").cards
        # `capture.detect.blur` is good to some tenths: pixels, noise and tone curve add to it (tests/test_detect.py).
        assert blur_of(gray, found) == pytest.approx(sigma, abs=0.3)
    assert blur_of(gray, ()) == 0


def test_a_much_darker_photo_is_lifted_and_used_only_where_it_is_needed() -> None:
    dark = shot(np.full((1200, 1600), 0.45), (0.1, 0.1, 0.1), seed=1)
    fair = shot(np.full((1200, 1600), 0.45), seed=2)
    same = replace(plain_view("dark", LEFT), rgb=dark), replace(plain_view("fair", LEFT), rgb=fair)
    assert share(elevation(same, EXTENT, SCALE), 0) == 0
    joined = elevation([replace(same[0], camera=RIGHT), same[1]], EXTENT, SCALE)
    assert share(joined, 0) > 0.1
    means = [joined.rgb[joined.source == i].mean(axis=0) for i in (0, 1)]
    # A gain of ten lifts the rounding of a dark photo: half a level of 59 is 1.1 of the 137 it becomes.
    np.testing.assert_allclose(*means, atol=1.5)


def test_eight_photos_of_one_wall_are_joined_from_as_few_as_will_do() -> None:
    size = {**EYE, "size": (1200, 1600)}  # held upright
    row = [look(at=(8.0 + 15 * k, 42.0 + k % 3, 85.0), yaw=2.0 * (k % 3) - 2, **size) for k in range(8)]
    joined = elevation([plain_view(str(k), camera) for k, camera in enumerate(row)], EXTENT, SCALE)
    centres = Raster.over(EXTENT, SCALE).centres()
    looked = np.any([camera.sees(centres) for camera in row], axis=0).reshape(joined.source.shape)
    np.testing.assert_array_equal(joined.seen, looked)
    assert sum(share(joined, k) > 0.01 for k in range(8)) < 8
    assert (joined.rgb[joined.seen] == 150).all()


def test_what_no_photo_saw_is_told_exactly(joined) -> None:
    centres = Raster.over(EXTENT, SCALE).centres()
    looked = (LEFT.sees(centres) | RIGHT.sees(centres)).reshape(joined.source.shape)
    assert 0.5 < looked.mean() < 1
    np.testing.assert_array_equal(joined.seen, looked)
    assert (joined.rgb[~joined.seen] == 255).all()


def test_a_photo_that_shows_nothing_of_the_wall_does_no_harm(views, joined) -> None:
    away = plain_view("away", look(at=(900.0, 42.0, 75.0), **EYE))
    more = elevation([*views, away], EXTENT, SCALE)
    np.testing.assert_array_equal(more.rgb, joined.rgb)
    nothing = elevation([away, away], EXTENT, SCALE)
    assert not nothing.seen.any()


def test_nothing_is_drawn_beyond_the_extent(joined) -> None:
    assert joined.left == EXTENT[0]
    assert joined.top == EXTENT[3]
    assert joined.rgb.shape[1] == round((EXTENT[2] - EXTENT[0]) * SCALE)


# What stands in front.


def outline(camera: Camera, box, z=10.0) -> np.ndarray:
    """Pixels (4, 2) of a board that stands before the wall."""
    left, bottom, right, top = box
    return camera.project(np.array([(left, bottom, z), (right, bottom, z), (right, top, z), (left, top, z)]))


def hidden_by(camera: Camera, box, raster: Raster, z=10.0) -> np.ndarray:
    """Which wall points (height, width) a board before the wall hides: by the rays themselves."""
    points = raster.centres()
    eye = camera.centre
    crossing = eye + (points - eye) * ((z - eye[2]) / (points[:, 2] - eye[2]))[:, None]
    left, bottom, right, top = box
    x, y = crossing[:, 0], crossing[:, 1]
    return ((x > left) & (x < right) & (y > bottom) & (y < top)).reshape(raster.height, raster.width)


def test_the_wall_behind_what_stands_in_front_comes_from_a_photo_that_sees_it() -> None:
    board = (48.0, 20.0, 60.0, 50.0)
    in_front = [(outline(camera, board),) for camera in (LEFT, RIGHT)]
    views = [plain_view("left", LEFT, in_front=in_front[0]), plain_view("right", RIGHT, in_front=in_front[1])]
    joined = elevation(views, EXTENT, SCALE)
    raster = Raster.over(EXTENT, SCALE)
    hidden = [hidden_by(camera, board, raster) for camera in (LEFT, RIGHT)]
    looked = [camera.sees(raster.centres()).reshape(raster.height, raster.width) for camera in (LEFT, RIGHT)]
    inner = np.ones((31, 31), np.uint8)  # from 1 1/2 in inside: half-inch pixels, one more for the tap, and rounding
    for i in (0, 1):
        only = hidden[i] & looked[i] & looked[1 - i] & ~hidden[1 - i]
        only = cv2.erode(only.astype(np.uint8), inner) > 0
        assert only.sum() > 1000
        assert (joined.source[only] == 1 - i).all()
    both = hidden[0] & hidden[1]
    assert both.sum() > 1000
    assert joined.seen[both & (looked[0] | looked[1])].all()  # an elevation shows what stands there
    assert len(np.unique(joined.source[cv2.erode(both.astype(np.uint8), inner) > 0])) == 1


def test_the_resolution_told_is_that_of_the_photo_each_part_comes_from(joined) -> None:
    raster = Raster.over(EXTENT, 2.0)
    assert joined.fineness.shape == (raster.height, raster.width)
    ratio = int(SCALE / 2)
    source = joined.source[ratio // 2 :: ratio, ratio // 2 :: ratio]
    for i, camera in enumerate((LEFT, RIGHT)):
        here = (source == i).ravel()
        points = raster.centres()[here]
        step = 1e-3
        ways = [
            (camera.project(points + way) - camera.project(points - way)) / (2 * step) for way in np.eye(3)[:2] * step
        ]
        least = np.linalg.svd(np.stack(ways, axis=-1), compute_uv=False)[:, 1]
        told = joined.fineness.ravel()[here]
        # Interpolated over two inches from 75 in away: (2/75)² / 8 times second derivatives of 1 / Z², 6 at most.
        np.testing.assert_allclose(told[told > 0], least[told > 0], rtol=(2 / 75) ** 2 / 8 * 6 * 2)
        assert (told > 0).mean() > 0.99
    assert not joined.fineness[source == NOBODY].any()
