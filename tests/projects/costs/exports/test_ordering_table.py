"""An ordering plan as CSV and XLSX: a row for each line, adding up to the total that is shown."""

import csv
from datetime import date
from decimal import Decimal
from io import BytesIO, StringIO

import pytest
from openpyxl import load_workbook

from projects.costs.domain.ordering import BatchWanted, Ordering
from projects.costs.domain.planned_orders import PlannedOrders
from projects.costs.exports.ordering_table import ordering_table
from projects.record.models import Operation, Supplier
from projects.record.models.cost_terms import terms_of
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db

SUMMED = ("pieces", "set-up", "tooling", "delivery", "up to least order")


@pytest.fixture
def foundry(workshop):
    return cost.SupplierFactory(
        workshop=workshop, name="=Hollow", delivery=Decimal(35), minimum_order=Decimal(3000), tax=Decimal(20)
    )


@pytest.fixture
def planned(workshop, foundry):
    """Frame and bracket cast abroad at a third, the frame turned here: sums that do not come out in whole cents."""
    Supplier.objects.filter(pk=foundry.pk).update(currency="EUR")
    cost.RateFactory(workshop=workshop, rate=Decimal("0.333333"))
    frame = factories.PartFactory(design__workshop=workshop, name="@frame")
    for at, part in enumerate((frame, factories.PartFactory(design=frame.design, name="bracket"))):
        row = cost.OperationFactory(part=part, position=1)
        cost.QuoteFactory(
            operation=row, supplier=foundry, prices={1: "7.07"}, setup=Decimal("1.01"), tooling=Decimal(at * 50)
        )
    turned = cost.OperationFactory(
        part=frame, process=Operation.Process.MACHINING, position=2, each_minutes=7, in_house=True
    )
    drawn = cost.SupplierFactory(workshop=workshop, name="Plater", delivery=Decimal("4.99"), tax=Decimal("7.5"))
    plated = cost.OperationFactory(part=frame, process=Operation.Process.HEAT_TREATMENT, position=3)
    cost.QuoteFactory(operation=plated, supplier=drawn, prices={1: "3.333"})
    terms = terms_of(frame.design)
    terms.wage = Decimal("31.70")
    terms.save()
    assert turned.part == frame
    question = Ordering(frame.design, BatchWanted(7), date(2026, 5, 12))
    return PlannedOrders(question, question.best)


def read(planned):
    text = ordering_table(planned, "GBP", "csv").decode("utf-8-sig")
    *lines, last = csv.DictReader(StringIO(text))
    return lines, last


def test_the_lines_add_up_to_the_total_shown_to_the_cent(planned):
    lines, last = read(planned)
    assert len(lines) == 4
    assert sum(Decimal(line["sum"]) for line in lines) == Decimal(last["sum"]) == planned.plan.total
    for line in lines:
        assert sum(Decimal(line[name]) for name in SUMMED) == Decimal(line["sum"])


def test_tax_is_that_of_each_order_and_adds_up(planned):
    """20 % of the foundry's order and 7.5 % of the plater's, each rounded once."""
    lines, last = read(planned)
    taxes = {str(order.supplier): order.total * order.supplier.tax / 100 for order in planned.orders}
    for whom, tax in taxes.items():
        mine = [Decimal(line["tax"]) for line in lines if line["supplier"].lstrip("'") == whom]
        assert abs(sum(mine) - tax) <= Decimal("0.005")
    assert sum(Decimal(line["tax"] or 0) for line in lines) == Decimal(last["tax"])


def test_each_line_says_from_whom_what_and_in_which_money(planned):
    lines, _ = read(planned)
    bracket = next(line for line in lines if line["part"] == "bracket")
    assert (bracket["process"], bracket["ordered"], bracket["currency"], bracket["ordered in"], bracket["tax %"]) == (
        "casting", "7", "GBP", "EUR", "20.00",
    )  # fmt: skip
    assert [line["process"] for line in lines if line["supplier"] == "done here"] == ["machining"]
    assert {line["sent to"] for line in lines} == {"us"}


def test_what_a_spreadsheet_would_run_is_text(planned):
    lines, _ = read(planned)
    assert {line["supplier"] for line in lines} >= {"'=Hollow"}
    assert {line["part"] for line in lines} >= {"'@frame"}


def test_the_workbook_says_the_same(planned):
    sheet = load_workbook(BytesIO(ordering_table(planned, "GBP", "xlsx"))).active
    names, *rows = sheet.iter_rows(values_only=True)
    at = names.index("sum")
    assert round(sum(Decimal(str(row[at])) for row in rows[:-1]), 2) == planned.plan.total
    assert Decimal(str(rows[-1][at])) == planned.plan.total
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
