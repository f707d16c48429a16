"""Orders by hand for the same three breaks, and what every price list must keep."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.breaks import Break, Counting, PriceList, order_working


def price_list(*breaks, **more):
    return PriceList(tuple(Break(quantity, Decimal(price)) for quantity, price in breaks), **more)


THREE = ((1, "48.00"), (5, "42.00"), (10, "36.00"))


@pytest.mark.parametrize(
    ("quantity", "incremental", "all_units"),
    [(4, 192, 192), (5, 234, 210), (8, 360, 336), (9, 402, 378), (10, 438, 360), (12, 510, 432)],
)
def test_three_breaks_by_hand(quantity, incremental, all_units):
    """48.00 from 1, 42.00 from 5, 36.00 from 10: our own sums, by hand (4 · 48 + 5 · 42 = 402, and so on)."""
    assert price_list(*THREE).pieces(quantity) == all_units
    assert price_list(*THREE, counting=Counting.INCREMENTAL).pieces(quantity) == incremental


def test_ten_cost_less_than_nine():
    """9 · 42 = 378 against 10 · 36 = 360, by hand."""
    best = price_list(*THREE).cheapest(9)
    assert (best.quantity, best.cost) == (10, 360)
    assert price_list(*THREE).cheapest(9, most=9).cost == 378


def test_of_equal_cost_the_fewest_are_ordered():
    """6 · 50 = 10 · 30, by hand."""
    assert price_list((1, 50), (10, 30)).cheapest(6).quantity == 6


def test_each_band_at_its_own_price_never_makes_more_cheaper():
    assert price_list(*THREE, counting=Counting.INCREMENTAL).cheapest(9).quantity == 9


def test_set_up_is_paid_once_and_the_least_quantity_always():
    prices = price_list(*THREE, setup=Decimal(25), minimum=3)
    assert prices.cost(1) == 25 + 3 * 48
    assert prices.cheapest(1).quantity == 3
    assert prices.cheapest(1, most=2).quantity == 3


def test_the_first_break_is_the_fewest_that_are_sold():
    assert price_list((5, 42)).cheapest(2).quantity == 5


def test_the_advice_opens_its_working():
    working = order_working(price_list(*THREE), 9, "GBP")
    assert ("order 9", "378.00 GBP") in working.inputs
    assert ("order 10", "360.00 GBP") in working.inputs
    assert working.result == "order 10: 360.00 GBP"
    assert working.note == "Order 10, not 9: it saves 18.00 GBP and leaves 1 over."


@pytest.mark.parametrize(
    ("prices", "note"),
    [(price_list(*THREE), "No later break costs less."), (price_list((4, 9)), "The fewest that are sold are 4.")],
)
def test_without_a_saving_the_advice_says_so(prices, note):
    assert order_working(prices, 2, "GBP").note == note


@pytest.mark.parametrize(
    ("breaks", "more", "words"),
    [
        ((), {}, "at least one"),
        (((5, 42), (1, 48)), {}, "1 stands after 5"),
        (((1, 48), (5, 42), (5, 41)), {}, "two prices from 5"),
        (((0, 48),), {}, "quantity of 0"),
        (((1, -1),), {}, "price from 1"),
        (((1, "NaN"),), {}, "price from 1"),
        (((1, 48),), {"minimum": 0}, "least quantity"),
        (((1, 48),), {"setup": Decimal(-1)}, "set-up"),
        (((1, 48),), {"tooling": Decimal(-1)}, "tooling"),
    ],
)
def test_a_price_list_that_cannot_be_says_why(breaks, more, words):
    with pytest.raises(ValueError, match=words):
        price_list(*breaks, **more)


@pytest.mark.parametrize("ask", [PriceList.pieces, PriceList.cost, PriceList.cheapest])
def test_no_pieces_cannot_be_ordered(ask):
    with pytest.raises(ValueError, match="quantity of 0"):
        ask(price_list(*THREE), 0)


money = st.decimals(0, 1000, places=2)


@st.composite
def price_lists(draw, countings=tuple(Counting)):
    quantities = sorted(draw(st.sets(st.integers(1, 60), min_size=1, max_size=5)))
    prices = [draw(money) for _ in quantities]
    return price_list(
        *zip(quantities, prices, strict=True),
        counting=draw(st.sampled_from(countings)),
        minimum=draw(st.integers(1, 20)),
        setup=draw(money),
    )


@given(price_lists(), st.integers(1, 70))
def test_the_cheapest_order_is_that_of_trying_every_quantity(prices, quantity):
    """Brute force over every quantity to past the last break; beyond it more pieces only cost more."""
    best = prices.cheapest(quantity)
    every = [prices.cost(number) for number in range(max(quantity, prices.fewest), 90)]
    assert best.cost == min(every)
    assert best.cost == prices.cost(best.quantity)
    assert best.quantity >= quantity


@given(price_lists(), st.integers(1, 70))
def test_one_more_costs_no_less(prices, quantity):
    assert prices.cheapest(quantity + 1).cost >= prices.cheapest(quantity).cost


@given(price_lists((Counting.INCREMENTAL,)), st.integers(1, 70))
def test_bands_add_up_piece_by_piece(prices, quantity):
    """Each piece at the price of the band that it lies in, counted one by one."""
    assert prices.pieces(quantity) == sum(prices.breaks[prices.band(number)].price for number in range(1, quantity + 1))
