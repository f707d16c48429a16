"""Quotes from a file in our own columns: lines known by key or by names, taken in whole or not at all."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from io import StringIO

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook, load_workbook

from projects.record.models import Quote
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_a_day_in_may():
    with time_machine.travel(datetime(2026, 5, 11, 9, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def part(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="wheel", number="W-1", quantity=2, mass=12)
    costs.RevisionFactory(part=part, label="A")
    costs.RevisionFactory(part=part, label="B")
    costs.OperationFactory(part=part)
    costs.OperationFactory(part=part, position=1, process="machining", name="turning")
    costs.OperationFactory(part=part, position=2, process="machining", name="drilling")
    costs.OperationFactory(part=None, design=part.design, workshop=workshop, process="carriage")
    return part


@pytest.fixture
def foundry(workshop):
    return costs.SupplierFactory(workshop=workshop, name="Vale Foundry")


HEADING = ("part", "process", "revision", "price at 1", "price at 10", "set-up", "valid until", "remark")
CASTING = ("wheel", "casting", "", "48", "36.5", "20", "31.8.2026", "")


def table(*rows, heading=HEADING):
    out = StringIO()
    csv.writer(out).writerows([heading, *rows])
    return out.getvalue().encode()


def hand_in(client, design, supplier, data, **more):
    sent = {
        "supplier": str(supplier.pk),
        "quoted_on": "2026-05-10",
        "number": "",
        "file": SimpleUploadedFile("prices.csv", data),
        **more,
    }
    return client.post(reverse("quotes-import", args=[design.pk]), sent)


def take_in(client, design, supplier, looked_at):
    boxes = {"supplier": str(supplier.pk), "quoted_on": "2026-05-10", "take": "1"}
    boxes["sheet"] = looked_at.context["form"].carried
    return client.post(reverse("quotes-import", args=[design.pk]), boxes)


def faults(answer):
    shown = answer.context["preview"]
    return [(cell.column, fault) for row in shown.rows for cell in row.cells for fault in cell.faults]


def test_lines_are_known_by_the_names_of_part_and_process(restorer_client, part, foundry):
    data = table(
        CASTING,
        ("W-1", "Turning", "a", "9", "", "", "", "by number"),
        ("machine", "carriage", "", "80", "", "", "", ""),
    )
    looked_at = hand_in(restorer_client, part.design, foundry, data)
    assert "3 quotes can be taken in" in looked_at.content.decode()
    answer = take_in(restorer_client, part.design, foundry, looked_at)
    assert answer.url == reverse("quotes", args=[part.design_id])
    casting = Quote.objects.get(operation__process="casting")
    assert [(one.from_quantity, one.price) for one in casting.breaks.all()] == [(1, 48), (10, Decimal("36.5"))]
    assert (casting.valid_until, str(casting.revision), casting.request) == (date(2026, 8, 31), "wheel B", None)
    assert str(Quote.objects.get(operation__name="turning").revision) == "wheel A"
    assert Quote.objects.get(operation__process="carriage").breaks.get().price == 80


@pytest.mark.parametrize(
    ("row", "column", "told"),
    [
        (("whel", "casting", "", "5"), "part", "no part “whel”"),
        (("wheel", "moulding", "", "5"), "process", "no “moulding”, but: casting, turning, drilling"),
        (("wheel", "machining", "", "5"), "process", "any of: turning, drilling"),
        (("wheel", "turning", "C", "5"), "revision", "no revision C"),
        (("wheel", "painting", "", "5"), "process", "no “painting”"),
        (("wheel", "turning", "", "", "", "", "", "later"), "price at 1", "there is no price"),
    ],
)
def test_a_name_that_is_not_known_is_told_at_its_cell_and_nothing_taken(
    restorer_client, part, foundry, row, column, told
):
    answer = hand_in(restorer_client, part.design, foundry, table(CASTING, (*row, *[""] * (8 - len(row)))))
    assert any(at == column and told in fault for at, fault in faults(answer)), faults(answer)
    assert take_in(restorer_client, part.design, foundry, answer).status_code == 200
    assert not Quote.objects.exists()


def test_a_line_that_stands_there_twice_is_told(restorer_client, part, foundry):
    answer = hand_in(restorer_client, part.design, foundry, table(CASTING, CASTING))
    assert "row 2 is about wheel: casting already" in answer.content.decode()


def test_the_same_file_twice_makes_one_set(restorer_client, part, foundry):
    for _ in range(2):
        looked_at = hand_in(restorer_client, part.design, foundry, table(CASTING))
        take_in(restorer_client, part.design, foundry, looked_at)
    assert Quote.objects.count() == 1
    other = costs.SupplierFactory(workshop=part.workshop)
    take_in(restorer_client, part.design, other, hand_in(restorer_client, part.design, other, table(CASTING)))
    assert Quote.objects.count() == 2


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_empty_sheet_has_all_that_may_be_bought_and_reads_back(
    restorer_client, part, foundry, workshop, tmp_path, kind
):
    costs.RateFactory(workshop=workshop)
    abroad = costs.SupplierFactory(workshop=workshop, currency="EUR")
    address = reverse(f"quotes-empty-{kind}", args=[part.design_id])
    sheet = restorer_client.get(address + "?currency=EUR")
    assert f'filename="{part.design.name.replace(" ", "-")}-prices.{kind}"' in sheet.headers["Content-Disposition"]
    kept = tmp_path / f"sheet.{kind}"
    kept.write_bytes(sheet.content)
    if kind == "xlsx":
        book = load_workbook(kept)
        heading = [cell.value for cell in book.active[1]]
        assert book.active.max_row == 5
        book.active.cell(2, heading.index("price at 2 EUR") + 1).value = 12.5
        book.save(kept)
        data = kept.read_bytes()
    else:
        rows = list(csv.reader(StringIO(sheet.content.decode("utf-8-sig"))))
        assert len(rows) == 5
        rows[1][rows[0].index("price at 2 EUR")] = "12.5"
        data = table(*rows[1:], heading=rows[0])
    take_in(restorer_client, part.design, abroad, hand_in(restorer_client, part.design, abroad, data))
    quote = Quote.objects.get()
    assert (quote.operation.process, quote.breaks.get().from_quantity, quote.breaks.get().price) == (
        "casting",
        2,
        Decimal("12.5"),
    )


def test_a_currency_that_nobody_asks_in_makes_no_sheet_of_its_own(restorer_client, part, foundry):
    sheet = restorer_client.get(reverse("quotes-empty-csv", args=[part.design_id]) + "?currency==1+1")
    assert b"price at 1 GBP" in sheet.content


def test_a_key_of_another_workshop_is_told(restorer_client, part, foundry, other_workshop):
    theirs = costs.OperationFactory(part=factories.PartFactory(design__workshop=other_workshop))
    data = table((*CASTING, str(theirs.pk)), heading=(*HEADING, "key"))
    answer = hand_in(restorer_client, part.design, foundry, data)
    assert faults(answer) == [("key", "this is no line of this design; empty the cell to go by the names.")]
    assert take_in(restorer_client, part.design, foundry, answer).status_code == 200
    assert not Quote.objects.exists()


def test_another_workshops_supplier_is_not_to_be_had(restorer_client, part, other_workshop):
    theirs = costs.SupplierFactory(workshop=other_workshop)
    form = hand_in(restorer_client, part.design, theirs, table(CASTING)).context["form"]
    assert list(form.errors) == ["supplier"]


def test_a_workbook_a_thousand_columns_wide_is_refused(restorer_client, part, foundry, tmp_path):
    book = Workbook()
    book.active.append([f"c{n}" for n in range(1000)])
    book.save(tmp_path / "wide.xlsx")
    form = hand_in(restorer_client, part.design, foundry, (tmp_path / "wide.xlsx").read_bytes()).context["form"]
    assert "at most 200" in str(form.errors["file"])


def test_text_that_a_spreadsheet_would_run_leaves_as_text(restorer_client, part, foundry):
    part.name = "=HYPERLINK(1)"
    part.save()
    sheet = restorer_client.get(reverse("quotes-empty-csv", args=[part.design_id])).content.decode()
    assert "'=HYPERLINK(1)" in sheet
    assert ",=HYPERLINK" not in sheet


def test_the_page_names_its_columns(restorer_client, part, foundry):
    shown = restorer_client.get(reverse("quotes-import", args=[part.design_id])).content.decode()
    for column in ("part", "process", "price at 1", "set-up", "least quantity", "lead time days", "valid until", "key"):
        assert column in shown


def test_only_who_plans_takes_prices_in(helper_client, stranger_client, part, foundry):
    for name in ("quotes-import", "quotes-empty-csv", "quotes-empty-xlsx"):
        assert helper_client.get(reverse(name, args=[part.design_id])).status_code == 403
        assert stranger_client.get(reverse(name, args=[part.design_id])).status_code == 404
