"""The elevation of a job's wall, and what the site report says of it."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from capture.lengths import Unit
from capture.photos import read_photo
from capture.record import At, Kind, Mark, Side, Sight
from report.pictures import hatched
from tests.conftest import PLACED, WALL, pixels_of
from tests.papers import words
from tests.test_report_papers import FACTS, made, wall_pages
from wainscribe import actions
from wainscribe.straight_on import MARGIN, SCALE, straight_on


def solved_wall(folder):
    """The wall of the job folder, solved, and its pictures by name."""
    job = folder.load()
    solved = actions.solve_wall(folder, job, WALL)
    return solved, {p.name: read_photo(folder.read_photo(p.file), p.name) for p in job.wall(WALL).photos}


def outer(drawn) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of the picture in wall inches."""
    width, height = drawn.inches
    return drawn.left, drawn.top - height, drawn.left + width, drawn.top


def test_the_wall_is_drawn_end_to_end_with_its_margin_and_no_further(folder) -> None:
    actions.set_wall(folder, WALL, None, {"ceiling": "96"})
    end = tuple(Sight(photo="wall.jpg", u=u, v=v, at=At.POINT) for u, v in pixels_of([(24.0, 60.0), (24.0, 45.0)]))
    floor = tuple(Sight(photo="wall.jpg", u=u, v=v, at=At.POINT) for u, v in pixels_of([(60.0, 12.0)]))
    actions.add_mark(folder, WALL, Mark(name="left end", kind=Kind.WALL_END, side=Side.LEFT, sights=end))
    actions.add_mark(folder, WALL, Mark(name="floor point 1", kind=Kind.FLOOR_POINT, sights=floor))
    drawn = straight_on(*solved_wall(folder))
    assert drawn.px_per_inch == SCALE
    assert outer(drawn) == pytest.approx((-MARGIN, -MARGIN, 120 + MARGIN, 96), abs=0.5 / SCALE)
    assert drawn.seen.shape == drawn.source.shape[:2]
    assert 0.5 < drawn.seen.mean() < 1  # the photo shows neither the ceiling nor the far end


def test_without_the_walls_end_and_floor_all_cards_are_shown_and_some_wall_round_them(folder) -> None:
    drawn = straight_on(*solved_wall(folder))
    left, bottom, right, top = outer(drawn)
    held = np.array(PLACED[3][:2])  # the lowest-numbered card is where the frame starts
    sheet = np.array([4.25, 5.5])
    for x, y, _ in PLACED.values():
        low, high = (x, y) - held - sheet, (x, y) - held + sheet
        assert left < low[0] - 20
        assert bottom < low[1] - 20
        assert right > high[0] + 20
        assert top > high[1] + 20


def test_it_says_which_photo_it_is_from_and_how_fine_that_is(folder) -> None:
    drawn = straight_on(*solved_wall(folder))
    assert drawn.note == "Redrawn from “wall.jpg”."
    least, most = drawn.fineness
    # The wall is 70 in deep before the camera at its left, 88 in at its right: 16.7 and 13.3 px an inch with f = 1170,
    # those at the right times the cosine of 35 degrees or more, to 10.9; the lens terms move both by a fiftieth.
    assert 10.5 < least < most < 17
    assert drawn.coarsest.startswith("at the right")


def test_two_photos_are_named_with_their_shares(folder, tmp_path, wall_picture) -> None:
    solved, pictures = solved_wall(folder)
    shot = solved.measured.solution.net.shots[0]
    twice = replace(solved.measured.solution.net, shots=(shot, replace(shot, name="again.jpg")))

    class Both:  # the same photo twice, the second drawn as if it had been taken from further right
        net = twice

        def camera(self, name):
            camera = solved.measured.solution.camera(shot.name)
            moved = camera.pose + (0 if name == shot.name else 1) * np.array([0, 0, 0, -25.0, 0, 0])
            return replace(camera, pose=moved)

    both = replace(solved, measured=replace(solved.measured, solution=Both()))
    note = straight_on(both, {name: pictures[shot.name] for name in (shot.name, "again.jpg")}).note
    assert note.startswith("Joined from “")
    assert "wall.jpg” (" in note
    assert "again.jpg” (" in note
    assert note.endswith("%), their light evened.")


def test_it_is_drawn_no_finer_than_is_wanted_and_shows_the_same_wall(folder) -> None:
    asked: list[tuple[float, float]] = []
    solved, pictures = solved_wall(folder)
    fine = straight_on(solved, pictures)
    coarse = straight_on(solved, pictures, lambda *inches: asked.append(inches) or 5.0)
    assert coarse.px_per_inch == 5.0
    assert asked == [pytest.approx(fine.inches, abs=1 / SCALE)]
    assert outer(coarse) == pytest.approx(outer(fine), abs=0.5 / 5 + 0.5 / SCALE)
    assert straight_on(solved, pictures, lambda *_: 99.0).px_per_inch == SCALE


def test_a_wall_without_photos_has_no_elevation(tmp_path) -> None:
    folder = actions.new_job(tmp_path / "job", "taped")
    actions.set_wall(folder, WALL, None, {"width": "120"})
    assert straight_on(actions.solve_wall(folder, folder.load(), WALL), {}) is None


def told(**more) -> str:
    pages = wall_pages()
    return words(made(FACTS, [replace(pages, elevation=replace(pages.elevation, note="From two photos.", **more))]))


def test_the_report_says_how_fine_the_picture_is_where_it_is_coarsest_and_what_nobody_saw() -> None:
    seen = np.ones((300, 740), bool)
    seen[:, :74] = False
    text = told(seen=seen, fineness=(3.0, 20.0), coarsest="at the left, near the floor")
    assert "Everything is drawn as lying in the wall" in text
    assert "From two photos. The photos gave 3 to 20 pixels per inch of wall" in text
    # The picture has 5 px an inch: two of them are 0.4 in, 7/16 in sixteenths; of 3 px an inch 0.67 in, 11/16.
    assert "details smaller than 7⁄16″ are lost, and at the left, near the floor, those smaller than 11⁄16″." in text
    assert "Hatched: no photo looked there (10% of it)." in text


def test_the_report_says_nothing_of_a_hatch_where_all_was_seen_nor_of_a_coarse_place_where_all_is_alike() -> None:
    text = told(seen=np.ones((300, 740), bool), fineness=(12.0, 20.0), coarsest="at the left, near the floor")
    assert "Hatched" not in text
    assert "details smaller than 7⁄16″ are lost." in text
    assert "near the floor" not in text


def test_a_metric_report_counts_in_millimetres() -> None:
    pages = wall_pages()
    elevation = replace(pages.elevation, fineness=(3.0, 20.0), coarsest="in the middle, half-way up")
    text = words(made(replace(FACTS, unit=Unit.MM), [replace(pages, elevation=elevation)]))
    # 2 / 5 in is 10.2 mm, 2 / 3 in 16.9 mm; 3 and 20 px an inch are 1.2 and 7.9 a centimetre.
    assert "The photos gave 1 to 8 pixels per centimetre of wall" in text
    assert "details smaller than 11 mm are lost, and in the middle, half-way up, those smaller than 17 mm" in text


@pytest.mark.parametrize("spacing", [6.0, 54.0])
def test_what_nobody_saw_is_hatched_and_the_rest_left_alone(spacing) -> None:
    shown = np.zeros((400, 600), bool)
    shown[:, :200] = True
    picture = Image.new("RGB", (600, 400), (150, 144, 134))
    pixels = np.asarray(hatched(picture, shown, spacing))
    assert (pixels[shown] == (150, 144, 134)).all()
    blank = pixels[~shown]
    assert (blank == blank[:, :1]).all()  # no colour: as plain in black and white
    dark = (blank[:, 0] < 100).mean()
    assert 0.05 < dark < 0.2
    assert (blank[:, 0] == 255).mean() == pytest.approx(1 - dark)
    # Across a row the lines come every √2 spacings, so that they are a spacing apart at right angles.
    row = pixels[0, 200:, 0] < 100
    starts = np.flatnonzero(np.diff(row.astype(int)) == 1)
    assert np.diff(starts).mean() == pytest.approx(spacing * np.sqrt(2), abs=1)
