"""A day's cost by hand, and shares that add up whatever the weights.

The method of the largest remainder is Hamilton's, as encyclopaedias describe it; its worked example here is our own.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.costing.contractor import cancellation, day_cost, day_cost_working, shared_out


def test_a_day_of_three_hours_and_twenty_minutes():
    """60 + 35.50 + 85 · 3⅓ = 378.8333…, by hand."""
    assert day_cost(Decimal(60), Decimal("35.50"), Decimal(85), 200) == Decimal("378.83")


def test_half_a_cent_is_rounded_up_and_once():
    """0.01 · ½ h = 0.005."""
    assert day_cost(Decimal(0), Decimal(0), Decimal("0.01"), 30) == Decimal("0.01")


def test_cancelling_late_costs_its_share():
    assert cancellation(Decimal("378.83"), Decimal(50)) == Decimal("189.42")
    assert cancellation(Decimal("378.83"), Decimal(0)) == 0


def test_cents_left_over_go_where_most_was_cut_off():
    """1000 cents by 1, 2, 4: 142.857, 285.714 and 571.429 are cut; the two cents left go to .857 and .714."""
    assert shared_out(Decimal("10.00"), [1, 2, 4]) == [Decimal("1.43"), Decimal("2.86"), Decimal("5.71")]


def test_without_weights_the_shares_are_equal():
    assert shared_out(Decimal("3.00"), [0, 0, 0]) == [Decimal("1.00")] * 3
    assert shared_out(Decimal("3.00"), []) == []


@given(st.integers(0, 10**8), st.lists(st.integers(0, 600), min_size=1, max_size=40))
def test_shares_always_add_up_and_are_never_a_cent_off(amount, weights):
    total = Decimal(amount) / 100
    shares = shared_out(total, weights)
    assert sum(shares) == total
    whole = sum(weights) or len(weights)
    for share, weight in zip(shares, weights if any(weights) else [1] * len(weights), strict=True):
        assert abs(share - total * weight / whole) < Decimal("0.01")


@pytest.mark.parametrize("word", ["call-out", "travel", "rate", "hours"])
def test_the_working_names_what_went_in(word):
    working = day_cost_working(Decimal(60), Decimal("35.50"), Decimal(85), 200, "GBP")
    assert word in dict(working.inputs)
    assert working.result == "378.83 GBP"
    assert dict(working.inputs)["hours"] == "3 h 20 min"
