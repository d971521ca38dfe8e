"""The shop sheet read back: its words and tags, and the story pole measured on the rasterised pages."""

import csv
import functools
import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from io import BytesIO, StringIO

import cv2
import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader

from capture.lengths import Unit, nearest, show_length
from capture.record import EndKind
from layout.bevels import fine
from layout.plan import Plan, plan_walls
from layout.scheme import Scheme
from layout.shop import shop_of
from report.drawing import Line, Text, Tone
from report.papers import ReportFacts
from report.shop import shop_sheet
from report.shop_bevels import bevelled, corner_sheets, section_sheet
from report.shop_boards import board_sheet
from report.shop_pole import HIGH, LINES, Place, Pole, height_pole, stile_pole, stretches, strip_length, strips
from report.shop_tables import PieceRow, board_rows, buy_rows, degrees, piece_numbers, piece_rows, running_rows
from report.svg import to_svg
from report.tables import write_csv
from tests.papers import HOSTILE, contrast, quietly
from tests.test_layout_room import taped, wall
from tests.test_layout_shop import own_room

F = Fraction
DPI = 200
NEAR = 1.5 / DPI  # inches: an edge between two pixels, and the line's own width


@functools.cache
def in_unit(unit: Unit):
    plan = own_room()
    return shop_of(replace(plan, scheme=plan.scheme.model_copy(update={"unit": unit})), seconds=2)


@pytest.fixture(scope="module")
def shop():
    return in_unit(Unit.INCH)


def made(shop, facts: ReportFacts) -> bytes:
    return quietly(shop_sheet, shop, facts)


def facts(job="Harbour Street", **more) -> ReportFacts:
    return ReportFacts(job, **({"year_built": 1968} | more))


@pytest.fixture(scope="module")
def small():
    """The shop of the shortest wall alone, which is quick to set."""
    plan = own_room()
    return shop_of(Plan(plan.scheme, plan.walls[2:]), seconds=1)


@pytest.fixture(scope="module")
def sheet(shop) -> bytes:
    return made(shop, facts())


def words(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(data)).pages)


@pytest.mark.parametrize(("unit", "told"), [(Unit.INCH, "Kerf 3⁄32″,"), (Unit.MM, "Kerf 2.4 mm,")])
def test_a_thin_kerf_is_told_as_it_is(small, unit, told):
    thin = replace(small, saw=replace(small.saw, kerf=Fraction(3, 32)))
    assert told in words(made(thin, facts(unit=unit)))


def upright_lines(page: np.ndarray, least: float) -> list[tuple[float, float]]:
    """Dark lines up the page of at least so many inches: x of the middle, y of the top; inches."""
    dark = (page < 140).astype(np.uint8)
    long = cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones((int(least * DPI), 1), np.uint8))
    _, _, stats, middles = cv2.connectedComponentsWithStats(long)
    return [((x + 0.5) / DPI, stat[1] / DPI) for stat, (x, _) in list(zip(stats, middles, strict=True))[1:]]


@pytest.mark.parametrize(("unit", "paper"), [(Unit.INCH, "letter"), (Unit.MM, "a4")])
def test_the_story_pole_measures_right_on_the_page(unit, paper, sheet):
    """By pdfium: from a strip's first line, every line lies where the running dimensions say, at 100 %."""
    shop = in_unit(unit)
    data = sheet if unit is Unit.INCH else made(shop, facts(unit=unit, paper=paper))
    document = pypdfium2.PdfDocument(data)
    seen: list[list[float]] = []
    for page in document:
        if page.get_width() < page.get_height():
            continue
        grey = np.array(page.render(scale=DPI / 72, grayscale=True).to_pil())
        lines = upright_lines(grey, LINES - 0.03)
        tops = sorted({round(y, 1) for x, y in lines if x < 0.4})
        for top in tops:
            mine = sorted(x for x, y in lines if -0.1 < y - top < HIGH - LINES + 0.1)
            seen.append([x - mine[0] for x in mine])
    wanted = []
    poles = [stile_pole(run) for run in shop.set_out] + [height_pole(shop.set_out)]
    each = strip_length(unit)
    for pole in poles:
        for start, stop in ((strip.start, strip.stop) for strip in stretches(pole, each)):
            edges = {place.at for place in pole.places if start <= place.at <= stop}
            wanted.append([float(at - start) for at in sorted({start, stop, *edges})])
    assert len(seen) == len(wanted)
    for found, true in zip(seen, wanted, strict=True):
        assert len(found) == len(true)
        assert found == pytest.approx(true, abs=NEAR)


def on_a_grid(pole, each):
    """How many strips there would be if each began a whole number of strips along the pole."""
    last = (pole.length - F(1, 1000)) // each
    return sum(
        n in (0, last) or any(n * each < p.at <= (n + 1) * each for p in pole.places) for n in range(int(last) + 1)
    )


@pytest.mark.parametrize("unit", list(Unit))
def test_strips_are_few_and_bear_every_edge(shop, unit):
    """Both ends too; where one begins apart from the one before a tape finds it at a whole tenth of a strip."""
    each = strip_length(unit)
    poles = [stile_pole(run) for run in shop.set_out] + [height_pole(shop.set_out)]
    counts = []
    for pole in poles:
        shown = stretches(pole, each)
        assert all(any(s.start <= at <= s.stop for s in shown) for at in (0, *(p.at for p in pole.places), pole.length))
        assert all(s.start >= before.stop for before, s in itertools.pairwise(shown))
        assert all(s.start == before.stop or s.start % (each / 10) == 0 for before, s in itertools.pairwise(shown))
        assert len(shown) <= on_a_grid(pole, each)
        counts.append(len(shown))
    assert sum(counts) < sum(on_a_grid(pole, each) for pole in poles)


def test_a_pole_leaves_out_the_strips_that_would_be_blank_and_no_edge(shop):
    places = [F(n) for n in (0, 3, 31, 35, 40, 64, 68, 96, 100)]
    pole = Pole("long", tuple(Place(at, "stile") for at in places), (), F(100))
    shown = stretches(pole, F(10))
    assert [(s.start, s.stop) for s in shown] == [(0, 10), (30, 40), (63, 73), (95, 100)]
    assert all(any(s.start <= at <= s.stop for s in shown) for at in places)
    assert [s.after for s in shown] == [30, 63, 95, None]
    told = [[item.text for item in sheet.items if isinstance(item, Text)] for sheet in strips(pole, Unit.INCH)]
    assert 'strip 2: at 30"' in told[0]
    assert any('strip 2 of 4, begins at 30"' in text for text in told[1])
    assert not any("glue" in text for texts in told for text in texts)


def test_strips_that_follow_one_another_are_glued():
    pole = Pole("short", tuple(Place(F(at), "stile") for at in (0, 10, "10.4", 15)), (), F("21.5"))
    assert [(s.start, s.stop, s.after) for s in stretches(pole, F(10))] == [
        (0, 10, 10), (10, 20, 21), (21, F("21.5"), None),
    ]  # fmt: skip


def test_it_is_tagged_titled_bookmarked_and_says_its_job_on_each_page(sheet):
    # PDF/UA-1 (ISO 14289-1): marked, a structure tree, a language.
    reader = PdfReader(BytesIO(sheet))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert len([item for part in reader.outline if isinstance(part, list) for item in part]) > 5
    assert all("Harbour Street" in page.extract_text() for page in reader.pages)
    assert all(re.search(rf"page {n} of {len(reader.pages)}", p.extract_text()) for n, p in enumerate(reader.pages, 1))


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595.28, 841.89))])
def test_pages_are_of_the_paper_wanted(small, paper, size):
    # ANSI/ASME Y14.1 size A is 8.5 × 11 in; ISO 216 A4 is 210 × 297 mm; 72 points to the inch.
    for page in PdfReader(BytesIO(made(small, facts(paper=paper)))).pages:
        assert sorted(map(float, page.mediabox[2:])) == pytest.approx(size, abs=0.01)


def test_it_tells_what_a_shop_needs(sheet):
    told = words(sheet)
    for part in (
        "Cut from a tape reading", "To buy", "proven the least", "Take-off", "Order of work", "Cut list", "Bevels",
        "Running dimensions", "Heights above", "Offcuts worth keeping", "Story pole", "glue under strip 2",
        "Narrow rips and bevels", "Lead paint", "Dust", "loose until last", "pocket screws",
    ):  # fmt: skip
        assert part in told


def test_what_to_buy_is_told_by_size_with_its_totals(shop, sheet):
    """Feet by 12 in, board feet as Engineering Aid Basics, 6-3, has them: nominal thickness × width × feet / 12."""
    stocks = [board.stock for packing in shop.packings for board in packing.boards]
    rows = {row.what: row for row in buy_rows(shop)}
    assert rows.keys() == {stock.name for stock in stocks}
    for name, row in rows.items():
        mine = [stock for stock in stocks if stock.name == name]
        assert sum(int(n) for n in re.findall(r"(\d+) of", row.lengths)) == len(mine)
        assert row.lengths.count(" of ") == len({stock.length for stock in mine})
        feet = sum(float(stock.length) / 12 for stock in mine)
        area = sum(float(stock.length * stock.width) / 144 for stock in mine)
        assert row.together == (f"{area:.1f} sq ft" if "sheet" in name else f"{feet:.1f} ft")
        if nominal := re.fullmatch(r"(\d+) × (\d+)", name):
            assert row.board_feet == f"{feet * int(nominal[1]) * int(nominal[2]) / 12:.1f}"
        told = words(sheet).replace("⁄", "/").replace("″", '"')
        assert re.search(rf"{re.escape(row.together)} ?{re.escape(row.board_feet)}", told), (row, told)


def test_the_cut_list_names_the_panels_of_each_moulding(shop):
    """By the names that verdicts and briefs have for them: each panel stands with the lengths of its four sides."""
    frames = {frame.run.name: frame for wall in own_room().walls for frame in wall.frames}
    named: dict[str, dict[str, set[str]]] = {}
    for row in piece_rows(shop):
        if row.name == "moulding":
            for tier, numbers in re.findall(r"of ((?:upper )?panel)s? ([\d, ]+)", row.note):
                for number in numbers.split(", "):
                    named.setdefault(row.unit, {}).setdefault(f"{tier} {number}", set()).add(row.length)
    step = shop.scheme.step
    assert named == {
        name: {
            panel.name: {show_length(nearest(max(side.rect.width, side.rect.height), step)) for side in panel.mouldings}
            for panel in frame.panels
        }
        for name, frame in frames.items()
    }


def test_a_new_house_has_no_caution_of_old_paint_and_a_square_job_none_of_bevels():
    plan = own_room()
    walls = [wall(width=taped(F(60)), left=EndKind.OPEN, right=EndKind.OPEN)]
    square = plan_walls(walls, plan.scheme)
    told = words(made(shop_of(square, seconds=1), facts(year_built=2005)))
    assert "Lead paint" not in told
    assert "Bevels, in section" not in told
    assert ("Small pieces" in told) is any(piece.length < 8 for piece in shop_of(square, seconds=1).pieces)


def test_the_shop_is_told_of_live_wires_hidden_pipes_and_small_pieces(shop, sheet):
    """29 CFR 1910.333 asks that what was proved dead stays so; the rest is common practice without a source."""
    told = words(sheet)
    assert any(piece.length < 8 for piece in shop.pieces)
    for part in ("prove each box dead", "Nails and screws go into studs", "never held by hand at the saw"):
        assert part in told


def test_a_run_that_begins_elsewhere_than_its_wall_says_so_on_its_pole(shop, sheet):
    elsewhere = [run for run in shop.set_out if run.left]
    assert elsewhere
    told = words(sheet)
    for run in elsewhere:
        assert f"{run.name}: stiles from the run's left end, which begins" in told.replace("’", "'")


def test_every_bevel_is_drawn_at_its_true_angle(shop):
    for one in bevelled(shop):
        outline = section_sheet(one.number, one.piece, Unit.INCH).items[0]
        assert isinstance(outline, Line)
        left, right, heel_right, heel_left, _ = outline.points
        angles = [np.degrees(np.arctan2(heel_left[0] - left[0], left[1] - heel_left[1])),
                  np.degrees(np.arctan2(right[0] - heel_right[0], right[1] - heel_right[1]))]  # fmt: skip
        assert angles == pytest.approx([float(edge.angle) for edge in one.piece.edges], abs=1e-9)
        assert heel_right[0] - heel_left[0] == pytest.approx(float(one.piece.back_width), abs=1e-9)


def test_the_pieces_of_a_corner_close_and_turn_it(shop):
    (drawing,) = corner_sheets(shop)
    pieces = [item.points for item in drawing.items if isinstance(item, Line)]
    for before, after in itertools.pairwise(pieces):  # face and back of each joint meet
        assert before[1] == pytest.approx(after[0], abs=1e-9)
        assert before[2] == pytest.approx(after[3], abs=1e-9)
    first, last = (complex(*p[1]) - complex(*p[0]) for p in (pieces[0], pieces[-1]))
    assert np.degrees(np.angle(first / last)) == pytest.approx(90, abs=1e-9)


def test_boards_are_drawn_to_scale_with_every_piece_inside(shop):
    rows = piece_numbers(shop.pieces)
    longest = max(board.stock.length for packing in shop.packings for board in packing.boards)
    for packing in shop.packings:
        for board in packing.boards:
            drawing = board_sheet(board, shop.saw, rows, 7.2, longest, Unit.INCH)
            wood = [item for item in drawing.items if getattr(item, "tone", None) is Tone.WOOD]
            assert len(wood) == len(board.cuts)
            assert all(-1e-9 <= box.left < box.right <= float(board.stock.length) + 1e-9 for box in wood)
            if not board.across:
                assert sorted(box.right - box.left for box in wood) == pytest.approx(
                    sorted(float(cut.length) for cut in board.cuts)
                )
            ET.fromstring(to_svg(drawing))


def test_the_tables_read_back_and_name_the_same_pieces(shop):
    rows = list(csv.DictReader(StringIO(write_csv(PieceRow, piece_rows(shop)))))
    assert [int(row["count"]) for row in rows] == [piece.count for piece in shop.pieces]
    cuts = [row for row in board_rows(shop) if row.piece]
    assert len(cuts) == sum(piece.count for piece in shop.pieces)
    assert {row.piece for row in cuts} == {row["number"] for row in rows}
    assert len(running_rows(shop)) == sum(len(run.running.marks) for run in shop.set_out)


@pytest.mark.parametrize("name", [HOSTILE, "=1+1", pytest.param("n" * 500, marks=pytest.mark.slow)])
def test_any_name_gives_a_sound_paper_and_no_formula(name):
    plan = own_room()
    frames = tuple(replace(f, run=replace(f.run, wall=name)) for f in plan.walls[2].frames)
    strange = Plan(
        plan.scheme, (replace(plan.walls[2], survey=replace(plan.walls[2].survey, name=name), frames=frames),)
    )
    told = shop_of(strange, seconds=1)
    assert len(PdfReader(BytesIO(made(told, facts(job=name)))).pages) > 3
    cells = list(csv.reader(StringIO(write_csv(PieceRow, piece_rows(told)))))
    assert not any(cell.startswith(("=", "+", "@")) for row in cells for cell in row)


def test_nothing_to_cut_and_a_refused_wall_still_give_a_paper():
    empty = made(shop_of(Plan(Scheme(), ())), facts())
    assert "0 pieces" in words(empty)
    plan = own_room()
    refused = replace(plan.walls[0], frames=(), runs=(), refused="The gallery cannot hold a frame.")
    told = words(made(shop_of(Plan(plan.scheme, (refused, plan.walls[2])), seconds=1), facts()))
    assert "Not on this sheet" in told
    assert "The gallery cannot hold a frame." in told
    assert "return" in told


@pytest.mark.parametrize(
    ("angle", "told"), [(F(45, 2), "22 1/2°"), (F(45), "45°"), (F("22.6"), "22.6°"), (F(-45, 2), "22 1/2°")]
)
def test_angles_read_as_on_the_saw(angle, told):
    assert degrees(angle) == told


def test_narrow_widths_have_a_finer_mark():
    assert fine(F(79, 64), Unit.INCH) == '1 15/64"'
    assert fine(F(5, 8), Unit.MM) == "15.9 mm"  # 5/8 · 25.4 = 15.875
    assert fine(F(100) / F("25.4"), Unit.MM) == "100 mm"


@pytest.mark.parametrize("ink", ["#111111", "#333333", "#444444"])
@pytest.mark.parametrize("ground", ["#ffffff", Tone.WOOD.value])
def test_words_stand_out_from_what_they_stand_on(ink, ground):
    # WCAG 2.2, 1.4.6: 7 to 1 for small letters.
    assert contrast(ground, ink) >= 7
