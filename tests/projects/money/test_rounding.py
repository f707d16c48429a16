"""Sums to the cent, and shares that add up whatever the weights.

The method of the largest remainder is Hamilton's, as encyclopaedias describe it; its worked example here is our own.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.rounding import cents, not_below_nothing, shared_out


def test_half_a_cent_goes_up():
    assert [cents(Decimal(amount)) for amount in ("0.005", "0.0049", "2.675")] == [
        Decimal("0.01"),
        Decimal("0.00"),
        Decimal("2.68"),
    ]


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


def test_weights_may_be_sums_of_money():
    """Half a cent each: the one cent there is goes to the first."""
    assert shared_out(Decimal("0.01"), [Decimal("0.005"), Decimal("0.005")]) == [Decimal("0.01"), Decimal("0.00")]


@pytest.mark.parametrize("amount", ["-0.01", "NaN", "Infinity"])
def test_what_is_no_sum_of_money_is_named(amount):
    with pytest.raises(ValueError, match="tooling"):
        not_below_nothing("tooling", Decimal(amount))
