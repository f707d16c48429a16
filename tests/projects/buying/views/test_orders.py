"""Orders on pages: typed, proposed from quotes, agreed, printed, paid, cancelled."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Order, Payment
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 20)


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-20 09:00Z", tick=False):
        yield


@pytest.fixture
def quote(workshop):
    """48 from 1, 42 from 5, 36 from 10; set-up 95, pattern 640; 35 to bring it, least order 300."""
    part = factories.PartFactory(workshop=workshop, design__workshop=workshop, name="frame")
    supplier = cost.SupplierFactory(
        workshop=workshop, name="Hollow Foundry", delivery=Decimal(35), minimum_order=Decimal(300), tax=Decimal(20)
    )
    operation = cost.OperationFactory(part=part)
    return cost.QuoteFactory(operation=operation, supplier=supplier, setup=Decimal(95), tooling=Decimal(640))


def typed(quote, *rows, **told):
    """A form as a browser sends it."""
    boxes = {
        "id": uuid.uuid4(), "supplier": quote.supplier_id, "ordered_on": "2026-05-20", "place": "1",
        "lines-TOTAL_FORMS": len(rows), "lines-INITIAL_FORMS": 0,
    }  # fmt: skip
    for at, row in enumerate(rows):
        boxes |= {f"lines-{at}-{name}": value for name, value in {"operation": quote.operation_id, **row}.items()}
    return {**boxes, **told}


def address(quote):
    return reverse("order-new", args=[quote.operation.design_id])


def shown(answer):
    """What stands in the boxes of a page that came back."""
    draft = answer.context["draft"]
    return [{name: row[name].value() for name in row.fields} for row in draft.rows if row.has_changed()]


def errors(answer, row=0):
    return answer.context["draft"].rows.forms[row].errors


def test_sums_left_open_are_proposed_and_wait_to_be_agreed(owner_client, quote):
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}))
    row = shown(answer)[0]
    assert (row["pieces_cost"], row["setup"], row["tooling"]) == ("48.00", "95.00", "640.00")
    assert answer.context["draft"].sums.cost == 48 + 95 + 640 + 35
    assert not Order.objects.exists()


def test_sent_again_as_proposed_it_is_placed_with_its_quote(owner_client, quote):
    first = typed(quote, {"quantity": "1"})
    answer = owner_client.post(address(quote), first)
    again = {**first, **{f"lines-0-{name}": value for name, value in shown(answer)[0].items() if value}}
    answer = owner_client.post(address(quote), {**again, "delivery": "35"})
    order = Order.objects.get()
    assert answer.url == reverse("order", args=[order.pk])
    line = order.lines.get()
    assert (line.quote, line.pieces_cost, line.setup, line.tooling) == (quote, 48, 95, 640)
    assert (order.sums.cost, order.sums.tax) == (Decimal(818), Decimal("163.60"))


def test_a_proposal_holds_for_its_quantity_only(owner_client, quote):
    first = typed(quote, {"quantity": "1", "reason": "why not"})
    row = shown(owner_client.post(address(quote), first))[0]
    changed = {**first, **{f"lines-0-{name}": value for name, value in row.items() if value}, "lines-0-quantity": "5"}
    answer = owner_client.post(address(quote), changed)
    assert shown(answer)[0]["pieces_cost"] == "210.00"
    assert not Order.objects.exists()


def test_sums_typed_by_hand_are_kept_at_any_quantity(owner_client, quote):
    row = {"quantity": "1", "pieces_cost": "44,50", "setup": "0", "tooling": "0"}
    owner_client.post(address(quote), typed(quote, row, delivery="0"))
    order = Order.objects.get()
    assert (order.goods, order.minimum_charge) == (Decimal("44.50"), Decimal("255.50"))


def test_a_tool_paid_for_before_is_not_proposed_again(owner_client, quote):
    before = cost.OrderFactory(design=quote.operation.design, supplier=quote.supplier)
    cost.OrderLineFactory(order=before, operation=quote.operation, tooling=Decimal(640))
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}))
    assert Decimal(shown(answer)[0]["tooling"]) == 0


def test_it_tells_where_one_more_costs_less(owner_client, quote):
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "9"}))
    assert "Order 10, not 9: it saves 18.00 GBP" in answer.content.decode()


def test_more_than_one_of_an_unproved_revision_wants_a_reason_at_the_row(owner_client, quote):
    cost.RevisionFactory(part=quote.operation.part)
    row = {"quantity": "3", "pieces_cost": "144", "setup": "0", "tooling": "0"}
    answer = owner_client.post(address(quote), typed(quote, row, delivery="0"))
    assert errors(answer) == {
        "reason": ["frame A is not proved: no check is listed. Say why more than one is ordered."]
    }
    owner_client.post(address(quote), typed(quote, {**row, "reason": "for a fair"}, delivery="0"))
    line = Order.objects.get().lines.get()
    assert (line.reason, line.revision.label) == ("for a fair", "A")


def test_without_a_standing_quote_the_price_is_typed(owner_client, quote):
    quote.valid_until = date(2026, 5, 19)
    quote.save()
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}))
    assert errors(answer) == {"pieces_cost": ["No quote of Hollow Foundry stands for this. Type what was agreed."]}


def test_a_quote_for_another_revision_is_not_taken_for_this_one(owner_client, quote):
    old = cost.RevisionFactory(part=quote.operation.part)
    cost.RevisionFactory(part=quote.operation.part, label="B")
    quote.revision = old
    quote.save()
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}))
    assert "Their quote is for frame A" in str(errors(answer))


ROWS = [
    ({"quantity": "0"}, "quantity"),
    ({"quantity": "-3"}, "quantity"),
    ({"quantity": "many"}, "quantity"),
    ({"quantity": "2000000"}, "quantity"),
    ({"quantity": ""}, "quantity"),
    ({"quantity": "1", "pieces_cost": "-48"}, "pieces_cost"),
    ({"quantity": "1", "pieces_cost": "NaN"}, "pieces_cost"),
    ({"quantity": "1", "pieces_cost": "1e30"}, "pieces_cost"),
    ({"operation": "", "quantity": "1"}, "operation"),
    ({"operation": factories.NO_ROW, "quantity": "1"}, "operation"),
]


@pytest.mark.parametrize(("row", "box"), ROWS)
def test_a_row_that_cannot_be_is_told_at_its_box(owner_client, quote, row, box):
    answer = owner_client.post(address(quote), typed(quote, row))
    assert box in errors(answer)
    assert not Order.objects.exists()


def test_a_revision_of_another_part_is_refused(owner_client, quote):
    other = cost.RevisionFactory(part=factories.PartFactory(design=quote.operation.design))
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1", "revision": other.pk}))
    assert errors(answer)["revision"] == ["This revision is of another part."]


WHOLE = [
    ({"ordered_on": "2026-05-21"}, "ordered_on"),
    ({"promised_on": "2026-05-19"}, "promised_on"),
    ({"promised_on": "9999-12-31"}, "promised_on"),
    ({"supplier": ""}, "supplier"),
    ({"supplier": factories.NO_ROW}, "supplier"),
    ({"delivery": "-1"}, "delivery"),
    ({"project": factories.NO_ROW}, "project"),
]


@pytest.mark.parametrize(("told", "box"), WHOLE)
def test_an_order_that_cannot_be_is_told_at_its_box(owner_client, quote, told, box):
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}, **told))
    assert box in answer.context["form"].errors


def test_it_is_not_sent_on_to_the_supplier_itself(owner_client, quote):
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}, goes_to=quote.supplier_id))
    assert "goes_to" in answer.context["form"].errors


def test_a_currency_without_a_rate_is_told_with_the_way_to_one(owner_client, quote):
    quote.supplier.currency = "CHF"
    quote.supplier.save()
    answer = owner_client.post(address(quote), typed(quote, {"quantity": "1"}))
    assert "no exchange rate for CHF" in str(answer.context["form"].errors["supplier"])


def test_no_row_is_no_order(owner_client, quote):
    answer = owner_client.post(address(quote), typed(quote))
    assert "what is ordered" in str(answer.context["draft"].rows.non_form_errors())


def test_rows_that_did_not_come_whole_are_told(owner_client, quote):
    sent = {name: value for name, value in typed(quote).items() if not name.startswith("lines-")}
    assert owner_client.post(address(quote), sent).status_code == 200


def test_another_workshop_s_supplier_and_operation_are_not_offered(owner_client, quote, other_workshop):
    strange = cost.OperationFactory(part__workshop=other_workshop, part__design__workshop=other_workshop)
    supplier = cost.SupplierFactory(workshop=other_workshop)
    row = {"operation": strange.pk, "quantity": "1"}
    answer = owner_client.post(address(quote), typed(quote, row, supplier=supplier.pk))
    assert "supplier" in answer.context["form"].errors
    assert "operation" in errors(answer)


def test_sent_twice_it_is_one_order(owner_client, quote):
    row = {"quantity": "1", "pieces_cost": "48", "setup": "0", "tooling": "0"}
    sent = typed(quote, row, delivery="0")
    first, second = (owner_client.post(address(quote), sent) for _ in range(2))
    assert first.url == second.url
    assert Order.objects.get().lines.count() == 1


def test_an_address_may_begin_an_order_with_a_quote(owner_client, quote):
    page = owner_client.get(address(quote), {"quote": quote.pk, "quantity": "7"}).content.decode()
    assert f'<option value="{quote.supplier_id}" selected>' in page
    assert 'value="7"' in page


# an order that stands


@pytest.fixture
def line(quote):
    order = cost.OrderFactory(design=quote.operation.design, supplier=quote.supplier, number="P-014", tax=Decimal(20))
    return cost.OrderLineFactory(order=order, operation=quote.operation)


def see(client, name, row):
    return client.get(reverse(name, args=[row.pk])).content.decode()


def test_late_is_said_in_words_with_the_day(owner_client, line):
    page = see(owner_client, "order", line.order)
    assert "5 days late" in page
    assert "Promised for Friday 15 May" in page
    assert "5 days late" in see(owner_client, "orders", line.order.design)


def test_the_sheet_for_the_supplier_has_parts_sums_and_where_it_goes(owner_client, line):
    line.order.goes_to = cost.SupplierFactory(workshop=line.workshop, name="Lathe & Sons", contact="Mill Lane")
    line.order.save()
    page = see(owner_client, "order-sheet", line.order)
    for told in ("P-014", "frame", "grey cast iron", "480.00", "96.00", "576.00", "Lathe &amp; Sons", "Mill Lane"):
        assert told in page


def test_what_was_agreed_cannot_be_changed_but_the_day_can(owner_client, line):
    owner_client.post(
        reverse("order-edit", args=[line.order.pk]), {"promised_on": "2026-06-01", "delivery": "999", "number": "P-15"}
    )
    order = Order.objects.get()
    assert (order.promised_on, order.number, order.delivery) == (date(2026, 6, 1), "P-15", 0)


def test_a_promise_before_the_order_is_refused(owner_client, line):
    answer = owner_client.post(reverse("order-edit", args=[line.order.pk]), {"promised_on": "2026-04-01"})
    assert "promised_on" in answer.context["form"].errors


def test_it_is_cancelled_while_nothing_has_come(owner_client, line):
    owner_client.post(reverse("order-cancel", args=[line.order.pk]))
    assert Order.objects.get().cancelled_on == TODAY
    assert "Cancelled" in see(owner_client, "order", line.order)


def test_what_has_come_is_told_where_somebody_cancels(owner_client, line):
    cost.ReceiptFactory(line=line)
    answer = owner_client.post(reverse("order-cancel", args=[line.order.pk]), follow=True)
    assert Order.objects.get().cancelled_on is None
    assert "Something has come of this order" in answer.content.decode()


def pay(client, line, **told):
    return client.post(
        reverse("payment-new", args=[line.order.pk]), {"paid_on": "2026-05-20", "id": uuid.uuid4(), **told}
    )


def test_what_is_paid_leaves_less_to_pay_and_can_be_taken_back(owner_client, line):
    pay(owner_client, line, amount="300,50")
    pay(owner_client, line, amount="-100")
    assert Order.objects.get().to_pay == Decimal("279.50")


def test_a_payment_sent_twice_is_one(owner_client, line):
    key = uuid.uuid4()
    for _ in range(2):
        pay(owner_client, line, amount="10", id=key)
    assert Payment.objects.count() == 1


WRONG_PAYMENTS = [
    ({"amount": "0"}, "amount"),
    ({"amount": "-1"}, "amount"),
    ({"amount": "much"}, "amount"),
    ({"amount": "Infinity"}, "amount"),
    ({"amount": "5", "paid_on": "2026-05-21"}, "paid_on"),
    ({"amount": "5", "paid_on": "2026-04-30"}, "paid_on"),
]


@pytest.mark.parametrize(("told", "box"), WRONG_PAYMENTS)
def test_a_payment_that_cannot_be_is_told(owner_client, line, told, box):
    assert box in pay(owner_client, line, **told).context["form"].errors
    assert not Payment.objects.exists()


def test_when_to_pay_is_reckoned_from_what_came(owner_client, line):
    line.order.supplier.days_to_pay = 14
    line.order.supplier.save()
    cost.ReceiptFactory(line=line, good=10, received_on=date(2026, 5, 2))
    assert "overdue since Saturday 16 May" in see(owner_client, "order", line.order)


def test_the_share_that_came_good_is_taken_by_hand_only(owner_client, line):
    cost.ReceiptFactory(line=line, good=9, rejected=1, why="porosity")
    page = see(owner_client, "orders", line.order.design)
    assert "9 good of 10 received" in page
    assert "likely between" in page
    line.operation.refresh_from_db()
    assert line.operation.good_percent == 100
    owner_client.post(reverse("good-share-take", args=[line.operation.pk]))
    line.operation.refresh_from_db()
    assert line.operation.good_percent == 90


@pytest.mark.parametrize("name", ["order", "order-sheet", "order-edit", "payment-new"])
def test_money_is_not_for_helpers(helper_client, line, name):
    assert helper_client.get(reverse(name, args=[line.order.pk])).status_code == 403


def test_the_supplier_s_page_leads_to_its_orders(owner_client, line):
    assert reverse("order", args=[line.order.pk]) in see(owner_client, "supplier", line.order.supplier)
