"""Margin, mark-up, tax, break-even, recovery and cash, by hand and against published exercises."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.pricing import (
    Flow,
    break_even,
    break_even_working,
    cash,
    cash_working,
    margin_from_mark_up,
    margin_of,
    margin_working,
    mark_up_from_margin,
    mark_up_working,
    price_by_margin,
    price_by_mark_up,
    recovery,
    recovery_working,
    tax_on,
    tax_working,
)

COST = Decimal(262)


@pytest.mark.parametrize(
    ("margin", "price", "mark_up"), [(20, "327.50", "25"), (30, "374.29", "42.86"), (40, "436.67", "66.67")]
)
def test_a_margin_and_the_mark_up_that_it_is(margin, price, mark_up):
    """By hand: 262 / 0.8, 262 / 0.7, 262 / 0.6; 20/80, 30/70, 40/60."""
    assert price_by_margin(COST, Decimal(margin)) == Decimal(price)
    assert round(mark_up_from_margin(Decimal(margin)), 2) == Decimal(mark_up)


def test_a_mark_up_of_40_is_a_margin_of_28_57():
    """By hand: 262 · 1.4; 0.4 / 1.4."""
    assert price_by_mark_up(COST, Decimal(40)) == Decimal("366.80")
    assert round(margin_from_mark_up(Decimal(40)), 2) == Decimal("28.57")
    assert round(margin_of(Decimal("366.80"), COST), 2) == Decimal("28.57")


@given(st.decimals(0, "99.99", places=2))
def test_margin_to_mark_up_and_back(margin):
    assert abs(margin_from_mark_up(mark_up_from_margin(margin)) - margin) < Decimal("1e-20")


def test_tax_on():
    """By hand: 374.29 · 0.2 = 74.858."""
    assert tax_on(Decimal("374.29"), Decimal(20)) == Decimal("74.86")


@given(st.decimals(0, 100000, places=2), st.decimals(0, 50, places=1))
def test_tax_added_comes_out_again(net, rate):
    assert abs((net + tax_on(net, rate)) / (1 + rate / 100) - net) <= Decimal("0.01")


def test_break_even_of_a_packaging_job():
    """[BREAK-EVEN]: fixed 15 000, 12.50 each, 8.00 variable; 3333.33 units and 41 666.67 on its page of answers."""
    found = break_even(Decimal(15000), Decimal("12.50"), Decimal(8))
    assert (round(found.exact, 2), found.quantity, found.turnover) == (Decimal("3333.33"), 3334, Decimal("41666.67"))


def test_break_even_from_memory():
    """A textbook exercise from memory: 10 000, 4.00 and 2.25 make 5714.29 units and 22 857.14."""
    found = break_even(Decimal(10000), Decimal(4), Decimal("2.25"))
    assert (round(found.exact, 2), found.turnover) == (Decimal("5714.29"), Decimal("22857.14"))


def test_break_even_of_a_workshop():
    """By hand: (1500 + 900) / (410 − 262) = 16.2, so 17 sets."""
    found = break_even(Decimal(2400), Decimal(410), COST)
    assert (round(found.exact, 1), found.quantity) == (Decimal("16.2"), 17)


def test_a_whole_number_is_not_rounded_up():
    assert break_even(Decimal(2000), Decimal(300), Decimal(200)).quantity == 20


def test_development_over_twenty_sets():
    """By hand: 1500 / 20 = 75 each; 8 sold bring 600, 900 are left."""
    found = recovery(Decimal(1500), 20, 8)
    assert (found.each, found.recovered, found.left) == (75, 600, 900)


def test_when_all_are_sold_nothing_is_left():
    """1000 over 3 is 333.33 each, but three bring back all of it, and a fourth no more."""
    assert [recovery(Decimal(1000), 3, sold).left for sold in (3, 4)] == [0, 0]


JANUARY, FEBRUARY = date(2026, 1, 10), date(2026, 2, 10)


def test_the_lowest_cash_by_hand():
    """1000, less 640 of pattern, less 900 of castings on the day a deposit of 500 comes, then 2000 of sales."""
    found = cash(
        [
            Flow(date(2026, 3, 1), Decimal(2000), "sales"),
            Flow(FEBRUARY, Decimal(500), "deposit"),
            Flow(FEBRUARY, Decimal(-900), "castings"),
            Flow(JANUARY, Decimal(-640), "pattern"),
        ],
        opening=Decimal(1000),
    )
    assert [balance.after for balance in found.balances] == [360, -540, -40, 1960]
    assert (found.lowest, found.lowest_on, found.closing) == (-540, FEBRUARY, 1960)
    working = cash_working(found, "GBP")
    assert [label for label, _ in working.inputs] == ["opening", "10 Jan 2026, pattern", "10 Feb 2026, castings"]
    assert working.result == "-540 GBP on 10 Feb 2026"


def test_cash_that_only_grows_is_lowest_before_it_all():
    found = cash([Flow(JANUARY, Decimal(5), "deposit")], opening=Decimal(7))
    assert (found.lowest, found.lowest_on) == (7, None)
    assert cash([]).closing == 0
    assert "before all this" in cash_working(found, "GBP").result


@given(st.lists(st.tuples(st.dates(), st.decimals(-1000, 1000, places=2)), max_size=20))
def test_cash_ends_with_the_sum_of_all_and_was_never_below_its_lowest(sums):
    found = cash(Flow(day, amount, "") for day, amount in sums)
    assert found.closing == sum(amount for _, amount in sums)
    assert all(balance.after >= found.lowest for balance in found.balances)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: price_by_margin(COST, Decimal(100)), "margin: 100 %"),
        (lambda: mark_up_from_margin(Decimal(120)), "margin: 120 %"),
        (lambda: price_by_margin(COST, Decimal("NaN")), "margin"),
        (lambda: price_by_mark_up(COST, Decimal(-1)), "mark-up"),
        (lambda: margin_of(Decimal(0), COST), "price"),
        (lambda: tax_on(COST, Decimal(-1)), "tax"),
        (lambda: break_even(Decimal(1), COST, COST), "none would ever pay"),
        (lambda: break_even(Decimal(-1), COST, Decimal(1)), "fixed costs"),
        (lambda: recovery(Decimal(1500), 0), "one machine at least"),
        (lambda: recovery(Decimal(-1), 1), "development"),
    ],
)
def test_what_cannot_be_is_said(ask, words):
    with pytest.raises(ValueError, match=words):
        ask()


@pytest.mark.parametrize(
    ("working", "result", "note"),
    [
        (margin_working(COST, Decimal(30), "GBP"), "374.29 GBP, without tax", "42.86 % of the cost"),
        (mark_up_working(COST, Decimal(40), "GBP"), "366.80 GBP, without tax", "28.57 % of the price"),
        (tax_working(Decimal("374.29"), Decimal(20), "GBP"), "449.15 GBP, with tax", "local law"),
        (break_even_working(Decimal(2400), Decimal(410), COST, "GBP"), "17", "6648.65 GBP"),
        (recovery_working(Decimal(1500), 20, 8, "GBP"), "600.00 GBP, 900.00 GBP left", ""),
    ],
)
def test_each_figure_opens_its_working(working, result, note):
    assert working.result == result
    assert note in working.note
