"""Tables that come in: what is read, and what is refused and where."""

from datetime import date
from decimal import Decimal
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from projects.site.exports import csv_bytes, xlsx_bytes
from projects.site.imports import tables
from projects.site.imports.cells import CellError, date_of, number_of
from projects.site.imports.tables import NotATable, read_table
from projects.site.sheets import as_meant, harmless


def cells(data):
    table = read_table(data)
    return [table.columns, *(tuple(row.cells.values()) for row in table.rows)]


def refused(data):
    with pytest.raises(NotATable) as told:
        read_table(data)
    return [str(error) for error in told.value.errors]


def workbook(*rows, change=lambda sheet: None):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    change(book.active)
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def repacked(data, **changes):
    """An XLSX with parts put in or changed: name → content."""
    out = BytesIO()
    with ZipFile(BytesIO(data)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, changes.pop(part, None) or old.read(part))
        for part, content in changes.items():
            new.writestr(part, content)
    return out.getvalue()


PLAIN = workbook(["part", "price"], ["bed", 12.5])


@pytest.mark.parametrize(
    "data",
    [
        b"Part,Price\r\nbed,12.5\r\n",
        b"\xef\xbb\xbfpart;price\nbed;12.5\n",
        b"part\tprice\nbed\t12.5",
        "part\tprice\r\nbed\t12.5\r\n".encode("utf-16"),
        b"\n\npart , price\n\nbed,12.5\n,\n",
        b'"part","price"\n"bed","12.5"\n',
    ],
)
def test_a_csv_is_read_whatever_parts_its_cells(data):
    assert cells(data) == [("part", "price"), ("bed", "12.5")]


def test_what_is_not_utf_8_is_read_as_windows_writes_it():
    assert cells("part;price €\nGehäuse;1,50\n".encode("cp1252")) == [("part", "price €"), ("Gehäuse", "1,50")]


def test_numbers_of_a_workbook_have_the_digits_that_it_shows():
    assert cells(workbook(["price", "n"], [0.1 + 0.2, 3])) == [("price", "n"), (Decimal("0.3"), Decimal(3))]


def test_a_fault_knows_the_row_as_a_spreadsheet_counts_it():
    """Though the remark in row 2 has two lines, and row 3 is empty."""
    table = read_table(b'part,remark,price\nbed,"one\ntwo",5\n\narm,,dear\n')
    with pytest.raises(CellError, match=r"^row 4, price: dear is not a number\.$"):
        table.rows[1].number_in("price")


def test_a_row_means_its_cells():
    (row,) = read_table(b"a,b,c,d\n3,2026-08-31,,2.5\n").rows
    assert (row.whole_in("a"), row.date_in("b"), row.number_in("c")) == (3, date(2026, 8, 31), None)
    with pytest.raises(CellError, match=r"row 2, d: 2\.5 is not a whole number"):
        row.whole_in("d")


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("12", None, "12"), ("12.5", None, "12.5"), ("12,5", None, "12.5"), ("-3,25", None, "-3.25"),
        ("1.234,50", None, "1234.50"), ("1,234.50", None, "1234.50"), ("1 234,5", None, "1234.5"),
        ("1\u00a0234", None, "1234"), ("1\u202f234,50", None, "1234.50"), ("1’234.50", None, "1234.50"),
        ("1.234.567", None, "1234567"), ("0,125", None, "0.125"), ("12345,678", None, "12345.678"),
        ("1,234", ",", "1.234"), ("1.234", ".", "1.234"), (",5", None, "0.5"),
    ],
)  # fmt: skip
def test_a_number_is_read_in_the_usual_ways(text, mark, number):
    assert number_of(text, mark) == Decimal(number)


@pytest.mark.parametrize("text", ["1,234", "1.234", "12 £", "1.2.3", "1,23,4", "9**9", "1e5", "nan", "--1", ".", "٣"])
def test_what_may_be_two_numbers_or_none_is_refused(text):
    with pytest.raises(ValueError, match="is not a number|can be read in two ways"):
        number_of(text)


@pytest.mark.parametrize("text", ["9" * 4000, "9" * 5000, "0." + "0" * 4000 + "1"])
def test_a_number_longer_than_anybody_writes_is_refused_with_its_beginning(text):
    with pytest.raises(ValueError, match=r"^.{30}… is too long for a number\.$"):
        number_of(text)


@pytest.mark.parametrize("number", ["9" * 4000, "1E999", "-1E999"])
def test_a_workbook_s_number_that_is_too_large_is_told_at_its_cell(number):
    data = workbook(["part", "price"], ["bed", 12345])
    sheet = ZipFile(BytesIO(data)).read("xl/worksheets/sheet1.xml").replace(b"12345", number.encode())
    assert refused(repacked(data, **{"xl/worksheets/sheet1.xml": sheet})) == ["row 2, price: the number is too large."]


def test_the_separator_tells_the_decimal_mark():
    """1,234 between semicolons has a decimal comma; 1.234 there is refused."""
    row = read_table(b"a;b\n1,234;1.234\n").rows[0]
    assert row.number_in("a") == Decimal("1.234")
    with pytest.raises(CellError, match=r"row 2, b: 1\.234 can be read in two ways; write 1234 or 1\.2340\."):
        row.number_in("b")


@pytest.mark.parametrize("text", ["3/4/2026", "31.2.2026", "soon", "46000"])
def test_what_is_no_certain_day_is_refused(text):
    with pytest.raises(ValueError, match="is not a date; write it as 2026-08-31"):
        date_of(text)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "The table is empty."),
        (b"\n,,\n", "The table is empty."),
        (b"part,price\nbed,=1+1\n", "row 2, price: it begins with ="),
        (b"part,=1\nbed,1\n", "row 1, column 2: it begins with ="),
        (b"part,part\n", "row 1: there are two columns part."),
        (b"part,,price\nbed,1,2\n", "row 1, column 2: this column has no heading."),
        (b"part,price\nbed,12,50\n", "row 2: the row has 3 cells, the heading 2; is the decimal mark also"),
        (b'part,price\n"bed,12\n', "The CSV cannot be read after row 1"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "This is neither a CSV nor an XLSX file."),
        (b"\xff\xfea", "This is neither a CSV nor an XLSX file."),
        (",".join(f"c{n}" for n in range(1000)).encode(), "The table has 1000 columns; at most 200 can be read."),
        (b"a\n" + b"1\n" * 5001, "The table has more than 5000 rows."),
        (b"a\n" + b"1" * 5_000_000, "The file is larger than 5 MB."),
        (b"\xd0\xcf\x11\xe0" + b"\0" * 600, "The file is locked with a password, or is an old XLS"),
        (b"PK\x03\x04 and no more", "The XLSX file is broken"),
        (PLAIN[: len(PLAIN) // 2], "The XLSX file is broken"),
        (repacked(PLAIN, **{"xl/workbook.xml": b"<workbook"}), "The XLSX file is broken"),
        (repacked(PLAIN, **{"xl/vbaProject.bin": b"x"}), "The XLSX file has macros"),
        (repacked(PLAIN, **{"xl/externalLinks/externalLink1.xml": b"<a/>"}), "The XLSX file has links to other files"),
        (repacked(PLAIN, **{"xl/bomb.xml": b"\0" * 40_000_000}), "The XLSX file unpacks to more than 30 MB."),
        (repacked(PLAIN, **{"xl/workbook.xml": b"<!DOCTYPE a>"}), "The XLSX file declares a document type"),
        (workbook(["part", "price"], ["bed", "=1+1"]), "row 2, price: this is a formula; enter its value."),
        (workbook(["part", "=A1"], ["bed", 1]), "row 1, column 2: it begins with ="),
        (workbook(["part", "price"], ["bed", "#DIV/0!"]), "row 2, price: #DIV/0! is an error of the spreadsheet."),
        (workbook(["part"], change=lambda s: s.cell(1, 1000, "x")), "The sheet reaches to column 1000"),
        (workbook(["part"], change=lambda s: s.cell(900_000, 1, "x")), "The sheet reaches to row 900000"),
        (workbook(["part"], ["bed"], ["bed"], change=lambda s: s.merge_cells("A2:A3")), "Cells A2:A3 are merged"),
        (workbook([]), "The table is empty."),
    ],
)  # fmt: skip
def test_what_cannot_be_read_whole_is_refused_in_the_users_words(data, says):
    assert any(error.startswith(says) for error in refused(data)), refused(data)


def test_a_hidden_row_is_refused_and_a_hidden_column_read():
    def hide_row(sheet):
        sheet.row_dimensions[2].hidden = True

    def hide_column(sheet):
        sheet.column_dimensions["B"].hidden = True

    assert refused(workbook(["part"], ["bed"], change=hide_row)) == ["Row 2 is hidden; show it, or delete it."]
    assert cells(workbook(["part", "key"], ["bed", "k"], change=hide_column))[1] == ("bed", "k")


def test_only_the_first_sheet_in_view_is_read():
    book = Workbook()
    book.active.sheet_state = "hidden"
    book.create_sheet("terms").append(["part"])
    book.create_sheet("more").append(["other"])
    out = BytesIO()
    book.save(out)
    assert cells(out.getvalue()) == [("part",)]


def test_it_tells_no_more_faults_than_anybody_reads():
    assert len(refused(b"a\n" + b"=1\n" * 500)) == tables.MOST_ERRORS


def said_of(data):
    try:
        return read_table(data).columns
    except NotATable as refusal:
        return tuple(map(str, refusal.errors))


@given(st.binary(max_size=300) | st.binary(max_size=300).map(lambda end: PLAIN[:700] + end))
def test_no_bytes_break_it(data):
    assert said_of(data)
    assert all(said_of(data))


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]) | st.sampled_from("=+-@'\t\n"))


@given(st.lists(TEXT.filter(str.strip), min_size=2, max_size=4), st.sampled_from([csv_bytes, xlsx_bytes]))
def test_every_text_comes_back_as_it_went(texts, write):
    columns = [f"c{number}" for number in range(len(texts))]
    assert cells(write(columns, [texts])) == [tuple(columns), tuple(texts)]


@given(TEXT | st.text("'=+-"))
def test_the_mark_comes_off_again(text):
    assert as_meant(harmless(text)) == text
