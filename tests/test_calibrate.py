"""A lens calibrated from photos of cards: against truth, against OpenCV, and what is refused."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy import stats

from capture import cards
from capture.beliefs import CENTRE_MOVES, FOCUS_MOVES
from capture.calibrate import LensError, calibrate
from capture.measure import measure_wall
from capture.record import Learnt, Lens, PrintRun, Wall
from tests.scenes import SIZE, lens_from_prior, observe
from tests.synthetic import look

PLACED = {n: (16.0 + 22 * (n % 3), 20.0 + 26 * (n // 3), 0.7 * n - 2) for n in range(1, 7)}
STANDS = [
    {"at": (40, 40, 62)}, {"at": (-2, 40, 55), "yaw": 35}, {"at": (80, 38, 55), "yaw": -35},
    {"at": (40, 78, 52), "pitch": 34}, {"at": (42, 8, 54), "pitch": -30}, {"at": (20, 60, 58), "yaw": 18, "roll": 90},
]  # fmt: skip


def photos(seed=0, stands=STANDS, lens=None, noise=0.05):
    rng = np.random.default_rng(seed)
    lens = lens or lens_from_prior(rng)
    seen = [observe(look(SIZE, **s, **lens), PLACED, (1.001, 0.9985), rng, f"lens {i}", noise)
            for i, s in enumerate(stands, 1)]  # fmt: skip
    return [s for s in seen if s.cards], lens


def truth(lens):
    return np.array([lens["f"], (SIZE[0] - 1) / 2 + lens["centre"][0], (SIZE[1] - 1) / 2 + lens["centre"][1],
                     lens["k1"], lens["k2"]])  # fmt: skip


def values(lens):
    terms = (lens.f, lens.cx, lens.cy, lens.k1, lens.k2)
    return np.array([t.value for t in terms]), np.array([t.sd for t in terms])


@pytest.mark.slow
def test_the_lens_comes_out_as_well_as_it_claims():
    z = []
    for seed in range(30):
        seen, lens = photos(seed)
        found, sds = values(calibrate(seen))
        z += list((found - truth(lens)) / sds)
    z = np.array(z)
    high = stats.chi2.ppf(0.9995, len(z))
    # The made cards lie flat, and the wall may bow: the interval is rather too wide than too narrow.
    assert np.sum(z**2) < high
    assert np.abs(z).max() < 4


def test_it_agrees_with_opencv_on_the_same_corners():
    """OpenCV's own calibration (Zhang 2000) of the same saddle points; its target must be one rigid set of points.

    So each card is a target of its own here, as OpenCV would have it, with the printed size taken as true.
    """
    rng = np.random.default_rng(3)
    lens = {"f": 2930.0, "centre": (14.0, -9.0), "k1": 0.06, "k2": -0.08}
    seen = [observe(look(SIZE, **s, **lens), PLACED, (1.0, 1.0), rng, f"lens {i}") for i, s in enumerate(STANDS, 1)]
    flat, pixels = [], []
    for s in seen:
        points = np.concatenate([_on_wall(PLACED[c.number], c.which) for c in s.cards])
        flat.append(np.column_stack([points, np.zeros(len(points))]).astype(np.float32))
        pixels.append(np.concatenate([c.points for c in s.cards]).astype(np.float32))
    K = np.array([[2900.0, 0, 2015.5], [0, 2900.0, 1511.5], [0, 0, 1]])
    flags = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3 | cv2.CALIB_USE_INTRINSIC_GUESS
    _, K, d, _, _ = cv2.calibrateCamera(flat, pixels, SIZE, K, np.zeros(5), flags=flags)
    d = np.ravel(d)
    theirs = np.array([K[0, 0], K[0, 2], K[1, 2], d[0], d[1]])
    ours, sds = values(calibrate(seen))
    # OpenCV is told the cards' places, we are not: its estimate is the surer, and ours holds it within its own sd.
    assert np.all(np.abs(ours - theirs) < 3 * sds)
    assert stats.chi2.sf(np.sum(((ours - theirs) / sds) ** 2), 5) > 0.001


def _on_wall(place, which):
    x, y, angle = place
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return cards.saddle_points()[which] @ np.array([[c, s], [-s, c]]) + (x, y)


def test_a_kept_lens_makes_a_wall_surer_and_is_named():
    seen, lens = photos(5)
    kept = calibrate(seen).model_copy(update={"phone": "phone"})
    rng = np.random.default_rng(6)
    eye = look(SIZE, at=(60, 45, 110), yaw=12, **lens)
    one = observe(eye, {1: (10, 30, 0.0), 2: (100, 50, 1.0)}, (1.0, 1.0), rng, "photo")
    wall = Wall(name="wall")
    without, with_it = (measure_wall(wall, [one], PrintRun(), lenses) for lenses in ((), (kept,)))
    ends = without.solution.camera("photo").project(np.array([[5.0, 40, 0], [105, 40, 0]]))
    sds = []
    for measured in (without, with_it):
        _, C = measured.solution.locate("photo", ends, np.zeros(2))
        g = np.array([-1.0, 0, 1, 0])
        sds.append(float(np.sqrt(g @ C @ g)))
    assert sds[1] < 0.8 * sds[0]
    assert with_it.survey.lens == "phone, calibrated by 6 photos"
    assert without.survey.lens == ""


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        pytest.param({"zoom": 2.0}, "was taken with 2 times digital zoom", id="zoomed"),
        pytest.param({"full_size": (5000, 4000)}, "was cropped or made smaller", id="cropped"),
        pytest.param({"focal_35": 52.0}, "was taken at another zoom", id="other lens"),
        pytest.param(
            {"size": (2016, 1512)}, "is 2016 × 1512 pixels, and the calibration is for another size", id="size"
        ),
    ],
)
def test_a_kept_lens_is_refused_for_a_picture_it_does_not_hold_for(changed, why):
    seen, _ = photos(5)
    kept = calibrate(seen)
    rng = np.random.default_rng(6)
    eye = look(SIZE, at=(60, 45, 110))
    one = replace(observe(eye, {1: (10, 30, 0.0), 2: (100, 50, 1.0)}, (1.0, 1.0), rng, "photo"), **changed)
    if "size" in changed:
        one = replace(one, cards=tuple(replace(c, points=c.points / 2) for c in one.cards))
    survey = measure_wall(Wall(name="wall"), [one], PrintRun(), [kept]).survey
    (finding,) = [f for f in survey.findings if f.code == "lens-not-used"]
    assert why in finding.sentence
    assert survey.lens == ""


def test_what_changes_from_picture_to_picture_is_added():
    exact = Learnt(value=0.0, sd=1e-9)
    kept = Lens(phone="p", focal_35=26.0, size=SIZE, f=Learnt(value=2900, sd=1e-6), cx=exact, cy=exact, k1=exact,
                k2=exact, photos=5)  # fmt: skip
    from capture.beliefs import lens_belief

    _, sd = lens_belief(SIZE, 26.0, kept)
    assert sd[0] == pytest.approx(2900 * FOCUS_MOVES)
    assert sd[1] == pytest.approx(SIZE[0] * CENTRE_MOVES)


def _last(seen, **changed):
    return [*seen[:-1], replace(seen[-1], **changed)]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        pytest.param(lambda seen: seen[:3], "3 photos with cards are too few", id="few photos"),
        pytest.param(lambda seen: _last(seen, phone="other"), "differ in phone, zoom or size", id="phones"),
        pytest.param(lambda seen: _last(seen, cards=seen[-1].cards[:2]), "shows 2 cards", id="few cards"),
        pytest.param(lambda seen: [replace(s, zoom=2.0) for s in seen], "digital zoom", id="zoom"),
        pytest.param(lambda seen: [replace(s, phone="") for s in seen], "does not say which phone", id="no phone"),
    ],
)
def test_photos_that_tell_no_lens_are_refused(spoil, words):
    seen, _ = photos(2)
    with pytest.raises(LensError, match=words):
        calibrate(spoil(seen))


def test_photos_all_taken_from_one_place_are_refused():
    stands = [{"at": (40 + i, 40, 62), "yaw": i} for i in range(4)]
    seen, _ = photos(2, stands)
    with pytest.raises(LensError, match="too much alike"):
        calibrate(seen)


def test_cards_that_moved_meanwhile_are_refused():
    seen, lens = photos(4)
    rng = np.random.default_rng(0)
    moved = {**PLACED, 3: (PLACED[3][0] + 4, PLACED[3][1], 0.0)}
    last = observe(look(SIZE, **STANDS[2], **lens), moved, (1.0, 1.0), rng, "last")
    with pytest.raises(LensError, match="do not fit together"):
        calibrate([*seen, last])
