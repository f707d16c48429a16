"""A quote sheet goes out, is filled, and comes back."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from projects.buying.exports.quote_sheet import write_request
from projects.buying.imports.quote_sheet import read_request
from projects.site.imports.tables import NotATable, read_table
from projects.site.sheets import QuoteLine

ASKED = QuoteLine(
    "k-1", "bed", "M-100", "B", "casting", "grey iron", Decimal("12.5"), ((1, None), (5, None), (20, None))
)
FORMS = ("csv", "xlsx")


def filled(line=ASKED, **answer):
    prices = answer.pop("prices", (Decimal("58.50"), None, Decimal("48.125")))
    return replace(line, prices=tuple(zip((1, 5, 20), prices, strict=True)), **answer)


def by_hand(**cells):
    """A CSV as a supplier might type it: column=value, "_" for a space."""
    names = [name.replace("_", " ").replace("set up", "set-up") for name in cells]
    return "\n".join([";".join(names), ";".join(cells.values())]).encode()


def read_back(data):
    return read_request(read_table(data))


def faults(data):
    return [str(error) for error in read_back(data).errors]


@pytest.mark.parametrize("form", FORMS)
def test_the_sheet_asks_what_is_asked(form):
    table = read_table(write_request([ASKED], "GBP", form))
    assert table.columns == (
        "part", "number", "revision", "process", "material", "mass kg", "drawing", "price at 1 gbp", "price at 5 gbp",
        "price at 20 gbp", "set-up gbp", "tooling gbp", "least quantity", "lead time days", "valid until", "remark",
        "key",
    )  # fmt: skip
    assert table.rows[0].text("number") == "M-100"


def test_in_a_workbook_the_key_is_out_of_sight():
    sheet = load_workbook(BytesIO(write_request([ASKED], "GBP", "xlsx"))).active
    assert [dimension.hidden for _, dimension in sorted(sheet.column_dimensions.items())][-1]
    assert (sheet["Q1"].value, sheet.column_dimensions["Q"].hidden) == ("key", True)


@pytest.mark.parametrize("form", FORMS)
def test_what_was_not_answered_is_passed_over(form):
    answer = filled(remark="- as before", lead_days=21)
    read = read_back(write_request([ASKED, replace(answer, key="k-2")], "GBP", form))
    assert (read.lines, read.errors, read.currency) == ((replace(answer, key="k-2"),), (), "GBP")


def test_a_workbook_filled_in_a_spreadsheet_reads_back():
    book = load_workbook(BytesIO(write_request([ASKED], "GBP", "xlsx")))
    for column, value in {"H": 58.5, "J": "48,125 ", "N": 21, "O": date(2026, 12, 31), "P": "free to us"}.items():
        book.active[f"{column}2"] = value
    out = BytesIO()
    book.save(out)
    read = read_back(out.getvalue())
    assert [str(error) for error in read.errors] == [
        "row 2, price at 20 gbp: 48,125 can be read in two ways; write 48125 or 48.1250."
    ]
    book.active["J2"] = 48.125
    book.save(out := BytesIO())
    (line,) = read_back(out.getvalue()).lines
    assert line == filled(lead_days=21, valid_until=date(2026, 12, 31), remark="free to us")


def test_a_supplier_may_add_a_quantity_and_leave_out_what_he_was_told():
    read = read_back(by_hand(key="k-1", price_at_1="58,50", price_at_50="41"))
    assert read.lines[0].prices == ((1, Decimal("58.50")), (50, Decimal(41)))
    assert (read.errors, read.currency) == ((), "")


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"price_at_1": "5"}, "row 1, key: the column is missing"),
        ({"key": "k"}, "row 1, price at 1: there is no column with prices."),
        ({"key": "", "price_at_1": "5"}, "row 2, key: it is missing"),
        ({"key": "k", "price_at_1": "cheap"}, "row 2, price at 1: cheap is not a number."),
        ({"key": "k", "price_at_1": "-5"}, "row 2, price at 1: -5 does not lie between 0 and"),
        ({"key": "k", "price_at_0": "5"}, "row 1, price at: a quantity is nothing, or stands there twice."),
        ({"key": "k", "price_at_1": "5", "price_at_01": "5"}, "row 1, price at: a quantity is nothing, or stands"),
        ({"key": "k", "price_at_1_gbp": "5", "tooling_eur": "5"}, "row 1: prices are in EUR and in GBP; one sheet"),
        ({"key": "k", "price_at_1": "", "remark": "later"}, "row 2, price at: there is no price."),
        ({"key": "k", "price_at_1": "5", "least_quantity": "0"}, "row 2, least quantity: 0 does not lie between 1"),
        ({"key": "k", "price_at_1": "5", "lead_time_days": "2,5"}, "row 2, lead time days: 2.5 is not a whole"),
        ({"key": "k", "price_at_1": "5", "valid_until": "3/4/2026"}, "row 2, valid until: 3/4/2026 is not a date"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_cell(cells, says):
    assert any(fault.startswith(says) for fault in faults(by_hand(**cells))), faults(by_hand(**cells))


def test_where_names_say_what_is_priced_no_key_is_wanted():
    (line,) = read_request(read_table(by_hand(part="bed", process="casting", price_at_1="5")), keyed=False).lines
    assert (line.part, line.process, line.row) == ("bed", "casting", 2)


def test_a_key_that_stands_there_twice_is_told():
    data = write_request([filled(), filled()], "GBP", "csv")
    assert faults(data) == ["row 3, key: it stands in row 2 already."]


def test_a_line_with_a_fault_is_not_among_the_lines():
    read = read_back(by_hand(key="k", price_at_1="5", price_at_5="x"))
    assert (read.lines, len(read.errors)) == ((), 1)


def test_a_formula_is_refused_with_its_cell():
    book = load_workbook(BytesIO(write_request([ASKED], "GBP", "xlsx")))
    book.active["H2"] = "=2*3"
    book.save(out := BytesIO())
    with pytest.raises(NotATable, match="row 2, price at 1 gbp: this is a formula; enter its value"):
        read_back(out.getvalue())


text = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]) | st.sampled_from("=+-@'")).map(str.strip)
money = st.none() | st.decimals(0, 99999, places=4)
count = st.none() | st.integers(1, 3650)


@st.composite
def filled_lines(draw):
    quantities = draw(st.lists(st.integers(1, 500), min_size=1, max_size=4, unique=True))
    keys = draw(st.lists(st.uuids().map(str), min_size=1, max_size=4, unique=True))
    return [draw(one_line(key, quantities)) for key in keys]


def one_line(key, quantities):
    first = st.decimals(0, 99999, places=4)
    prices = st.tuples(first, *[money] * (len(quantities) - 1)).map(lambda p: tuple(zip(quantities, p, strict=True)))
    mass = st.none() | st.decimals(0, 5000, places=3)
    return st.builds(
        QuoteLine, st.just(key), text, text, text, text, text, mass, prices, money, money, count, count,
        st.none() | st.dates(date(2000, 1, 1), date(2100, 1, 1)), text,
    )  # fmt: skip


@given(filled_lines(), st.sampled_from(FORMS))
@settings(deadline=None)
def test_what_is_written_and_filled_reads_back_equal(lines, form):
    read = read_back(write_request(lines, "EUR", form))
    assert (read.lines, read.errors, read.currency) == (tuple(lines), (), "EUR")
