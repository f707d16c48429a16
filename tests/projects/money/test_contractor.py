"""A contractor's day, by hand."""

from decimal import Decimal

import pytest

from projects.money.contractor import cancellation, day_cost, day_cost_working


def test_a_day_of_three_hours_and_twenty_minutes():
    """60 + 35.50 + 85 · 3⅓ = 378.8333…, by hand."""
    assert day_cost(Decimal(60), Decimal("35.50"), Decimal(85), 200) == Decimal("378.83")


def test_half_a_cent_is_rounded_up_and_once():
    """0.01 · ½ h = 0.005."""
    assert day_cost(Decimal(0), Decimal(0), Decimal("0.01"), 30) == Decimal("0.01")


def test_cancelling_late_costs_its_share():
    assert cancellation(Decimal("378.83"), Decimal(50)) == Decimal("189.42")
    assert cancellation(Decimal("378.83"), Decimal(0)) == 0


@pytest.mark.parametrize("word", ["call-out", "travel", "rate", "hours"])
def test_the_working_names_what_went_in(word):
    working = day_cost_working(Decimal(60), Decimal("35.50"), Decimal(85), 200, "GBP")
    assert word in dict(working.inputs)
    assert working.result == "378.83 GBP"
    assert dict(working.inputs)["hours"] == "3 h 20 min"
