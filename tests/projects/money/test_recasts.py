"""Bad castings replaced free of charge: what they cost is the work done before the fault was seen.

Source: common practice of jobbing foundries, no source.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from projects.money.breaks import Break, PriceList
from projects.money.ladder import ladder
from projects.money.ordering import Offer, PurchaseNeed, SupplierTerms, lay_out, order_plan
from projects.money.unit_cost import CostingTerms, Route, RouteOperation, line_working, machine_cost

TERMS = CostingTerms(wage=Decimal(0))
NINE_IN_TEN = Decimal("0.9")
CAST = RouteOperation("casting", "cast", prices=PriceList((Break(1, Decimal(50)),)))
BORE = RouteOperation("machining", "bore", prices=PriceList((Break(1, Decimal(20)),)), yield_=NINE_IN_TEN)


def cost(casting, machining, machines=5):
    return machine_cost([Route("hub", 1, (casting, machining))], machines, TERMS).parts[0]


def test_what_shows_in_machining_costs_the_machining_and_no_casting():
    """Seven are started for five good ones at 90 % (BINOMIAL). Every bad one was paid twice: 7 · 50 + 7 · 20 = 490;
    replaced free of charge, five castings are paid, and seven times the machining: 5 · 50 + 7 · 20 = 390."""
    assert cost(CAST, BORE).total == 490
    found = cost(replace(CAST, recast_free=True), replace(BORE, casting_faults=True))
    assert [line.entering for line in found.lines] == [7, 7]
    assert [line.ordered for line in found.lines] == [5, 7]
    assert found.total == 390
    assert dict(line_working(found.lines[0], TERMS, "GBP").inputs)["bad castings replaced free of charge"] == "2"


def test_a_machinists_own_scrap_is_nobodys_gift():
    assert cost(replace(CAST, recast_free=True), BORE).total == 490


def test_what_shows_on_receipt_costs_nothing_and_leaves_nothing_in_store():
    """Seven castings at 90 % for five that are machined once: 5 · 50 + 5 · 20, where 7 · 50 + 5 · 20 was told."""
    casting, machining = replace(CAST, yield_=NINE_IN_TEN), replace(BORE, yield_=Decimal(1))
    assert cost(casting, machining).total == 450
    assert cost(casting, machining).left == (("cast", 1),)
    found = cost(replace(casting, recast_free=True), machining)
    assert (found.total, found.left) == (350, ())


def test_of_two_foundries_the_dearer_may_be_the_cheaper_for_replacing():
    other = replace(CAST, prices=PriceList((Break(1, Decimal(60)),)), recast_free=True)
    found = cost(replace(CAST, instead=(other,)), replace(BORE, casting_faults=True))
    assert found.lines[0].operation is other  # five at 60, against seven at 50
    assert found.total == 300 + 140


def test_the_ladder_advises_no_order_for_what_is_replaced():
    prices = PriceList((Break(1, Decimal(48)), Break(5, Decimal(42)), Break(10, Decimal(36))))
    casting = replace(CAST, prices=prices, recast_free=True)
    found = ladder([Route("hub", 1, (casting, replace(BORE, casting_faults=True)))], [9], TERMS)
    assert [(better.instead_of, better.quantity) for better in found.better_orders] == [(9, 10)]


@pytest.mark.parametrize(("replaced", "quantity", "total"), [(0, 7, 350), (2, 5, 250)])
def test_an_ordering_plan_orders_what_has_to_be_paid(replaced, quantity, total):
    offer = Offer("quote", "hub, cast", "foundry", CAST.prices, 20, replaced)
    (line,) = order_plan(lay_out([PurchaseNeed("hub, cast", "hub", 7)], [offer], [SupplierTerms("foundry")])).lines
    assert (line.quantity, line.cost, line.left_over) == (quantity, total, 0)
