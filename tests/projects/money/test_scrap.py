"""The share that comes out good and its range, against a table, a reference library and the binomial itself."""

from decimal import Decimal
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from finishing.science.sources import SOURCES
from projects.money.scrap import GoodShare

# Newcombe 1998, Two-sided confidence intervals for the single proportion, table I, method 3 (Wilson's score
# without correction): its four examples, to four places. From memory.
NEWCOMBE = [
    (81, 263, "0.2553", "0.3662"),
    (15, 148, "0.0624", "0.1605"),
    (0, 20, "0.0000", "0.1611"),
    (1, 29, "0.0061", "0.1718"),
]


@pytest.mark.parametrize(("good", "started", "low", "high"), NEWCOMBE)
def test_the_range_is_the_published_one(good, started, low, high):
    told = [str(end.quantize(Decimal("0.0001"))) for end in GoodShare(started, good).range]
    assert told == [low, high]


@settings(deadline=None)  # the library is slow to load
@given(some.integers(1, 400).flatmap(lambda n: some.tuples(some.integers(0, n), some.just(n))))
def test_it_agrees_with_a_library_of_statistics(counted):
    stats = pytest.importorskip("scipy.stats")
    good, started = counted
    known = stats.binomtest(good, started).proportion_ci(method="wilson")
    low, high = GoodShare(started, good).range
    assert float(low) == pytest.approx(known.low, abs=1e-9)
    assert float(high) == pytest.approx(known.high, abs=1e-9)


@given(some.integers(1, 1000).flatmap(lambda n: some.tuples(some.integers(0, n), some.just(n))))
def test_what_was_seen_lies_in_its_range_and_the_range_between_none_and_all(counted):
    good, started = counted
    share = GoodShare(started, good)
    low, high = share.range
    assert 0 <= low <= share.share <= high <= 1


@pytest.mark.parametrize("chance", [0.5, 0.7, 0.9])
def test_it_holds_the_truth_in_about_19_of_20_batches(chance):
    """The whole binomial summed; Brown, Cai & DasGupta 2001 on how well this range covers at 40."""
    n = 40
    held = sum(
        comb(n, good) * chance**good * (1 - chance) ** (n - good)
        for good in range(n + 1)
        if GoodShare(n, good).range[0] <= Decimal(chance) <= GoodShare(n, good).range[1]
    )
    assert 0.92 < held < 0.98


def test_more_pieces_make_it_narrower():
    def width(times):
        low, high = GoodShare(10 * times, 9 * times).range
        return high - low

    assert width(1) > width(3) > width(30)


@pytest.mark.parametrize(("good", "started"), [(0, 0), (3, 2), (-1, 4)])
def test_counts_that_cannot_be_are_refused(good, started):
    with pytest.raises(ValueError, match="cannot be"):
        GoodShare(started, good)


def test_its_working_names_counts_range_and_source():
    working = GoodShare(10, 9).working
    assert working.result == "90.0 %, likely between 60 and 98 %"
    assert ("started, n", "10") in working.inputs
    assert working.source in SOURCES
