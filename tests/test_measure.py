"""One wall from marks, photos and tapes to its survey, against made-up truth."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from capture import cards
from capture.beliefs import TAP_SD, tape_sd
from capture.detect import CardSighting
from capture.lengths import Source
from capture.measure import measure_wall
from capture.record import Along, At, EndKind, Kind, Mark, PrintRun, Side, Sight, Tape, Wall
from tests.scenes import observe
from tests.synthetic import look

PLACED = {
    1: (9.5, 24.6, 1.0), 2: (66.2, 26.1, -1.3), 3: (133.0, 46.5, 0.6),
    4: (9.9, 62.0, -0.4), 5: (72.0, 63.0, 1.2), 6: (131.5, 70.0, 0.3),
}  # fmt: skip
WIDTH = Fraction(1147, 8)  # 143 3/8 in


def sight(camera, x, y, z=0.0, at=At.CENTRE, noise=None, photo="photo 1"):
    (pixel,) = camera.project(np.array([[x, y, z]]))
    du, dv = (0.0, 0.0) if noise is None else noise.normal(0, TAP_SD, 2)
    return Sight(photo=photo, u=pixel[0] + du, v=pixel[1] + dv, at=at)


def rectangle(camera, name, kind, x, y, width, height, z, noise=None):
    return Mark(
        name=name,
        kind=kind,
        sights=(
            sight(camera, x - width / 2, y + height / 2, z, At.TOP_LEFT, noise),
            sight(camera, x + width / 2, y - height / 2, z, At.BOTTOM_RIGHT, noise),
        ),
    )


def wall_of(camera, noise=None, proud=5 / 32, **more):
    marks = (
        Mark(name="left", kind=Kind.WALL_END, side=Side.LEFT, sights=(sight(camera, 0, 20, 0, At.POINT, noise),)),
        Mark(name="floor 1", kind=Kind.FLOOR_POINT, sights=(sight(camera, 30, 0, 0, At.POINT, noise),)),
        *(
            Mark(name=f"level {i}", kind=Kind.LEVEL_POINT, sights=(sight(camera, x, 40, 0, At.POINT, noise),))
            for i, x in enumerate((5, 70, 138))
        ),
        rectangle(camera, "receptacle 1", Kind.RECEPTACLE, 31.9, 14.0, 2.75, 4.5, proud, noise),
        rectangle(camera, "receptacle 2", Kind.RECEPTACLE, 110.3, 13.9, 2.75, 4.5, proud, noise),
        Mark(
            name="casing",
            kind=Kind.CASING_EDGE,
            sights=tuple(sight(camera, 125, y, 11 / 16, At.POINT, noise) for y in (10, 40)),
        ),
    )
    return Wall(name="wall", right=EndKind.BULLNOSE, width=WIDTH, marks=marks, **more)


TRUTH = {  # left edge, right edge, bottom, top
    "receptacle 1": (30.525, 33.275, 11.75, 16.25),
    "receptacle 2": (108.925, 111.675, 11.65, 16.15),
}


def test_places_come_out_in_the_wall_frame():
    camera = look(at=(70, 50, 126), yaw=3, pitch=3, roll=0.5)
    seen = observe(camera, PLACED, (0.9982, 1.0011), np.random.default_rng(0), "photo 1", noise=0.0)
    survey = measure_wall(wall_of(camera), [seen], PrintRun()).survey
    assert survey.level == "a level line through 3 points"
    assert survey.width.value == pytest.approx(float(WIDTH), abs=1e-3)
    for name, edges in TRUTH.items():
        feature = survey.feature(name)
        found = [m.value for m in (feature.left, feature.right, feature.bottom, feature.top)]
        # Nothing but the unknown printed scale (± 0.3 % of 110 in) is wrong in these observations.
        np.testing.assert_allclose(found, edges, atol=0.3)
        assert feature.left.source is Source.PHOTO
    casing = survey.feature("casing")
    assert casing.left.value == pytest.approx(125, abs=0.35)


def test_a_long_tape_reading_teaches_the_printed_scale():
    """design: printed scale unknown to 0.3 % leaves 0.4 in over 140 in; one long reading to 1/16 in leaves 0.07."""
    camera = look(at=(70, 50, 126), yaw=3, pitch=3, roll=0.5)
    seen = observe(camera, PLACED, (0.9982, 1.0011), np.random.default_rng(0), "photo 1")
    right = Mark(
        name="right", kind=Kind.WALL_END, side=Side.RIGHT, sights=(sight(camera, float(WIDTH), 20, 0, At.POINT),)
    )
    plain = wall_of(camera).model_copy(update={"width": None})
    plain = plain.model_copy(update={"marks": (*plain.marks, right)})
    before = measure_wall(plain, [seen], PrintRun()).survey
    after = measure_wall(plain.model_copy(update={"width": WIDTH}), [seen], PrintRun())
    assert before.width.sd > 0.25
    assert after.survey.width.sd <= tape_sd(float(WIDTH))
    printed = after.solution.unknowns[after.solution.slots.printed]
    assert printed[0] == pytest.approx(0.9982, abs=0.001)
    assert before.feature("receptacle 2").left.sd > 2 * after.survey.feature("receptacle 2").left.sd


@pytest.mark.slow
def test_edges_fall_inside_their_interval_as_often_as_stated():
    hits, cases, z = 0, 0, []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        printed = tuple(rng.normal(1, 0.003, 2))
        camera = look(at=(rng.uniform(50, 90), 50, rng.uniform(100, 140)), yaw=rng.uniform(-20, 20), pitch=3,
                      f=rng.normal(2970, 60), k1=rng.normal(0, 0.05), k2=rng.normal(0, 0.07),
                      centre=rng.normal(0, 15, 2))  # fmt: skip
        seen = observe(camera, PLACED, printed, rng, "photo 1")
        wall = wall_of(camera, noise=rng, proud=5 / 32 + rng.normal(0, 1 / 16))
        reading = Tape(
            start="left end", end="casing", along=Along.ACROSS,
            length=Fraction(125 + rng.normal(0, tape_sd(125))).limit_denominator(10_000),
        )  # fmt: skip
        survey = measure_wall(wall.model_copy(update={"tapes": (reading,)}), [seen], PrintRun()).survey
        feature = survey.feature("receptacle 2")
        error = (feature.left.value - TRUTH["receptacle 2"][0]) / feature.left.sd
        hits, cases = hits + (abs(error) < 1.959964), cases + 1
        z.append(error)
    low, high = stats.binom.interval(0.999, cases, 0.95)
    assert low <= hits <= high, z
    assert np.sum(np.square(z)) < stats.chi2.ppf(0.9995, cases)


def test_before_any_end_is_marked_the_lowest_card_is_the_frame():
    camera = look(at=(70, 50, 126), yaw=-8)
    placed = {n + 3: at for n, at in PLACED.items()}
    seen = observe(camera, placed, (1.0, 1.0), np.random.default_rng(1), "photo 1")
    solution = measure_wall(Wall(name="wall"), [seen], PrintRun()).solution
    assert solution.net.cards[0] == 4
    np.testing.assert_allclose(solution.unknowns[solution.slots.card(0)], 0, atol=1e-6)
    assert np.sqrt(np.diag(solution.covariance)[solution.slots.card(0)]).max() < 1e-4


def test_a_card_on_the_next_wall_is_named_and_left_out():
    camera = look(at=(70, 50, 126), yaw=-2)
    rng = np.random.default_rng(1)
    seen = observe(camera, PLACED, (1.0, 1.0), rng, "photo 1")
    # The same camera sees card 7 on a wall that turns off at right angles at x = -4.
    nominal = cards.saddle_points()
    away = np.column_stack([np.full(8, -4.0), nominal[:, 1] + 45, 20 - nominal[:, 0]])
    pixels = camera.project(away)
    assert camera.sees(away).all()
    stranger = CardSighting(7, np.arange(8), pixels, pixels[:4])
    measured = measure_wall(Wall(name="wall"), [replace(seen, cards=(*seen.cards, stranger))], PrintRun())
    assert measured.solution.net.cards == (1, 2, 3, 4, 5, 6)
    assert [(f.code, f.place) for f in measured.survey.findings] == [("card-elsewhere", "photo 1")]
    assert "Card 7" in measured.survey.findings[0].sentence


def test_two_photos_join_through_shared_cards():
    cameras = [look(at=(40, 50, 90), yaw=-5), look(at=(100, 55, 95), yaw=12)]
    rng = np.random.default_rng(2)
    left = {n: PLACED[n] for n in (1, 2, 4, 5)}
    right = {n: PLACED[n] for n in (2, 5, 3, 6)}
    seen = [
        observe(c, p, (1.0, 1.0), rng, f"photo {i}")
        for i, (c, p) in enumerate(zip(cameras, (left, right), strict=True), 1)
    ]
    solution = measure_wall(Wall(name="wall"), seen, PrintRun()).solution
    assert solution.net.cards == (1, 2, 3, 4, 5, 6)
    far = solution.unknowns[solution.slots.card(2)][:2]
    turn = np.radians(-PLACED[1][2])  # the frame is card 1, which hangs a degree askew
    c, s = np.cos(turn), np.sin(turn)
    way = np.array([[c, -s], [s, c]]) @ (np.array(PLACED[3][:2]) - PLACED[1][:2])
    sd = np.sqrt(np.diag(solution.covariance)[solution.slots.card(2)][:2])
    assert np.all(np.abs(far - way) < 4 * sd)


def test_a_photo_that_shares_no_card_is_named_and_left_out():
    cameras = [look(at=(20, 50, 90)), look(at=(120, 55, 95))]
    rng = np.random.default_rng(2)
    seen = [
        observe(cameras[0], {1: PLACED[1], 4: PLACED[4]}, (1.0, 1.0), rng, "photo 1"),
        observe(cameras[1], {3: PLACED[3], 6: PLACED[6]}, (1.0, 1.0), rng, "photo 2"),
    ]
    survey = measure_wall(Wall(name="wall"), seen, PrintRun()).survey
    (finding,) = [f for f in survey.findings if f.code == "photo-not-joined"]
    assert finding.place == "photo 2"
    assert "shares no card" in finding.sentence


def test_a_wall_by_tape_alone():
    wall = Wall(
        name="wall",
        width=Fraction(60),
        marks=(
            Mark(name="box", kind=Kind.RECEPTACLE),
            Mark(name="stat", kind=Kind.THERMOSTAT, width=Fraction(9, 2), height=Fraction(7, 2)),
            Mark(name="stud", kind=Kind.STUD),
            Mark(name="not taped", kind=Kind.SWITCH),
        ),
        tapes=(
            Tape(start="right end", end="box", length=Fraction(20), along=Along.ACROSS),
            Tape(start="floor", end="box", length=Fraction(14), along=Along.UP),
            Tape(start="left end", end="stat left", length=Fraction(10), along=Along.ACROSS),
            Tape(start="floor", end="stat", length=Fraction(58), along=Along.UP),
            Tape(start="box", end="stud", length=Fraction(16), along=Along.ACROSS),
        ),
    )
    measured = measure_wall(wall, [], PrintRun())
    box, stat = measured.survey.feature("box"), measured.survey.feature("stat")
    assert box.left.value == pytest.approx(40 - 1.375, abs=1e-6)
    # Two readings in a row: their variances add up, and so does that of half the plate's usual width.
    expected = np.hypot(np.hypot(tape_sd(60), tape_sd(20)), 1 / 64)
    assert box.left.sd == pytest.approx(expected, rel=1e-3)
    assert (stat.left.value, stat.right.value) == pytest.approx((10, 14.5), abs=1e-6)
    assert measured.survey.feature("stud").left.value == pytest.approx(56, abs=1e-6)  # TO lies right of FROM
    assert stat.left.source is Source.TAPE
    assert measured.survey.feature("not taped").left is None
    assert measured.survey.feature("not taped").up is None


def test_tape_sd_follows_the_tolerance_rows():
    # NIST Handbook 44 section 5.52: 1/32 to 6 ft, 1/16 over 6 to 30 ft, 1/8 over 30 to 55 ft; reading to 1/16.
    reading = 1 / 16 / np.sqrt(12)
    for length, tolerance in ((72, 1 / 32), (72.1, 1 / 16), (360, 1 / 16), (361, 1 / 8), (700, 3 / 16), (1000, 1 / 4)):
        assert tape_sd(length) == pytest.approx(np.hypot(tolerance / 2, reading))


def test_a_plate_marked_by_its_middle_takes_the_usual_size_and_says_so():
    camera = look(at=(70, 50, 126), yaw=3, pitch=3)
    seen = observe(camera, PLACED, (1.0, 1.0), np.random.default_rng(0), "photo 1")
    mark = Mark(name="box", kind=Kind.RECEPTACLE, gangs=2, sights=(sight(camera, 50, 30, 5 / 32),))
    survey = measure_wall(Wall(name="wall", marks=(mark,)), [seen], PrintRun()).survey
    box = survey.feature("box")
    # ANSI/NEMA WD 6 as reported: two gangs are 2.75 + 1.8125 = 4.5625 in wide.
    assert box.right.value - box.left.value == pytest.approx(4.5625, abs=1e-3)
    assert "standard plate taken for granted" in box.assumed[0]


def test_cards_printed_to_fit_the_page_are_noticed_when_a_tape_tells():
    camera = look(at=(70, 50, 126), yaw=3, pitch=3)
    seen = observe(camera, PLACED, (0.94, 0.94), np.random.default_rng(0), "photo 1")
    wall = wall_of(camera)
    right = Mark(
        name="right", kind=Kind.WALL_END, side=Side.RIGHT, sights=(sight(camera, float(WIDTH), 20, 0, At.POINT),)
    )
    survey = measure_wall(wall.model_copy(update={"marks": (*wall.marks, right)}), [seen], PrintRun()).survey
    (finding,) = [f for f in survey.findings if f.code == "print-scale"]
    assert "Print them again at 100 %" in finding.remedy


def test_a_reading_held_back_is_told_against_its_prediction():
    camera = look(at=(70, 50, 126), yaw=3, pitch=3)
    seen = observe(camera, PLACED, (1.0, 1.0), np.random.default_rng(0), "photo 1")
    held = {"start": "receptacle 1", "end": "receptacle 2", "along": Along.ACROSS, "check_only": True}
    right, wrong = Tape(length=Fraction(784, 10), **held), Tape(length=Fraction(794, 10), **held)
    without = measure_wall(wall_of(camera), [seen], PrintRun()).survey
    for tape, agrees in ((right, True), (wrong, False)):
        survey = measure_wall(wall_of(camera, tapes=(tape,)), [seen], PrintRun()).survey
        (check,) = survey.checks
        assert check.agrees is agrees
        assert check.predicted.value == pytest.approx(110.3 - 31.9, abs=4 * check.predicted.sd)
        # Held back means held back: nothing else moves.
        assert survey.feature("receptacle 2").left == without.feature("receptacle 2").left
