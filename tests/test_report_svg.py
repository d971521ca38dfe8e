import xml.etree.ElementTree as ET

import pytest
from pypdfium2 import PdfDocument

from report.drawing import Anchor, Box, Line, Scale, Sheet, Text
from report.pdf import html_to_pdf
from report.sheets import existing_sheet, planned_sheet
from report.svg import symbol_svg, to_svg
from report.symbols import SYMBOLS
from tests.test_report_wall import made_up_plan, made_up_survey

SVG = "{http://www.w3.org/2000/svg}"
SIXTEENTH = Scale("3/4\" = 1'", 1 / 16)


def small_sheet(*items) -> Sheet:
    return Sheet("A title", "Its words", SIXTEENTH, -16, -32, 144, 48, items)


def test_size_is_stated_in_paper_inches():
    root = ET.fromstring(to_svg(small_sheet()))
    assert root.get("width") == "10in"  # (144 + 16) / 16
    assert root.get("height") == "5in"  # (48 + 32) / 16
    assert root.get("viewBox") == "0 0 720 360"  # 72 points to the inch


def test_y_is_flipped_once():
    root = ET.fromstring(to_svg(small_sheet(Box(0, 0, 16, 32))))
    rect = root.find(f"{SVG}rect")
    # x: (0 + 16) / 16 · 72 = 72; y of the top edge: (48 - 32) / 16 · 72 = 72; 1 in wide, 2 in high on paper
    assert [float(rect.get(k)) for k in ("x", "y", "width", "height")] == [72, 72, 72, 144]


def test_turned_text_turns_about_its_own_point():
    root = ET.fromstring(to_svg(small_sheet(Text((0, 0), '1/2"', 8, Anchor.END, turned=True))))
    text = root.find(f"{SVG}text")
    assert text.get("transform") == f"rotate(-90 {text.get('x')} {text.get('y')})"
    assert text.get("text-anchor") == "end"
    assert text.text == "¹⁄₂″"


def test_lines_of_one_pen_in_a_row_are_one_path():
    level, upright = Line(((0, 0), (5, 0))), Line(((5, 0), (5, 5)))
    dashed, box = Line(((0, 5), (5, 5)), dashed=True), Box(1, 1, 2, 2)
    root = ET.fromstring(to_svg(small_sheet(level, upright, dashed, box, level)))
    alone, up = (ET.fromstring(to_svg(small_sheet(line))).find(f"{SVG}path").get("d") for line in (level, upright))
    assert [element.tag for element in root][2:] == [f"{SVG}path", f"{SVG}path", f"{SVG}rect", f"{SVG}path"]
    paths = root.findall(f"{SVG}path")
    assert [paths[0].get("d"), paths[2].get("d")] == [alone + up, alone]
    assert "stroke-dasharray" in paths[1].attrib
    assert "stroke-dasharray" not in paths[0].attrib


def test_a_line_keeps_its_points():
    root = ET.fromstring(to_svg(small_sheet(Line(((-16, 48), (0, 32))))))
    assert root.find(f"{SVG}path").get("d") == "M0 0L72 72"


@pytest.mark.parametrize("draw", [lambda: existing_sheet(made_up_survey()), lambda: planned_sheet(made_up_plan())])
def test_real_sheets_are_well_formed_and_tell_themselves_in_words(draw):
    sheet = draw()
    root = ET.fromstring(to_svg(sheet))
    assert root.find(f"{SVG}title").text == sheet.title
    assert root.find(f"{SVG}desc").text == sheet.description
    assert root[0].tag == f"{SVG}title"


def test_a_hostile_name_cannot_break_out():
    svg = to_svg(existing_sheet(made_up_survey('<script>"&\x07]]>')))
    assert "<script>" not in svg
    assert '<script>"&]]>' in ET.fromstring(svg).find(f"{SVG}title").text


def test_every_verdict_has_its_own_sign():
    assert len({symbol.letter for symbol in SYMBOLS.values()}) == len(SYMBOLS)
    assert len({(symbol.shape, symbol.filled) for symbol in SYMBOLS.values()}) == len(SYMBOLS)


@pytest.mark.parametrize(("verdict", "symbol"), SYMBOLS.items())
def test_a_sign_shows_its_letter_and_says_its_verdict(verdict, symbol):
    root = ET.fromstring(symbol_svg(symbol, verdict))
    assert root.find(f"{SVG}title").text == verdict.value
    assert root.find(f"{SVG}text").text == symbol.letter
    fills = (root.find(f"{SVG}polygon").get("fill"), root.find(f"{SVG}text").get("fill"))
    assert fills in {("#111", "#fff"), ("#fff", "#111")}  # dark on light or light on dark, never by colour


def ink(anchor: str, x: float) -> float:
    """How much of a word a viewer shows, that stands in a drawing of a paper."""
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="300pt" height="40pt" viewBox="0 0 300 40"><title>a</title>'
        f'<text x="{x}" y="20" font-family="Inter" font-size="8.5" text-anchor="{anchor}">bullnose corner</text></svg>'
    )
    page = PdfDocument(html_to_pdf(f"<html lang='en'><title>a</title><body>{drawing}", {}))[0]
    return float(255.0 - page.render(scale=1.5).to_numpy().astype(float).mean())


@pytest.mark.parametrize("x", [200 + n / 10 for n in range(10)])
def test_no_letter_of_what_is_set_from_its_end_is_cut(x):
    """Against the same word set from its start: pdfium's greys for edges that fall elsewhere differ by 0.4 %."""
    assert ink("end", x) == pytest.approx(ink("start", x - 62.1), rel=0.01)
