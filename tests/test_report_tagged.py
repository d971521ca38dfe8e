"""What every paper owes its readers: tags, a title, fonts, page numbers, true sizes, contrast; read back by pypdf."""

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader
from weasyprint import HTML
from weasyprint.html import UA

from capture.lengths import Unit
from capture.record import Photo, Wall
from capture.survey import WallSurvey
from layout.plan import Plan, plan_walls
from layout.shop import shop_of
from report import pdf
from report.brief import electricians_brief
from report.customer import BeforeAfter, SchemeShown, customer_sheet
from report.drawing import Tone
from report.papers import Elevation, PhotoPage, ReportFacts, WallPages
from report.pictures import held
from report.shop import shop_sheet
from report.site_report import site_report
from tests.papers import bookmarks, contrast, embedded_pictures, page_words, quietly, read, tagged, words
from tests.test_layout_shop import own_room
from tests.test_report_papers import FACTS, wall_pages
from tests.test_report_wall import SCHEME, made_up_camera, made_up_picture, made_up_plan, made_up_survey

JOB = FACTS.job
LETTER, A4 = (8.5 * 72, 11 * 72), (210 / 25.4 * 72, 297 / 25.4 * 72)  # points: ANSI/ASME Y14.1 size A; ISO 216


def in_scheme(facts: ReportFacts) -> WallPages:
    pages = wall_pages()
    plan = made_up_plan(replace(made_up_survey(), findings=()), facts.scheme or SCHEME)
    return replace(pages, plan=plan, elevation=replace(pages.elevation, note=""))


def customers(facts: ReportFacts) -> bytes:
    """The customer sheet with two schemes, from the facts of the site report."""
    told = ReportFacts(
        facts.job, facts.address, facts.customer, facts.installer, facts.visited,
        facts.unit, facts.paper, facts.year_built, logo=facts.logo,
    )  # fmt: skip
    photo = made_up_picture((600, 450))
    shown = (BeforeAfter("North wall", photo, photo),)
    scheme = facts.scheme or SCHEME
    other = scheme.model_copy(update={"panel_width": Fraction(30)})
    plans = [plan_walls([made_up_survey()], one) for one in (scheme, other)]
    return customer_sheet(told, [SchemeShown(name, p, shown) for name, p in zip(("One", "Two"), plans, strict=True)])


def shops(facts: ReportFacts) -> bytes:
    plan = own_room()
    scheme = plan.scheme.model_copy(update={"unit": facts.unit})
    return shop_sheet(shop_of(Plan(scheme, plan.walls[2:]), seconds=1), facts)


MAKERS = {
    "site report": lambda facts: site_report(facts, [in_scheme(facts)]),
    "brief": lambda facts: electricians_brief(facts, [in_scheme(facts)]),
    "customer sheet": customers,
    "shop sheet": shops,
}


@pytest.fixture(scope="module", params=MAKERS)
def paper(request) -> PdfReader:
    return read(quietly(MAKERS[request.param], FACTS))


def test_it_says_that_it_is_tagged_by_the_standard(paper):
    """PDF/UA-1 (ISO 14289-1): 5 (identified in its XMP), 7.1 (marked, title shown), 7.2 (language)."""
    root = paper.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/StructTreeRoot"]["/K"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert JOB in paper.metadata.title
    said = ET.fromstring(root["/Metadata"].get_object().get_data())
    parts = {element.text for element in said.iter("{http://www.aiim.org/pdfua/ns/id/}part")}
    attributes = {e.get("{http://www.aiim.org/pdfua/ns/id/}part") for e in said.iter()}
    assert "1" in parts | attributes


@pytest.mark.parametrize("kind", MAKERS)
def test_pages_are_drawn_as_by_the_whole_of_weasyprints_own_style_sheet(kind, monkeypatch):
    mine = quietly(MAKERS[kind], FACTS)
    monkeypatch.setattr(pdf, "_Paper", HTML)
    stock = quietly(MAKERS[kind], FACTS)
    assert [page.get_contents().get_data() for page in read(mine).pages] == [
        page.get_contents().get_data() for page in read(stock).pages
    ]


def test_what_is_left_out_of_weasyprints_own_style_sheet_is_in_it():
    """A new version that words it otherwise is to be noticed: papers would be right, but large in memory."""
    assert len(re.findall(pdf._OF_NOTES, UA)) == 5
    assert UA.count(pdf._ANY_MARKER) == 1


def test_every_figure_tells_itself_in_words(paper):
    """PDF/UA-1, 7.3."""
    figures = list(tagged(paper, "/Figure"))
    assert figures
    assert all(str(figure.get("/Alt", "")).strip() for figure in figures)


def test_every_header_cell_says_what_it_heads(paper):
    """PDF/UA-1, 7.5."""
    heads = list(tagged(paper, "/TH"))
    assert heads
    assert {head["/A"].get_object()["/Scope"] for head in heads} <= {"/Column", "/Row"}


def test_headings_go_down_one_level_at_a_time(paper):
    """PDF/UA-1, 7.4.2: the first is of level 1 and no level is left out; the bookmarks follow them."""
    assert len(list(tagged(paper, "/H1"))) == 1
    levels = [level for level in range(1, 7) if list(tagged(paper, f"/H{level}"))]
    assert levels == list(range(1, len(levels) + 1))
    assert bookmarks(paper)[0] == JOB
    assert len(bookmarks(paper)) > 3


def test_every_font_is_embedded(paper):
    """PDF/UA-1, 7.21.4.1."""
    seen = 0
    for page in paper.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            for one in font.get_object().get("/DescendantFonts", [font]):
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(one.get_object()["/FontDescriptor"])
                seen += 1
    assert seen


def test_every_page_says_which_it_is_and_of_what_job(paper):
    total = len(paper.pages)
    for number, page in enumerate(paper.pages, 1):
        told = page_words(page)
        assert f"page {number} of {total}" in told
        assert JOB in told


def test_every_page_has_the_size_of_letter_paper(paper):
    for page in paper.pages:
        assert sorted(map(float, page.mediabox[2:])) == pytest.approx(LETTER, abs=0.01)


@pytest.mark.parametrize("kind", MAKERS)
def test_metric_papers_are_a4_and_tell_no_inches(kind):
    scheme = SCHEME.model_copy(update={"unit": Unit.MM})
    reader = read(quietly(MAKERS[kind], replace(FACTS, paper="a4", unit=Unit.MM, scheme=scheme)))
    for page in reader.pages:
        assert sorted(map(float, page.mediabox[2:])) == pytest.approx(A4, abs=0.01)
    assert "mm" in words(reader)
    told = re.sub(r"\d in (?:place of|the way)", "", words(reader))
    assert re.findall(r".{30}(?:\d[″′]|\d (?:in|ft)\b|[Bb]oard feet)", told) == []


def test_no_picture_carries_where_when_or_by_what_it_was_taken():
    exif = Image.Exif()
    exif[0x010F] = "Phone maker"
    exif.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef
    out = BytesIO()
    made_up_picture().save(out, "JPEG", exif=exif)
    assert b"Exif\0\0" in out.getvalue()
    photo = Photo(name="north 1", file="IMG_1.jpg")
    page = PhotoPage(photo, lambda: Image.open(BytesIO(out.getvalue())), made_up_camera())
    pages = replace(wall_pages(), photos=(page,))
    for make in (site_report, electricians_brief):
        held = list(embedded_pictures(read(quietly(make, FACTS, [pages]))))
        assert held
        assert not any(
            sign in data for data in held for sign in (b"Exif\0\0", b"GPS", b"Phone maker", b"http://ns.adobe")
        )
        assert all(not Image.open(BytesIO(data)).getexif() for data in held)


@pytest.mark.slow
def test_the_papers_of_ten_walls_can_be_mailed():
    """At most 10 MB each, though every photo has 12 MP of grain, which no JPEG packs well."""
    rng = np.random.default_rng(3)
    grain = rng.integers(-24, 24, (3024, 4032, 1)).astype(np.int16)
    pixels = np.clip(np.asarray(made_up_picture((4032, 3024)), np.int16) + grain, 0, 255).astype(np.uint8)
    picture, camera = Image.fromarray(pixels), made_up_camera((4032, 3024))
    walls = []
    for n in range(10):
        name = f"wall {n + 1}"
        plan = made_up_plan(replace(made_up_survey(), name=name))
        shots = tuple(PhotoPage(Photo(name=f"{name}.{k}", file=f"{n}{k}.jpg"), picture, camera) for k in (1, 2))
        straight = Elevation(picture.crop((0, 0, 2880, 1400)), 20.0, 0.0, 70.0)
        walls.append(WallPages(Wall(name=name), plan, shots, straight))
    small = picture.resize((1600, 1200))
    shown = SchemeShown("As planned", Plan(SCHEME, tuple(w.plan for w in walls)),
                        tuple(BeforeAfter(w.wall.name, small, small) for w in walls))  # fmt: skip
    made = {
        "site report": site_report(FACTS, walls),
        "brief": electricians_brief(FACTS, walls),
        "customer sheet": customer_sheet(ReportFacts(JOB, visited=date(2026, 11, 24)), [shown]),
    }
    assert {name: len(data) for name, data in made.items() if len(data) > 10_000_000} == {}
    assert len(made["site report"]) > 1_000_000  # the pictures are in it


# Colours.


TEMPLATES = sorted(p for p in Path("report/templates").iterdir() if p.suffix in {".css", ".html", ".svg"})
COLOUR = "(#[0-9a-f]{6}|#[0-9a-f]{3})"


def colours(pattern: str) -> set[str]:
    """The colours that any template gives to what the pattern names, with six digits."""
    found = itertools.chain.from_iterable(re.findall(pattern + COLOUR, path.read_text()) for path in TEMPLATES)
    return {c if len(c) == 7 else "#" + "".join(2 * digit for digit in c[1:]) for c in found}


def test_all_words_stand_out_from_every_ground_that_a_template_has():
    """WCAG 2.2, 1.4.3: at least 4.5 to 1, on white paper and on any background; letters on a drawing likewise."""
    inks = colours(r"(?<![-\w])color: ") | {Tone.INK.value}
    grounds = {"#ffffff", Tone.WOOD.value, Tone.FIELD.value} | colours(r"background(?:-color)?: ")
    assert len(inks) > 2
    faint = [(ink, ground) for ink in inks for ground in grounds if contrast(ink, ground) < 4.5]
    assert faint == []


def test_the_contrast_is_that_of_the_standard():
    """WCAG 2.2: black on white is 21 to 1; #767676 is the known lightest grey that passes 4.5 on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21, abs=0.01)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_a_picture_that_is_shown_twice_is_in_the_paper_once():
    photo = held(made_up_picture((600, 450)))
    plan = plan_walls([made_up_survey()], SCHEME)
    shown = SchemeShown("One", plan, (BeforeAfter("North wall", photo, photo),))
    reader = read(quietly(customer_sheet, FACTS, [shown, replace(shown, name="Two")]))
    assert len(list(embedded_pictures(reader))) == 1
    assert next(embedded_pictures(reader)) == photo.jpeg
    assert len([figure for figure in tagged(reader, "/Figure") if "/Alt" in figure]) > 3


def test_an_empty_wall_has_a_sound_site_report_and_brief():
    bare = WallSurvey("Bare", made_up_survey().left, made_up_survey().right, None, ())
    pages = WallPages(Wall(name="Bare"), made_up_plan(bare))
    assert "Nothing was marked on this wall." in words(read(quietly(site_report, FACTS, [pages])))
    brief = words(read(quietly(electricians_brief, FACTS, [pages])))
    assert "No box, switch, thermostat or jack has been marked yet." in brief
