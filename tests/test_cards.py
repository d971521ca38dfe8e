"""The printed sheet, measured on a raster of its PDF, and read by a marker reader that is not ours."""

import cv2
import numpy as np
import pupil_apriltags
import pypdfium2
import pytest

from capture import cards
from report.cardsheet import PAPERS, cards_pdf

DPI = 300
NUMBERS = range(11, 14)
POINT = 1 / 72  # in


def sheets(paper: str, numbers=NUMBERS) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(cards_pdf(numbers, PAPERS[paper], "autumn 1"))


def raster(page: pypdfium2.PdfPage, dpi=DPI) -> np.ndarray:
    return np.asarray(page.render(scale=dpi / 72, grayscale=True).to_numpy()).squeeze()


@pytest.fixture(scope="module", params=["letter", "a4"])
def printed(request):
    """The sheet's paper, its pages' sizes in inches, and the first page rasterised."""
    document = sheets(request.param)
    sizes = [tuple(s * POINT for s in page.get_size()) for page in document]
    return PAPERS[request.param], sizes, raster(document[0])


def to_px(printed, xy: np.ndarray) -> np.ndarray:
    """Raster pixels (N, 2), first pixel's centre at (0, 0), of card points (N, 2): the card's origin is mid-page."""
    paper, _, page = printed
    size = np.array([paper.width, paper.height])
    scale = np.array(page.shape[::-1]) / size  # PDFium stretches a page to whole pixels: a little over 300 for A4
    return (size / 2 + np.asarray(xy) * (1, -1)) * scale - 0.5


# Sizes: US letter from ANSI/ASME Y14.1 size A, A4 from ISO 216 (both from memory), 25.4 mm an inch by definition.
@pytest.mark.parametrize(
    ("paper", "size"),
    [pytest.param("letter", (8.5, 11.0), id="letter"), pytest.param("a4", (210 / 25.4, 297 / 25.4), id="A4")],
)
def test_prints_one_card_a_page_on_the_whole_sheet(paper: str, size: tuple[float, float]) -> None:
    document = sheets(paper)
    assert len(document) == len(NUMBERS)
    for page in document:
        left, bottom, right, top = page.get_mediabox()
        # A point is far below what a printer feeds true; PDF numbers are cut at some thousandths of one.
        assert ((right - left) * POINT, (top - bottom) * POINT) == pytest.approx(size, abs=0.01 * POINT)
        assert page.get_cropbox() == page.get_mediabox()  # no viewer shifts it


def test_each_page_says_its_own_number_and_print_run() -> None:
    for number, page in zip(NUMBERS, sheets("letter"), strict=True):
        words = page.get_textpage().get_text_bounded().split()
        assert words.count(str(number)) == 1
        assert "autumn" in words


def test_draws_each_black_square_where_the_card_says() -> None:
    page = sheets("letter")[0]
    drawn = np.array([o.get_bounds() for o in page.get_objects() if o.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH])
    middle = np.array([8.5, 11.0, 8.5, 11.0]) / 2
    for square in cards.black_squares(NUMBERS[0]):
        miss = np.abs(drawn * POINT - middle - square).max(axis=1).min()
        assert miss < 0.02 * POINT  # 0.0003 in: numbers in the PDF are rounded to some thousandths of a point


def test_black_comes_out_where_the_card_says(printed) -> None:
    # PDFium fills rectangles in whole pixels, so each edge may be up to 1 px (1/300 in) off.
    _, _, page = printed
    for left, bottom, right, top in cards.black_squares(NUMBERS[0]):
        (x1, y1), (x2, y2) = to_px(printed, [(left, top), (right, bottom)])
        assert page[round(y1) + 2 : round(y2) - 1, round(x1) + 2 : round(x2) - 1].max() == 0
    for x, y in cards.saddle_points():
        for row_y, ends in ((y + 0.25, (x - cards.SQUARE, x)), (y - 0.25, (x, x + cards.SQUARE))):
            (a, row), (b, _) = to_px(printed, [(ends[0], row_y), (ends[1], row_y)])
            first, last = black_near(page[round(row)], (a + b) / 2)
            assert (first, last) == pytest.approx((a, b), abs=1.01)


def test_saddle_points_lie_where_the_card_says(printed) -> None:
    # The upper square ends where the lower begins. Each edge may be 1 px off, so their mean may: 1/300 in, 0.05 % of
    # the 6 3/4 in between the columns; the drawing itself is held to a fiftieth of a point above.
    _, _, page = printed
    for saddle in cards.saddle_points():
        ((x, y),) = to_px(printed, [saddle])
        quarter = 0.25 * DPI
        upper, lower = page[round(y - quarter)], page[round(y + quarter)]
        left, right = page[:, round(x - quarter)], page[:, round(x + quarter)]
        across = black_near(upper, x - quarter)[1] + black_near(lower, x + quarter)[0]
        down = black_near(left, y - quarter)[1] + black_near(right, y + quarter)[0]
        assert (across / 2, down / 2) == pytest.approx((x, y), abs=1.01)


def black_near(line: np.ndarray, at: float) -> tuple[float, float]:
    """Where the run of black round `at` begins and ends, px, counting a pixel from -1/2 to 1/2 round its middle."""
    a, b = next((a, b) for a, b in runs(line) if a <= at <= b)
    return a - 0.5, b + 0.5


def runs(line: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of each run of black."""
    padded = np.concatenate([[False], line < 128, [False]])
    changes = np.flatnonzero(np.diff(padded.astype(int)))
    return list(zip(changes[::2], changes[1::2] - 1, strict=True))


def test_the_check_bar_is_six_inches_between_its_ticks(printed) -> None:
    _, _, page = printed
    paper, _, _ = printed
    # The bar is the longest run of black across the sheet; its end ticks cross it and stand above and below it.
    longest = {row: max((b - a for a, b in runs(page[row])), default=0) for row in range(len(page))}
    bar = max(longest, key=longest.get)
    assert bar > len(page) / 2, "below the marker"
    ticks = runs(page[bar - round(0.06 * DPI)])
    middles = [(a + b) / 2 for a, b in ticks if b - a < 0.05 * DPI]
    assert len(middles) == 2
    # Each tick's middle is found to half a pixel: 1/300 in over both, a fifth of the 1/64 in a person reads.
    assert middles[1] - middles[0] == pytest.approx(6.0 * DPI, abs=1.0)
    assert np.mean(middles) == pytest.approx(paper.width / 2 * DPI - 0.5, abs=0.5)


def test_the_upright_check_is_nine_inches_between_the_corner_targets() -> None:
    left = cards.saddle_points()[[0, 2]]
    assert left[0, 1] - left[1, 1] == cards.BAR_UP == 9.0
    assert left[0, 0] == left[1, 0]


def test_the_wording_gives_both_units_of_both_checks() -> None:
    text = sheets("letter")[0].get_textpage().get_text_bounded()
    assert "6 in (152.4 mm)" in text  # 6 × 25.4
    assert "9 in (228.6 mm)" in text  # 9 × 25.4


def test_the_marker_keeps_a_white_border_one_cell_wide(printed) -> None:
    _, _, page = printed
    half, border = cards.MARKER / 2, cards.MARKER / 2 + cards.CELL
    (x1, y1), (x2, y2) = np.round(to_px(printed, [(-border, border), (border, -border)])).astype(int)
    patch = page[y1 : y2 + 1, x1 : x2 + 1].copy()
    (a, b), (c, d) = np.round(to_px(printed, [(-half, half), (half, -half)])).astype(int) - (x1, y1)
    assert patch[b + 2 : d - 1, a + 2].max() == 0, "the marker's own border is black"
    patch[b - 1 : d + 2, a - 1 : c + 2] = 255
    assert patch.min() == 255


def test_everything_keeps_a_quarter_inch_from_the_sheets_edge(printed) -> None:
    # A desktop printer leaves 1/4 in bare all round (common practice, no source).
    _, _, page = printed
    margin = round(0.25 * DPI)
    rim = page.copy()
    rim[margin:-margin, margin:-margin] = 255
    assert rim.min() == 255


def test_targets_touch_nothing_else_printed(printed) -> None:
    # The measured window reaches 1.3 squares from a saddle point; only the sheet's own two squares may be in it.
    _, _, page = printed
    for x, y in cards.saddle_points():
        reach = 1.25 * cards.SQUARE
        (x1, y1), (x2, y2) = np.round(to_px(printed, [(x - reach, y + reach), (x + reach, y - reach)])).astype(int)
        patch = page[y1 : y2 + 1, x1 : x2 + 1]
        turned = patch[::-1, ::-1]
        # Half a turn about the saddle leaves it as it was, but for a pixel of rounding along the edges.
        differ = cv2.erode((np.abs(patch.astype(int) - turned) > 64).astype(np.uint8), np.ones((3, 3)))
        assert not differ.any()


@pytest.fixture(scope="module")
def reader() -> pupil_apriltags.Detector:
    return pupil_apriltags.Detector(families="tag36h11", quad_decimate=1.0)


@pytest.mark.parametrize("number", [1, 2, 3, 17, 100, 255, 256, 400, 586])
def test_another_reader_reads_the_printed_number(reader, number: int) -> None:
    page = raster(sheets("letter", range(number, number + 1))[0], 72)
    found = reader.detect(page)
    assert [(tag.tag_id, tag.hamming) for tag in found] == [(number, 0)]
    # Its middle, in that reader's frame (first pixel's centre at 1/2), is the page's: the card's origin. PDFium fills
    # whole pixels, so opposite edges may each be 1 px off and their middle 1/2 px: 0.007 in at 72 dpi.
    assert found[0].center == pytest.approx((8.5 / 2 * 72, 11 / 2 * 72), abs=0.5)


def test_another_reader_reads_every_number_the_same_way_up(reader) -> None:
    ways = set()
    for number in range(1, cards.LARGEST_NUMBER + 1):
        picture = np.full((120, 120), 255, np.uint8)  # a cell is 10 px; two cells of white round the marker
        for left, bottom, right, top in cards.black_squares(number):
            if abs(left) <= cards.MARKER / 2 + 1e-9 and abs(top) <= cards.MARKER / 2 + 1e-9:
                x1, x2, y1, y2 = (round(60 + v / cards.CELL * 10) for v in (left, right, -top, -bottom))
                picture[y1:y2, x1:x2] = 0
        (tag,) = reader.detect(picture)
        assert (tag.tag_id, tag.hamming) == (number, 0)
        ways.add(tuple((round(x / 40) * 40, round(y / 40) * 40) for x, y in tag.corners - 20))
    # Half a turn from AprilTag's own pictures, as OpenCV draws the whole family; up is the sheet's, not the tag's.
    assert ways == {((80, 0), (0, 0), (0, 80), (80, 80))}


def test_cells_agree_with_opencvs_bits() -> None:
    for number in (1, 299, 586):
        drawn = np.ones((8, 8), int)
        for left, _, _, top in cards.black_squares(number):
            column, row = (left + cards.MARKER / 2) / cards.CELL, (cards.MARKER / 2 - top) / cards.CELL
            if abs(left) < cards.MARKER / 2 + 1e-9 and abs(top) < cards.MARKER / 2 + 1e-9:
                drawn[round(row), round(column)] = 0
        bits = cv2.aruco.Dictionary.getBitsFromByteList(cards.dictionary().bytesList[number : number + 1], 6)
        np.testing.assert_array_equal(drawn, np.pad(bits, 1))


@pytest.mark.parametrize("number", [0, -1, 587])
def test_a_number_that_no_card_has_is_refused(number: int) -> None:
    with pytest.raises(ValueError, match=f"a card's number is 1 to 586 \\(got {number}\\)"):
        cards.black_squares(number)


def test_the_family_has_587_markers() -> None:
    # AprilTag 36h11: 587 codes (Olson 2011; from memory).
    assert len(cards.dictionary().bytesList) == cards.LARGEST_NUMBER + 1 == 587
