"""What it cost to get a design right, by the revision it was spent on."""

from decimal import Decimal

import pytest

from projects.proving.domain.development import Development
from projects.record.models import CostTerms
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


def test_half_a_cent_of_own_hands_goes_up(part):
    """1 min at 43.50 an hour is 0.725: 0.73 as every other sum, not the 0.72 of the nearest even cent."""
    CostTerms.objects.create(workshop=part.workshop, design=part.design, wage=Decimal("43.50"))
    spend(part, None, 0, minutes=1)
    assert Development(part.design).spent.hands == Decimal("0.73")


def order_for(part, revision, cost, **terms):
    operation = part.operations.first() or cost_factories.OperationFactory(part=part)
    order = cost_factories.OrderFactory(design=part.design, **terms)
    return cost_factories.OrderLineFactory(
        order=order, operation=operation, revision=revision, pieces_cost=Decimal(cost)
    )


def test_orders_for_a_revision_become_development_when_it_is_replaced_unproved(part):
    """150 ordered of A and 48 of B; A was never proved, and B replaced it: 150 with the 180 spent on it."""
    first = cost_factories.RevisionFactory(part=part, label="A")
    spend(part, first, 180)
    order_for(part, first, 150)
    assert Development(part.design).spent.total == 0
    order_for(part, cost_factories.RevisionFactory(part=part, label="B"), 48)
    order_for(part, None, 20)
    development = Development(part.design)
    assert (development.spent.money, development.spent.ordered, development.spent.total) == (180, 150, 330)
    assert (development.of(first).total, development.standing.total) == (330, 0)


def test_orders_for_a_revision_that_was_proved_were_for_machines(part):
    first = cost_factories.RevisionFactory(part=part, label="A")
    order_for(part, first, 150)
    check = cost_factories.CheckFactory(part=part)
    machine = factories.MachineFactory(project__design=part.design)
    piece = factories.PieceFactory(part=part, project=machine.project, revision=first)
    cost_factories.FittingFactory(machine=machine, piece=piece, position=1)
    cost_factories.TrialFactory(machine=machine, check_done=check, revision=first)
    cost_factories.RevisionFactory(part=part, label="B")
    assert Development(part.design).spent.total == 0


def test_orders_cancelled_do_not_count_and_those_without_a_rate_are_named(part):
    """100 EUR at 0.87; CHF have no rate."""
    first = cost_factories.RevisionFactory(part=part, label="A")
    cost_factories.RevisionFactory(part=part, label="B")
    cost_factories.RateFactory(workshop=part.workshop, rate="0.87")
    order_for(part, first, 40, cancelled_on="2026-05-02")
    order_for(part, first, 100, supplier__currency="EUR")
    unknown = order_for(part, first, 60, supplier__currency="CHF")
    development = Development(part.design)
    assert (development.spent.ordered, development.without_rate) == (87, [unknown.order])
