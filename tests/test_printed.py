"""Each picture of a paper is made once, as large as it is printed: what `pictured` packs lies in the paper as it is."""

import shutil
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image

from capture.record import At, Kind, Mark, Photo, Sight, Wall
from report.cardsheet import PAPERS
from report.customer import picture_width
from report.papers import MARGIN, PhotoPage, ReportFacts, WallPages
from report.pictures import PRINT_DPI, Held
from report.site_report import RECORD_HEIGHT, recorded, site_report
from report.wall_part import ELEVATION_HEIGHT, PHOTO_HEIGHT, marked
from tests import truth
from tests.conftest import WALL
from tests.papers import embedded_pictures, read
from tests.test_report_wall import made_up_picture, made_up_plan
from wainscribe import actions
from wainscribe.customer import shots_of
from wainscribe.folder import JobFolder
from wainscribe.papers import PAPERS as MAKERS
from wainscribe.papers import Readied, _slugs, _wanted, ready
from wainscribe.pictured import pictured

COLUMN = PAPERS["letter"].width - 2 * MARGIN
FACTS = ReportFacts("A room")


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Readied:
    """The demo, of which one photo documents a dent: stood on its side here, so that it is high."""
    place = shutil.copytree(truth.DEMO, tmp_path_factory.mktemp("printed") / "demo")
    dent = next((place / "photos").glob("dent*"))
    Image.open(dent).transpose(Image.Transpose.ROTATE_90).save(dent, "JPEG", quality=90)
    return ready(JobFolder(place), lambda _: None, 1)


def whole(pages: Sequence[PhotoPage]) -> list[Held]:
    return [page.source for page in pages if isinstance(page.source, Held)]


def test_what_was_packed_lies_in_the_report_as_it_is(demo):
    photos = [page for pages in demo.pages for page in pages.photos]
    elevations = [pages.elevation.source for pages in demo.pages]
    packed = [*whole(photos), *whole(demo.records), *elevations]
    assert len(packed) == len(photos) + len(demo.records) + len(demo.pages) >= 5
    inside = list(embedded_pictures(read(MAKERS["site-report.pdf"](demo))))
    assert {held.jpeg for held in packed} <= set(inside)


def test_no_picture_is_finer_than_its_place_on_the_page(demo):
    """Rounding to whole pixels apart."""
    places = [
        (whole([page for pages in demo.pages for page in pages.photos]), (COLUMN, PHOTO_HEIGHT)),
        (whole(demo.records), ((COLUMN - 0.3) / 2, RECORD_HEIGHT)),
        ([pages.elevation.source for pages in demo.pages], (COLUMN, ELEVATION_HEIGHT)),
    ]
    for pictures, room in places:
        assert pictures
        for picture in pictures:
            assert all(side <= inches * PRINT_DPI + 1 for side, inches in zip(picture.size, room, strict=True))
            # And as fine as that: it fills the one side or the other, or a scale that is usual leaves a rest.
            assert max(side / (inches * PRINT_DPI) for side, inches in zip(picture.size, room, strict=True)) > 0.5
    assert demo.records[0].source.size[1] > demo.records[0].source.size[0]


def test_a_house_whose_pictures_would_weigh_too_much_has_them_smaller_from_the_start(tmp_path):
    folder = JobFolder(shutil.copytree(truth.DEMO, tmp_path / "demo"))
    job = folder.load()
    solved, plan = actions.plan_job(folder, job)
    wanted = _wanted(folder, FACTS, job, solved, [("As planned", plan)], shots_of(solved, plan))[-1]
    widths = []
    for among in (1, 200):
        made = pictured(replace(wanted, among=among))
        widths.append(made.schemes[0].after.size[0])
        assert widths[-1] == picture_width(among, made.photos[0].size)
    assert widths[1] < widths[0]


def test_where_nothing_planned_is_seen_the_cover_shows_the_photo_without_its_marks(folder):
    """The wall's photo lies in the report twice then: clean in front, with what was marked behind."""
    corners = (
        Sight(photo="wall.jpg", u=840, v=600, at=At.TOP_LEFT),
        Sight(photo="wall.jpg", u=900, v=700, at=At.BOTTOM_RIGHT),
    )
    actions.add_mark(folder, WALL, Mark(name="box", kind=Kind.RECEPTACLE, sights=corners))
    actions.set_wall(folder, WALL, None, {"width": Fraction(5)})  # too narrow for any frame
    job = ready(folder, lambda _: None, 1)
    (page,) = job.pages[0].photos
    assert not job.composed
    inside = list(embedded_pictures(read(site_report(job.facts, job.pages))))
    assert {page.clean.jpeg, page.source.jpeg} <= set(inside)
    clean, drawn_on = (np.asarray(held().resize((600, 450)), int) for held in (page.clean, page.source))
    assert (np.abs(clean - drawn_on).max(axis=2) > 60).sum() > 50  # an outline and its flag


def test_what_was_tapped_in_an_unsolved_photo_is_shown_where_it_lies_in_the_print():
    sight = Sight(photo="north 1", u=2400, v=1800, at=At.POINT)
    wall = Wall(name="North wall", marks=(Mark(name="stud 1", kind=Kind.STUD, sights=(sight,)),))
    page = PhotoPage(Photo(name="north 1", file="1.jpg"), np.asarray(made_up_picture((4800, 3600))))
    shown = marked(page, WallPages(wall, made_up_plan()), FACTS)
    assert (shown.printed, shown.size) == (True, (4800, 3600))
    plain = page.for_print(shown.source.width / PRINT_DPI)
    changed = np.abs(np.asarray(shown.source, int) - np.asarray(plain.picture, int)).max(axis=2) > 40
    rows, columns = np.nonzero(changed)
    factor = shown.source.width / 4800
    # A cross, as wide as high: its middle is the tap.
    assert columns.min() + columns.max() == pytest.approx(2 * ((2400 + 0.5) * factor - 0.5), abs=2)
    assert rows.min() + rows.max() == pytest.approx(2 * ((1800 + 0.5) * factor - 0.5), abs=2)


def test_a_record_keeps_its_size_for_the_list_of_photos():
    page = PhotoPage(Photo(name="dent", file="d.jpg", record_only=True), np.asarray(made_up_picture((900, 1200))))
    shown = recorded(page, FACTS)
    assert (shown.size, shown.source.height) == ((900, 1200), round(RECORD_HEIGHT * PRINT_DPI))


def test_every_wall_has_files_of_its_own():
    names = ["wall", "wall!", "wall 1", "Wall", "北", "?", "wall 3"]
    slugs = _slugs(names)
    assert len(set(slugs)) == len(names)
    assert slugs[2] == "wall-1"
    assert slugs[4] == "北"
