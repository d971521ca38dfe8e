"""The plan put into a made-up photo whose light, paint and furniture are known exactly."""

from dataclasses import replace
from fractions import Fraction
from itertools import permutations

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from layout.paint import WORDS, srgb_of
from report.compose import _shaded, _sill, _standing, composed
from report.in_front import BESIDE, _apart, drawn_over, widened
from report.light import Lamp
from report.rays import samples_of
from report.relief import Side, meet_shown, reaches_of
from report.shade import PER_INCH, shade_of
from report.solids import solids_of
from tests.lit_wall import WALL, linear, lit_wall
from tests.test_report_overlay import by_opencv
from tests.test_report_wall import CHAIR, SCHEME, made_up_camera, made_up_plan

CAMERA = made_up_camera()


@pytest.fixture(scope="module")
def made():
    return lit_wall()


@pytest.fixture(scope="module")
def after(made):
    return np.asarray(composed(made.scene))


@pytest.fixture(scope="module")
def met(made):
    view = made.scene.walls[0].view
    reaches = reaches_of(solids_of(made_up_plan()), view)
    return meet_shown(reaches, samples_of(view, (0, 0), CAMERA.size), (0, 0))


@pytest.fixture(scope="module")
def fields(met, made):
    """Pixels of flat panel fields, well away from moulding, furniture, plates and what the cards hid."""
    mask = np.zeros(made.photo.shape[:2], np.uint8)
    view = made.scene.walls[0].view
    for panel in made_up_plan().frames[0].panels:
        r = panel.field.inset(Fraction(2))
        corners = [(r.left, r.bottom), (r.right, r.bottom), (r.right, r.top), (r.left, r.top)]
        pixels, _ = view.pixels(np.array([(float(x), float(y), 0.0) for x, y in corners]))
        cv2.fillPoly(mask, [np.rint(pixels).astype(np.int32)], 1)
    hung = drawn_over((*_standing(made.scene.walls[0]).values(), *made.scene.in_front), made.photo.shape)
    return (mask > 0) & ~widened(hung, 12)


def test_wall_where_nothing_is_built_and_no_card_hung_is_untouched_to_the_byte(made, after, met):
    covered = met.hit.any(axis=0)
    sheets = widened(drawn_over(made.sheets, made.photo.shape), 1)
    same = (after == made.photo).all(axis=2)
    assert same[~covered & ~sheets].all()
    assert (~same)[covered].mean() > 0.8  # and where something is built it does change


def test_shade_worked_out_once_for_a_pixel_is_that_of_its_four_samples(met):
    """Within a hundredth of the light, which is a step of sRGB (see below); covered to the very sample."""
    shade = shade_of(solids_of(made_up_plan()), Lamp((-40.0, 120.0, 70.0), 0.6, True), 0.8)
    _, _, share, cover = _shaded(met, shade)
    x, y = met.rays.at(np.maximum(met.z, 0))
    each = shade.of(x, y, np.maximum(met.z, 0), met.side) * _sill(y)
    np.testing.assert_array_equal(cover, met.hit.mean(axis=0))
    assert np.abs(share - each.mean(axis=0)).max() < 0.01


def test_what_stands_apart_looks_the_same_whether_looked_at_apart_or_together(made, after, monkeypatch):
    """But for a step by rounding: the rays of other windows are worked out at other pixels."""
    monkeypatch.setattr("report.in_front._apart", lambda outlines: [list(outlines)])
    together = np.asarray(composed(made.scene))
    assert np.abs(together.astype(int) - after).max() <= 1


def square(left, top, corners=4):
    """An outline of 20 px across, of so many corners."""
    angle = 2 * np.pi * np.arange(corners) / corners
    return np.column_stack([left + 10 + 10 * np.cos(angle), top + 10 + 10 * np.sin(angle)])


@pytest.mark.parametrize("corners", [4, 8], ids=["alike", "of unlike corners"])
def test_outlines_are_looked_at_together_where_their_windows_overlap(corners):
    """Two near each other, one apart, one between that joins, in any order of being marked."""
    near = 2 * BESIDE + 2
    first, beside, apart = square(0, 0), square(20 + near, 0, corners), square(400, 0, corners)
    joining = square(40 + 2 * near, 0)
    for order in permutations([first, beside, apart]):
        assert sorted(map(len, _apart(order))) == [1, 2]
    for order in permutations([first, joining, apart, beside]):
        assert sorted(map(len, _apart(order))) == [1, 3]
    assert sorted(map(len, _apart([first, joining, apart]))) == [1, 1, 1]
    assert _apart([first[:2]]) == []  # no outline yet


def test_what_stands_in_front_is_untouched_inside_its_rim(made, after):
    inner = np.zeros(made.photo.shape[:2], np.uint8)
    cv2.fillPoly(inner, [np.array(CHAIR, np.int32)], 1)
    inner = cv2.erode(inner, np.ones((7, 7), np.uint8)) > 0
    np.testing.assert_array_equal(after[inner], made.photo[inner])


def test_plates_are_untouched_inside_their_rim(made, after):
    u, v = np.rint(by_opencv(CAMERA, [(12.4, 16.2, 5 / 32)])[0]).astype(int)
    np.testing.assert_array_equal(after[v - 8 : v + 8, u - 5 : u + 5], made.photo[v - 8 : v + 8, u - 5 : u + 5])


@pytest.mark.parametrize("paint", ["white", "sage green", "navy", "#c08040"])
def test_the_paint_has_its_colour_where_it_is_lit(paint, fields):
    """Against the paint under the light that is known: CIEDE2000 by scikit-image.

    Bound 1: about the smallest difference that an eye sees side by side (CIE 142, from memory).
    """
    made = lit_wall(paint=paint)
    after = np.asarray(composed(made.scene))
    lit = fields & (made.light > 0.4)
    shown = linear(after[lit]).mean(axis=0)
    wanted = linear(np.array(srgb_of(paint))[None])[0]
    wanted *= shown.sum() / wanted.sum()  # how bright is the light's affair; here it is the colour

    def lab(rgb):
        encoded = np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * rgb ** (1 / 2.4) - 0.055)
        return rgb2lab(encoded[None, None])

    assert deltaE_ciede2000(lab(shown), lab(wanted)).item() < 1


def test_the_shading_of_the_wall_is_kept(made, after, fields):
    """Pearson's correlation of the light before (known) and after (read off the paint), over all panel fields."""
    y = linear(after[fields]).mean(axis=1)
    assert np.corrcoef(np.log(made.light[fields]), np.log(y))[0, 1] > 0.95


def test_cards_are_gone_and_the_wall_goes_on_where_they_hung(made, after):
    """Those above the cap, against the wall and light that are known: 1 sRGB step of noise is 1 % of this light."""
    for sheet in (made.sheets[0], made.sheets[2]):
        inside = drawn_over((sheet,), made.photo.shape)
        off = linear(after[inside]) / (made.light[inside][:, None] * WALL) - 1
        assert np.abs(off.mean(axis=0)).max() < 0.02
        assert np.abs(off).mean() < 0.03


def test_what_was_filled_in_has_the_photos_grain(made, after):
    inside = cv2.erode(drawn_over(made.sheets[:1], made.photo.shape).astype(np.uint8), np.ones((9, 9))) > 0

    def grain(picture):
        return picture.astype(np.float32) - cv2.GaussianBlur(picture, (0, 0), 3).astype(np.float32)

    bare = np.zeros_like(inside)
    u, v = np.rint(by_opencv(CAMERA, [(55.0, 62.0, 0.0)])[0]).astype(int)
    bare[v - 40 : v + 40, u - 40 : u + 40] = True
    assert grain(after)[inside].std() == pytest.approx(grain(made.photo)[bare].std(), rel=0.35)


def test_a_box_that_moves_is_shown_at_its_new_place_only(made):
    on = replace(made.scene.walls[0], moves={"receptacle 1": 5.0})
    after = np.asarray(composed(replace(made.scene, walls=(on,)))).astype(int)
    old, new = np.rint(by_opencv(CAMERA, [(12.4, 16.2, 0.16), (17.4, 16.2, 0.16)])).astype(int)
    plate = 0.7 * made.light
    for at, there in ((old, False), (new, True)):
        wanted = plate[at[1], at[0]]
        shown = linear(after[at[1] - 3 : at[1] + 4, at[0] - 3 : at[0] + 4]).mean()
        assert bool(abs(shown / wanted - 1) < 0.05) is there


def test_lit_and_turned_away_sides_and_the_shadow_of_the_cap():
    """Light from the upper left: upper and left sides bright, lower and right ones dark, a shadow under the cap."""
    plan = made_up_plan()
    solids = solids_of(plan)
    shade = shade_of(solids, Lamp((-40.0, 120.0, 70.0), 0.6, True), 0.8)
    place = (np.float32([30.0]), np.float32([20.0]), np.float32([0.5]))
    turned = {side: float(shade._turned(side, *place)[0]) for side in (Side.LEFT, Side.RIGHT, Side.UP, Side.DOWN)}
    assert turned[Side.UP] > turned[Side.DOWN]
    assert turned[Side.LEFT] > turned[Side.RIGHT]

    def share(x, y):
        return float(shade.share[round((y - shade.bottom) * PER_INCH), round((x - shade.left) * PER_INCH)])

    rail = plan.frames[0].stiles[1]
    x = float(rail.rect.left + rail.rect.right) / 2
    under_cap = share(x, float(plan.frames[0].rect.top) - 0.75 - 0.2)
    assert under_cap < 0.8 * share(x, float(plan.frames[0].rect.top) - 2.5)


def test_a_taller_scheme_in_two_tiers_is_drawn_too():
    scheme = SCHEME.model_copy(update={"top": Fraction(54), "middle_rail_at": Fraction(22)})
    made = lit_wall(plan=made_up_plan(scheme=scheme))
    after = np.asarray(composed(made.scene)).astype(int)
    u, v = np.rint(by_opencv(CAMERA, [(20.0, 21.0, 0.75)])[0]).astype(int)
    assert (after[v, u] > made.photo[v, u].astype(int) + 20).all()


def test_a_picture_that_shows_no_bare_wall_is_left_as_it_is(made):
    blocked = replace(made.scene, in_front=(np.array([(0, 0), (1199, 0), (1199, 899), (0, 899)], float),))
    np.testing.assert_array_equal(np.asarray(composed(blocked)), made.photo)


def test_words_for_colours_are_six_digits_each():
    assert all(len(digits) == 7 and srgb_of(digits) == srgb_of(word) for word, digits in WORDS.items())


def test_a_blurred_photo_gets_blurred_members(made):
    soft = replace(made.scene, blur=2.0, picture=Image.fromarray(cv2.GaussianBlur(made.photo, (0, 0), 2.0)))

    def edge(picture):
        u, v = by_opencv(CAMERA, [(8.0, float(made_up_plan().frames[0].rect.top), 1.25)])[0]
        column = np.asarray(picture)[round(v) - 8 : round(v) + 8, round(u)].astype(float).mean(axis=1)
        return np.abs(np.diff(column)).max()

    assert edge(composed(soft)) < 0.6 * edge(composed(made.scene))
