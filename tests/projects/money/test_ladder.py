"""The cost ladder: steps by hand, and no rise that is not named."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.money.breaks import Break, PriceList
from projects.money.ladder import CostDriver, ladder, step_working
from projects.money.rounding import cents
from projects.money.starts import entering
from projects.money.unit_cost import CostingTerms, Route, RouteOperation, ToolCost, exact_cost, machine_cost

from .routes import big_machine, routes, terms

NO_HANDS = CostingTerms(wage=Decimal(0))
THREE = PriceList((Break(1, Decimal(48)), Break(5, Decimal(42)), Break(10, Decimal(36))))
HANDLE = Route("handle", 1, (RouteOperation("bought in", "buy", prices=THREE, key="3"),))


def test_rungs_of_a_bought_part_by_hand():
    """4 · 48 = 192; 5 · 42; 9 cost no more than 10 · 36 = 360."""
    rungs = ladder([HANDLE], [10, 4, 5, 9, 4], NO_HANDS).rungs
    assert [(rung.size, rung.each, rung.total) for rung in rungs] == [
        (4, 48, 192),
        (5, 42, 210),
        (9, 40, 360),
        (10, 36, 360),
    ]


def test_a_batch_bears_its_share_of_development():
    assert ladder([HANDLE], [5], NO_HANDS, Decimal(75)).rungs[0].each == 117


def test_ten_are_better_than_nine_as_an_order_and_as_a_batch():
    found = ladder([HANDLE], range(1, 13), NO_HANDS)
    assert [(better.size, better.instead_of, better.quantity, better.saves) for better in found.better_orders] == [
        (9, 9, 10, 18)
    ]
    assert [(better.instead_of, better.size, better.saves) for better in found.better_batches] == [(9, 10, 0)]


def test_a_break_names_its_part():
    """From 4 to 5 each falls from 48 to 42."""
    (step,) = ladder([HANDLE], [4, 5], NO_HANDS).steps
    (cause,) = step.causes
    assert (step.size, step.change) == (5, -6)
    assert (cause.part, cause.operation, cause.key, cause.driver, cause.amount) == (
        "handle",
        "buy",
        "3",
        CostDriver.BREAK,
        -6,
    )


def test_a_second_pattern_is_a_rise_and_is_named():
    """By hand: a pattern of 600 for 20 mouldings; 20 machines 30 each, 21 machines 1200 / 21 = 57.14."""
    cast = RouteOperation("casting", "cast", (ToolCost("pattern", Decimal(600), life=20),))
    found = ladder([Route("frame", 1, (cast,)), HANDLE], range(19, 23), NO_HANDS)
    (step,) = found.steps
    assert (step.before, step.size, step.change) == (20, 21, Decimal("27.14"))
    assert [(cause.part, cause.driver) for cause in step.causes] == [("frame", CostDriver.TOOL)]


def test_another_furnace_load_is_a_rise_and_is_named():
    """By hand: 25 for each load of 4; 4 machines 6.25 each, 5 machines 10."""
    harden = RouteOperation(
        "heat treatment", "harden", prices=PriceList((Break(1, Decimal(0)),), setup=Decimal(25)), lot=4
    )
    (step,) = ladder([Route("gear", 1, (harden,))], range(3, 7), NO_HANDS).steps
    assert (step.size, step.change, step.causes[0].driver) == (5, Decimal("3.75"), CostDriver.SET_UP)


def test_a_whole_extra_start_is_a_rise_and_is_named():
    """At 90 % good one more machine takes one more start, or now and then two: then each costs more."""
    cast = RouteOperation("casting", "cast", material=Decimal(50), yield_=Decimal("0.9"))
    found = ladder([Route("frame", 1, (cast,))], range(1, 30), NO_HANDS)
    rises = [step for step in found.steps if step.change > 0]
    assert rises
    for step in rises:
        fewer, more = (entering(size, (Decimal("0.9"),))[0] for size in (step.before, step.size))
        assert more - fewer == 2
        assert step.causes[0].driver == CostDriver.EXTRA_START


def test_a_price_that_rises_at_its_break_is_named():
    dearer = PriceList((Break(1, Decimal(5)), Break(3, Decimal(8))))
    (step,) = ladder([Route("pin", 1, (RouteOperation("bought in", "buy", prices=dearer),))], [2, 3], NO_HANDS).steps
    assert (step.change, step.causes[0].driver) == (3, CostDriver.BREAK)


@settings(deadline=None, max_examples=40)
@given(st.lists(routes(), min_size=1, max_size=3), terms())
def test_every_rise_is_named_and_its_cause_is_true(parts, reckoned):
    """What a cause says is looked up again in the sheets of both sizes."""
    parts = [replace(part, part=f"part {at}") for at, part in enumerate(parts)]
    found = ladder(parts, range(1, 31), reckoned)
    named = {step.size: step for step in found.steps}
    for before, after in pairwise(found.rungs):
        if after.each > before.each:
            step = named[after.size]
            assert step.change == after.each - before.each
            assert any(cause.amount > 0 for cause in step.causes)
            assert all(_is_true(cause, parts, step, reckoned) for cause in step.causes if cause.amount > 0)


@settings(deadline=None, max_examples=40)
@given(st.lists(routes(), min_size=1, max_size=3), terms(), st.decimals(0, 300, places=2))
def test_causes_and_the_rest_add_up_to_the_step(parts, reckoned, development):
    parts = [replace(part, part=f"part {at}") for at, part in enumerate(parts)]
    for step in ladder(parts, range(1, 31), reckoned, development).steps:
        assert sum(cause.amount for cause in step.causes) + step.rest == step.change
        assert all(cause.amount == cents(cause.amount) != 0 for cause in step.causes)


def test_what_is_spread_over_more_stands_beside_the_causes_of_a_step():
    """By hand: a pattern of 600 for good and a fixture of 30 for 3 pieces; 3 machines 200 + 10, 4 machines 150 + 15.

    Handles cost 20, from four on 16. The step of −49 told its price break, −4, and nobody the rest of it.
    """
    cast = RouteOperation("casting", "cast", (ToolCost("pattern", Decimal(600)),))
    bore = RouteOperation("machining", "bore", (ToolCost("fixture", Decimal(30), life=3),))
    four = PriceList((Break(1, Decimal(20)), Break(4, Decimal(16))))
    handle = Route("handle", 1, (RouteOperation("bought in", "buy", prices=four),))
    (step,) = ladder([Route("frame", 1, (cast,)), Route("hub", 1, (bore,)), handle], [3, 4], NO_HANDS).steps
    assert step.change == -49
    assert [(cause.driver, cause.amount) for cause in step.causes] == [(CostDriver.TOOL, 5), (CostDriver.BREAK, -4)]
    assert step.rest == -50
    assert step_working(step, "GBP").inputs[-1] == ("the rest, spread over more machines", "-50.00 GBP")


def _is_true(cause, parts, step, reckoned):
    part = next(part for part in parts if part.part == cause.part)
    old = exact_cost(part, step.before, reckoned).lines
    ways = [line.operation for line in old]  # the same suppliers as before, so that like is held against like
    kept = replace(part, operations=tuple(replace(way, instead=()) for way in ways))
    new = exact_cost(kept, step.size, reckoned).lines
    return any(_shows(cause.driver, *lines, step) for lines in zip(old, new, strict=True))


def _shows(why, old, new, step):
    return {
        CostDriver.TOOL: new.tools_bought > old.tools_bought,
        CostDriver.SET_UP: new.setups > old.setups,
        CostDriver.BREAK: _band(new) > _band(old) or new.pieces * old.entering > old.pieces * new.entering,
        CostDriver.EXTRA_START: new.entering * step.before > old.entering * step.size,
    }[why]


def _band(line):
    return line.operation.prices.band(line.ordered) if line.operation.prices else 0


falling = st.lists(st.decimals(1, 500, places=2), min_size=1, max_size=4).map(
    lambda prices: sorted(prices, reverse=True)
)


@settings(deadline=None, max_examples=40)
@given(falling, st.integers(1, 4), terms(), st.decimals(50, 100, places=0))
def test_with_no_scrap_tool_life_or_lot_it_never_rises(prices, per_machine, reckoned, learning):
    breaks = tuple(Break(quantity, price) for quantity, price in zip((1, 5, 12, 40), prices, strict=False))
    operation = RouteOperation(
        "casting",
        "cast",
        (ToolCost("pattern", Decimal(600)),),
        PriceList(breaks, setup=Decimal(95)),
        minutes_each=Decimal(20),
        learning=learning,
    )
    rungs = ladder([Route("frame", per_machine, (operation,))], range(1, 51), reckoned).rungs
    assert all(later.each <= earlier.each for earlier, later in pairwise(rungs))


@settings(deadline=None, max_examples=40)
@given(routes(), terms())
def test_all_never_cost_less_for_more_machines(route, reckoned):
    rungs = ladder([route], range(1, 31), reckoned).rungs
    assert all(later.total >= earlier.total for earlier, later in pairwise(rungs))


def test_another_tin_for_all_is_a_rise_and_is_named():
    """By hand: a tin of 20 for two machines; two 10 each, three 40 / 3."""
    paint = RouteOperation("finishing", "paint", for_all={2: Decimal(20), 3: Decimal(40)})
    (step,) = ladder([Route("paint", 1, (paint,))], [2, 3], NO_HANDS).steps
    assert (step.change, step.causes[0].driver) == (Decimal("3.33"), CostDriver.FOR_ALL)


def test_another_supplier_is_a_leap_down_and_is_named():
    """By hand: 10 each by own hands up to 4; then 24 of set-up and 4 each: 44 / 5."""
    shop = RouteOperation("machining", "bore", prices=PriceList((Break(1, Decimal(4)),), setup=Decimal(24)))
    own = RouteOperation("machining", "bore", material=Decimal(10), instead=(shop,))
    (step, *_) = ladder([Route("hub", 1, (own,))], range(3, 6), NO_HANDS).steps
    assert (step.size, step.change, step.causes[0].driver) == (5, Decimal("-1.20"), CostDriver.OTHER_WAY)


def test_where_a_worn_out_tool_makes_another_way_the_cheapest_the_tool_is_named():
    """By hand: a fixture of 30 for 3 pieces; the fourth takes a second, 60, or the shop at 11 each, 44."""
    shop = RouteOperation("machining", "bore", prices=PriceList((Break(1, Decimal(11)),)))
    own = RouteOperation("machining", "bore", (ToolCost("fixture", Decimal(30), life=3),), instead=(shop,))
    (step,) = ladder([Route("hub", 1, (own,))], [3, 4], NO_HANDS).steps
    assert (step.change, step.causes[0].driver) == (1, CostDriver.TOOL)


def test_enquiries_carry_a_batch_where_as_many_buyers_bear_the_cost():
    """48 each for one and 48 for four, 42 for five: five buyers who bear 42 carry five, but nobody carries four."""
    found = ladder([HANDLE], range(1, 6), NO_HANDS)
    assert found.carried_by([Decimal(42)] * 5) == (5,)
    assert found.carried_by([Decimal(50), Decimal(42)]) == (1,)
    assert found.carried_by([]) == ()


def test_a_step_opens_its_working():
    (step,) = ladder([HANDLE], [4, 5], NO_HANDS).steps
    working = step_working(step, "GBP")
    assert working.inputs == (("handle, buy: price break", "-6.00 GBP"),)
    assert working.result == "-6.00 GBP for a machine"


@pytest.mark.parametrize(
    ("parts", "sizes", "words"),
    [([HANDLE], [], "Batch sizes"), ([], [1], "Batch sizes"), ([HANDLE], [0], "machines: 0")],
)
def test_what_cannot_be_is_said(parts, sizes, words):
    with pytest.raises(ValueError, match=words):
        ladder(parts, sizes, NO_HANDS)


def test_its_rungs_are_those_of_the_sheets_of_a_big_machine():
    """Sixty parts of six operations with five breaks each; each size reckoned by itself beside it."""
    parts, reckoned = big_machine(), CostingTerms(Decimal(40), overhead=Decimal(20))
    found = ladder(parts, range(1, 51), reckoned)
    assert [rung.size for rung in found.rungs] == list(range(1, 51))
    for size in (1, 9, 10, 50):
        cost = machine_cost(parts, size, reckoned)
        assert (found.rungs[size - 1].each, found.rungs[size - 1].total) == (cost.each, cost.total)
