"""Median and middle half by hand, and against numpy's percentiles."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.own_rates import FEWEST, Middle, middle, middle_working


def test_by_hand():
    """Of 1 … 9 the middle is 5; places 1 + 8/4 = 3 and 1 + 8·3/4 = 7 bound the middle half."""
    assert middle(range(9, 0, -1)) == Middle(3, 5, 7, 9)


@given(st.lists(st.floats(0.1, 1000), min_size=FEWEST, max_size=40))
def test_it_is_the_linear_percentile(figures):
    found = middle(figures)
    assert [found.low, found.median, found.high] == pytest.approx(np.percentile(figures, [25, 50, 75]))


def test_too_few_say_nothing():
    assert middle([20] * (FEWEST - 1)) is None
    assert middle_working("brushing", [20] * (FEWEST - 1), "min/m²", "") is None


def test_the_working_lists_every_entry():
    working = middle_working("brushing", [31, 24, 20, 60, 25], "min/m²", "")
    assert working.inputs[0][1] == "20, 24, 25, 31, 60"
    assert working.result == "25 min/m²"
