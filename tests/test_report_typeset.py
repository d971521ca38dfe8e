from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from report.typeset import css_text, lettered, long_date, printable, sentence, typeset

HOLD = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("plain", "paper"),
    [
        pytest.param('36 13/16"', f"36{HOLD}13⁄16″", id="whole and fraction hold together"),
        pytest.param('7/8"', "7⁄8″", id="fraction alone"),
        pytest.param('48"', "48″", id="whole inches"),
        pytest.param("6' 2\"", "6′ 2″", id="feet and inches"),
        pytest.param('-3/16"', "−3⁄16″", id="below nothing"),
        pytest.param('± 1/8"', f"±{HOLD}1⁄8″", id="plus or minus stays with its length"),
        pytest.param("927 mm", f"927{HOLD}mm", id="millimetres"),
        pytest.param("24/11/2026", "24/11/2026", id="a date is no fraction"),
        pytest.param("wall's end", "wall's end", id="an apostrophe is no foot"),
        pytest.param("the “1940's” trim", "the “1940's” trim", id="nor after a year"),
        pytest.param("bell \x07 here", "bell  here", id="no control characters"),
        pytest.param("lone \ud800", "lone ", id="no lone surrogates"),
    ],
)
def test_lengths_are_set_for_paper(plain, paper):
    assert typeset(plain) == paper


@pytest.mark.parametrize(
    ("plain", "drawn"),
    [
        pytest.param('36 13/16"', f"36{HOLD}¹³⁄₁₆″", id="raised and lowered figures"),
        pytest.param("3/4\" = 1'", "³⁄₄″ = 1′", id="a scale"),
        pytest.param('143"', "143″", id="whole inches"),
    ],
)
def test_drawings_letter_fractions_with_small_figures(plain, drawn):
    assert lettered(plain) == drawn


@given(st.text())
def test_nothing_that_xml_forbids_is_left(text):
    # XML 1.0, section 2.2: control characters and surrogates are no characters.
    assert not any(ord(c) < 32 or 0xD800 <= ord(c) <= 0xDFFF for c in printable(text))


def test_a_style_string_cannot_be_left():
    assert '"' not in css_text('"; } body { display: none } \\')
    assert css_text("North 1") == "North 1"
    assert css_text('"') == "\\000022 "
    assert css_text("a, b") == "a\\00002c  b"  # the first space ends the escape (CSS Syntax 3, 4.3.7)


@pytest.mark.parametrize(("note", "told"), [("a note", "A note."), ("Done.", "Done."), ("", ".")])
def test_a_note_becomes_a_sentence(note, told):
    assert sentence(note) == told


def test_dates_are_told_in_words():
    assert long_date(date(2026, 11, 5)) == "5 November 2026"
    assert long_date(None) == "not recorded"
