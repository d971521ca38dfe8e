"""The wall's light learnt from made-up photos whose light is known; colour arithmetic against scikit-image."""

import numpy as np
import pytest
from skimage.color import rgb2xyz

from report.compose import _extent, _standing
from report.in_front import drawn_over, widened
from report.light import CELL, bare_wall, filled, find_lamp, to_linear, to_srgb, usual_white, white_over_wall
from report.views import FlatView
from tests.lit_wall import LAMP, PAPER, WALL, LitWall, light_at, lit_wall


def field_of(made: LitWall):
    on = made.scene.walls[0]
    hidden = drawn_over((*made.sheets, *made.scene.in_front, *_standing(on).values()), made.photo.shape)
    return bare_wall(made.photo, widened(hidden, 3), on.view, _extent(on.plan.survey))


def test_srgb_is_decoded_and_encoded_as_scikit_image_does():
    steps = np.arange(256, dtype=float)
    grey = np.repeat(steps[:, None] / 255, 3, axis=1)
    # its matrix rows add up to 1 within 1e-4, as published with few digits
    np.testing.assert_allclose(to_linear(steps), rgb2xyz(grey)[:, 1], atol=2e-4)
    np.testing.assert_allclose(to_srgb(to_linear(steps)), steps, atol=0.01)
    np.testing.assert_array_equal(to_linear(steps.astype(np.uint8)), to_linear(steps))


def test_what_is_not_known_is_filled_in_from_round_it():
    ramp = np.repeat(np.linspace(1, 2, 64, dtype=np.float32)[None, :, None], 48, axis=0)
    known = np.ones((48, 64), bool)
    known[16:32, 24:40] = False
    out = filled(np.where(known[..., None], ramp, 99), known)
    np.testing.assert_array_equal(out[known], ramp[known])
    # a mean of what lies round a hole a quarter of the ramp wide is off by less than the ramp over the hole
    assert np.abs(out - ramp)[~known].max() < np.ptp(ramp[0, 24:40])


def test_the_bare_wall_is_found_behind_cards_plates_and_base():
    made = lit_wall()
    field = field_of(made)
    x, y = field.centres
    truth = light_at(x, y)[..., None] * WALL
    off = np.abs(field.values / truth - 1)
    # 1 sRGB step of noise is 1 % of this light; a cell has some 20 px; the rest is what smoothing takes off the lamp
    assert np.percentile(off[field.known], 99) < 0.02
    # Behind the chair and the base, 20 in of wall at most, it is spanned: off by no more than the light changes there.
    low = y < 36
    changes = np.ptp(light_at(np.array([56.0, 76.0]), 18.0)) + np.ptp(light_at(40.0, np.array([0.0, 4.0])))
    assert off[low].max() < changes / light_at(66.0, 2.0)


def test_nothing_beyond_the_wall_counts_as_bare():
    """Ceiling and neighbour wall have another grain; half a cell at the edge is between the two."""
    field = field_of(lit_wall())
    height, width = field.known.shape
    right, top = field.left + CELL * width, field.bottom + CELL * height
    x = np.float32([[field.left - CELL, right + CELL, right - 20, right - 20]])
    y = np.float32([[top - 20, top - 20, field.bottom - CELL, top + CELL]])
    assert (field.known_at(x, y) == 0).all()
    assert field.known.any()
    known = np.argwhere(field.known)[::50]
    there = field.known_at(*(np.float32([field.centres[k][tuple(known.T)]]) for k in (0, 1)))
    assert (there == 1).all()


def test_the_paper_of_the_cards_tells_how_light_white_would_be():
    made = lit_wall(colour=(1.0, 0.93, 0.8))
    field = field_of(made)
    found = white_over_wall(made.photo, made.sheets, made.scene.walls[0].view, field)
    np.testing.assert_allclose(found, PAPER / 0.85 / WALL, rtol=0.03)  # white over wall: one over its reflectance


def test_without_a_card_white_is_shown_as_usual_and_no_darker_than_the_wall():
    made = lit_wall(cards=())
    field = field_of(made)
    assert white_over_wall(made.photo, (), made.scene.walls[0].view, field) is None
    shown = usual_white(field) * np.median(field.values[field.known], axis=0)
    np.testing.assert_allclose(shown, shown[0])  # neutral
    assert shown[0] >= 0.75


@pytest.mark.parametrize("lamp", [LAMP, (100.0, 80.0, 50.0), (20.0, 30.0, 70.0), (72.0, 90.0, 90.0)])
def test_the_direction_of_a_known_light_is_recovered(lamp):
    """On the faces of the frames: a step of noise on some thousand cells of 20 px leaves far less than a degree."""
    made = lit_wall(lamp=lamp)
    found = find_lamp(field_of(made))
    assert found.found
    x, y = np.float32([20, 72, 120]), np.float32([18, 18, 18])
    truth = np.array([lamp[0] - x, lamp[1] - y, np.full(3, lamp[2])])
    ours = np.array([*found.slopes(x, y), np.ones(3)])
    cosine = (ours * truth).sum(axis=0) / np.linalg.norm(ours, axis=0) / np.linalg.norm(truth, axis=0)
    assert np.degrees(np.arccos(np.clip(cosine, -1, 1))).max() < 1


def test_an_even_wall_takes_the_usual_light_from_above():
    found = find_lamp(field_of(lit_wall(own=0.0, even=0.7)))
    assert not found.found
    slopes = np.array([*found.slopes(np.float32([72.0]), np.float32([18.0])), [1.0]])
    x, y, z = slopes / np.linalg.norm(slopes)
    assert y > 0.5
    assert z > 0.3
    assert abs(x) < 0.1


def test_an_even_wall_is_as_light_at_the_edge_of_the_picture():
    grey = np.full((401, 603, 3), 150, np.uint8)
    field = bare_wall(grey, np.zeros(grey.shape[:2], bool), FlatView(20.0, 0.0, 20.05), (0.0, 0.0, 30.0, 20.0))
    np.testing.assert_allclose(field.values, to_linear(grey[0, 0])[0], rtol=1e-5)  # float32, sums of dozens


def test_a_wall_that_is_not_seen_has_no_field():
    made = lit_wall()
    on = made.scene.walls[0]
    assert bare_wall(made.photo, np.ones(made.photo.shape[:2], bool), on.view, _extent(on.plan.survey)) is None
