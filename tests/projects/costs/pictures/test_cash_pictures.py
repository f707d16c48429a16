"""A picture of cash and of swings: everything on the paper, the lowest at its place."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.costs.pictures.cash import BOTTOM, LEFT, RIGHT, TOP, cash_picture, steps, tornado_picture
from projects.money.pricing import Flow, cash
from projects.money.what_if import TornadoBar

TODAY = date(2026, 5, 12)


@given(st.integers(-(10**9), 0), st.integers(0, 10**9))
def test_round_steps_hold_both_ends(low, high):
    found = steps(low / 100, high / 100)
    assert found[0] <= low / 100
    assert high / 100 <= found[-1]
    assert len(found) <= 8


def drawn(flows):
    return cash_picture(cash(Flow(day, Decimal(amount), "") for day, amount in flows), TODAY)


def test_the_lowest_point_lies_on_the_line():
    picture = drawn([(TODAY, -900), (date(2026, 6, 1), -300), (date(2026, 7, 1), 1500)])
    assert f"{picture.lowest.x},{picture.lowest.y}" in picture.line.split()
    assert picture.lowest.y > picture.zero


@pytest.mark.parametrize("flows", [[], [(TODAY, -5)], [(date(2025, 1, 1), 10**9), (date(2031, 1, 1), -(10**9))]])
def test_nothing_leaves_the_paper(flows):
    points = [point.split(",") for point in drawn(flows).line.split()]
    assert all(LEFT <= float(x) <= RIGHT and TOP <= float(y) <= BOTTOM for x, y in points)


def test_bars_run_from_the_worse_to_the_better_result():
    bars = [
        TornadoBar("sold", Decimal(0), Decimal(1), Decimal(-50), Decimal(150)),
        TornadoBar("wage", 1, 1, Decimal(90), Decimal(60)),
    ]
    picture = tornado_picture(bars, Decimal(100))
    (sold, wage) = picture.spans
    assert (sold.x, sold.width) == (10, 360)
    assert sold.x < picture.zero < wage.x < picture.base < sold.x + sold.width
