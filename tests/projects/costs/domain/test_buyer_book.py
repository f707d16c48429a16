"""Buyers together; counted and added by hand, no source."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from projects.costs.domain.buyer_book import BuyerBook, MachineMass
from projects.record.models import StagePayment
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def design(workshop):
    return factories.DesignFactory(workshop=workshop)


@pytest.fixture
def buyer(design):
    """A maker of buyers of one design."""
    return lambda **told: cost.BuyerFactory(design=design, **told)


def stage(buyer, amount, **told):
    return StagePayment.objects.create(workshop=buyer.workshop, buyer=buyer, amount=Decimal(amount), **told)


def test_firm_and_asking_are_counted_by_machines_to_make(design, buyer):
    buyer(standing="firm", count=3)
    buyer(standing="firm", own_machine=True)
    buyer(count=2)
    buyer(standing="gone", count=9)
    book = BuyerBook.of(design)
    assert (len(book.firm), book.firm_machines, book.asked_machines) == (2, 3, 2)


def test_what_they_would_bear_falls_while_the_machines_that_go_add_up(design, buyer):
    buyer(would_bear=Decimal(900), count=2)
    buyer(would_bear=Decimal(1200))
    buyer(would_bear=Decimal(700), agreed_price=Decimal(1000), standing="firm")
    buyer(would_bear=Decimal(5000), own_machine=True)
    buyer(would_bear=Decimal(5000), standing="gone")
    buyer()
    assert [(each.price, each.machines) for each in BuyerBook.of(design).bearings] == [(1200, 1), (1000, 2), (900, 4)]


def test_what_is_paid_and_what_is_owed(design, buyer):
    firm = buyer(standing="firm", agreed_price=Decimal(500), count=2)
    stage(firm, 300, paid_on=date(2026, 5, 2))
    stage(firm, 200)
    book = BuyerBook.of(design)
    assert (book.paid, book.owed) == (300, 700)
    assert book.buyers[0].not_staged == 500


def test_money_of_one_who_is_gone_is_owed_to_them(design, buyer):
    gone = buyer(standing="gone", agreed_price=Decimal(500))
    stage(gone, 100, paid_on=date(2026, 5, 2))
    assert BuyerBook.of(design).buyers[0].owed == -100


def test_without_a_price_the_stages_are_what_is_owed(design, buyer):
    asked = buyer(standing="firm")
    stage(asked, 80)
    assert BuyerBook.of(design).buyers[0].owed == 80


def test_a_machine_weighs_its_parts_and_says_which_are_not_weighed(design):
    factories.PartFactory(design=design, name="frame", mass=13.5, quantity=2)
    factories.PartFactory(design=design, name="table", mass=10)
    factories.PartFactory(design=design, name="lamp", mass=None)
    mass = MachineMass.of(design)
    assert mass.known.to("kg").magnitude == pytest.approx(37)
    assert mass.missing == ("lamp",)


def test_a_collected_machine_has_no_carriage(buyer):
    one = buyer(carriage=Decimal(40))
    with pytest.raises(ValidationError, match="collected"):
        one.clean()
    one.leaves = "carried"
    one.clean()
