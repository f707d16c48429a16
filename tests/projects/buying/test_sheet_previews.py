"""A sheet that came in, as its page shows it."""

from projects.buying.imports.quotes_rows import CheckedSheet
from projects.buying.words import headed, preview
from projects.site.imports.cells import CellError
from projects.site.imports.tables import read_table

SHEET = b"part,process,price at 1 gbp,material,key\nwheel,casting,48,iron,k-1\nframe,casting,,iron,k-2\n"


def shown(*errors, sheet=SHEET):
    return preview(CheckedSheet(read_table(sheet), (), errors))


def test_only_what_was_filled_in_is_shown_and_what_names_it():
    told = shown()
    assert told.columns == ["part", "process", "price at 1 GBP"]
    assert [[cell.text for cell in row.cells] for row in told.rows] == [["wheel", "casting", "48"]]
    assert told.passed_over == 1


def test_a_fault_is_in_its_cell_even_where_nothing_else_is():
    told = shown(CellError(3, "key", "is not known."), CellError(2, "price at 1", "is too much."))
    assert told.columns == ["part", "process", "price at 1 GBP", "key"]
    assert [[cell.faults for cell in row.cells] for row in told.rows] == [
        [[], [], ["is too much."], []],
        [[], [], [], ["is not known."]],
    ]


def test_a_fault_of_a_column_that_is_not_there_is_told_at_its_row_and_one_of_the_heading_above():
    told = shown(CellError(2, "lead time days", "is odd."), CellError(1, "", "is in two currencies."))
    assert told.rows[0].faults == ["lead time days: is odd."]
    assert told.faults == ["is in two currencies."]


def test_price_at_five_is_not_price_at_fifty():
    told = shown(CellError(2, "price at 5", "is odd."), sheet=b"part,price at 50,price at 5,key\nwheel,1,2,k\n")
    assert [cell.faults for cell in told.rows[0].cells] == [[], [], ["is odd."]]


def test_a_currency_is_headed_as_money_is():
    assert headed("set-up eur") == "set-up EUR"
    assert headed("lead time day") == "lead time day"
