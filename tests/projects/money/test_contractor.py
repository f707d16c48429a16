"""A contractor's day, by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from projects.money.contractor import DayTerms, cancellation

TERMS = DayTerms(Decimal(60), Decimal("35.50"), Decimal(85))


def test_a_day_of_three_hours_and_twenty_minutes():
    """60 + 35.50 + 85 · 3⅓ = 378.8333…, by hand."""
    assert TERMS.cost(200) == Decimal("378.83")


def test_half_a_cent_is_rounded_up_and_once():
    """0.01 · ½ h = 0.005."""
    assert DayTerms(Decimal(0), Decimal(0), Decimal("0.01")).cost(30) == Decimal("0.01")


def test_cancelling_late_costs_its_share():
    assert cancellation(Decimal("378.83"), Decimal(50)) == Decimal("189.42")
    assert cancellation(Decimal("378.83"), Decimal(0)) == 0


@pytest.mark.parametrize("word", ["call-out", "travel", "rate", "hours"])
def test_the_working_names_what_went_in(word):
    working = TERMS.working(200, "GBP")
    assert word in dict(working.inputs)
    assert working.result == "378.83 GBP"
    assert dict(working.inputs)["hours"] == "3 h 20 min"


@pytest.mark.parametrize(
    ("more", "one", "two"),
    [
        ({"least": Decimal(500)}, "500.00", "1000.00"),  # 378.83 and 474.33 by the hour
        ({"day": Decimal(520)}, "615.50", "1231.00"),  # 95.50 for coming, and 520
        ({"fixed": Decimal(340)}, "340.00", "680.00"),
        ({"day": Decimal(100), "least": Decimal(300)}, "300.00", "600.00"),
    ],
)
def test_a_least_charge_a_day_and_a_fixed_price(more, one, two):
    """By hand; how contractors ask for it is common practice, no source."""
    terms = replace(TERMS, **more)
    assert (terms.cost(200), terms.cost(200, days=2)) == (Decimal(one), Decimal(two))
    assert terms.working(200, "GBP").result == f"{one} GBP"


def test_nothing_to_blast_costs_nothing():
    assert replace(TERMS, least=Decimal(500)).cost(0) == 0
