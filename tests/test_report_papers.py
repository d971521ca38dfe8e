"""The site report read back: its pages, words, parts and scale."""

import re
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image
from pypdf import PdfReader

from capture.lengths import Unit
from capture.record import Conditions, EndKind, Kind, Mark, Photo, Sight, Suspect, Wall, Wiring
from capture.survey import Finding, WallSurvey
from layout.plan import WallPlan
from report.conditions import NAMES, OF_THE_HOUSE
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages, shorten
from report.site_report import site_report
from report.typeset import typeset
from tests.papers import HOSTILE, bookmarks, page_words, quietly, read, tagged, words
from tests.test_report_wall import CHAIR, SCHEME, WIDTH, made_up_camera, made_up_picture, made_up_plan, measured, thing


def made(*arguments, **more) -> PdfReader:
    return read(quietly(site_report, *arguments, **more))


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


def test_its_figures_tell_the_wall_and_the_plan(report):
    alts = [str(figure.get("/Alt")) for figure in tagged(report, "/Figure")]
    assert any(alt.startswith('Existing elevation at 1/2" = 1\': North wall, 144" ± 1/16"') for alt in alts)
    assert any("6 panels, 2 in the way" in alt for alt in alts)


def test_bookmarks_lead_to_each_part(report):
    titles = bookmarks(report)
    assert titles[0] == "Harbour Street dining room"
    for part in (
        "The walls", "The house", "North wall", "Checklist", "Measured", "Photos", "All photos",
        "The plan, and what is in the way", "Before work starts", "Signatures",
    ):  # fmt: skip
        assert part in titles


def test_the_words_a_reader_needs_are_there(report):
    text = words(report)
    for needed in (
        "Harbour Street dining room", "14 Harbour Street", "24 November 2026", "North wall", "receptacle 2",
        "Crack, there before.", "IMG_1.jpg", "16:05", "not a wiring plan", "Lead paint", "Aluminium wiring",
        "95 times in 100", "what gets cut comes from a tape", "authority having jurisdiction", "Damp smell.",
        "Its scale rests on one tape.", "Customer", "Installer", "Read it again.", "not known", "behind: chair",
        "How to read this paper", "For the record", "move the box", "another panel count",
        typeset('12 3/8"').replace("\N{NO-BREAK SPACE}", " "),
    ):  # fmt: skip
        assert needed in text, needed


@pytest.fixture(scope="module")
def by_tape_alone() -> PdfReader:
    facts = ReportFacts("Tape only", paper="a4", unit=Unit.MM)
    return made(facts, [WallPages(Wall(name="w"), made_up_plan())])


def test_a_drawing_that_reads_on_an_upright_page_stays_there(report, by_tape_alone):
    for reader in (report, by_tape_alone):
        assert all(page.mediabox.width < page.mediabox.height for page in reader.pages)


def test_a_long_walls_drawings_have_pages_of_their_own_that_lie_on_their_side():
    survey = replace(made_up_plan().survey, width=measured(20 * 12.0))
    reader = made(FACTS, [WallPages(Wall(name="North wall"), made_up_plan(survey))])
    lying = [page for page in reader.pages if page.mediabox.width > page.mediabox.height]
    drawn = [page for page in lying if "printed at full size" in page.extract_text()]
    assert len(drawn) == 2  # as it stands, and as planned
    for page in drawn:
        # ANSI/ASME Y14.1 size A on its side: 11 × 8.5 in, in points.
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((792, 612), abs=0.01)
        assert "3⁄8″ = 1′" in page.extract_text()  # upright it would be 1/4" = 1'


@pytest.mark.parametrize("ceiling", [96.0, 168.0])
def test_long_walls_by_tape_alone_leave_no_page_empty(ceiling):
    """A drawing has its whole caption under it, and nothing begins a page that ends at once."""
    survey = replace(made_up_plan().survey, width=measured(24 * 12.0), ceiling=measured(ceiling))
    reader = made(FACTS, [WallPages(Wall(name="North wall"), made_up_plan(survey))] * 3)
    assert [text for text in map(page_words, reader.pages) if len(text) < 250] == []
    standing = [text for text in map(page_words, reader.pages) if "As it stands" in text]
    assert len(standing) == 3
    assert all("the number in the ring" in text for text in standing)


def test_a_wall_surveyed_by_tape_alone_has_drawings_and_no_photo_pages(by_tape_alone):
    text = words(by_tape_alone)
    assert "As it stands, 1:25" in text
    assert "straight on" not in text
    assert "All photos" not in text
    assert all(len(page.extract_text()) > 150 for page in by_tape_alone.pages)  # no page with a heading alone


@pytest.mark.parametrize(("which", "scale"), [("report", 24), ("by_tape_alone", 25)])
def test_the_drawing_measures_true_on_the_page(which, scale, request):
    """The wall's two ends, the outermost long upright lines, on the page as pdfium draws it."""
    reader = request.getfixturevalue(which)
    number = next(i for i, page in enumerate(reader.pages) if "As it stands" in page.extract_text())
    dpi = 200
    reader.stream.seek(0)
    page = pypdfium2.PdfDocument(reader.stream.read())[number]
    dark = (np.asarray(page.render(scale=dpi / 72).to_pil().convert("L")) < 128).astype(np.uint8)
    long = cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones((round(1.5 * dpi), 1), np.uint8))
    ends = np.flatnonzero(long.any(axis=0))
    # 144 in at 1/2" = 1' (1:24) are 6 in on paper, at 1:25 5.76, between the middles of two lines.
    assert (ends[-1] - ends[0]) / dpi == pytest.approx(WIDTH / scale, abs=0.02)


def test_the_cover_shows_the_customers_picture_where_there_is_one(report):
    plain = Image.new("RGB", (800, 600), (12, 90, 160))
    reader = made(FACTS, [wall_pages()], composed={"North wall": lambda: plain})
    cover = np.asarray(Image.open(BytesIO(next(iter(pictures_of(reader, 0))))))
    assert cover.reshape(-1, 3).mean(axis=0) == pytest.approx((12, 90, 160), abs=4)  # JPEG keeps a plain colour so near
    alts = [str(figure.get("/Alt")) for figure in tagged(reader, "/Figure")]
    assert any(
        alt.startswith("North wall with the planned wainscot drawn on it: 6 panels, 2 in the way") for alt in alts
    )
    assert not any(alt.startswith("Photo north 1 of North wall with the planned") for alt in alts)


def pictures_of(reader: PdfReader, page: int) -> list[bytes]:
    images = reader.pages[page]["/Resources"]["/XObject"].values()
    return [one.get_object()._data for one in images if one.get_object().get("/Filter") == "/DCTDecode"]


def test_the_walls_with_most_frames_is_on_the_cover():
    short = made_up_plan(replace(made_up_plan().survey, name="Short", width=measured(60.0)))
    walls = [WallPages(Wall(name="Short"), short), WallPages(Wall(name="North wall"), made_up_plan())]
    shown = {"Short": Image.new("RGB", (80, 60)), "North wall": Image.new("RGB", (80, 60))}
    (cover,) = [str(figure["/Alt"]) for figure in tagged(made(FACTS, walls, composed=shown), "/Figure")
                if "planned wainscot drawn on it" in str(figure["/Alt"])]  # fmt: skip
    assert cover.startswith("North wall ")


def test_an_edge_that_was_found_in_doubt_is_an_open_question():
    pages = wall_pages()
    doubt = "two edges are nearly as sharp"
    mark = Mark(name="jack 1", kind=Kind.JACK, sights=(Sight(photo="north 1", u=5, v=5, doubt=doubt),) * 2)
    told = words(made(FACTS, [replace(pages, wall=pages.wall.model_copy(update={"marks": (mark,)}))]))
    assert told.count(f"Look at jack 1 in photo north 1 again: {doubt}.") == 1
    assert f"{doubt}. I read:" not in told  # to be looked at, not taped


def test_only_what_a_tape_answers_leaves_room_for_a_reading():
    survey = replace(made_up_plan().survey, width=measured(WIDTH))
    told = words(made(FACTS, [replace(wall_pages(), plan=made_up_plan(survey))]))
    assert "Tape the width of North wall, to 1⁄16. I read:" in told


def five_walls() -> list[WallPages]:
    """The first longer than a page holds at a scale that reads."""
    made_up = made_up_plan().survey
    surveys = [replace(made_up, name=f"wall {n}", width=measured(240.0 if n == 1 else WIDTH)) for n in range(1, 6)]
    return [WallPages(Wall(name=survey.name), made_up_plan(survey)) for survey in surveys]


@pytest.fixture(scope="module")
def of_five_walls() -> PdfReader:
    return made(FACTS, five_walls(), composed={"wall 1": made_up_picture()})


def test_the_running_head_names_the_wall_that_a_page_begins_with(of_five_walls):
    text = [page_words(page) for page in of_five_walls.pages]
    begun = {n: match[1] for n, told in enumerate(text) if (match := re.match(r"(wall \d), planned,", told))}
    assert list(begun.values()) == ["wall 1", "wall 2", "wall 3", "wall 4", "wall 5"][5 - len(begun) :]
    place = ""
    for number, told in enumerate(text):
        place = f"{begun[number]}: planned" if number in begun else place
        if place and not told.startswith(("Sizes planned with", "How to read", "Before work")):
            assert f"{FACTS.job} {place}" in told


def test_the_house_stands_on_the_first_page_under_the_list_of_walls(of_five_walls):
    assert "The house" in page_words(of_five_walls.pages[0])
    assert min(len(page_words(page)) for page in of_five_walls.pages) > 250


def test_a_walls_last_words_are_not_left_alone_on_a_page():
    """A page break before the notes takes what stands before them along."""
    for more in range(0, 12, 2):
        things = tuple(thing(f"jack {i}", Kind.JACK, 8.0 + 9 * i, 60.0) for i in range(more))
        survey = made_up_plan().survey
        survey = replace(survey, level="by the floor, which is taken as level", features=(*survey.features, *things))
        reader = made(FACTS, [replace(wall_pages(), plan=made_up_plan(survey))])
        (page,) = [
            page_words(page) for page in reader.pages if "by the floor, which is taken as level" in page_words(page)
        ]
        assert len(page.split("by the floor")[0]) > 60


def test_the_last_page_is_where_it_is_signed(report):
    assert "Signatures" in page_words(report.pages[-1])
    (page,) = [page_words(page) for page in report.pages if "How to read this paper" in page_words(page)]
    assert "Sizes planned with" in page


def test_the_checklist_and_the_cautions_follow_what_was_found():
    house = Conditions(wiring=Wiring.KNOB_AND_TUBE, paint=Suspect.FREE, compound=Suspect.FOUND)
    told = words(made(replace(FACTS, conditions=house), [wall_pages()]))
    assert "knob and tube" in told
    assert "tested: none found" in told
    assert "Knob and tube was seen on this job." in told
    assert "It WAS FOUND on this job" in told
    assert "Houses built before 1978" not in told  # a test found no lead


def test_of_what_is_not_known_only_the_names_stand_with_room_to_write():
    """In one block, wall by wall and for the house; what is known keeps its table."""
    reader = made(FACTS, [replace(wall_pages(), wall=Wall(name="North wall", conditions=Conditions(material="brick")))])
    told = words(reader)
    rest = [name for key, name in NAMES.items() if key != "material"]
    assert f"Wall material brick Not known. {' '.join(rest)} " in told
    house = [NAMES[key] for key in OF_THE_HOUSE]
    assert f"Year built 1968 Not known. {' '.join(house)}" in told


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
    assert all(f"jack {i}" in text for i in range(300))
    assert 10 < len(reader.pages) < 40


def test_long_names_are_cut_for_the_running_header():
    assert shorten("a" * 70, 60) == "a" * 59 + "…"
    assert shorten("two\nlines", 60) == "two lines"
