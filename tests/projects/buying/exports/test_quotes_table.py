"""Quotes side by side as a file. Sums by hand: prices 48, 42 from 5, 36 from 10; set-up 15, tooling 200."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.buying.domain.comparison import comparisons
from projects.buying.exports.quotes_table import quotes_table
from projects.site.imports.tables import read_table
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(workshop):
    part = factories.PartFactory(design__workshop=workshop, name="=wheel", quantity=3)
    costs.projects.CostTerms.objects.create(design=part.design, workshop=workshop, sizes="3")
    quote = costs.QuoteFactory(operation=costs.OperationFactory(part=part), setup="15", tooling="200")
    costs.QuoteFactory(operation=quote.operation, supplier__currency="USD", supplier__name="zinc")
    return quote


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_each_quote_has_a_row_at_each_size_and_its_sums_add_up(quote, form):
    told = comparisons(quote.operation.design, date(2026, 5, 11))
    ours, abroad = read_table(quotes_table(told, "GBP", form)).rows
    assert (ours.text("part"), ours.date_in("quoted on")) == ("=wheel", date(2026, 5, 4))
    counted = [ours.whole_in(name) for name in ("machines", "pieces needed", "pieces ordered")]
    sums = [ours.number_in(f"{name} gbp") for name in ("pieces", "set-up", "tooling", "all", "each needed")]
    assert (counted, sums) == ([3, 9, 10], [360, 15, 200, 575, Decimal("63.89")])
    assert (abroad.text("all gbp"), abroad.text("note")) == ("", "There is no exchange rate for USD yet.")


def test_the_page_sends_it(restorer_client, helper_client, quote):
    for kind in ("csv", "xlsx"):
        address = reverse(f"quotes-{kind}", args=[quote.operation.design_id])
        assert read_table(restorer_client.get(address).content).rows
        assert helper_client.get(address).status_code == 403
