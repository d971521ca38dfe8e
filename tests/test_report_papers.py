"""The site report read back: its pages, words, tags, fonts and scale."""

import functools
import logging
from datetime import date, datetime
from io import BytesIO

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from pypdf import PdfReader

from capture.lengths import Unit
from capture.record import EndKind, Kind, Mark, Photo, Sight, Wall
from capture.survey import Finding, WallSurvey
from layout.plan import WallPlan
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages, shorten, site_report
from report.typeset import typeset
from tests.test_report_wall import CHAIR, SCHEME, WIDTH, made_up_camera, made_up_picture, made_up_plan, thing

HOSTILE = (
    '<script>alert("x")</script> \u202e\u0645\u0631\u062d\u0628\u0627\u202c \U0001f600 \x07\'";}body{display:none}'
)


class Loud(logging.Handler):
    """Whatever the PDF maker complains about."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


def made(*arguments, **more) -> PdfReader:
    """The paper, read back; any complaint while it is made fails the test."""
    loud = Loud()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(loud)
    try:
        data = site_report(*arguments, **more)
    finally:
        logger.removeHandler(loud)
    assert [said for said in loud.said if ".notdef glyph" not in said] == []
    return PdfReader(BytesIO(data))


@functools.cache
def words(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def wall_pages() -> WallPages:
    sights = tuple(Sight(photo="north 1", u=u, v=v) for u, v in CHAIR)
    photo = Photo(name="north 1", file="IMG_1.jpg", caption="From the door.")
    page = PhotoPage(photo, made_up_picture(), made_up_camera(), datetime(2026, 11, 24, 16, 5))
    wall = Wall(name="North wall", marks=(Mark(name="chair", kind=Kind.IN_FRONT, sights=sights),), note="Damp smell.")
    elevation = Elevation(Image.new("RGB", (740, 300), (150, 144, 134)), 5.0, -2.0, 56.0, "One pixel is 1/5 in.")
    return WallPages(wall, made_up_plan(), (page,), elevation)


FACTS = ReportFacts(
    "Harbour Street dining room", "14 Harbour Street", "R. Okafor", "D. Whitcomb", date(2026, 11, 24),
    year_built=1968, scheme=SCHEME,
)  # fmt: skip


@pytest.fixture(scope="module")
def report() -> PdfReader:
    record = PhotoPage(Photo(name="crack", file="IMG_9.jpg", caption="Crack, there before."), made_up_picture())
    findings = [Finding("scale", "print run first", "Its scale rests on one tape.", "Tape one more.")]
    return made(FACTS, [wall_pages()], [record], findings)


def test_it_is_tagged_titled_and_in_a_language(report):
    # PDF/UA-1 (ISO 14289-1): marked, a structure tree, a language, and the title shown.
    root = report.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == "true" or root["/MarkInfo"]["/Marked"]
    assert root["/StructTreeRoot"]["/K"]
    assert root["/Lang"] == "en"
    assert report.metadata.title == "Site report: Harbour Street dining room"


def figures(node) -> list:
    found = [node] if node.get("/S") == "/Figure" else []
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object() if hasattr(kid, "get_object") else kid
        if hasattr(kid, "get"):
            found += figures(kid)
    return found


def test_every_figure_tells_itself_in_words(report):
    alts = [figure.get("/Alt") for figure in figures(report.trailer["/Root"]["/StructTreeRoot"])]
    assert all(alts)
    assert any(alt.startswith('Existing elevation at 3/4" = 1\': North wall, 144" ± 1/16"') for alt in alts)
    assert any("6 panels, 2 in the way" in alt for alt in alts)


def test_bookmarks_lead_to_each_part(report):
    titles = [item.title for item in _flat(report.outline)]
    assert titles[0] == "Harbour Street dining room"
    for part in ("North wall", "For the electrician", "Photos", "Before work starts"):
        assert part in titles


def _flat(outline) -> list:
    return [item for entry in outline for item in (_flat(entry) if isinstance(entry, list) else [entry])]


def test_all_fonts_are_embedded(report):
    for page in report.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            descendants = font.get_object().get("/DescendantFonts", [font])
            for descendant in descendants:
                descriptor = descendant.get_object()["/FontDescriptor"]
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


def test_the_words_a_reader_needs_are_there(report):
    text = words(report)
    for needed in (
        "Harbour Street dining room", "14 Harbour Street", "24 November 2026", "North wall", "receptacle 2",
        "Crack, there before.", "IMG_1.jpg", "16:05", "not a wiring plan", "Lead paint", "Aluminium wiring",
        "95 times in 100", "what gets cut comes from a tape", "authority having jurisdiction", "Damp smell.",
        "Its scale rests on one tape.", "Cable slack: not known", "Customer", "Read it again.",
        typeset('12 3/8"').replace("\N{NO-BREAK SPACE}", " "),
    ):  # fmt: skip
        assert needed in text, needed


def test_every_page_is_numbered(report):
    total = len(report.pages)
    for number, page in enumerate(report.pages, 1):
        assert f"page {number} of {total}" in " ".join(page.extract_text().split())


@pytest.fixture(scope="module")
def by_tape_alone() -> PdfReader:
    facts = ReportFacts("Tape only", paper="a4", unit=Unit.MM)
    return made(facts, [WallPages(Wall(name="w"), made_up_plan())])


def sizes(reader: PdfReader) -> list[tuple[float, float]]:
    return [(float(page.mediabox.width), float(page.mediabox.height)) for page in reader.pages]


def test_pages_have_the_size_of_the_paper(report, by_tape_alone):
    letter = (8.5 * 72, 11 * 72)  # ANSI/ASME Y14.1 size A, points
    a4 = (210 / 25.4 * 72, 297 / 25.4 * 72)  # ISO 216, points
    for reader, size in ((report, letter), (by_tape_alone, a4)):
        found = sizes(reader)
        assert found[0] == pytest.approx(size, abs=0.6)
        lying = [box for box in found if box[0] > box[1]]
        assert len(lying) == 2  # the two drawings
        assert lying[0] == pytest.approx(size[::-1], abs=0.6)


def test_a_wall_surveyed_by_tape_alone_has_drawings_and_no_photo_pages(by_tape_alone):
    text = words(by_tape_alone)
    assert "as it stands, 1:20" in text
    assert "straight on" not in text
    assert "All photos" not in text
    assert all(len(page.extract_text()) > 150 for page in by_tape_alone.pages)  # no page with a heading alone


def test_the_drawing_measures_true_on_the_page(report):
    number = next(i for i, page in enumerate(report.pages) if "as it stands" in page.extract_text())
    dpi = 200
    stream = BytesIO()
    report.stream.seek(0)
    stream.write(report.stream.read())
    page = pypdfium2.PdfDocument(stream.getvalue())[number]
    pixels = np.asarray(page.render(scale=dpi / 72).to_pil().convert("L"))
    top = pixels[round(1.5 * dpi) : round(3.5 * dpi)]  # a stretch of the wall above all boxes
    ends = np.flatnonzero((top < 128).all(axis=0))
    # 144 in at 3/4" = 1' (1:16) are 9 in on paper, between the middles of the two lines.
    assert (ends[-1] - ends[0]) / dpi == pytest.approx(WIDTH / 16, abs=0.02)


def test_photos_in_the_paper_carry_no_position(report):
    report.stream.seek(0)
    data = report.stream.read()
    assert b"Exif\0\0" not in data
    assert b"GPS" not in data


def test_a_job_without_walls_still_makes_a_paper():
    reader = made(ReportFacts(""), [])
    assert "No wall has been surveyed yet." in words(reader)
    assert "The year built is not known." in words(reader)


def test_hostile_names_are_only_words():
    survey = WallSurvey(
        HOSTILE[:80], EndKind.OPEN, EndKind.BULLNOSE, None,
        (thing("x" * 80, Kind.JACK, 30, 20, note=HOSTILE),), findings=(Finding("c", HOSTILE, HOSTILE),),
    )  # fmt: skip
    plan = WallPlan(survey, (), (), (), {}, (HOSTILE,))
    page = PhotoPage(Photo(name=HOSTILE[:80], file=HOSTILE[:80], caption="W" * 900), Image.new("RGB", (40, 900)))
    facts = ReportFacts(HOSTILE + "L" * 500, "A" * 500, HOSTILE, HOSTILE, notes=(HOSTILE,))
    reader = made(facts, [WallPages(Wall(name="w"), plan, (page,))], [page], [Finding("c", HOSTILE, HOSTILE)])
    assert '<script>alert("x")</script>' in words(reader)
    assert len(reader.pages) < 14


@pytest.mark.slow
def test_three_hundred_marks_make_a_sound_paper():
    rng = np.random.default_rng(5)
    things = tuple(
        thing(f"jack {i}", Kind.JACK, x, y) for i, (x, y) in enumerate(rng.uniform((3, 5), (380, 70), (300, 2)))
    )
    plan = WallPlan(WallSurvey("Long", EndKind.OPEN, EndKind.OPEN, None, things), (), (), (), {}, ())
    reader = made(ReportFacts("Many"), [WallPages(Wall(name="w"), plan)])
    text = words(reader)
    assert "jack 299" in text
    assert 10 < len(reader.pages) < 25


def test_long_names_are_cut_for_the_running_header():
    assert shorten("a" * 70, 60) == "a" * 59 + "…"
    assert shorten("two\nlines", 60) == "two lines"
