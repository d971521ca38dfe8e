"""Letters fit where they stand, in Inter and in DejaVu Sans, which falls in where there is no Inter.

Widths are Pillow's, of the fonts' own files.
"""

import re
from dataclasses import replace
from itertools import combinations

import pypdfium2
import pytest
from PIL import ImageFont

import report.pdf
from capture.lengths import Unit
from capture.record import Kind
from layout.plan import plan_walls
from report.brief import electricians_brief
from report.dimensions import bar_sheet
from report.drawing import INCH_SCALES, Anchor, Box, Dimension, Sheet, Text, Tone
from report.letters import wide
from report.moves_sheet import moves_sheet
from report.papers import ReportFacts
from report.sheets import existing_sheet, planned_sheet
from report.shop import shop_sheet
from report.site_report import site_report
from report.typeset import lettered
from tests.papers import quietly
from tests.test_report_papers import five_walls
from tests.test_report_shop import in_unit
from tests.test_report_wall import SCHEME, made_up_survey, measured, thing

FONTS = {"Inter": ("Inter-Regular.otf", "Inter-SemiBold.otf"), "DejaVu Sans": ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")}
FINE = 1000  # px: widths of letters to a thousandth of their size
CAPITAL = 0.73  # of a letter's size: DejaVu Sans's, the higher (OS/2 sCapHeight; Inter 0.727)


def true_width(text: str, points: float, font: str, bold: bool = False) -> float:
    """Paper inches."""
    face = ImageFont.truetype(FONTS[font][bold], FINE)
    return face.getlength(lettered(text)) / FINE * points / 72


@pytest.mark.parametrize("font", FONTS)
@pytest.mark.parametrize(
    "text",
    [
        '137 15/16" ± 1/16"  (12) right', '12 3/8" ± 1/8"  casing', '36 1/16" cap', '16 3/16" (1, 2 …)',
        "3556 ± 12  (3) NEW", "1087 (1, 2 …)", "4 ft at 1/2\" = 1', printed at full size",
        "1 m at 1:25, printed at full size", "bullnose corner", "width not measured",
        '143 3/8" ± 3/32" wide (tape)', '12  25 3/4"', "keep 1206",
    ],
)  # fmt: skip
def test_room_is_kept_for_the_wider_font_and_little_to_spare(text, font):
    assert true_width(text, 9, font) <= wide(text, 9)
    assert true_width(text, 9, font, bold=True) <= wide(text, 9, bold=True)
    assert wide(text, 9) <= 1.25 * true_width(text, 9, "Inter")  # DejaVu Sans is up to 14 % wider than Inter


def survey(width: float, unlike: str):
    """A wall with three receptacles of one height, or with nothing on it."""
    made_up = made_up_survey()
    more = [thing(f"receptacle {n}", Kind.RECEPTACLE, x, 16.2) for n, x in ((7, 24.0), (8, 30.0), (9, width - 8))]
    kept = [f for f in (*made_up.features, *more) if f.right.value < width] if unlike == "full" else []
    return replace(made_up, width=measured(width), features=tuple(kept))


def drawings(width: float, unlike: str, unit: Unit) -> list[Sheet]:
    room = 7.3, 5.2
    plan = plan_walls([survey(width, unlike)], SCHEME).walls[0]
    return [existing_sheet(plan.survey, room, unit), planned_sheet(plan, room, unit), moves_sheet(plan, room, unit)]


def corners(text: Text, sheet: Sheet, font: str) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of a text, wall inches."""
    (x, y), long = text.at, sheet.scale.on_wall(true_width(text.text, text.points, font, text.bold))
    high = sheet.scale.on_wall(CAPITAL * text.points / 72)
    start = {Anchor.START: 0.0, Anchor.MIDDLE: -long / 2, Anchor.END: -long}[text.anchor]
    return (x - high, y + start, x, y + start + long) if text.turned else (x + start, y, x + start + long, y + high)


@pytest.mark.parametrize("font", FONTS)
@pytest.mark.parametrize("unit", list(Unit))
@pytest.mark.parametrize(
    ("width", "unlike"), [(143.9375, "full"), (143.9375, "bare"), (50.0, "full"), (240.0, "full"), (30.0, "bare")]
)
def test_no_letter_of_a_drawing_runs_off_it_or_into_another(width, unlike, unit, font):
    for sheet in drawings(width, unlike, unit):
        words = [item.label if isinstance(item, Dimension) else item for item in sheet.items]
        placed = [(word.text, corners(word, sheet, font)) for word in words if isinstance(word, Text)]
        bar = [
            ("the scale bar", (item.left, item.bottom, item.right, item.top))
            for item in sheet.items
            if isinstance(item, Box) and item.tone is Tone.INK
        ]
        for told, (left, bottom, right, top) in placed:
            assert sheet.left <= left, told
            assert right <= sheet.right, told
            assert sheet.bottom <= bottom, told
            assert top <= sheet.top, told
        for (one, a), (other, b) in combinations([*placed, *bar], 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart or one == other == "the scale bar", f"{one} and {other}"


@pytest.mark.parametrize("scale", INCH_SCALES, ids=lambda scale: scale.name)
def test_the_scale_bar_under_a_picture_is_told_whole(scale):
    sheet = bar_sheet(scale, 60.0)
    (told,) = [item for item in sheet.items if isinstance(item, Text)]
    assert corners(told, sheet, "DejaVu Sans")[2] <= sheet.right


MADE = {
    "site report": lambda facts: site_report(facts, five_walls()),
    "brief": lambda facts: electricians_brief(facts, five_walls()[:2]),
    "shop sheet": lambda facts: shop_sheet(in_unit(facts.unit), facts),
}


@pytest.mark.parametrize("paper", MADE)
@pytest.mark.parametrize(("unit", "size"), [(Unit.INCH, "letter"), (Unit.MM, "a4")])
def test_tables_hold_without_inter(paper, unit, size, monkeypatch):
    """Set in DejaVu Sans, no word of a column's head is broken, and no length runs into the next."""
    seen = []
    make = report.pdf.html_to_pdf

    def without_inter(html, pictures):
        seen.append(html)
        return make(html.replace("Inter, ", ""), pictures)

    monkeypatch.setattr(report.pdf, "html_to_pdf", without_inter)
    document = pypdfium2.PdfDocument(quietly(MADE[paper], ReportFacts("Job", unit=unit, paper=size, scheme=SCHEME)))
    heads = re.findall(r"<th(?: [^>]*)?>([^<]+)</th>(?=.*</thead>)", "".join(seen))
    whole = {word for head in heads for word in head.split()}
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    assert len(whole) > 5
    assert whole <= set(text.split())
    assert re.findall(r"\S*(?:mm|″)\d\S*", text) == []  # pdfium leaves no space between what has none
