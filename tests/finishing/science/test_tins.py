"""The cheapest set of tins against every set there is."""

from decimal import Decimal
from itertools import product
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishing.science.tins import Tin, cheapest_tins
from finishing.science.units import Quantity
from finishing.science.validity import OutsideValidity


def litres(number):
    return Quantity(number, "L")


def tin(size, price):
    return Tin(litres(size), Decimal(price))


SHELF = [tin(0.5, "12.00"), tin(1, "19.00"), tin(2.5, "40.00"), tin(5, "75.00")]

millilitres = st.integers(10, 600).map(lambda tens: tens * 10)
offers = st.lists(st.tuples(millilitres, st.integers(0, 3000)), min_size=1, max_size=3, unique_by=lambda o: o[0])


def every_set(needed, offered):
    """All sets that could be best, worth (cost, left over, tins): no tin more often than would do alone."""
    most = [ceil(needed / size) for size, _ in offered]
    for counts in product(*(range(n + 1) for n in most)):
        total = sum(count * size for count, (size, _) in zip(counts, offered, strict=True))
        if total >= needed:
            cost = sum(count * cents for count, (_, cents) in zip(counts, offered, strict=True))
            yield cost, total - needed, sum(counts)


@settings(deadline=None)
@given(offers, st.integers(1, 150).map(lambda tens: tens * 10))
def test_no_set_of_tins_is_better(offered, needed):
    shelf = [Tin(Quantity(size, "mL"), Decimal(cents) / 100) for size, cents in offered]
    purchase = cheapest_tins(Quantity(needed, "mL"), shelf)
    cost, over, count = min(every_set(needed, offered))
    assert purchase.cost == Decimal(cost) / 100
    assert purchase.left_over.to("mL").magnitude == pytest.approx(over, abs=1e-6)
    assert sum(number for _, number in purchase.tins) == count


@settings(deadline=None)
@given(offers, st.floats(0, 5), st.floats(0, 3))
def test_it_never_falls_short_and_counts_what_is_left(offered, needed, on_hand):
    shelf = [Tin(Quantity(size, "mL"), Decimal(cents) / 100) for size, cents in offered]
    purchase = cheapest_tins(litres(needed), shelf, litres(on_hand))
    assert purchase.left_over.magnitude > -1e-8
    assert (purchase.bought + litres(on_hand) - litres(needed)).magnitude == pytest.approx(
        purchase.left_over.magnitude, abs=1e-9
    )
    assert purchase.cost == sum(count * chosen.price for chosen, count in purchase.tins)


@given(st.floats(0.1, 20), st.floats(0, 5))
def test_more_paint_never_costs_less(needed, more):
    assert cheapest_tins(litres(needed + more), SHELF).cost >= cheapest_tins(litres(needed), SHELF).cost


def test_one_big_tin_may_be_cheaper_than_what_just_fits():
    """4.1 L: 2.5 + 1 + 1 costs 78, one of 5 L 75. By hand."""
    purchase = cheapest_tins(litres(4.1), SHELF)
    assert purchase.tins == ((SHELF[3], 1),)
    assert purchase.left_over.magnitude == pytest.approx(0.9)


def test_of_equal_cost_the_least_is_left_over():
    shelf = [tin(1, "20"), tin(2.5, "40")]
    purchase = cheapest_tins(litres(2), shelf)
    assert purchase.tins == ((shelf[0], 2),)  # 40 either way, nothing left over this way


def test_of_equal_leftovers_the_fewest_tins():
    shelf = [tin(1, "10"), tin(2, "20")]
    assert cheapest_tins(litres(4), shelf).tins == ((shelf[1], 2),)


def test_stock_on_hand_is_used_first():
    assert cheapest_tins(litres(3), SHELF, on_hand=litres(0.5)).tins == ((SHELF[2], 1),)


def test_enough_on_hand_buys_nothing():
    purchase = cheapest_tins(litres(1), SHELF, on_hand=litres(1.2))
    assert purchase.tins == ()
    assert purchase.cost == 0
    assert purchase.left_over.magnitude == pytest.approx(0.2)


def test_ten_tenths_are_one_litre():
    assert cheapest_tins(sum([litres(0.1)] * 10), SHELF).tins == ((SHELF[1], 1),)


def test_tins_in_us_measures():
    """Five quarts: a gallon and a quart at 53 against five quarts at 65. By hand."""
    gallon, quart = Tin(Quantity(1, "gallon"), Decimal(40)), Tin(Quantity(1, "quart"), Decimal(13))
    assert cheapest_tins(Quantity(4.9, "quart"), [quart, gallon]).tins == ((gallon, 1), (quart, 1))


@pytest.mark.parametrize(
    ("ask", "named"),
    [
        (lambda: tin(0, "5"), "tin size"),
        (lambda: tin(1, "-5"), "tin price"),
        (lambda: cheapest_tins(litres(-1), SHELF), "paint needed"),
        (lambda: cheapest_tins(litres(1), SHELF, litres(-1)), "paint on hand"),
        (lambda: cheapest_tins(litres(1), []), "number of tin sizes"),
    ],
)
def test_an_impossible_value_is_named(ask, named):
    with pytest.raises(OutsideValidity) as refusal:
        ask()
    assert refusal.value.name == named
