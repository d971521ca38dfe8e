"""Cards found and measured in made photos whose truth is known; see the table with ``pytest -s -k error_table``."""

from dataclasses import dataclass
from functools import cache
from itertools import combinations

import cv2
import numpy as np
import pupil_apriltags
import pytest
from skimage.transform import ProjectiveTransform

from capture import cards
from capture import detect as detect_module
from capture import markers as markers_module
from capture.camera import Camera
from capture.detect import (
    BLURRED,
    DARK,
    DISAGREE,
    LEAST_POINTS,
    Detection,
    _agreeing,
    _misses,
    blur,
    detect,
    measure_cards,
)
from tests import synthetic, truth
from tests.synthetic import develop, light, look, photograph, place, saddles_px

SIZE = (1008, 756)
FOCAL = 1458.5  # px: 2,917 of a 12 megapixel phone photo, on a quarter as much of the wall
BLURS, EXPOSURES = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0), (1.0, 1.3, 1.6)


def stand(ppi: float, yaw=8.0, roll=3.0, pitch=0.0) -> Camera:
    """A camera that sees the wall at (20, 15) in the middle of its picture, at `ppi` pixels an inch."""
    distance = FOCAL / ppi
    aside = np.tan(np.radians([yaw, pitch])) * distance
    at = (20 - aside[0], 15 + aside[1], distance)
    return look(size=SIZE, f=FOCAL, at=at, yaw=yaw, pitch=pitch, roll=roll, centre=(2.3, -1.6))


def three(ppi: float) -> dict[int, tuple[float, float, float]]:
    third = 0.3 * SIZE[0] / ppi
    return {1: (20 - third, 17, 3), 2: (20, 14, -4), 3: (20 + third, 16, 7)}


@pytest.fixture(scope="session")
def lights():
    """For each scale in px an inch: camera, cards, and the light of the picture before it is developed."""
    scenes = {ppi: (stand(ppi), three(ppi)) for ppi in (24, 15)}
    return {ppi: (camera, placed, light(camera, placed)) for ppi, (camera, placed) in scenes.items()}


def codes(detection: Detection) -> list[str]:
    return [finding.code for finding in detection.findings]


def errors(detection: Detection, camera: Camera, placed) -> np.ndarray:
    """Saddle points' errors (N, 2) px, all cards' together."""
    return np.vstack([c.points - saddles_px(camera, placed[c.number])[c.which] for c in detection.cards])


def marker_bias(detection: Detection, camera: Camera, placed) -> float:
    """Mean outward error of the markers' own corners, px."""
    outward = []
    for card in detection.cards:
        truth = camera.project(place(placed[card.number], cards.marker_corners()))
        away = truth - truth.mean(axis=0)
        away /= np.linalg.norm(away, axis=1)[:, None]
        outward.append(((card.marker - truth) * away).sum(axis=1))
    return float(np.mean(outward))


@pytest.mark.slow
def test_error_table(lights) -> None:
    print("\npx/in  blur  exposure  cards  points  saddle RMS, max  marker corners' bias [px]")
    for ppi, (camera, placed, rays) in lights.items():
        for softness in BLURS:
            for exposure in EXPOSURES:
                found = detect(develop(rays, blur=softness, exposure=exposure, sharpen=0.5), "wall")
                off = errors(found, camera, placed)
                rms, bias = np.sqrt((off**2).mean()), marker_bias(found, camera, placed)
                line = f"{len(found.cards):5d}  {len(off):6d}  {rms:10.3f}, {np.abs(off).max():.3f}  {bias:+.2f}"
                print(f"{ppi:5d}  {softness:4.1f}  {exposure:8.1f}  {line}")
                # A scale error is what counts: the marker's corners lie in by half a pixel at the least, all alike.
                assert rms < 0.1
                assert bias < -0.4
                assert rms < abs(bias) / 10


# The adjustment takes a saddle point for good to some 0.05 px; the bound is that, at a phone's blur and twice it.
@pytest.mark.parametrize("exposure", EXPOSURES)
@pytest.mark.parametrize("softness", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("ppi", [24, pytest.param(15, id="16 ft away")])  # 2,917 px / (16 × 12 in) = 15.2 px/in
def test_saddle_points_hold_to_a_twentieth_of_a_pixel(lights, ppi, softness, exposure) -> None:
    camera, placed, rays = lights[ppi]
    found = detect(develop(rays, blur=softness, exposure=exposure, sharpen=0.5), "wall")
    seen = [card.number for card in found.cards]
    if (softness, exposure) == (2.0, 1.6) and ppi == 15:
        assert len(seen) >= 2  # a marker's cells are 8 px there, and over half of one is eaten away
    else:
        assert seen == [1, 2, 3]
    off = errors(found, camera, placed)
    assert len(off) == 8 * len(seen)
    assert np.sqrt((off**2).mean()) < 0.05
    assert np.sqrt((off**2).mean()) < abs(marker_bias(found, camera, placed)) / 10


def test_saddle_points_have_no_bias_that_scales_a_card(lights) -> None:
    # Over 24 points of each picture, the mean outward error: with 0.012 px of scatter its sd is 0.012 / √24 = 0.0025.
    for exposure in EXPOSURES:
        camera, placed, rays = lights[24]
        found = detect(develop(rays, blur=1.0, exposure=exposure, sharpen=0.5), "wall")
        outward = []
        for card in found.cards:
            truth = saddles_px(camera, placed[card.number])[card.which]
            away = truth - truth.mean(axis=0)
            away /= np.linalg.norm(away, axis=1)[:, None]
            outward += ((card.points - truth) * away).sum(axis=1).tolist()
        assert abs(np.mean(outward)) < 4 * 0.0025


@pytest.mark.parametrize("yaw", [-60, 60])
def test_a_steep_view_is_measured_as_well(yaw: float) -> None:
    # Seen under 60 degrees a square is half as wide: at 30 px an inch, as narrow as at 15.
    camera, placed = stand(30, yaw=yaw), {5: (20.0, 15.0, 2.0)}
    found = detect(photograph(camera, placed, blur=0.8, exposure=1.2), "wall")
    assert [len(card.which) for card in found.cards] == [8]
    assert np.sqrt((errors(found, camera, placed) ** 2).mean()) < 0.05


@pytest.mark.parametrize("roll", [0, 45, 90, 180, 270])
def test_a_phone_held_any_way_finds_the_same_points(roll: float) -> None:
    camera, placed = stand(15, roll=roll), {5: (20.0, 15.0, 2.0)}
    found = detect(photograph(camera, placed), "wall")
    assert [len(card.which) for card in found.cards] == [8]
    assert np.abs(errors(found, camera, placed)).max() < 0.1


def test_a_shadow_across_a_card_moves_nothing_much(lights) -> None:
    camera, placed, rays = lights[24]
    # From full light to a third of it over the middle card's width: 0.08 an inch, and 24 px.
    x = np.arange(SIZE[0])
    shade = np.interp(x, [SIZE[0] / 2 - 100, SIZE[0] / 2 + 100], [1.0, 1 / 3])
    found = detect(develop(rays * shade, blur=1.0), "wall")
    assert [card.number for card in found.cards] == [1, 2, 3]
    assert np.sqrt((errors(found, camera, placed) ** 2).mean()) < 0.05


@pytest.fixture(scope="session")
def one_light():
    camera, placed = stand(24), {7: (20.0, 15.0, 3.0)}
    return camera, placed, light(camera, placed)


@pytest.fixture
def one_card(one_light):
    """Camera, card and a picture's light to paint on."""
    camera, placed, rays = one_light
    return camera, placed, rays.copy()


@pytest.mark.parametrize("which", range(8))
def test_a_blob_on_one_target_drops_that_point_alone(one_card, which: int) -> None:
    camera, placed, rays = one_card
    truth = saddles_px(camera, placed[7])
    x, y = truth[which]
    # A thumb's edge: dark, round, over a quarter of the target from its side.
    cv2.circle(rays, (round(x + 7), round(y + 7)), 8, 0.05, -1)
    found = detect(develop(rays, blur=1.0), "wall")
    assert which not in found.cards[0].which
    assert len(found.cards[0].which) == 7
    assert np.abs(errors(found, camera, placed)).max() < 0.1


def test_a_card_half_covered_is_not_measured_and_said_so(one_card) -> None:
    camera, placed, rays = one_card
    truth = saddles_px(camera, placed[7])
    left = truth[[0, 2, 4, 6]]  # a curtain the colour of the wall, up to 10 px right of the targets on the left
    cv2.fillPoly(
        rays,
        [np.round([left[0] + (10, -60), left[1] + (10, 60), left[1] + (-60, 60), left[0] + (-60, -60)]).astype(int)],
        0.45,
    )
    found = detect(develop(rays, blur=1.0), "wall")
    assert (found.cards, codes(found)) == ((), ["card-unmeasurable"])
    assert "Card 7 was seen in “wall”, but only" in found.findings[0].sentence


def test_a_card_cut_by_the_pictures_edge_keeps_only_whole_targets(one_card) -> None:
    camera, placed, rays = one_card
    truth = saddles_px(camera, placed[7])
    # The edge runs half an inch (12 px) below the two lowest points, through their targets' white.
    lowest = np.sort(truth[:, 1])[-2:]
    cut = rays[: round(lowest.min() + 8)]
    found = detect(develop(cut, blur=1.0), "wall")
    (card,) = found.cards
    assert sorted(card.which) == [0, 1, 4, 5, 6, 7]
    assert np.abs(errors(found, camera, placed)).max() < 0.1


def test_a_card_seen_twice_is_left_out_and_said_so() -> None:
    camera = stand(15)
    rays = light(camera, {7: (10.0, 15.0, 3.0)})
    rays += light(camera, {7: (30.0, 15.0, -2.0)}) - 0.45
    found = detect(develop(rays, blur=1.0), "wall")
    assert (found.cards, codes(found)) == ((), ["card-twice"])


def dim(rays):
    return develop(rays, exposure=0.003, noise=2.0)


def shaken(rays):
    return develop(cv2.filter2D(rays, -1, np.ones((1, 25)) / 25))


def lamp(rays):
    y, x = np.mgrid[: SIZE[1], : SIZE[0]]
    return develop(rays + 10 * np.exp(-((x - SIZE[0] / 2) ** 2 + (y - SIZE[1] / 2) ** 2) / 2 / 200**2))


def boards(rays):
    across = np.arange(rays.shape[1]) // 120 % 2
    return develop(np.broadcast_to(np.where(across, 0.45, 0.3), rays.shape))


@pytest.mark.parametrize(
    ("picture", "code", "words"),
    [
        pytest.param(dim, "too-dark", "it is too dark", id="too dark"),
        pytest.param(lambda rays: develop(rays, blur=9.0), "blurred", "it is blurred", id="out of focus"),
        pytest.param(shaken, "blurred", "it is blurred", id="shaken"),
        pytest.param(lamp, "glare", "of it is burnt out by glare", id="a lamp"),
        pytest.param(lambda rays: develop(np.full_like(rays, 0.45)), "no-card", "no card is in it", id="a plain wall"),
        pytest.param(boards, "no-card", "no card is in it", id="a wall of boards"),
    ],
)  # fmt: skip
def test_says_why_no_card_was_found(lights, picture, code: str, words: str) -> None:
    found = detect(picture(lights[24][2]), "wall")
    assert (found.cards, codes(found)) == ((), [code])
    assert found.findings[0].sentence.startswith("No card was found in “wall”: ")
    assert words in found.findings[0].sentence


@pytest.mark.parametrize("ppi", [2.6, 3.6])
def test_a_card_too_far_off_is_told_and_not_measured(ppi: float) -> None:
    # A marker of 11 or 16 px can be read in a sharp picture, but its squares of 1.3 or 1.8 px cannot be measured.
    camera = look(size=SIZE, f=ppi * 97, at=(20.0, 15.0, 97.0))
    placed = {1: (0.0, 20.0, 3.0), 2: (20.0, 14.0, -4.0), 3: (40.0, 16.0, 7.0)}
    rays = light(camera, placed)
    sharp, soft = (detect(develop(rays, blur=b, exposure=e), "wall") for b, e in ((0.6, 1.0), (1.0, 1.3)))
    assert sharp.cards == soft.cards == ()
    assert set(codes(sharp)) | set(codes(soft)) <= {"card-unmeasurable", "too-small", "no-card"}
    assert codes(sharp)


@pytest.mark.parametrize(
    "options",
    [
        pytest.param({"exposure": 0.02, "noise": 2.0}, id="as dark as DARK"),
        pytest.param({"blur": BLURRED}, id="as blurred as BLURRED"),
        pytest.param({"exposure": 3.0}, id="burnt out far over GLARE, but not where the cards are black"),
    ],
)
def test_cards_are_found_as_long_as_nothing_would_be_blamed(lights, options) -> None:
    picture = develop(lights[24][2], **options)
    if "noise" in options:
        assert np.percentile(picture, 95) == pytest.approx(DARK, abs=3)
    assert [card.number for card in detect(picture, "wall").cards] == [1, 2, 3]


def test_nothing_is_said_of_a_good_picture(lights) -> None:
    assert codes(detect(develop(lights[24][2]), "wall")) == []


# A Gaussian's own standard deviation comes out: pixels of one width add 1/12 to its square, and noise, tone curve and
# JPEG some tenths; neighbouring edges lift it where the blur nears a cell (13 px here, to 3 sd).
@pytest.mark.parametrize("softness", [1.0, 1.5, 2.0, 3.0])
def test_blur_is_measured_in_pixels(lights, softness: float) -> None:
    for noise in (0.0, 1.5, 3.0):
        assert blur(develop(lights[24][2], blur=softness, noise=noise)) == pytest.approx(softness, abs=0.3)


def test_blur_is_found_across_as_well_as_along(lights) -> None:
    picture = develop(lights[24][2], blur=0.7)
    for sigmas in ((3.0, 0.01), (0.01, 3.0)):
        assert blur(cv2.GaussianBlur(picture, (0, 0), sigmaX=sigmas[0], sigmaY=sigmas[1])) > 2.5


@pytest.mark.parametrize("level", [0, 128, 255])
def test_an_even_picture_has_no_edge_to_be_blurred(level: int) -> None:
    assert blur(np.full((300, 400), level, np.uint8)) == 0.0


def test_random_stands_find_the_right_numbers_and_never_a_wrong_one() -> None:
    rng = np.random.default_rng(3)
    for _ in range(4):
        numbers = rng.choice(np.arange(1, cards.LARGEST_NUMBER + 1), 2, replace=False)
        camera = stand(
            rng.uniform(11, 15), yaw=rng.uniform(-45, 45), roll=rng.uniform(-180, 180), pitch=rng.uniform(-20, 20)
        )
        placed = {
            int(n): (20 + x, 15 + rng.uniform(-2, 2), rng.uniform(-180, 180))
            for n, x in zip(numbers, (-8, 8), strict=True)
        }
        found = detect(photograph(camera, placed, blur=rng.uniform(0.5, 1.5), exposure=rng.uniform(0.8, 1.4)), "wall")
        assert {card.number for card in found.cards} <= set(placed)
        whole = {
            n
            for n, at in placed.items()
            if camera.sees(place(at, 1.2 * np.array([(-4, -5), (4, -5), (4, 5), (-4, 5)]))).all()
        }
        assert whole <= {card.number for card in found.cards}
        assert np.abs(errors(found, camera, placed)).max() < 0.2


def test_no_card_is_found_in_pictures_without_one() -> None:
    rng = np.random.default_rng(4)
    for _ in range(5):
        clutter = np.full(SIZE[::-1], 0.45)
        for _ in range(40):
            x, y = rng.integers(0, SIZE[0]), rng.integers(0, SIZE[1])
            w, h = rng.integers(5, 200, 2)
            cv2.rectangle(clutter, (x, y), (x + int(w), y + int(h)), float(rng.uniform(0.02, 0.9)), -1)
        assert detect(develop(clutter), "wall").cards == ()


@pytest.mark.parametrize("turned", range(4))
def test_a_marker_is_read_as_opencvs_own_dictionary_reads_it(turned: int) -> None:
    rng = np.random.default_rng(6)
    for wrong in (0, 1, 3, 4, 12):
        for number in rng.choice(np.arange(1, cards.LARGEST_NUMBER + 1), 20, replace=False):
            cells = cv2.aruco.generateImageMarker(cards.dictionary(), int(number), cards.CELLS, borderBits=1)
            inner = cells[1:-1, 1:-1].copy()
            inner.ravel()[rng.choice(36, wrong, replace=False)] ^= 255
            cells[1:-1, 1:-1] = inner = np.rot90(inner, turned)
            # 0.6 of the five cells that the family could correct.
            known, theirs, turns = cards.dictionary().identify((inner > 0).astype(np.uint8), 0.6)
            picture = np.pad(np.kron(cells, np.full((9, 9), 1, np.uint8)), 20, constant_values=255)
            corners = np.array([(20, 20), (92, 20), (92, 92), (20, 92)]) - 0.5
            ours = markers_module._read(picture, corners[None])
            assert [n for n, _ in ours] == ([theirs] if known else [])
            for _, found in ours:
                np.testing.assert_array_equal(found, np.roll(corners, turns, axis=0))


def test_a_small_card_is_found_in_a_photo_of_12_megapixels() -> None:
    # The least that is looked for there: a marker of a fiftieth of 4,032 px all round, 20 px a side, and some to spare.
    camera = look(size=SIZE, f=5.5 * 97, at=(20.0, 15.0, 97.0))
    picture = photograph(camera, {9: (20.0, 15.0, 3.0)}, blur=0.6, noise=1.0)
    large = np.random.default_rng(7).normal(160, 1, (3024, 4032)).clip(0, 255).round().astype(np.uint8)
    large[1000 : 1000 + SIZE[1], 2001 : 2001 + SIZE[0]] = picture
    (card,) = detect(large, "wall").cards
    assert card.number == 9
    assert np.abs(card.points - saddles_px(camera, (20.0, 15.0, 3.0))[card.which] - (2001, 1000)).max() < 0.2


def test_cards_measured_together_come_out_as_each_alone(lights) -> None:
    camera, placed, rays = lights[15]
    picture = develop(rays, blur=1.5, sharpen=0.5)
    x, y = saddles_px(camera, placed[2])[5]
    cv2.circle(picture, (round(x), round(y)), 6, 0, -1)  # one that is looked at twice
    markers = [(n, camera.project(place(at, cards.marker_corners())) + 1) for n, at in placed.items()]
    together = measure_cards(picture, markers)
    assert [len(card.which) for card in together] == [8, 7, 8]
    for marker, card in zip(markers, together, strict=True):
        (alone,) = measure_cards(picture, [marker])
        np.testing.assert_array_equal(alone.which, card.which)
        np.testing.assert_allclose(alone.points, card.points, atol=1e-6)
    assert measure_cards(picture, []) == []


def test_a_marker_that_is_none_measures_nothing_and_breaks_nothing() -> None:
    # Corners as a false alarm may give them, anywhere, of any shape, over a picture of texture.
    rng = np.random.default_rng(5)
    texture = cv2.GaussianBlur(rng.integers(0, 256, SIZE[::-1]).astype(np.uint8), (0, 0), 2)
    texture = cv2.normalize(texture, None, 0, 255, cv2.NORM_MINMAX)
    for _ in range(50):
        middle, side = rng.uniform((0, 0), SIZE), rng.uniform(10, 200)
        corners = middle + side / 2 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) + rng.normal(0, side / 8, (4, 2))
        (sighting,) = measure_cards(texture, [(9, corners)])
        assert len(sighting.which) < LEAST_POINTS
        assert sighting.points.shape == (len(sighting.which), 2)


@dataclass(frozen=True)
class Made:
    """One picture of the sweep: what it shows, and what three readers found in it."""

    camera: Camera
    placed: dict[int, tuple[float, float, float]]
    found: Detection
    plain: set[int]  # numbers by OpenCV's reader as it comes
    other: dict[int, np.ndarray]  # corners by a reader that is not OpenCV's, (4, 2) px


def made(seed: int) -> Made:
    """Cards with markers of 18 to 200 px, yaw to 70 degrees, any way up; blur, noise, exposure and JPEG at random."""
    rng = np.random.default_rng(seed)
    side = float(np.exp(rng.uniform(np.log(18), np.log(200))))
    ppi = side / cards.MARKER
    camera = stand(ppi, yaw=rng.uniform(-70, 70), pitch=rng.uniform(-20, 20), roll=rng.uniform(-180, 180))
    reach = 0.25 * SIZE[1] / ppi
    count = int(np.clip(reach / 14, 1, 4))  # at least 14 in from card to card, so that none covers another
    across = 20 + np.linspace(-reach, reach, count + 2)[1:-1]
    numbers = rng.choice(np.arange(1, cards.LARGEST_NUMBER + 1), count, replace=False)
    placed = {int(n): (float(x), 15.0, float(rng.uniform(-180, 180))) for n, x in zip(numbers, across, strict=True)}
    with pytest.MonkeyPatch.context() as quick:
        quick.setattr(synthetic, "OVERSAMPLE", 4)
        picture = photograph(
            camera, placed, blur=rng.uniform(0.4, 3.0 if side > 60 else 1.5), exposure=rng.uniform(0.4, 1.5),
            noise=rng.uniform(0.5, 4), sharpen=rng.choice([0, 0.5]), quality=int(rng.integers(75, 95)), seed=seed,
        )  # fmt: skip
    return Made(camera, placed, detect(picture, "made"), plain_reader(picture), other_reader(picture))


def plain_reader(picture: np.ndarray) -> set[int]:
    """OpenCV's reader as it comes, but for markers as small as ours: three sizes of neighbourhood, no second look."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.02
    _, ids, _ = cv2.aruco.ArucoDetector(cards.dictionary(), parameters).detectMarkers(picture)
    return set() if ids is None else set(np.ravel(ids).tolist())


def other_reader(picture: np.ndarray) -> dict[int, np.ndarray]:
    """The markers by pupil-apriltags at full size, in our frame: it has the first pixel's centre at (1/2, 1/2).

    AprilRobotics/apriltag issue 121. Markers in which it corrected more than two cells are left out as guesses.
    """
    return {tag.tag_id: tag.corners - 0.5 for tag in _reader().detect(picture) if tag.hamming <= 2 and tag.tag_id > 0}


@cache
def _reader() -> pupil_apriltags.Detector:
    return pupil_apriltags.Detector(families="tag36h11", quad_decimate=1.0)  # one for all: it crashes when made often


@pytest.fixture(scope="module")
def sweep() -> list[Made]:
    return [made(seed) for seed in range(120)]


def seen_at_all(one: Made) -> set[int]:
    """Cards measured, and cards said to be seen but not measurable."""
    told = {int(f.sentence.split()[1]) for f in one.found.findings if f.code == "card-unmeasurable"}
    return {c.number for c in one.found.cards} | told


@pytest.mark.slow
def test_no_marker_that_another_reader_finds_is_lost_in_the_sweep(sweep) -> None:
    plain, other, ours = (
        sum(len(found) for found in each)
        for each in (
            [one.plain for one in sweep], [one.other for one in sweep], [seen_at_all(one) for one in sweep],
        )
    )  # fmt: skip
    lost_plain, lost_other = (
        sum(len(found - seen_at_all(one)) for one, found in zip(sweep, each, strict=True))
        for each in ([one.plain for one in sweep], [set(one.other) for one in sweep])
    )
    print(f"\nmarkers found: ours {ours}, OpenCV's as it comes {plain}, pupil-apriltags {other}")
    print(f"not ours: {lost_plain} of OpenCV's, {lost_other} of pupil-apriltags'")
    assert ours > max(plain, other)
    assert lost_plain == 0
    # Blurred to the edge of what can be read, each reader has some that the other has not: of 404 markers that
    # pupil-apriltags found in 420 such pictures ours lost 5, and found 43 that it did not.
    assert lost_other <= 0.02 * other


@pytest.mark.slow
def test_every_card_of_the_sweep_is_one_that_hangs_there_and_lies_true(sweep) -> None:
    for one in sweep:
        assert seen_at_all(one) <= set(one.placed)
        for card in one.found.cards:
            off = card.points - saddles_px(one.camera, one.placed[card.number])[card.which]
            assert np.abs(off).max() < DISAGREE  # what is off by more is dropped


# The other reader's corners scatter by 0.05 px (simulated, 60 views of 60 to 160 px), and lie inward with ours wherever
# white spreads over black: up to 0.7 px on the rendered photos. Without that common part, its four corners and its
# middle must be where eight saddle points of 0.04 px put them, to 4 sd of 0.05 px.
@pytest.mark.parametrize("file", truth.MEASURED_PHOTOS)
def test_another_reader_has_the_demos_markers_in_the_same_places(file: str) -> None:
    gray = truth.picture(file).gray
    found, other = detect(gray, file).cards, other_reader(gray)
    assert {card.number for card in found} == set(other)
    for card in found:
        H = ProjectiveTransform.from_estimate(cards.saddle_points()[card.which], card.points)
        ours, middle = H(cards.marker_corners()), H([(0.0, 0.0)])[0]
        order = [int(np.argmin(np.linalg.norm(other[card.number] - corner, axis=1))) for corner in ours]
        assert sorted(order) == [0, 1, 2, 3]
        off = other[card.number][order] - ours
        away = (ours - middle) / np.linalg.norm(ours - middle, axis=1)[:, None]
        outward = float((off * away).sum(axis=1).mean())
        assert -0.7 < outward < 0
        assert np.sqrt(((off - outward * away) ** 2).mean()) < 4 * 0.05
        crossing = ProjectiveTransform.from_estimate(cards.marker_corners(), other[card.number][order])([(0.0, 0.0)])[0]
        assert np.abs(crossing - middle).max() < 4 * 0.05


@pytest.mark.parametrize("point", range(8))
@pytest.mark.parametrize("way", [(1, 0), (0, 1), (-1, 1)])
def test_a_point_that_is_off_by_less_than_all_may_miss_is_known_by_the_others(point: int, way: tuple[int, int]) -> None:
    camera = look(at=(10.0, 5.0, 90.0), yaw=15, k1=0, k2=0)
    card = np.column_stack([cards.saddle_points(), np.zeros(8)])
    pixels = camera.project(card)
    pixels[point] += 0.8 * np.array(way) / np.hypot(*way)
    # Pulled after the point, the homography of all eight misses by less than is allowed.
    H = cv2.findHomography(card[:, :2], pixels)[0]
    assert np.linalg.norm(cv2.perspectiveTransform(card[:, None, :2], H)[:, 0] - pixels, axis=1).max() < DISAGREE
    assert _agreeing(card[:, :2], pixels).tolist() == [i for i in range(8) if i != point]


def test_points_miss_their_homography_as_opencv_has_it() -> None:
    """OpenCV's `findHomography` makes the squares of the misses least; ours weighs each by its distance w first.

    To first order the two differ by (J' W² J)⁻¹ J' W² v, and J' v = 0 in the former, so by no more than the largest w²
    over the least, less 1, of the whole |v|.
    """
    rng = np.random.default_rng(3)
    card = cards.saddle_points()
    sets = np.array(list(combinations(range(8), 7)))
    for slant in rng.uniform(-1.1, 1.1, 40):
        away = 60.0 + card[:, 0] * np.sin(slant)
        true = 3000 * np.column_stack([card[:, 0] * np.cos(slant), card[:, 1]]) / away[:, None]
        pixels = true + rng.normal(0, 0.3, true.shape)
        for which, ours in zip(sets, _misses(card[sets], pixels[sets]), strict=True):
            H = cv2.findHomography(card[which], pixels[which], 0)[0]
            miss = np.linalg.norm(markers_module.mapped(H, card[which]) - pixels[which], axis=1)
            assert abs(ours - miss.max()) <= np.linalg.norm(miss) * ((away.max() / away.min()) ** 2 - 1)


@pytest.mark.parametrize("k1", [-0.1, 0.0, 0.1])
def test_points_of_a_sound_card_all_stay_whatever_the_lens(k1: float) -> None:
    rng = np.random.default_rng(5)
    card = np.column_stack([cards.saddle_points(), np.zeros(8)])
    for z in rng.uniform(60, 150, 50):  # from 60 in on these lenses bend a card by less than DISAGREE
        camera = look(at=(0.4 * z, 0.2 * z, z), k1=k1)
        pixels = camera.project(card) + rng.normal(0, 0.04, (8, 2))  # as half-turn points scatter at worst
        assert len(_agreeing(card[:, :2], pixels)) == 8


@pytest.mark.parametrize("shape", [(30_000, 800), (800, 30_000)])
def test_of_a_picture_of_few_and_endless_rows_no_more_is_looked_at_than_of_others(shape, monkeypatch):
    looked_at = []
    rows_blurred = detect_module._blur_rows
    monkeypatch.setattr(
        detect_module, "_blur_rows", lambda rows, s: looked_at.append(rows.size) or rows_blurred(rows, s)
    )
    detect_module.blur(np.zeros(shape, np.uint8))
    assert max(looked_at) < 1.2 * detect_module.MOST_LOOKED_AT
