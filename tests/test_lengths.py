"""Lengths: what people write, read exactly; what is shown, rounded by a published rule and never flattering."""

import json
import math
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from capture.lengths import (
    LONGEST,
    MM,
    Length,
    LengthError,
    Unit,
    nearest,
    parse_length,
    show_length,
    show_spread,
)  # fmt: skip
from capture.measured import Measured, Source

SIXTEENTH = F(1, 16)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        pytest.param("36", F(36), id="a bare number is inches"),
        pytest.param("0", F(0), id="nothing"),
        pytest.param("36 1/2", F(73, 2), id="a fraction after a space"),
        pytest.param("36-1/2", F(73, 2), id="a fraction after a hyphen"),
        pytest.param('36-1/2"', F(73, 2), id="with the inch mark"),
        pytest.param("36 1/2 in", F(73, 2), id="with in"),
        pytest.param("36 1/2 in.", F(73, 2), id="with in and a stop"),
        pytest.param("36 1/2 Inches", F(73, 2), id="with inches in capitals"),
        pytest.param("1 inch", F(1), id="one inch"),
        pytest.param("36 1/2''", F(73, 2), id="two single quotes for inches"),
        pytest.param("  36   1/2  ", F(73, 2), id="blanks round it"),
        pytest.param("73/2", F(73, 2), id="an improper fraction"),
        pytest.param("3/4", F(3, 4), id="less than an inch"),
        pytest.param("36.5 in", F(73, 2), id="a decimal"),
        pytest.param("36.", F(36), id="a decimal with nothing after the point"),
        pytest.param(".5", F(1, 2), id="a decimal with nothing before the point"),
        pytest.param("36½", F(73, 2), id="a single-glyph fraction"),
        pytest.param("⅞", F(7, 8), id="a single-glyph fraction alone"),
        pytest.param("36 1⁄2", F(73, 2), id="the fraction slash"),
        pytest.param("3'", F(36), id="feet"),
        pytest.param("3 ft", F(36), id="ft"),
        pytest.param("1 foot", F(12), id="one foot"),
        pytest.param("3 feet 6 inches", F(42), id="feet and inches in words"),
        pytest.param("3' 0 1/2\"", F(73, 2), id="feet, inches and a fraction"),
        pytest.param("3'-0 1/2\"", F(73, 2), id="feet and inches joined by a hyphen"),
        pytest.param("3'0½\"", F(73, 2), id="feet and a single-glyph fraction"),
        pytest.param("3′ 6″", F(42), id="typographic primes"),
        pytest.param("3’ 6”", F(42), id="curly quotes"),
        pytest.param("3' 6", F(42), id="inches unmarked after feet"),
        pytest.param("2.5 ft", F(30), id="decimal feet"),
        pytest.param("2 1/2'", F(30), id="feet with a fraction"),
        # The international inch is 25.4 mm exactly (Federal Register 24 FR 5348, 1959).
        pytest.param("25.4 mm", F(1), id="25.4 mm is an inch"),
        pytest.param("2.54cm", F(1), id="2.54 cm is an inch"),
        pytest.param("0.0254 m", F(1), id="0.0254 m is an inch"),
        pytest.param("304.8 MM", F(12), id="a foot in capitals"),
        pytest.param("25,4 mm", F(1), id="a decimal comma"),
        pytest.param("2,5400 cm", F(1), id="a decimal comma before four digits"),
        pytest.param("304.8 m", F(12_000), id="1,000 ft is the longest"),
        # ISO/IEC 7810 ID-1, 85.60 mm (encyclopedia article on the standard): 3.370 in.
        pytest.param("85.60 mm", F(8560, 2540), id="a bank card's width"),
    ],
)
def test_reads_what_people_write(text: str, inches: F) -> None:
    assert parse_length(text) == inches


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="nothing"),
        pytest.param("   ", id="blanks"),
        pytest.param("about 36", id="words"),
        pytest.param("36 1/0", id="a zero denominator"),
        pytest.param("31 3/18", id="eighteenths, which no tape has"),
        pytest.param("3' 4 5/7", id="sevenths after feet"),
        pytest.param("31 18/16", id="more than an inch beside inches"),
        pytest.param("3' 1/0\"", id="a zero denominator after feet"),
        pytest.param("1/0 ft", id="a zero denominator in feet"),
        pytest.param("-3", id="a negative length"),
        pytest.param("36 1/-2", id="a negative denominator"),
        pytest.param("36 1 / 2", id="blanks inside the fraction"),
        pytest.param("1,234", id="a thousands comma could be a decimal comma"),
        pytest.param("1,234 mm", id="a comma that may mean thousands"),
        pytest.param("36 37", id="two numbers"),
        pytest.param("36..5", id="two points"),
        pytest.param("36.5 1/2", id="a decimal and a fraction"),
        pytest.param("12 yd", id="an unknown unit"),
        pytest.param("in", id="a unit alone"),
        pytest.param("nan", id="not a number"),
        pytest.param("inf", id="infinity"),
        pytest.param("1e3", id="an exponent"),
        pytest.param("36½½", id="two single-glyph fractions"),
        pytest.param("36\x001", id="a null byte"),
    ],
)
def test_refuses_what_is_not_a_length_and_shows_how_to_write_one(text: str) -> None:
    with pytest.raises(
        LengthError, match=r"is not a length; write it like 36 1/2, 36-1/2\", 3' 0 1/2\", 36.5 in, 927 mm"
    ):
        parse_length(text)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("12000 1/16", id="a sixteenth over 1,000 ft"),
        pytest.param("1001 ft", id="a foot over"),
        pytest.param("304.9 m", id="a tenth of a metre over"),
        pytest.param("9" * 40, id="as many digits as fit"),
    ],
)
def test_refuses_more_than_a_thousand_feet(text: str) -> None:
    with pytest.raises(LengthError, match="is over 1,000 ft; check the unit"):
        parse_length(text)


def test_refuses_a_text_too_long_and_shows_only_its_beginning() -> None:
    with pytest.raises(LengthError, match=r"“1{40}…” is too long for a length"):
        parse_length("1" * 100_000)


@given(st.text() | st.text(alphabet="0123456789 /.,'\"-½⅞mcinft٣²𝟗", max_size=45))
def test_any_text_is_a_length_or_a_plain_refusal(text: str) -> None:
    try:
        length = parse_length(text)
    except LengthError:
        return
    assert 0 <= length <= LONGEST


# Decimal equivalents as NIST and Machinery's Handbook print them (from memory): in, decimal, mm to 4 places.
@pytest.mark.parametrize(
    ("fraction", "decimal", "mm"),
    [
        ("1/64", "0.015625", "0.3969"),
        ("1/32", "0.03125", "0.7937"),
        ("1/16", "0.0625", "1.5875"),
        ("7/64", "0.109375", "2.7781"),
        ("1/8", "0.125", "3.1750"),
        ("3/16", "0.1875", "4.7625"),
        ("1/4", "0.25", "6.3500"),
        ("19/64", "0.296875", "7.5406"),
        ("3/8", "0.375", "9.5250"),
        ("1/2", "0.5", "12.7000"),
        ("37/64", "0.578125", "14.6844"),
        ("11/16", "0.6875", "17.4625"),
        ("3/4", "0.75", "19.0500"),
        ("27/32", "0.84375", "21.4312"),
        ("63/64", "0.984375", "25.0031"),
    ],
)
def test_agrees_with_the_table_of_decimal_equivalents(fraction: str, decimal: str, mm: str) -> None:
    assert parse_length(fraction) == parse_length(decimal)
    assert abs(parse_length(fraction) / MM - F(mm)) <= F(5, 100_000)  # half a unit of the table's last place


# NIST Handbook 44, section 10.3: half-way between two graduations is read as the even one.
@pytest.mark.parametrize(
    ("length", "read"),
    [
        pytest.param("1/32", "0", id="between 0 and 1/16"),
        pytest.param("3/32", "1/8", id="between 1/16 and 2/16"),
        pytest.param("5/32", "1/8", id="between 2/16 and 3/16"),
        pytest.param("7/32", "1/4", id="between 3/16 and 4/16"),
        pytest.param("36 31/32", "37", id="between 15/16 and the next inch"),
        pytest.param("7/64", "1/8", id="no tie: the nearer one"),
    ],
)
def test_a_tie_goes_to_the_even_graduation(length: str, read: str) -> None:
    assert nearest(parse_length(length), SIXTEENTH) == parse_length(read)


@given(st.fractions(min_value=0, max_value=12_000, max_denominator=10_000), st.sampled_from([16, 32, 64]))
def test_the_nearest_graduation_is_within_half_a_step(length: F, per_inch: int) -> None:
    read = nearest(length, F(1, per_inch))
    assert (read * per_inch).denominator == 1
    assert abs(read - length) <= F(1, 2 * per_inch)


@pytest.mark.parametrize(
    ("length", "unit", "text"),
    [
        pytest.param(F(73, 2), Unit.INCH, '36 1/2"', id="a mixed number"),
        pytest.param(F(36), Unit.INCH, '36"', id="whole inches"),
        pytest.param(F(3, 4), Unit.INCH, '3/4"', id="less than an inch"),
        pytest.param(F(0), Unit.INCH, '0"', id="nothing"),
        pytest.param(F(-73, 2), Unit.INCH, '-36 1/2"', id="below the datum"),
        pytest.param(F(-1, 64), Unit.INCH, '0"', id="no minus on nothing"),
        pytest.param(36.49, Unit.INCH, '36 1/2"', id="a float"),
        pytest.param(F(31, 16) + F(1, 33), Unit.INCH, '1 15/16"', id="just under half a step"),
        pytest.param(F(927, 1) * MM, Unit.MM, "927 mm", id="millimetres"),
        pytest.param(F(1), Unit.MM, "25 mm", id="25.4 mm is shown as 25"),
    ],
)
def test_shows_a_length(length: F | float, unit: Unit, text: str) -> None:
    assert show_length(length, unit) == text


@given(st.integers(0, 12_000 * 64))
def test_what_is_shown_to_a_64th_reads_back_as_it_was(sixty_fourths: int) -> None:
    length = F(sixty_fourths, 64)
    assert parse_length(show_length(length, step=F(1, 64))) == length


@given(st.integers(0, 304_800))
def test_what_is_shown_in_millimetres_reads_back_as_it_was(mm: int) -> None:
    assert parse_length(show_length(mm * MM, Unit.MM)) == mm * MM


@given(st.fractions(min_value=0, max_value=12_000, max_denominator=10**6))
def test_what_is_shown_is_within_a_32nd(length: F) -> None:
    assert abs(parse_length(show_length(length)) - length) <= F(1, 32)


@given(st.floats(0, 100), st.sampled_from(Unit))
def test_a_plus_or_minus_never_claims_too_much_nor_a_step_too_little(spread: float, unit: Unit) -> None:
    shown = parse_length(show_spread(spread, unit).removeprefix("± "))
    step = MM if unit is Unit.MM else F(1, 32)
    assert shown >= step  # no reading is perfect
    assert F(spread) <= shown < max(F(spread) + step, 2 * step)


@pytest.mark.parametrize(
    ("spread", "unit", "text"),
    [
        pytest.param(0.0, Unit.INCH, '± 1/32"', id="never nothing"),
        pytest.param(0.03125, Unit.INCH, '± 1/32"', id="a 32nd exactly"),
        pytest.param(0.0313, Unit.INCH, '± 1/16"', id="a hair over a 32nd"),
        pytest.param(1.2, Unit.INCH, '± 1 7/32"', id="over an inch"),
        pytest.param(0.05, Unit.MM, "± 2 mm", id="1.27 mm goes up"),
    ],
)
def test_shows_a_plus_or_minus(spread: float, unit: Unit, text: str) -> None:
    assert show_spread(spread, unit) == text


def test_a_measured_length_shows_its_95_percent_interval() -> None:
    measured = Measured(36.5, 0.05, Source.PHOTO)
    # The standard normal distribution has 95 % within ±1.96: 2 Φ(1.96) - 1 = erf(1.96 / √2) = 0.95.
    assert math.erf(measured.spread / measured.sd / math.sqrt(2)) == pytest.approx(0.95, abs=1e-7)
    assert measured.show() == '36 1/2" ± 1/8"'  # 0.098 goes up to 4/32
    assert measured.show(Unit.MM) == "927 mm ± 3 mm"  # 927.1 and 2.49


class Board(BaseModel):
    width: Length


@given(st.fractions(min_value=0, max_value=12_000, max_denominator=10**6))
def test_a_stored_length_comes_back_exactly(length: F) -> None:
    assert Board.model_validate_json(Board(width=length).model_dump_json()).width == length


def test_a_length_is_stored_as_text_that_a_person_can_read() -> None:
    assert json.loads(Board(width=F(73, 2)).model_dump_json()) == {"width": "73/2"}


@pytest.mark.parametrize(
    ("stored", "sentence"),
    [
        pytest.param(36.5, "a length is stored as text such as “73/2”, not as 36.5", id="a float"),
        pytest.param(36, "a length is stored as text such as “73/2”, not as 36", id="a whole number"),
        pytest.param(None, "a length is stored as text such as “73/2”, not as None", id="nothing"),
        pytest.param("wide", "“wide” is not a length", id="a word"),
    ],
)
def test_a_stored_length_that_is_no_text_of_a_length_is_refused(stored: object, sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        Board.model_validate({"width": stored})
