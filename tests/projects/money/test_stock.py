"""What is there and on order against what is needed; the sums by hand, as the comments have them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.starts import NINE_IN_TEN, entering
from projects.money.stock import NetRequirement, StockUnit, counted_in, net_requirement_working, net_requirements, spare

ONE = Decimal(1)
yields = st.lists(st.decimals("0.5", 1, places=2), min_size=1, max_size=4).map(tuple)


def to_order(good, shares, there, on_order, chance=NINE_IN_TEN):
    return [one.to_order for one in net_requirements(good, shares, chance, there, on_order)]


@given(st.integers(1, 60), yields)
def test_with_nothing_there_as_many_come_to_each_operation_as_ever(good, shares):
    nothing = [0] * len(shares)
    assert to_order(good, shares, nothing, nothing) == list(entering(good, shares, NINE_IN_TEN))


@pytest.mark.parametrize(
    ("there", "on_order", "left"),
    [
        ((0, 0), (10, 0), [0, 10]),  # ordered last week
        ((4, 0), (3, 0), [3, 10]),
        ((6, 2), (0, 3), [4, 5]),
        ((0, 4), (0, 0), [6, 6]),  # what is turned was cast
        ((14, 0), (0, 0), [0, 10]),  # more came than was ordered
        ((2, 0), (30, 0), [0, 10]),
        ((10, 10), (0, 0), [0, 0]),
    ],
)
def test_without_scrap_it_is_a_subtraction(there, on_order, left):
    assert to_order(10, (ONE, ONE), there, on_order) == left


def test_enough_good_ones_are_enough_whatever_was_lost_before():
    """Eleven are started for nine at 0.9: P(9 of 10) = 0.736, P(9 of 11) = 0.910 (binomial, by hand)."""
    assert entering(9, (Decimal("0.9"),)) == (11,)
    assert to_order(9, (Decimal("0.9"),), (9,), (0,)) == [0]


def test_for_what_is_missing_as_many_are_started_as_its_scrap_wants():
    """Three missing at 0.8: P(3 of 4) = 0.8192 and P(3 of 5) = 0.942 (binomial, by hand)."""
    assert to_order(9, (Decimal("0.8"),), (6,), (0,)) == [5]


@given(st.integers(1, 40), yields, st.data())
def test_more_there_or_on_order_never_asks_for_more(good, shares, data):
    numbers = st.lists(st.integers(0, 60), min_size=len(shares), max_size=len(shares))
    there, on_order = data.draw(numbers), data.draw(numbers)
    few = to_order(good, shares, there, on_order)
    at = data.draw(st.integers(0, len(shares) - 1))
    more = [number + (place == at) for place, number in enumerate(there)]
    assert all(a <= b for a, b in zip(to_order(good, shares, more, on_order), few, strict=True))
    more = [number + (place == at) for place, number in enumerate(on_order)]
    assert all(a <= b for a, b in zip(to_order(good, shares, there, more), few, strict=True))
    gross = entering(good, shares, NINE_IN_TEN)
    assert all(0 <= number <= least for number, least in zip(few, gross, strict=True))


def test_what_was_received_by_number_makes_those_furthest_ahead():
    units = [StockUnit("a", 1), StockUnit("b", 2), StockUnit("c", 1, seated=True)]
    assert {one.key: one.through for one in counted_in(units, (0, 2, 1))} == {"a": 1, "b": 2, "c": 3}


def test_what_nobody_marked_is_counted_once():
    assert [one.through for one in counted_in([StockUnit("a", 1)], (3, 2))] == [2, 2, 1]


def test_what_sits_in_machines_fills_their_places_first():
    units = [StockUnit("a", 1), StockUnit("b", 3), StockUnit("c", 1, seated=True), StockUnit("d", 2)]
    assert [one.key for one in spare(units, 2)] == ["d", "a"]
    assert [one.key for one in spare(units, 0)] == ["b", "d", "a"]
    assert spare(units, 9) == []


def test_the_number_opens_its_working():
    working = net_requirement_working(NetRequirement(10, 10, 4, 3), "frame: casting")
    assert working.inputs == (
        ("if nothing were there", "10"), ("good ones of it wanted", "10"), ("in hand", "4"), ("missing", "6"),
        ("on order, not received", "3"),
    )  # fmt: skip
    assert working.result == "3"
    scrapped = net_requirement_working(NetRequirement(9, 9, 6, 0, Decimal("0.8")), "frame: casting")
    assert ("to send through it for these", "5") in scrapped.inputs
