"""Quotes as price lists in the workshop's own money."""

from decimal import Decimal

import pytest

from projects.buying.domain.offers import NoRate, NoWeight, price_list, rate_in, rates_of
from projects.record.models import Quote
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def operation(workshop):
    return costs.OperationFactory(part=factories.PartFactory(design__workshop=workshop, mass=12))


def listed(rate, **terms):
    """The price list of a quote as it is kept."""
    quote = Quote.objects.get(pk=costs.QuoteFactory(**terms).pk)
    return price_list(quote, Decimal(rate))


def test_the_latest_rate_counts(workshop):
    costs.RateFactory(workshop=workshop, noted_on="2026-05-02", rate="0.87")
    costs.RateFactory(workshop=workshop, noted_on="2026-04-01", rate="0.80")
    assert rate_in(rates_of(workshop), "EUR") == Decimal("0.87")


def test_our_own_money_is_worth_itself(workshop):
    assert rate_in(rates_of(workshop), "GBP") == 1


def test_a_currency_without_a_rate_is_never_taken_for_our_own(workshop, other_workshop):
    costs.RateFactory(workshop=other_workshop, currency="USD")
    with pytest.raises(NoRate, match="no exchange rate for USD"):
        rate_in(rates_of(workshop), "USD")


def test_prices_set_up_and_tooling_are_changed_at_the_rate(operation):
    """48 EUR at 0.85 are 40.80, by hand."""
    offered = listed("0.85", operation=operation, setup="20", tooling="100")
    assert [(one.from_quantity, one.price) for one in offered.breaks] == [
        (1, Decimal("40.80")),
        (5, Decimal("35.70")),
        (10, Decimal("30.60")),
    ]
    assert (offered.setup, offered.tooling) == (17, 85)


def test_a_price_per_kg_counts_with_the_parts_weight(operation):
    """12 kg at 2.50 are 30, by hand."""
    assert listed(1, operation=operation, price_by="kilogram", prices={1: "2.5"}).breaks[0].price == 30


def test_a_price_per_kg_of_nobody_knows_what_is_no_price(operation):
    operation.part.mass = None
    operation.part.save()
    with pytest.raises(NoWeight, match="no weight yet"):
        listed(1, operation=operation, price_by="kilogram")
