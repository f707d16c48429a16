"""What an order comes to and what came of it; sums worked out by hand, no source."""

from datetime import date
from decimal import Decimal

import pytest

from projects.buying.domain.order_book import OrderBook
from projects.record.models import Order
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 20)


def placed(workshop, **terms):
    """Ten castings for 480, set-up 95, carried for 25, at 20 % tax."""
    part = factories.PartFactory(workshop=workshop, design__workshop=workshop)
    order = cost.OrderFactory(
        design=part.design, supplier__days_to_pay=30, delivery=Decimal(25), tax=Decimal(20), **terms
    )
    return cost.OrderLineFactory(order=order, operation__part=part, setup=Decimal(95))


def again(row):
    return Order.objects.in_full().get(pk=row.pk)


def test_goods_delivery_and_tax_stand_apart(workshop):
    sums = again(placed(workshop).order).sums
    assert (sums.goods, sums.cost, sums.tax, sums.with_tax) == (575, 600, 120, 720)


def test_tax_is_rounded_half_a_cent_up(workshop):
    order = placed(workshop, minimum_charge=Decimal("0.13")).order
    order.tax = Decimal("17.50")
    assert order.sums.tax == Decimal("105.02")  # 17.5 % of 600.13 is 105.02275


def test_what_came_good_and_rejected_leaves_the_rest_outstanding(workshop):
    line = placed(workshop)
    cost.ReceiptFactory(line=line, good=5, rejected=2, why="porosity")
    order = again(line.order)
    assert (order.quantity, order.good, order.rejected, order.outstanding) == (10, 5, 2, 3)


def test_a_voided_receipt_counts_no_more(workshop):
    line = placed(workshop)
    wrong = cost.ReceiptFactory(line=line, good=9)
    cost.ReceiptFactory(line=line, good=0, voids=wrong)
    order = again(line.order)
    assert (order.good, order.outstanding, order.has_come, order.last_came_on) == (0, 10, False, None)


def test_what_was_rejected_is_short_until_it_is_replaced(workshop):
    line = placed(workshop)
    cost.ReceiptFactory(line=line, good=8, rejected=2, why="size")
    assert again(line.order).lines.all()[0].short == 2
    cost.ReceiptFactory(line=line, good=2)
    assert again(line.order).lines.all()[0].short == 0


def test_it_is_late_only_while_something_is_outstanding(workshop):
    line = placed(workshop)
    assert again(line.order).days_late(TODAY) == 5
    assert again(line.order).days_late(date(2026, 5, 15)) == 0
    cost.ReceiptFactory(line=line, good=10)
    assert again(line.order).days_late(TODAY) == 0


def test_no_day_promised_is_never_late(workshop):
    assert placed(workshop, promised_on=None).order.days_late(TODAY) == 0


def test_it_is_due_so_many_days_after_the_last_receipt(workshop):
    line = placed(workshop)
    assert again(line.order).due_on is None
    cost.ReceiptFactory(line=line, good=4, received_on=date(2026, 5, 10))
    cost.ReceiptFactory(line=line, good=6, received_on=date(2026, 5, 14))
    assert again(line.order).due_on == date(2026, 6, 13)


def test_a_payment_taken_back_is_owed_again(workshop):
    line = placed(workshop)
    for amount in (600, 50, -50):
        cost.PaymentFactory(order=line.order, amount=Decimal(amount))
    cost.ReceiptFactory(line=line, good=10)
    order = again(line.order)
    assert (order.paid, order.to_pay, order.due_on, order.done) == (600, 0, None, True)


def test_a_cancelled_order_costs_nothing_and_what_was_paid_is_to_come_back(workshop):
    order = placed(workshop, cancelled_on=TODAY).order
    cost.PaymentFactory(order=order, amount=Decimal(100))
    order = again(order)
    assert (order.cost, order.outstanding, order.to_pay) == (0, 0, -100)


def test_the_book_sorts_what_is_to_come_to_be_paid_and_done(workshop):
    line = placed(workshop)
    paid = cost.OrderFactory(design=line.order.design)
    cost.OrderLineFactory(order=paid, operation=line.operation, pieces_cost=Decimal(0))
    cost.ReceiptFactory(line=paid.lines.get(), good=10)
    owed = cost.OrderFactory(design=line.order.design)
    cost.ReceiptFactory(line=cost.OrderLineFactory(order=owed, operation=line.operation), good=10)
    book = OrderBook.of(line.order.design, TODAY)
    assert [(title, [order for order, _ in rows]) for title, rows in book.groups] == [
        ("To come", [line.order]),
        ("To be paid", [owed]),
        ("Done", [paid]),
    ]


def test_money_is_added_by_currency_and_brought_home_at_the_latest_rate(workshop):
    line = placed(workshop)
    design = line.order.design
    abroad = cost.OrderFactory(design=design, supplier__currency="EUR")
    cost.OrderLineFactory(order=abroad, operation=line.operation, pieces_cost=Decimal(200))
    book = OrderBook.of(design, TODAY)
    assert [(total.currency, total.cost) for total in book.totals] == [("EUR", 200), ("GBP", 600)]
    assert book.together is None  # nobody said what a euro costs
    cost.RateFactory(workshop=workshop)
    assert OrderBook.of(design, TODAY).together == 600 + 170
