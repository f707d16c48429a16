"""When the money of a batch comes in, by hand; and that none of it is lost or made."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.money.pricing import Flow
from projects.money.sales import FirmSale, Sales, sale_flows

TODAY, READY = date(2026, 1, 1), date(2026, 3, 1)


def sales(machines=4, a_month="2", price=400, deposit=25):
    return Sales(machines, READY, Decimal(a_month), Decimal(price), Decimal(deposit))


def test_two_a_month_leave_every_fifteen_days():
    assert [sales().leaves_on(place) for place in (0, 1, 2)] == [READY, date(2026, 3, 16), date(2026, 3, 31)]


def test_agreed_stages_stand_in_for_the_deposit():
    stages = (Flow(date(2026, 2, 1), Decimal(300), "half"),)
    flows = sale_flows(sales(machines=2), [FirmSale("school", 2, Decimal(390), stages)], TODAY)
    assert [(flow.day, flow.amount) for flow in flows] == [(date(2026, 2, 1), 300), (date(2026, 3, 31), 480)]


def test_of_more_buyers_than_machines_the_last_go_without():
    flows = sale_flows(
        sales(machines=1), [FirmSale("first", 1, Decimal(390)), FirmSale("second", 1, Decimal(410))], TODAY
    )
    assert {flow.name for flow in flows} == {"deposit, first", "rest, first"}


def test_who_has_paid_all_pays_no_rest():
    paid = (Flow(TODAY, Decimal(390), "all"),)
    assert sale_flows(sales(machines=1), [FirmSale("first", 1, Decimal(390), paid)], TODAY) == list(paid)


@given(
    st.integers(1, 60),
    st.decimals("0.5", 50, places=2),
    st.decimals(0, 5000, places=2),
    st.decimals(0, 100, places=2),
    st.integers(0, 5),
)
def test_what_comes_in_is_the_price_of_every_machine(machines, a_month, price, deposit, firm):
    batch = sales(machines, a_month, price, deposit)
    flows = sale_flows(batch, [FirmSale("club", firm, Decimal(price))], TODAY)
    assert sum(flow.amount for flow in flows) == price * machines


def test_a_batch_that_sells_for_decades_is_no_plan():
    with pytest.raises(ValueError, match="more than 20 years"):
        sales(machines=10, a_month="0.01")
