"""Tables that leave, read back as a spreadsheet reads them."""

import csv
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook

from projects.site.exports import csv_bytes, xlsx_bytes
from projects.site.sheets import harmless


def csv_rows(data):
    return list(csv.reader(StringIO(data.decode("utf-8-sig"), newline="")))


def sheet(data):
    return load_workbook(BytesIO(data)).active


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_a_cell_that_would_run_is_made_harmless(text):
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("text", ["frame", "1 × 2.5", "µm", "", "a=b", "'tis"])
def test_a_plain_cell_stays_as_it_is(text):
    assert harmless(text) == text


def test_numbers_and_dates_stay_what_they_are():
    row = [Decimal("-12.50"), -3, date(2026, 8, 31), None, Decimal("1E+3")]
    assert csv_rows(csv_bytes(["a"], [row]))[1] == ["-12.50", "-3", "2026-08-31", "", "1000"]
    read = [cell.value for cell in sheet(xlsx_bytes(["a"], [row]))[2]]
    assert read[:2] == [-12.5, -3]
    assert (read[2].date(), read[3:]) == (date(2026, 8, 31), [None, 1000])


def test_text_in_a_workbook_is_text_whatever_it_looks_like():
    cells = sheet(xlsx_bytes(["=A1"], [["=1+1"], ["007"], ["#REF!"]]))["A"]
    assert [(cell.value, cell.data_type) for cell in cells] == [
        ("'=A1", "s"), ("'=1+1", "s"), ("007", "s"), ("#REF!", "s"),
    ]  # fmt: skip


def test_signs_that_no_spreadsheet_holds_are_left_out():
    assert sheet(xlsx_bytes(["a"], [["be\x00d\x0b"]]))["A2"].value == "bed"


def test_the_heading_stays_in_view_and_a_hidden_column_is_out_of_sight():
    written = sheet(xlsx_bytes(["a", "key"], [["bed", "k"]], hidden=["key"]))
    assert written.freeze_panes == "A2"
    assert (written.column_dimensions["A"].hidden, written.column_dimensions["B"].hidden) == (False, True)
