"""How many to start: against the sum in the textbooks in exact fractions, and by hand."""

from decimal import Decimal
from fractions import Fraction
from math import ceil, comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.rounding import cents
from projects.money.starts import chance_of, entering, on_average, rolled, starts, starts_working


def binomial(good, started, yield_):
    """Σ C(n, i) yⁱ (1 − y)ⁿ⁻ⁱ over i from good to n, in exact fractions: the definition [BINOMIAL]."""
    y = Fraction(yield_)
    return sum(comb(started, i) * y**i * (1 - y) ** (started - i) for i in range(good, started + 1))


@pytest.mark.parametrize(("good", "yield_", "reckoned"), [(8, "0.90", 9), (8, "0.85", 10), (10, "0.92", 11)])
def test_starts_on_average(good, yield_, reckoned):
    """By hand: 8 / 0.90 = 8.89, 8 / 0.85 = 9.41, 10 / 0.92 = 10.87."""
    assert ceil(on_average(good, Decimal(yield_))) == reckoned


def test_a_good_one_bears_the_scrap():
    """58.50 / 0.90 = 65.00, by hand."""
    assert cents(Decimal("58.50") * on_average(1, Decimal("0.90"))) == Decimal("65.00")


def test_yields_roll_up():
    """0.95 · 0.97 · 0.99 = 0.912285, by hand; 8 / 0.912285 = 8.77."""
    share = rolled([Decimal("0.95"), Decimal("0.97"), Decimal("0.99")])
    assert share == Decimal("0.912285")
    assert round(on_average(8, share), 2) == Decimal("8.77")


@pytest.mark.parametrize(("started", "chance"), [(8, "0.4305"), (9, "0.7748"), (10, "0.9298"), (11, "0.9815")])
def test_chances_of_eight_good_ones(started, chance):
    """[BINOMIAL], our own sums: at 90 % good, as in any table of the distribution."""
    assert round(chance_of(8, started, Decimal("0.9")), 4) == Decimal(chance)


def test_nine_in_ten_takes_ten_and_even_chances_take_nine():
    """From the four chances above."""
    assert starts(8, Decimal("0.9")) == 10
    assert starts(8, Decimal("0.9"), Decimal("0.5")) == 9
    assert starts(8, Decimal("0.9"), Decimal("0.95")) == 11


def test_a_chance_met_exactly_is_met():
    """Two throws of a coin: 3 in 4 that one at least falls right."""
    assert starts(1, Decimal("0.5"), Decimal("0.75")) == 2


yields = st.decimals("0.3", 1, places=3)


@given(st.integers(1, 40), yields, st.decimals("0.5", "0.99", places=2))
def test_the_fewest_that_are_enough(good, yield_, chance):
    started = starts(good, yield_, chance)
    assert binomial(good, started, yield_) >= Fraction(chance)
    assert started == good or binomial(good, started - 1, yield_) < Fraction(chance)


@given(st.integers(1, 40), st.integers(1, 60), yields)
def test_chances_are_those_of_the_definition(good, started, yield_):
    assert abs(Fraction(chance_of(good, started, yield_)) - binomial(good, started, yield_)) < Fraction(1, 10**20)


@given(st.integers(1, 60), st.lists(yields, min_size=1, max_size=5))
def test_one_more_never_asks_for_fewer(good, shares):
    now, then = (entering(number, tuple(shares)) for number in (good, good + 1))
    assert all(later >= earlier for earlier, later in zip(now, then, strict=True))
    assert all(number >= good for number in now)


def test_without_scrap_as_many_are_started_as_wanted():
    assert entering(7, (Decimal(1), Decimal(1))) == (7, 7)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: starts(0, Decimal("0.9")), "quantity: 0"),
        (lambda: starts(8, Decimal(0)), "come out good: 0 %"),
        (lambda: starts(8, Decimal("1.01")), "come out good: 101.00 %"),
        (lambda: starts(8, Decimal("NaN")), "come out good"),
        (lambda: starts(8, Decimal("0.9"), Decimal(1)), "chance of enough"),
        (lambda: starts(8, Decimal("0.00001")), "More than 100000"),
    ],
)
def test_what_cannot_be_is_said(ask, words):
    with pytest.raises(ValueError, match=words):
        ask()


def test_the_working_shows_the_chances_beside_it():
    working = starts_working(8, Decimal("0.9"))
    assert dict(working.inputs)["chance with 9"] == "77.5 %"
    assert dict(working.inputs)["chance with 10"] == "93.0 %"
    assert working.result == "start 10"
    assert "8.89" in working.note
