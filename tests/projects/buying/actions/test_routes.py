"""Routes are kept in one order, and only what nothing hangs on is removed."""

import pytest
from django.db.models import ProtectedError

from projects.buying.actions.routes import begin_usual_route, keep_operation, move_operation, remove_operation
from projects.record.models import Operation, Order, OrderLine, Supplier
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def part(workshop):
    return factories.PartFactory(design__workshop=workshop)


def order(part):
    return list(part.operations.order_by("position").values_list("process", "position"))


def test_a_new_operation_comes_last_and_another_part_s_route_stays_apart(part):
    begin_usual_route(part)
    other = cost_factories.OperationFactory(part=factories.PartFactory(design=part.design), position=40)
    last = keep_operation(cost_factories.OperationFactory.build(workshop=part.workshop, part=part, design=part.design))
    assert last.position == 7
    move_operation(last, up=True)
    assert order(part)[-2:] == [("casting", 6), ("painting", 7)]
    other.refresh_from_db()
    assert other.position == 40


def test_an_operation_that_was_ordered_stays(part):
    operation = cost_factories.OperationFactory(part=part)
    supplier = Supplier.objects.create(workshop=part.workshop, name="Hill Foundry")
    ordered = Order.objects.create(
        workshop=part.workshop, supplier=supplier, design=part.design, ordered_on="2026-05-12"
    )
    OrderLine.objects.create(workshop=part.workshop, order=ordered, operation=operation, quantity=2)
    assert remove_operation(operation) == ["1 order"]
    assert Operation.objects.exists()


def test_what_was_entered_a_moment_ago_holds_it_too(part, monkeypatch):
    operation = cost_factories.OperationFactory(part=part)

    def held(self):
        raise ProtectedError("an order came in between", set())

    monkeypatch.setattr(Operation, "delete", held)
    assert remove_operation(operation) == ["something else"]
