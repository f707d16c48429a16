"""What it cost to get a design right, by the revision it was spent on."""

from decimal import Decimal

import pytest

from projects.models import CostTerms
from projects.models.development import Development
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def part(workshop):
    workshop.wage = Decimal("42.00")
    workshop.save()
    return factories.PartFactory(design__workshop=workshop)


def spend(part, revision, amount, minutes=0):
    cost_factories.ExpenseFactory(design=part.design, revision=revision, amount=amount, minutes=minutes)


def test_what_went_into_replaced_revisions_and_the_whole_is_development(part):
    """A was replaced, B stands: 180 + 90 min at 42 an hour (63) + 25 for the whole are development, 40 are not yet."""
    first, second = (cost_factories.RevisionFactory(part=part, label=label) for label in "AB")
    spend(part, first, 180, minutes=90)
    spend(part, second, 40)
    spend(part, None, 25)
    development = Development(part.design)
    assert (development.spent.money, development.spent.minutes, development.spent.hands) == (205, 90, 63)
    assert (development.spent.total, development.standing.total) == (268, 40)
    assert [development.of(each).total for each in (first, second, None)] == [243, 40, 25]


def test_money_becomes_development_when_the_next_revision_is_opened(part):
    spend(part, cost_factories.RevisionFactory(part=part, label="A"), 180)
    assert (Development(part.design).spent.total, Development(part.design).standing.total) == (0, 180)
    cost_factories.RevisionFactory(part=part, label="B")
    assert (Development(part.design).spent.total, Development(part.design).standing.total) == (180, 0)


def test_the_design_s_own_rate_goes_before_the_workshop_s(part):
    CostTerms.objects.create(workshop=part.workshop, design=part.design, wage=60)
    spend(part, None, 0, minutes=90)
    assert Development(part.design).spent.hands == 90


def test_minutes_without_a_rate_are_told_as_unpaid(part):
    part.workshop.wage = None
    part.workshop.save()
    spend(part, None, 10, minutes=90)
    spent = Development(part.design).spent
    assert (spent.unpaid, spent.hands, spent.total) == (True, 0, 10)


def test_a_third_of_an_hour_is_rounded_to_the_cent(part):
    """20 min at 42.00 are 14.00; 7 min are 4.90; 1 min is 0.70; a rate of 42.50 makes 20 min 14.1667, told as 14.17."""
    CostTerms.objects.create(workshop=part.workshop, design=part.design, wage=Decimal("42.50"))
    spend(part, None, 0, minutes=20)
    assert Development(part.design).spent.hands == Decimal("14.17")
