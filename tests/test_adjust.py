"""The adjustment against truth drawn from what it takes for granted, against SciPy, OpenCV and scikit-image."""

from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np
import pytest
from scipy import stats
from scipy.optimize import least_squares
from skimage.transform import ProjectiveTransform

from capture import cards
from capture.adjust import AT_REST, adjust
from capture.equations import card_points, observation_blocks
from capture.measure import measure_wall
from capture.network import assemble
from capture.record import PrintRun, Wall
from tests.scenes import CORNER_NOISE, observe, random_scene
from tests.synthetic import look

WALL = Wall(name="wall", bow=Fraction(0))  # the made walls are flat
SCENES = 150


def spans(scene, solution, rng, count=4):
    """Errors and standard deviations of distances between random wall points seen in the first photo."""
    name = solution.net.shots[0].name
    camera = scene.cameras[int(name.split()[1]) - 1]
    xs = [scene.placed[n][0] for n in solution.net.cards]
    points = np.column_stack([rng.uniform(min(xs), max(xs), count), rng.uniform(5, 75, count), np.zeros(count)])
    points = points[camera.sees(points)]
    if len(points) < 2:
        return np.zeros(0), np.zeros(0)
    xy, covariance = solution.locate(name, camera.project(points), np.zeros(len(points)))
    errors, sds = [], []
    for i in range(1, len(points)):
        way = xy[i] - xy[0]
        length = np.linalg.norm(way)
        g = np.zeros(2 * len(points))
        g[:2], g[2 * i : 2 * i + 2] = -way / length, way / length
        errors.append(length - np.linalg.norm(points[i] - points[0]))
        sds.append(np.sqrt(g @ covariance @ g))
    return np.array(errors), np.array(sds)


@pytest.fixture(scope="module")
def solved_scenes():
    """Solutions of random scenes, with the errors of spans between random points, in standard deviations."""
    outcomes = []
    for seed in range(SCENES):
        scene = random_scene(seed)
        solution = measure_wall(WALL, [s for s in scene.seen if s.cards], PrintRun()).solution
        errors, sds = spans(scene, solution, np.random.default_rng(seed + 10_000))
        outcomes.append((solution, errors / sds))
    return outcomes


@pytest.mark.slow
def test_the_stated_95_percent_interval_holds(solved_scenes):
    # One span per scene, so that the cases are independent and their number of hits is binomial.
    z = np.array([z[0] for _, z in solved_scenes if len(z)])
    hits = int(np.sum(np.abs(z) < 1.959964))
    low, high = stats.binom.interval(0.999, len(z), 0.95)
    assert low <= hits <= high, f"{hits} of {len(z)} inside"
    # Σ z² of independent standard normal errors is chi-square (normalised error squared).
    assert stats.chi2.ppf(0.0005, len(z)) < z @ z < stats.chi2.ppf(0.9995, len(z))


@pytest.mark.slow
def test_corner_noise_is_estimated(solved_scenes):
    ratios = [s.corner_sd / CORNER_NOISE for solution, _ in solved_scenes for s in solution.net.shots]
    # Each photo has 48 to 128 corner coordinates; the mean of over 150 such estimates is good to a few per cent.
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.05)


@pytest.mark.slow
def test_redundancy_numbers_sum_to_observations_minus_unknowns(solved_scenes):
    # Σ r = m - p, Mikhail & Gracie 1981; what is known beforehand counts among the observations.
    for solution, _ in solved_scenes[:20]:
        surplus = len(solution.residuals) - solution.slots.size
        assert solution.redundancy.sum() == pytest.approx(surplus, abs=1e-3)
        assert solution.converged


def test_the_choice_of_datum_does_not_change_an_inner_distance():
    scene = random_scene(3, n_cards=5, n_photos=2)
    flipped = {n: 6 - n for n in scene.placed}  # the lowest number is the datum: renumbering moves it
    renumbered = [
        replace(s, cards=tuple(replace(c, number=flipped[c.number]) for c in reversed(s.cards))) for s in scene.seen
    ]
    results = []
    for seen in (scene.seen, renumbered):
        solution = measure_wall(WALL, seen, PrintRun()).solution
        errors, sds = spans(scene, solution, np.random.default_rng(1))
        results.append((errors, sds))
    # Both are the same optimum reached from different starts; the solver stops at 1e-12 of the cost.
    np.testing.assert_allclose(results[0][0], results[1][0], atol=1e-4)
    np.testing.assert_allclose(results[0][1], results[1][1], rtol=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_one_net_comes_to_rest_in_one_place_and_where_scipy_has_the_minimum(seed):
    """From starts some standard deviations off: two rests lie within two last steps of one another."""
    rng, scene = np.random.default_rng(seed), random_scene(seed)
    solution = measure_wall(WALL, [s for s in scene.seen if s.cards], PrintRun()).solution
    sd = np.sqrt(np.diag(solution.covariance))
    rest = adjust(solution.net, rounds=0, start=solution.unknowns)
    off = rng.normal(0, 2, sd.size) * sd
    again = adjust(solution.net, rounds=0, start=solution.unknowns + off)
    assert np.abs((again.unknowns - rest.unknowns) / sd).max() < 3 * AT_REST
    # It depends smoothly on where they are, by less than itself in a standard deviation.
    assert np.abs((again.covariance - rest.covariance) / np.outer(sd, sd)).max() < 3 * AT_REST
    blocks = observation_blocks(solution.net)
    scipys = least_squares(
        lambda x: np.concatenate([block(x)[0] for block in blocks]), rest.unknowns + off, x_scale=sd, xtol=1e-14,
        jac=lambda x: np.concatenate([block(x)[1] for block in blocks]), ftol=1e-15, gtol=1e-14,
    )  # fmt: skip
    assert rest.residuals @ rest.residuals <= 2 * scipys.cost * (1 + 1e-9)
    assert np.abs((scipys.x - rest.unknowns) / sd).max() < 1e-3  # its tolerance is of the cost: the square of a step


def test_derivatives_of_every_observation_agree_with_differences():
    net = assemble(WALL, random_scene(7, n_cards=3, n_photos=2).seen, PrintRun()).net
    start = adjust(net, rounds=0).unknowns
    for block in observation_blocks(net):
        _, jacobian = block(start)
        for column in range(len(start)):
            step = 1e-6 * max(1.0, abs(start[column]))
            up, down = start.copy(), start.copy()
            up[column] += step
            down[column] -= step
            numeric = (block(up)[0] - block(down)[0]) / (2 * step)
            # Central differences: error of order step² of third derivatives, and 1e-16 / step of rounding.
            scale = max(1.0, float(np.abs(jacobian[:, column]).max()))
            np.testing.assert_allclose(jacobian[:, column], numeric, atol=2e-5 * scale)


def test_camera_pose_agrees_with_opencv_on_one_card_with_known_lens():
    """OpenCV's own solver on the same corners, lens held at the truth, is an independent reference."""
    camera = look(at=(20, 40, 70), yaw=20, pitch=5, k1=0.0, k2=0.0, centre=(0.0, 0.0))
    rng = np.random.default_rng(5)
    seen = observe(camera, {1: (18.0, 44.0, 0.0)}, (1.0, 1.0), rng, "photo 1")
    net = assemble(WALL, [seen], PrintRun()).net
    tight = np.array([[1e-3, 1e-3, 1e-3, 1e-9, 1e-9]])
    net = replace(net, lens_mean=camera.lens[None], lens_sd=tight, print_root=np.eye(2) * 1e9)
    ours = adjust(net).camera("photo 1")
    K = np.array([[camera.lens[0], 0, camera.lens[1]], [0, camera.lens[0], camera.lens[2]], [0, 0, 1]])
    nominal = cards.saddle_points()[seen.cards[0].which]
    flat = np.column_stack([nominal, np.zeros(len(nominal))])
    _, rvec, tvec = cv2.solvePnP(flat, seen.cards[0].points, K, None, flags=cv2.SOLVEPNP_ITERATIVE)
    theirs = -cv2.Rodrigues(rvec)[0].T @ tvec.ravel()
    # Both minimise the same sum of squares; OpenCV stops at its own criterion (FLT_EPSILON, 20 steps).
    np.testing.assert_allclose(ours.centre, theirs, atol=2e-3)


def test_without_distortion_a_photo_maps_like_a_projective_transform():
    """scikit-image's ProjectiveTransform, fitted to the same card corners, is an independent reference."""
    camera = look(at=(60, 50, 120), yaw=15, k1=0.0, k2=0.0, centre=(0.0, 0.0))
    placed = {i + 1: (10.0 + 25 * i, 30.0 + 20 * (i % 2), 0.0) for i in range(5)}
    seen = observe(camera, placed, (1.0, 1.0), np.random.default_rng(2), "photo 1", noise=0.0)
    net = assemble(WALL, [seen], PrintRun()).net
    # Zero noise and an exact lens: the only difference left is what each solver takes as converged.
    exact = np.array([[1e-3, 1e-3, 1e-3, 1e-9, 1e-9]])
    solution = adjust(replace(net, lens_mean=camera.lens[None], lens_sd=exact, print_root=np.eye(2) * 1e9))
    places = np.vstack(
        [
            card_points(
                solution.unknowns[solution.slots.card(i)], np.ones(2), cards.saddle_points()[c.which], np.zeros(3)
            )[0]
            for i, c in enumerate(seen.cards)
        ]
    )
    pixels = np.vstack([c.points for c in seen.cards])
    transform = ProjectiveTransform.from_estimate(pixels, places[:, :2])
    grid = np.array([(u, v) for u in (800.0, 2000.0, 3200.0) for v in (800.0, 1500.0, 2200.0)])
    xy, _ = solution.locate("photo 1", grid, np.zeros(len(grid)))
    np.testing.assert_allclose(xy, transform(grid), atol=1e-4)


def test_a_proud_face_is_met_at_its_own_height():
    """design: seen at 30 degrees, an edge 11/16 in proud lies 0.4 in elsewhere on a flat picture (11/16 tan 30°)."""
    camera = look(at=(60 - 100 * np.tan(np.radians(30)), 50, 100), yaw=30)
    placed = {i + 1: (20.0 + 20 * i, 35.0 + 25 * (i % 2), 0.0) for i in range(5)}
    seen = observe(camera, placed, (1.0, 1.0), np.random.default_rng(4), "photo 1")
    solution = measure_wall(WALL, [seen], PrintRun()).solution
    edge = camera.project(np.array([[60.0, 50.0, 11 / 16]]))
    (proud,), _ = solution.locate("photo 1", edge, np.array([11 / 16]))
    (flat,), _ = solution.locate("photo 1", edge, np.array([0.0]))
    assert flat[0] - proud[0] == pytest.approx(11 / 16 * np.tan(np.radians(30)), abs=0.01)


def test_tap_noise_is_added_point_by_point():
    scene = random_scene(11, n_cards=6, n_photos=1)
    solution = measure_wall(WALL, scene.seen, PrintRun()).solution
    pixels = np.array([[1500.0, 1500.0], [2500.0, 1400.0]])
    _, without = solution.locate("photo 1", pixels, np.zeros(2))
    _, with_tap = solution.locate("photo 1", pixels, np.zeros(2), tap_sd=2.0)
    added = with_tap - without
    assert np.allclose(added[:2, 2:], 0)
    step = 1e-3  # px: numeric derivative of the place by the pixel
    for n in range(2):
        moved = [solution.locate("photo 1", pixels[n : n + 1] + d, np.zeros(1))[0][0] for d in ((step, 0), (0, step))]
        here = solution.locate("photo 1", pixels[n : n + 1], np.zeros(1))[0][0]
        J = np.column_stack([(m - here) / step for m in moved])
        np.testing.assert_allclose(added[2 * n : 2 * n + 2, 2 * n : 2 * n + 2], 4.0 * J @ J.T, rtol=1e-3)


def test_more_cards_make_it_surer():
    """design: one card alone leaves a wall-wide span unsure by half an inch and more, six bring it near a tenth."""
    camera = look(at=(70, 50, 126), yaw=3, pitch=2)
    all_cards = {
        1: (70, 40, 0.0),
        2: (10, 25, 1.0),
        3: (130, 25, -1.0),
        4: (10, 65, 0.5),
        5: (72, 68, 0.0),
        6: (131, 66, 1.0),
    }
    sds = []
    for n in (1, 2, 6):
        placed = {k: v for k, v in all_cards.items() if k <= n}
        seen = observe(camera, placed, (1.0, 1.0), np.random.default_rng(6), "photo 1")
        solution = measure_wall(WALL, [seen], PrintRun(across=Fraction(6), up=Fraction(9))).solution
        ends = camera.project(np.array([[5.0, 40, 0], [138.0, 40, 0]]))
        _, C = solution.locate("photo 1", ends, np.zeros(2))
        g = np.array([-1.0, 0, 1, 0])
        sds.append(float(np.sqrt(g @ C @ g)))
    assert sds[0] > 0.5 > sds[1] > sds[2]
    # With the bars read (0.15 % of scale: 0.2 in over 133) the print, not the camera, is what remains.
    assert sds[2] < 0.25
