import csv
from dataclasses import replace
from fractions import Fraction
from io import StringIO

import pytest

from capture.lengths import Unit
from capture.record import Kind
from report.boxes import ElectricianRow, electrician_rows
from report.tables import MeasuredRow, guarded, measured_rows, verdict_rows, write_csv
from tests.test_report_wall import made_up_plan, made_up_survey


def test_a_measured_row_tells_place_give_size_and_source():
    row = measured_rows(made_up_survey())[0]
    assert (row.number, row.what) == ("1", "receptacle 1")
    assert (row.from_left, row.from_left_give) == ('12 3/8"', '± 1/8"')  # 12.4; 1.96 · 0.05 = 0.098, up to 1/32: 1/8
    assert (row.above_floor, row.size, row.source) == ('16 3/16"', '2 3/4" × 4 1/2"', "photo")


def test_millimetres_come_out_everywhere():
    row = measured_rows(made_up_survey(), Unit.MM)[0]
    assert (row.from_left, row.from_left_give, row.size) == ("315 mm", "± 3 mm", "70 mm × 114 mm")


def test_a_window_tells_its_stool_and_apron():
    row = next(row for row in measured_rows(made_up_survey()) if row.what == "window 1")
    assert 'top of stool 39 5/8" ± 1/8"' in row.note
    assert 'underside of apron 37 1/8" ± 1/8"' in row.note


def test_a_window_without_stool_and_apron_tells_its_casings_lower_edge():
    survey = made_up_survey()
    bare = [replace(f, stool=None, apron=None) for f in survey.features if f.kind is not Kind.FLOOR_POINT]
    rows = {row.what: row.note for row in measured_rows(replace(survey, features=tuple(bare)))}
    assert 'lower edge of casing 39 5/8" ± 1/8" above the floor' in rows.pop("window 1")
    assert not any("lower edge" in note for note in rows.values())


def test_verdict_rows_carry_sign_letter_and_sentence():
    rows = {row.what: row for row in verdict_rows(made_up_plan())}
    assert rows["receptacle 1"].letter == "C"
    assert rows["receptacle 2"].sentence.startswith("Receptacle 2 ")
    assert [row.number for row in rows.values()] == sorted(row.number for row in rows.values())


def test_the_electrician_hears_only_of_wired_boxes_in_the_way():
    plan = made_up_plan()
    rows = electrician_rows(plan)
    assert [row.what for row in rows] == ["receptacle 2"]
    assert rows[0].cable_slack == rows[0].stud == "not known"
    assert rows[0].centre_now == '71 7/8" ± 1/8"'
    assert plan.survey.feature("register 1").kind is Kind.REGISTER


def test_the_move_told_is_the_first_remedy_that_moves_the_box():
    plan = made_up_plan()
    least = next(abs(r.move) for r in plan.remedies["receptacle 2"] if r.move is not None)
    from_row = electrician_rows(plan)[0].least_move
    assert from_row.split('"')[0].replace(" ", "+") in {str(least), _mixed(least)}


def _mixed(length: Fraction) -> str:
    whole, part = divmod(round(length * 16), 16)
    return f"{whole}+{Fraction(part, 16)}"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_cell_can_be_a_formula(start):
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return.
    assert guarded([start + "1+1"]) == ["'" + start + "1+1"]


def test_plain_cells_stay_as_they_are():
    assert guarded(['36 1/2"', "a=b", "", 7]) == ['36 1/2"', "a=b", "", "7"]


def test_csv_reads_back_and_guards_what_people_wrote():
    text = write_csv(MeasuredRow, measured_rows(made_up_survey()))
    rows = list(csv.DictReader(StringIO(text, newline="")))
    assert len(rows) == 7
    assert rows[0]["from left"] == '12 3/8"'
    assert next(row for row in rows if row["what"].startswith("switch 1"))["note"] == "'=three-way"
    assert text.count("\r\n") == 8


def test_no_rows_make_an_empty_file():
    assert write_csv(ElectricianRow, []).startswith("wall,number,what,centre now,")
