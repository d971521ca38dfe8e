"""Photos in: whatever the file, either upright pixels or one plain sentence."""

import io
import re
import struct
import tracemalloc
import warnings
import zlib
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image, ImageFile

from capture.photos import LEAST_SIDE, PhotoError, Picture, focal_prior, read_photo

RED, GREEN, BLUE, WHITE = (230, 30, 30), (30, 200, 30), (30, 30, 230), (240, 240, 240)
WIDTH, HEIGHT = 96, 64


def scene() -> Image.Image:
    """Upright: red top left, green top right, blue bottom left, white bottom right; wider than high."""
    pixels = np.empty((HEIGHT, WIDTH, 3), np.uint8)
    pixels[:32, :48], pixels[:32, 48:], pixels[32:, :48], pixels[32:, 48:] = RED, GREEN, BLUE, WHITE
    return Image.fromarray(pixels)


def file_of(image: Image.Image, format_="JPEG", **options) -> bytes:
    out = io.BytesIO()
    image.save(out, format_, **options)
    return out.getvalue()


def exif(orientation=None, details=None, make=None, model=None) -> Image.Exif:
    tags = Image.Exif()
    for tag, value in ((0x0112, orientation), (0x010F, make), (0x0110, model)):
        if value is not None:
            tags[tag] = value
    tags.get_ifd(0x8769).update(details or {})
    return tags


def assert_upright(picture: Picture) -> None:
    assert picture.size == (WIDTH, HEIGHT)
    # Middle of each quarter; JPEG and HEIC at their usual quality keep flat colour to a few levels, and the colours
    # differ by over 150.
    corners = picture.rgb[[[16, 16], [48, 48]], [[24, 72], [24, 72]]].astype(int)
    assert np.abs(corners - [[RED, GREEN], [BLUE, WHITE]]).max() < 30


# Exif orientation (Exif 2.32, as the jpegexiforient manual page lists it): where the stored row 0 and column 0 are in
# the upright picture. Stored from upright by hand: transpose first where rows are columns, then flip each axis.
ORIENTATIONS = [
    pytest.param(1, "top", "left", id="1 upright"),
    pytest.param(2, "top", "right", id="2 mirrored"),
    pytest.param(3, "bottom", "right", id="3 upside down"),
    pytest.param(4, "bottom", "left", id="4 mirrored upside down"),
    pytest.param(5, "left", "top", id="5 transposed"),
    pytest.param(6, "right", "top", id="6 to be turned clockwise"),
    pytest.param(7, "right", "bottom", id="7 transverse"),
    pytest.param(8, "left", "bottom", id="8 to be turned anticlockwise"),
]


def stored(row_0: str, column_0: str) -> Image.Image:
    pixels = np.asarray(scene())
    if row_0 in ("left", "right"):
        pixels = pixels.transpose(1, 0, 2)
    if row_0 in ("right", "bottom"):
        pixels = pixels[::-1]
    if column_0 in ("right", "bottom"):
        pixels = pixels[:, ::-1]
    return Image.fromarray(np.ascontiguousarray(pixels))


@pytest.mark.parametrize(("value", "row_0", "column_0"), ORIENTATIONS)
@pytest.mark.parametrize("format_", ["JPEG", "PNG"])
def test_every_orientation_comes_out_upright(format_: str, value: int, row_0: str, column_0: str) -> None:
    assert_upright(read_photo(file_of(stored(row_0, column_0), format_, exif=exif(value)), "wall"))


@pytest.mark.parametrize(("value", "row_0", "column_0"), ORIENTATIONS)
def test_a_heic_comes_out_upright_once(value: int, row_0: str, column_0: str) -> None:
    assert_upright(read_photo(file_of(stored(row_0, column_0), "HEIF", exif=exif(value).tobytes(), quality=95), "wall"))


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_an_unknown_orientation_is_taken_as_upright(value: int) -> None:
    assert_upright(read_photo(file_of(scene(), exif=exif(value)), "wall"))


def sixteen_bit_png() -> bytes:
    """An RGB PNG of 16 bits a channel, which Pillow does not write."""
    rows = (np.asarray(scene()).astype(">u2") * 257).reshape(HEIGHT, -1)
    raw = b"".join(b"\0" + row.tobytes() for row in rows)
    return png((WIDTH, HEIGHT), zlib.compress(raw), depth=16)


def png(size: tuple[int, int], data: bytes, depth=8) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", *size, depth, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(file_of(scene()), id="JPEG"),
        pytest.param(file_of(scene(), progressive=True), id="progressive JPEG"),
        pytest.param(file_of(scene(), "MPO", save_all=True, append_images=[scene().rotate(180)]), id="MPO"),
        pytest.param(file_of(scene(), "PNG"), id="PNG"),
        pytest.param(file_of(scene().quantize(16), "PNG"), id="palette PNG"),
        pytest.param(file_of(scene().convert("RGBA"), "PNG"), id="PNG with alpha"),
        pytest.param(sixteen_bit_png(), id="16-bit PNG"),
        pytest.param(file_of(scene(), "HEIF", quality=95), id="HEIC"),
        pytest.param(file_of(scene().convert("CMYK"), quality=95), id="CMYK JPEG"),
    ],
)
def test_reads_every_kind_of_colour_file(data: bytes) -> None:
    assert_upright(read_photo(data, "wall"))


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(file_of(scene().convert("L")), id="grey JPEG"),
        pytest.param(file_of(scene().convert("LA"), "PNG"), id="grey PNG with alpha"),
        pytest.param(
            file_of(Image.fromarray(np.asarray(scene().convert("L")).astype(np.uint16) * 257), "PNG"),
            id="16-bit grey PNG",
        ),
    ],
)
def test_reads_grey_files_at_their_own_brightness(data: bytes) -> None:
    picture = read_photo(data, "wall")
    luma = np.asarray(scene().convert("L")).astype(int)[[16, 16, 48, 48], [24, 72, 24, 72]]
    assert np.abs(picture.gray.astype(int)[[16, 16, 48, 48], [24, 72, 24, 72]] - luma).max() <= 3  # JPEG's rounding


def test_a_transparent_part_is_not_burnt_in_as_colour() -> None:
    picture = read_photo(file_of(scene().convert("RGBA"), "PNG"), "wall")
    np.testing.assert_array_equal(picture.rgb, np.asarray(scene()))


DAMAGED = r"^“wall.jpg” is damaged or cut short and cannot be read; copy it from the phone again\.$"
NO_PHOTO = r"^“wall.jpg” is not a JPEG, PNG or HEIC photo; send the file as the phone took it\.$"
TOO_MANY = r"^“wall.jpg” has more than 50 megapixels; set the phone to 12 or 50 megapixels and take it again\.$"


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(b"", id="nothing"),
        pytest.param(b"\0" * 1000, id="nulls"),
        pytest.param(b"Dear sir, the wall is 12 ft long.", id="a letter"),
        pytest.param(b"<svg xmlns='http://www.w3.org/2000/svg'/>", id="SVG"),
        pytest.param(b"%PDF-1.7", id="PDF"),
        pytest.param(file_of(scene(), "GIF"), id="GIF"),
        pytest.param(file_of(scene(), "TIFF"), id="TIFF"),
        pytest.param(file_of(scene(), "BMP"), id="BMP"),
        pytest.param(file_of(scene())[:2], id="two bytes of a JPEG"),
    ],
)
def test_says_what_is_no_photo(data: bytes) -> None:
    with pytest.raises(PhotoError, match=NO_PHOTO):
        read_photo(data, "wall.jpg")


@pytest.mark.parametrize("format_", ["JPEG", "PNG", "HEIF"])
def test_a_file_cut_short_is_told_wherever_it_was_cut(monkeypatch, format_: str) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as WeasyPrint leaves it
    noise = Image.fromarray(np.random.default_rng(1).integers(0, 256, (HEIGHT, WIDTH, 3)).astype(np.uint8))
    data = file_of(noise, format_, exif=exif(6, {0xA405: 26}).tobytes())
    for keep in np.linspace(0, 0.95 * len(data), 40).astype(int):
        with pytest.raises(PhotoError, match=f"({DAMAGED})|({NO_PHOTO})"):
            read_photo(data[:keep], "wall.jpg")


@pytest.mark.parametrize("format_", ["JPEG", "PNG", "HEIF", "MPO"])
def test_flipped_bits_give_a_picture_or_a_plain_sentence(format_: str) -> None:
    rng = np.random.default_rng(7)
    options = {"save_all": True, "append_images": [scene()]} if format_ == "MPO" else {}
    data = np.frombuffer(file_of(scene(), format_, exif=exif(6, {0xA405: 26}, "M").tobytes(), **options), np.uint8)
    outcomes = []
    for _ in range(100):
        broken = data.copy()
        # Half of them in the first 300 bytes, where headers and EXIF are.
        at = rng.integers(0, len(data) if rng.random() < 0.5 else 300, 3)
        broken[at] ^= (1 << rng.integers(0, 8, 3)).astype(np.uint8)
        try:
            outcomes.append(read_photo(broken.tobytes(), "wall.jpg").rgb.ndim)
        except PhotoError as error:
            outcomes.append(str(error))
    sentences = {outcome for outcome in outcomes if outcome != 3}
    assert len(sentences) < len(set(outcomes)), "some pictures can still be read"
    assert sentences, "and some cannot"
    for sentence in sentences:
        assert re.fullmatch("“wall.jpg” [^.]+[.]", sentence)


@pytest.mark.parametrize(
    ("size", "shown"),
    [
        pytest.param((1, 1), "1 × 1", id="one pixel"),
        pytest.param((LEAST_SIDE - 1, 400), "63 × 400", id="a pixel too narrow"),
        pytest.param((160, 40), "160 × 40", id="a thumbnail"),
    ],
)
def test_a_preview_is_refused(size: tuple[int, int], shown: str) -> None:
    with pytest.raises(PhotoError, match=f"^“wall.jpg” is only {shown} pixels; send the full photo, not a preview"):
        read_photo(file_of(Image.new("RGB", size)), "wall.jpg")


def test_the_smallest_photo_is_read() -> None:
    assert read_photo(file_of(Image.new("RGB", (LEAST_SIDE, LEAST_SIDE))), "wall").size == (LEAST_SIDE, LEAST_SIDE)


def jpeg_claiming(size: tuple[int, int]) -> bytes:
    """A small JPEG whose frame header says `size`."""
    data = bytearray(file_of(scene()))
    at = data.index(b"\xff\xc0")  # SOF0: marker, length, precision, height, width (ITU-T T.81, B.2.2)
    data[at + 5 : at + 9] = struct.pack(">HH", size[1], size[0])
    return bytes(data)


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(jpeg_claiming((20_000, 20_000)), id="a JPEG that says 20,000 × 20,000"),
        pytest.param(png((20_000, 20_000), zlib.compress(b"\0" * 1000)), id="a PNG that says 20,000 × 20,000"),
        pytest.param(png((2**31 - 1, 2**31 - 1), b""), id="a PNG as large as one can say"),
        pytest.param(jpeg_claiming((16_320, 12_240)), id="a 200 megapixel photo"),
        pytest.param(jpeg_claiming((10_000, 5_001)), id="10,000 pixels over 50 megapixels"),
    ],
)
def test_too_many_pixels_are_refused_before_any_is_decoded(data: bytes) -> None:
    tracemalloc.start()
    try:
        with pytest.raises(PhotoError, match=TOO_MANY):
            read_photo(data, "wall.jpg")
        assert tracemalloc.get_traced_memory()[1] < 5_000_000
    finally:
        tracemalloc.stop()


def test_fifty_megapixels_are_within_the_limit() -> None:
    # The header is taken; that its data then ends at once is another matter, and told as such.
    with pytest.raises(PhotoError, match=DAMAGED):
        read_photo(png((10_000, 5_000), zlib.compress(b"")), "wall.jpg")


def test_reads_lens_phone_and_time() -> None:
    details = {0xA405: 26, 0x9003: "2026:05:04 13:02:59"}
    picture = read_photo(file_of(scene(), exif=exif(1, details, "Maker", "Phone 9")), "wall")
    assert (picture.focal_35, picture.phone, picture.taken) == (26.0, "Maker Phone 9", datetime(2026, 5, 4, 13, 2, 59))


def test_a_photo_without_exif_says_nothing_of_them() -> None:
    picture = read_photo(file_of(scene()), "wall")
    assert (picture.focal_35, picture.phone, picture.taken) == (None, "", None)


@pytest.mark.parametrize(
    "details",
    [
        pytest.param({0xA405: 0}, id="focal length 0, which means unknown"),
        pytest.param({0xA405: 4}, id="focal length too short to be one"),
        pytest.param({0xA405: 65535}, id="focal length too long to be one"),
        pytest.param({0xA405: "wide"}, id="focal length in words"),
        pytest.param({0xA405: b"\xff\xfe\x00"}, id="focal length of odd bytes"),
        pytest.param({0x9003: "2026:13:45 99:99:99"}, id="a date that is none"),
        pytest.param({0x9003: "0000:00:00 00:00:00"}, id="the date of a clock never set"),
        pytest.param({0x9003: "   "}, id="a blank date"),
        pytest.param({0x9003: "x" * 60_000}, id="a date of 60,000 letters"),
    ],
)
def test_hostile_exif_is_passed_over(details: dict[int, object]) -> None:
    picture = read_photo(file_of(scene(), "PNG", exif=exif(1, details)), "wall")
    assert (picture.focal_35, picture.taken) == (None, None)
    assert_upright(picture)


def test_a_rational_with_zero_below_is_passed_over() -> None:
    # Focal length 26/0 as an Exif rational (type 5), put together by hand: Pillow writes no such thing.
    ifd0 = struct.pack("<H", 1) + struct.pack("<HHII", 0x8769, 4, 1, 26) + struct.pack("<I", 0)
    details = struct.pack("<H", 1) + struct.pack("<HHII", 0xA405, 5, 1, 44) + struct.pack("<I", 0)
    body = b"II*\0" + struct.pack("<I", 8) + ifd0 + details + struct.pack("<II", 26, 0)
    picture = read_photo(file_of(scene(), exif=b"Exif\0\0" + body), "wall")
    assert picture.focal_35 is None
    assert_upright(picture)


def test_a_huge_phone_name_is_cut() -> None:
    picture = read_photo(file_of(scene(), "PNG", exif=exif(1, None, "M" * 60_000, "x" * 60_000)), "wall")
    assert picture.phone == "M" * 80


def test_a_phones_name_is_text_without_nulls_or_line_breaks() -> None:
    picture = read_photo(file_of(scene(), "PNG", exif=exif(1, None, "Ma\nker\0\0", "Phone\x1b9 ")), "wall")
    assert picture.phone == "Maker Phone9"


@pytest.mark.parametrize(
    ("focal", "by_width", "by_diagonal"),
    # 4032 × 3024: focal / 36 mm × 4032 and focal / 43.2666 mm × 5040 (derived; the diagonal rule is CIPA's).
    [(26, "2912.0", "3028.7"), (24, "2688.0", "2795.7"), (28, "3136.0", "3261.6")],
)
def test_the_focal_length_lies_between_the_rules_of_width_and_diagonal(focal, by_width, by_diagonal) -> None:
    mean, sd = focal_prior((4032, 3024), float(focal))
    assert mean == pytest.approx(float((Fraction(by_width) + Fraction(by_diagonal)) / 2), abs=0.05)
    assert mean - sd < float(by_width) < float(by_diagonal) < mean + sd
    assert focal_prior((3024, 4032), float(focal)) == (mean, sd)  # held upright


def test_an_unknown_focal_length_is_taken_as_a_main_lens_loosely() -> None:
    known, unknown = focal_prior((4032, 3024), 26.0), focal_prior((4032, 3024), None)
    assert unknown[0] == known[0]
    # 15 %: phone main lenses run from 23 to 30 mm equivalent (common practice, no source).
    for usual in (23.0, 30.0):
        assert abs(focal_prior((4032, 3024), usual)[0] - unknown[0]) < 1.1 * unknown[1]


@pytest.mark.parametrize("value", [pytest.param(v, id=f"orientation {v}") for v in range(1, 9)])
@pytest.mark.parametrize("format_", ["JPEG", "PNG", "HEIF"])
def test_the_cameras_full_size_is_turned_upright_with_the_picture(format_: str, value: int) -> None:
    row_0, column_0 = ORIENTATIONS[value - 1].values[1:]
    raw = stored(row_0, column_0)
    tags = exif(value, {0xA002: raw.width, 0xA003: raw.height})
    picture = read_photo(file_of(raw, format_, exif=tags.tobytes()), "wall")
    assert (picture.full_size, picture.resized) == ((WIDTH, HEIGHT), False)


@pytest.mark.parametrize(
    ("full", "resized"),
    [
        pytest.param((WIDTH, HEIGHT), False, id="whole"),
        pytest.param((HEIGHT, WIDTH), False, id="turned by a program that left the tags"),
        pytest.param((WIDTH + 1, HEIGHT), True, id="cropped by a pixel"),
        pytest.param((4 * WIDTH, 4 * HEIGHT), True, id="a small copy"),
    ],
)
def test_a_cropped_or_scaled_photo_is_known_by_its_tags(full: tuple[int, int], resized: bool) -> None:
    picture = read_photo(file_of(scene(), exif=exif(1, {0xA002: full[0], 0xA003: full[1]})), "wall")
    assert (picture.full_size, picture.resized) == (full, resized)


@pytest.mark.parametrize(
    ("details", "zoom"),
    [
        pytest.param({}, 1.0, id="no tag"),
        pytest.param({0xA404: 0.0}, 1.0, id="0, which means not used (Exif 2.32, 4.6.5)"),
        pytest.param({0xA404: 1.0}, 1.0, id="1"),
        pytest.param({0xA404: 2.5}, 2.5, id="zoomed"),
        pytest.param({0xA404: "twice"}, 1.0, id="words"),
    ],
)
def test_reads_the_digital_zoom(details: dict[int, object], zoom: float) -> None:
    picture = read_photo(file_of(scene(), "PNG", exif=exif(1, details)), "wall")
    assert picture.zoom == pytest.approx(zoom)


@pytest.mark.parametrize(
    "details",
    [
        pytest.param({}, id="no tags"),
        pytest.param({0xA002: 4032}, id="one of two"),
        pytest.param({0xA002: 0, 0xA003: 0}, id="nothing by nothing"),
        pytest.param({0xA002: "wide", 0xA003: "high"}, id="words"),
    ],
)
def test_a_full_size_that_the_tags_do_not_tell_is_none(details: dict[int, object]) -> None:
    picture = read_photo(file_of(scene(), "PNG", exif=exif(1, details)), "wall")
    assert (picture.full_size, picture.resized) == (None, False)


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(file_of(scene(), quality=95), id="JPEG"),
        pytest.param(file_of(scene(), quality=95, exif=exif(6)), id="JPEG to be turned"),
        pytest.param(file_of(scene(), quality=95, keep_rgb=True), id="JPEG of red, green, blue"),
        pytest.param(file_of(scene(), "MPO", save_all=True, append_images=[scene()]), id="MPO"),
        pytest.param(file_of(scene().convert("CMYK"), quality=95), id="CMYK JPEG"),
        pytest.param(file_of(scene().convert("L")), id="grey JPEG"),
        pytest.param(file_of(scene(), "PNG"), id="PNG"),
        pytest.param(file_of(scene(), "HEIF", quality=95), id="HEIC"),
        pytest.param(sixteen_bit_png(), id="16-bit PNG"),
    ],
)
def test_luma_alone_is_the_same_luma(data: bytes) -> None:
    whole, luma = read_photo(data, "wall"), read_photo(data, "wall", colour=False)
    assert (luma.size, luma.gray.shape) == (whole.size, whole.size[::-1])
    middle = (slice(8, 24), slice(8, 40)) if luma.size == (WIDTH, HEIGHT) else (slice(8, 40), slice(8, 24))
    # Y of the file against Y of its RGB: each of three conversions rounds to a level (ITU-T T.871, section 7).
    assert np.abs(luma.gray[middle].astype(int) - whole.gray[middle]).max() <= 3
    assert luma.rgb.shape == whole.rgb.shape


def test_photos_read_at_once_leave_no_trace_among_the_warnings() -> None:
    before = list(warnings.filters)
    data = [file_of(scene(), format_) for format_ in ("JPEG", "PNG", "HEIF") * 20]
    with ThreadPoolExecutor(8) as pool:
        for picture in pool.map(lambda one: read_photo(one, "wall"), data):
            assert_upright(picture)
    assert warnings.filters == before
