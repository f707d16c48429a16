"""What is fixed and what each machine adds, by hand."""

from decimal import Decimal

from projects.money.breaks import Break, PriceList
from projects.money.fixed import split
from projects.money.pricing import break_even, break_even_working
from projects.money.unit_cost import CostingTerms, Route, RouteOperation, ToolCost, machine_cost

PATTERN = (ToolCost("pattern", Decimal(900)),)


def costed(machines, **operation):
    route = Route("set", 1, (RouteOperation("casting", "cast", **operation),))
    return machine_cost([route], machines, CostingTerms(wage=Decimal(30), overhead=Decimal(20)), Decimal(75))


def test_the_workshops_break_even():
    """By hand: (1500 + 900) / (410 − 262) = 16.2, so 17 sets."""
    found = split(costed(5, tools=PATTERN, material=Decimal(262)), Decimal(1500))
    assert (found.fixed, found.variable) == (2400, 262)
    assert break_even(found.fixed, Decimal(410), found.variable).quantity == 17


def test_a_set_up_is_fixed_and_hours_with_their_overhead_are_not():
    """By hand: 60 min of set-up at 30, 95 of the foundry's; 2 h each at 30 and a fifth on all three hours of work."""
    prices = PriceList((Break(1, Decimal(40)),), setup=Decimal(95))
    found = split(costed(1, prices=prices, minutes_setup=Decimal(60), minutes_each=Decimal(120)), Decimal(0))
    assert (found.setups, found.variable) == (125, 40 + 60 + 18)


def test_everything_on_the_sheet_is_counted_once():
    cost = costed(7, tools=PATTERN, material=Decimal("33.33"), minutes_each=Decimal(11))
    found = split(cost, Decimal(1500))
    assert found.tools + found.setups + found.rest + cost.development == cost.total


def test_the_working_says_what_is_counted_as_what():
    found = split(costed(5, tools=PATTERN, material=Decimal(262)), Decimal(1500))
    working = break_even_working(found.fixed, Decimal(410), found.variable, "GBP", found.counted("GBP"))
    assert ("fixed: development, all of it", "1500.00 GBP") in working.inputs
    assert working.result == "17"
