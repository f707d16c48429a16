"""The cast of what a machine costs: how parts are made, who makes them, what is proved."""

from datetime import UTC, date, datetime
from decimal import Decimal

import factory
from factory.django import DjangoModelFactory

from projects.record import models as projects
from projects.record.domain.proved import Proof

from . import factories


class RevisionFactory(DjangoModelFactory):
    class Meta:
        model = projects.Revision

    workshop = factory.SelfAttribute("part.workshop")
    part = factory.SubFactory(factories.PartFactory)
    label = "A"


class OperationFactory(DjangoModelFactory):
    """A casting of `part`."""

    class Meta:
        model = projects.Operation

    workshop = factory.SelfAttribute("part.workshop")
    part = factory.SubFactory(factories.PartFactory)
    design = factory.SelfAttribute("part.design")
    process = projects.Operation.Process.CASTING


class ToolFactory(DjangoModelFactory):
    class Meta:
        model = projects.Tool

    workshop = factory.SelfAttribute("operation.workshop")
    operation = factory.SubFactory(OperationFactory)
    name = factory.Sequence(lambda n: f"P-{n:02}")
    state = projects.Tool.State.IN_USE


class CheckFactory(DjangoModelFactory):
    """Of a part, or with `part=None, design=…` of the whole machine."""

    class Meta:
        model = projects.Check

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SelfAttribute("part.design")
    part = factory.SubFactory(factories.PartFactory)
    what = factory.Sequence(lambda n: f"runs true {n}")


class FittingFactory(DjangoModelFactory):
    """`piece` put into `machine`."""

    class Meta:
        model = projects.Fitting

    workshop = factory.SelfAttribute("machine.workshop")
    machine = factory.SubFactory(factories.MachineFactory)
    piece = factory.SubFactory(factories.PieceFactory)
    part = factory.SelfAttribute("piece.part")
    fitted_at = datetime(2026, 5, 12, 9, tzinfo=UTC)
    by = factory.SubFactory(factories.UserFactory)


class TrialFactory(DjangoModelFactory):
    class Meta:
        model = projects.Trial

    workshop = factory.SelfAttribute("machine.workshop")
    machine = factory.SubFactory(factories.MachineFactory)
    check_done = factory.SubFactory(CheckFactory)
    passed = True
    tried_at = datetime(2026, 5, 13, 9, tzinfo=UTC)
    by = factory.SubFactory(factories.UserFactory)


class ExpenseFactory(DjangoModelFactory):
    class Meta:
        model = projects.Expense

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(factories.DesignFactory)
    what = "pattern altered"
    spent_on = datetime(2026, 5, 12, tzinfo=UTC).date()


class SupplierFactory(DjangoModelFactory):
    """Asks in the workshop's own money."""

    class Meta:
        model = projects.Supplier

    workshop = factory.SubFactory(factories.WorkshopFactory)
    name = factory.Sequence(lambda n: f"foundry {n}")


class RateFactory(DjangoModelFactory):
    """A euro at 0.85 of the workshop's pounds."""

    class Meta:
        model = projects.ExchangeRate

    workshop = factory.SubFactory(factories.WorkshopFactory)
    currency = "EUR"
    rate = Decimal("0.85")
    noted_on = date(2026, 5, 1)


class QuoteFactory(DjangoModelFactory):
    """For `operation`, at `prices`: {from how many: price}."""

    class Meta:
        model = projects.Quote
        skip_postgeneration_save = True

    workshop = factory.SelfAttribute("operation.workshop")
    operation = factory.SubFactory(OperationFactory)
    supplier = factory.SubFactory(SupplierFactory, workshop=factory.SelfAttribute("..workshop"))
    quoted_on = date(2026, 5, 4)

    @factory.post_generation
    def prices(self, create, extracted, **kwargs):
        for begins, price in (extracted or {1: "48", 5: "42", 10: "36"}).items():
            self.breaks.create(workshop=self.workshop, from_quantity=begins, price=Decimal(price))


class RequestFactory(DjangoModelFactory):
    """Asks for `operations`, for one machine and for five."""

    class Meta:
        model = projects.QuoteRequest
        skip_postgeneration_save = True

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(factories.DesignFactory)
    supplier = factory.SubFactory(SupplierFactory, workshop=factory.SelfAttribute("..workshop"))
    quantities = "1, 5"
    asked_on = date(2026, 5, 4)

    @factory.post_generation
    def operations(self, create, extracted, **kwargs):
        for operation in extracted or ():
            self.lines.create(workshop=self.workshop, operation=operation)


class OrderFactory(DjangoModelFactory):
    """Of 1 May, promised for 15 May; its lines come with OrderLineFactory."""

    class Meta:
        model = projects.Order

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(factories.DesignFactory)
    supplier = factory.SubFactory(SupplierFactory, workshop=factory.SelfAttribute("..workshop"))
    ordered_on = date(2026, 5, 1)
    promised_on = date(2026, 5, 15)


class OrderLineFactory(DjangoModelFactory):
    """Ten castings of the operation's part at 48."""

    class Meta:
        model = projects.OrderLine

    workshop = factory.SelfAttribute("operation.workshop")
    operation = factory.SubFactory(OperationFactory)
    order = factory.SubFactory(OrderFactory, design=factory.SelfAttribute("..operation.design"))
    quantity = 10
    pieces_cost = Decimal(480)


class ReceiptFactory(DjangoModelFactory):
    """All good."""

    class Meta:
        model = projects.Receipt

    workshop = factory.SelfAttribute("line.workshop")
    line = factory.SubFactory(OrderLineFactory)
    received_on = date(2026, 5, 12)
    good = 1
    by = factory.SubFactory(factories.UserFactory)


class PaymentFactory(DjangoModelFactory):
    class Meta:
        model = projects.Payment

    workshop = factory.SelfAttribute("order.workshop")
    order = factory.SubFactory(OrderFactory)
    paid_on = date(2026, 5, 20)
    amount = Decimal(100)


class BuyerFactory(DjangoModelFactory):
    class Meta:
        model = projects.Buyer

    workshop = factory.SelfAttribute("design.workshop")
    design = factory.SubFactory(factories.DesignFactory)
    name = factory.Sequence(lambda n: f"buyer {n}")
    enquired_on = date(2026, 5, 1)


class StagePaymentFactory(DjangoModelFactory):
    class Meta:
        model = projects.StagePayment

    workshop = factory.SelfAttribute("buyer.workshop")
    buyer = factory.SubFactory(BuyerFactory)
    amount = Decimal(100)


class PaintReceiptFactory(DjangoModelFactory):
    """Two litres for 40 pounds."""

    class Meta:
        model = projects.PaintReceipt

    workshop = factory.SelfAttribute("project.workshop")
    project = factory.SubFactory(factories.ProjectFactory)
    coating = factory.SubFactory(factories.CoatingFactory, workshop=factory.SelfAttribute("..workshop"))
    litres = 2
    price = Decimal(40)
    currency = "GBP"
    bought_on = date(2026, 5, 11)
    by = factory.SubFactory(factories.UserFactory)


def unproved(revision):
    """Why a revision is not proved; "" where it is."""
    return Proof(revision.part.design).unproved(revision.part, revision)
