"""Orders placed, cancelled and paid; what was agreed stays."""

from datetime import date
from decimal import Decimal

import pytest

from projects.buying.actions import orders as actions
from projects.buying.domain.scrap import good_offer
from projects.record.models import Order, OrderLine, QuoteBreak
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 20)


@pytest.fixture
def quote(workshop):
    """Of a revision that nothing proves."""
    part = factories.PartFactory(workshop=workshop, design__workshop=workshop, name="frame", quantity=2)
    operation = cost.OperationFactory(part=part)
    revision = cost.RevisionFactory(part=part)
    return cost.QuoteFactory(operation=operation, revision=revision, supplier__minimum_order=Decimal(150))


def new(quote, quantity, **terms):
    operation = quote.operation
    order = Order(workshop=operation.workshop, design=operation.design, supplier=quote.supplier, ordered_on=TODAY)
    line = OrderLine(
        operation=operation, revision=quote.revision, quote=quote, quantity=quantity, pieces_cost=Decimal(96), **terms
    )
    return order, [line]


def test_one_machine_s_worth_of_an_unproved_revision_needs_no_reason(quote):
    order = actions.place_order(*new(quote, 2), {})
    assert order.lines.get().quantity == 2


def test_more_want_a_reason_that_names_what_is_unproved(quote):
    order, lines = new(quote, 3)
    with pytest.raises(actions.NeedsReason, match="frame A: no check is listed") as needs:
        actions.place_order(order, lines, {})
    assert needs.value.wanting == [(lines[0], "no check is listed")]
    assert not Order.objects.exists()


def test_several_lines_of_it_are_counted_together(quote):
    order, lines = new(quote, 2)
    lines += new(quote, 1)[1]
    with pytest.raises(actions.NeedsReason):
        actions.place_order(order, lines, {})


def test_the_reason_is_kept_at_the_line(quote):
    order, lines = new(quote, 3)
    actions.place_order(order, lines, {quote.operation_id: "the foundry closes in August"})
    assert order.lines.get().reason == "the foundry closes in August"


def test_a_part_without_a_revision_is_not_proved_either(quote):
    order, lines = new(quote, 3)
    lines[0].revision = None
    with pytest.raises(actions.NeedsReason, match="no revision"):
        actions.place_order(order, lines, {})


def test_tax_and_least_order_are_the_supplier_s_of_the_day(quote):
    quote.supplier.tax = Decimal(20)
    order = actions.place_order(*new(quote, 2), {})
    assert (order.minimum_charge, order.tax) == (54, 20)
    quote.supplier.tax, quote.supplier.minimum_order = Decimal(25), Decimal(500)
    quote.supplier.save()
    order = Order.objects.get(pk=order.pk)
    assert (order.sums.cost, order.sums.tax) == (150, 30)


def test_later_quotes_change_no_order(quote):
    order = actions.place_order(*new(quote, 2), {})
    QuoteBreak.objects.update(price=Decimal(999))
    assert Order.objects.get(pk=order.pk).goods == 96


def test_the_same_order_placed_twice_is_one(quote):
    order, lines = new(quote, 2)
    first = actions.place_order(order, lines, {})
    assert actions.place_order(order, lines, {}) == first
    assert OrderLine.objects.count() == 1


def test_an_order_is_cancelled_only_while_nothing_has_come(quote):
    order = actions.place_order(*new(quote, 2), {})
    cost.ReceiptFactory(line=order.lines.get())
    with pytest.raises(actions.HasCome, match="Something has come"):
        actions.cancel_order(order, day=TODAY)
    other = actions.place_order(*new(quote, 2), {})
    assert actions.cancel_order(other, day=TODAY).cancelled_on == TODAY


def test_the_share_taken_says_what_it_rests_on(quote):
    operation = quote.operation
    operation.basis = "foundry's word"
    operation.save()
    line = cost.OrderLineFactory(operation=operation)
    cost.ReceiptFactory(line=line, good=9, rejected=1, why="size")
    actions.take_good_share(good_offer(operation), day=TODAY)
    cost.ReceiptFactory(line=line, good=9, rejected=1, why="size")
    actions.take_good_share(good_offer(operation), day=TODAY)
    operation.refresh_from_db()
    assert operation.good_percent == 90
    assert operation.basis == "18 good of 20 received until 20 May 2026; foundry's word"
