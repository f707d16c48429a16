"""The sheet of a request: what the supplier sees, and what reads straight back in."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal
from io import BytesIO, StringIO

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from projects.record.models import Quote
from tests import cost_factories as costs
from tests import factories
from tests.projects.record.test_images import half_red, written

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _files_of_its_own(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(datetime(2026, 5, 11, 9, tzinfo=UTC), tick=False):
        yield


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop, name="wheel", number="W-1", quantity=3, mass=12)


@pytest.fixture
def asked(part, workshop):
    casting = costs.OperationFactory(part=part)
    request = costs.RequestFactory(
        design=part.design,
        supplier=costs.SupplierFactory(workshop=workshop, name="Vale Foundry"),
        note="boxes welcome",
        answer_by=date(2026, 6, 1),
        operations=[casting],
    )
    request.lines.update(revision=costs.RevisionFactory(part=part, label="B"))
    return request


def page(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def test_the_printed_sheet_says_what_is_asked(restorer_client, asked):
    shown = page(restorer_client, "request-sheet", asked.pk)
    for word in ("Vale Foundry", "wheel", "no. W-1", "revision B", "grey cast iron", "12 kg", "3 off", "15 off"):
        assert word in shown
    assert "in GBP and without tax" in shown
    assert "boxes welcome" in shown


def test_a_drawing_is_named_and_else_the_latest_photo_is_shown(restorer_client, asked, part, owner, workshop):
    piece = factories.PieceFactory(part=part)
    photo = factories.photo_of(factories.StepFactory(piece=piece, by=owner), written(half_red()))
    address = reverse("photo-thumbnail", args=[photo.pk])
    assert address in page(restorer_client, "request-sheet", asked.pk)
    revision = part.revisions.get()
    revision.drawing.save("x.pdf", ContentFile(b"lines"), save=False)
    revision.drawing_name = "wheel B.pdf"
    revision.save()
    shown = page(restorer_client, "request-sheet", asked.pk)
    assert "wheel B.pdf" in shown
    assert address not in shown


# The file, and the answer


@pytest.fixture
def two(asked, part):
    """The request, with a second line for the machine as a whole."""
    carriage = costs.OperationFactory(part=None, design=part.design, workshop=part.workshop, process="carriage")
    asked.lines.create(workshop=part.workshop, operation=carriage)
    return asked


def sheet_of(client, asked, kind="csv"):
    return client.get(reverse(f"request-{kind}", args=[asked.pk])).content


def filled(sheet, kind="csv", **answers):
    """The sheet with answers at its cells: {part: {column: value}}, as a supplier fills it in."""
    if kind == "xlsx":
        return _filled_workbook(sheet, answers)
    rows = list(csv.reader(StringIO(sheet.decode("utf-8-sig"))))
    for row in rows[1:]:
        for column, value in answers.get(row[0] or "machine", {}).items():
            row[rows[0].index(column)] = str(value)
    out = StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode()


def _filled_workbook(sheet, answers):
    book = load_workbook(BytesIO(sheet))
    heading = [cell.value for cell in book.active[1]]
    for row in book.active.iter_rows(min_row=2):
        for column, value in answers.get(row[0].value or "machine", {}).items():
            row[heading.index(column)].value = value
    out = BytesIO()
    book.save(out)
    return out.getvalue()


WHEEL = {"price at 3 GBP": 48, "price at 15 GBP": 41.5, "set-up GBP": 20, "valid until": "2026-08-31"}
WHOLE = {"price at 1 GBP": 90, "remark": "two pallets"}


def hand_in(client, asked, data, name="sheet.csv", **more):
    sent = {"quoted_on": "2026-05-10", "number": "Q 5", "file": SimpleUploadedFile(name, data), **more}
    return client.post(reverse("request-answer", args=[asked.pk]), sent)


def take_in(client, asked, looked_at):
    """Presses the button of a sheet that was looked at."""
    boxes = {"quoted_on": "2026-05-10", "number": "Q 5", "sheet": looked_at.context["form"].carried, "take": "1"}
    return client.post(reverse("request-answer", args=[asked.pk]), boxes)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_filled_sheet_reads_straight_back_in_as_quotes(restorer_client, two, kind):
    data = filled(sheet_of(restorer_client, two, kind), kind, wheel=WHEEL, machine=WHOLE)
    looked_at = hand_in(restorer_client, two, data, f"sheet.{kind}")
    assert "2 quotes can be taken in" in looked_at.content.decode()
    assert not Quote.objects.exists()
    assert take_in(restorer_client, two, looked_at).url == reverse("request", args=[two.pk])
    wheel = Quote.objects.get(operation__part__name="wheel")
    assert [(one.from_quantity, one.price) for one in wheel.breaks.all()] == [(3, 48), (15, Decimal("41.5"))]
    assert (wheel.setup, wheel.valid_until, str(wheel.revision)) == (20, date(2026, 8, 31), "wheel B")
    assert (wheel.request, wheel.supplier, wheel.number, wheel.quoted_on) == (
        two,
        two.supplier,
        "Q 5",
        date(2026, 5, 10),
    )
    whole = Quote.objects.get(operation__process="carriage")
    assert (whole.remark, whole.revision, whole.breaks.get().price) == ("two pallets", None, 90)


def test_sent_twice_it_makes_one_set(restorer_client, two):
    data = filled(sheet_of(restorer_client, two), wheel=WHEEL)
    looked_at = hand_in(restorer_client, two, data)
    for _ in range(2):
        take_in(restorer_client, two, looked_at)
    take_in(restorer_client, two, hand_in(restorer_client, two, data))
    assert Quote.objects.count() == 1
    assert Quote.objects.get().breaks.count() == 2
    assert "taken in before" in page(restorer_client, "request", two.pk)


@pytest.mark.parametrize(
    ("column", "value", "told"),
    [
        ("price at 15 GBP", "cheap", "cheap is not a number"),
        ("price at 15 GBP", "-1", "does not lie between"),
        ("price at 15 GBP", "9" * 30, "does not lie between"),
        ("price at 15 GBP", "1.23456", "4 decimal places"),
        ("set-up GBP", "1,234", "two ways"),
        ("set-up GBP", "1.2345", "2 decimal places"),
        ("least quantity", "0", "does not lie between"),
        ("least quantity", "90000000", "more than 1000000"),
        ("lead time days", "2.5", "not a whole number"),
        ("valid until", "2026-05-09", "ends before it starts"),
        ("valid until", "soon", "not a date"),
        ("remark", "x" * 301, "at most 300 characters"),
        ("key", "k-17", "was not asked in this request"),
        ("key", "", "nobody knows what was asked"),
    ],
)
def test_a_sheet_that_is_only_half_good_brings_nothing_and_tells_the_cell(restorer_client, two, column, value, told):
    data = filled(sheet_of(restorer_client, two), wheel={**WHEEL, column: value}, machine=WHOLE)
    answer = hand_in(restorer_client, two, data)
    shown = answer.context["preview"]
    [row] = [row for row in shown.rows if row.cells[0].text == "wheel"]
    boxes = {cell.column: " ".join(cell.faults) for cell in row.cells if cell.faults}
    assert list(boxes) == [column.lower()]
    assert told in boxes[column.lower()]
    assert "Nothing was taken in" in answer.content.decode()
    assert take_in(restorer_client, two, answer).status_code == 200
    assert not Quote.objects.exists()


def test_a_line_of_another_request_or_workshop_is_told_at_its_key(restorer_client, two, other_workshop):
    theirs = factories.PartFactory(design__workshop=other_workshop)
    elsewhere = costs.RequestFactory(design=theirs.design, operations=[costs.OperationFactory(part=theirs)])
    data = filled(sheet_of(restorer_client, two), wheel={**WHEEL, "key": elsewhere.lines.get().pk})
    take_in(restorer_client, two, hand_in(restorer_client, two, data))
    assert not Quote.objects.exists()


def test_a_formula_is_told_and_nothing_taken(restorer_client, two):
    for kind in ("csv", "xlsx"):
        data = filled(sheet_of(restorer_client, two, kind), kind, wheel={**WHEEL, "price at 15 GBP": "=2*3"})
        form = hand_in(restorer_client, two, data).context["form"]
        assert "price at 15 gbp" in str(form.errors["file"])
        assert "formula" in str(form.errors["file"])


def test_what_is_no_sheet_is_told_at_the_file(restorer_client, two):
    wide = ",".join(f"c{n}" for n in range(1000)).encode()
    for data, told in (
        (b"\x00\x01\x02", "neither a CSV nor an XLSX"),
        (b"PK\x03\x04 broken", "broken"),
        (wide, "1000 columns"),
        (b"a,b\n\n", "key: "),
        (b"key,price at 1\n" + b"k,1\n" * 501, "at most 500"),
    ):
        answer = hand_in(restorer_client, two, data)
        assert told in answer.content.decode()
    assert "Nothing is filled in" in str(hand_in(restorer_client, two, sheet_of(restorer_client, two)).content)
    nothing = restorer_client.post(reverse("request-answer", args=[two.pk]), {"quoted_on": "2026-05-10"})
    assert "Choose the filled sheet" in nothing.content.decode()
    too_large = hand_in(restorer_client, two, b"a" * (2 * 1024**2 + 1))
    assert "larger than 2 MB" in too_large.content.decode()


def test_a_sheet_that_was_tampered_with_on_the_way_is_read_anew(restorer_client, two):
    sent = {"quoted_on": "2026-05-10", "sheet": "no base64!", "take": "1"}
    answer = restorer_client.post(reverse("request-answer", args=[two.pk]), sent)
    assert "Choose the filled sheet" in answer.content.decode()


def test_prices_in_another_currency_are_told(restorer_client, two):
    data = filled(sheet_of(restorer_client, two), wheel=WHEEL).replace(b" GBP", b" EUR")
    assert "prices are in EUR, and Vale Foundry asks in GBP" in hand_in(restorer_client, two, data).content.decode()


def test_a_currency_without_a_rate_shows_the_way_to_enter_it(restorer_client, two):
    two.supplier.currency = "USD"
    two.supplier.save()
    data = filled(sheet_of(restorer_client, two), wheel={"price at 3 USD": 48})
    assert f"{reverse('rates')}?currency=USD" in hand_in(restorer_client, two, data).content.decode()


def test_only_who_plans_reads_answers(helper_client, stranger_client, two):
    for name in ("request-answer", "request-csv", "request-xlsx", "request-sheet"):
        assert helper_client.get(reverse(name, args=[two.pk])).status_code == 403
        assert stranger_client.get(reverse(name, args=[two.pk])).status_code == 404
