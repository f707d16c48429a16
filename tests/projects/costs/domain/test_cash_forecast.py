"""When money of a batch goes and comes, by hand, with what is ordered and what is not."""

from datetime import date
from decimal import Decimal

import pytest

from projects.costs.domain.cash_forecast import CashForecast
from projects.costs.domain.cost_sheet import CostSheet
from projects.costs.domain.ordering import BatchWanted, Ordering
from projects.costs.domain.planned_orders import PlannedOrders
from projects.costs.domain.price_sheet import PriceAsked, PriceSheet
from projects.record.models import CostTerms, Design
from projects.record.models.cost_terms import terms_of
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db

TODAY = date(2026, 5, 12)


@pytest.fixture
def frame(workshop):
    return factories.PartFactory(design__workshop=workshop, name="frame")


@pytest.fixture
def foundry(workshop):
    return cost_factories.SupplierFactory(workshop=workshop, name="foundry", lead_days=20, days_to_pay=10)


@pytest.fixture
def casting(frame, foundry):
    row = cost_factories.OperationFactory(part=frame)
    cost_factories.QuoteFactory(operation=row, supplier=foundry, prices={1: "50"})
    return row


@pytest.fixture
def project(frame):
    return factories.ProjectFactory(design=frame.design)


def forecast(frame, machines=4, project=None, price=200, **options):
    design = Design.objects.get(pk=frame.design.pk)
    priced = PriceSheet(CostSheet(design, terms_of(design), TODAY), machines, PriceAsked("price", Decimal(price)))
    return CashForecast(priced, project, TODAY, **options)


def planned(frame):
    question = Ordering(frame.design, BatchWanted(4), TODAY)
    return PlannedOrders(question, question.best)


def told(found):
    return [(str(flow.day), int(flow.amount), flow.name) for flow in found.flows]


def test_a_casting_is_paid_when_it_is_there_and_the_suppliers_days_are_over(frame, casting):
    assert told(forecast(frame))[:1] == [("2026-06-11", -200, "casting, foundry")]  # 20 days to make, 10 to pay


@pytest.fixture
def pattern(frame, casting):
    """A pattern maker takes 35 days."""
    row = cost_factories.OperationFactory(part=frame, process="pattern", position=0)
    casting.position = 1
    casting.save()
    maker = cost_factories.SupplierFactory(workshop=frame.workshop, name="maker", lead_days=35, days_to_pay=5)
    cost_factories.QuoteFactory(operation=row, supplier=maker, prices={1: "600"})
    return row


def test_a_pattern_is_waited_for_before_it_is_cast(frame, pattern):
    """35 days for the pattern, 20 for the castings: 6 July and no longer 1 June, and paid in each one's own days."""
    found = forecast(frame)
    assert found.ready == date(2026, 7, 6)
    assert told(found)[:2] == [("2026-06-21", -600, "pattern, maker"), ("2026-07-16", -200, "casting, foundry")]
    assert found.priced.sheet.ready == [date(2026, 7, 6)] * 5
    assert planned(frame).finish == found.ready


def test_a_pattern_in_use_is_not_waited_for(frame, pattern, casting):
    cost_factories.ToolFactory(operation=casting, kind="pattern")
    assert forecast(frame).ready == date(2026, 6, 1)


def test_a_fixture_still_to_be_made_is_ordered_today_and_waited_for(frame, casting):
    """30 days for the fixture while castings take 20; then 10 of machining: 21 June on every page, not 11 June."""
    milling = cost_factories.OperationFactory(part=frame, process="machining", position=1)
    cost_factories.QuoteFactory(operation=milling, prices={1: "20"}, lead_days=10)
    assert forecast(frame).ready == date(2026, 6, 11)
    cost_factories.ToolFactory(operation=milling, kind="fixture", state="wanted", cost=Decimal(90), lead_days=30)
    assert forecast(frame).ready == date(2026, 6, 21)
    assert forecast(frame).priced.sheet.ready[0] == date(2026, 6, 21)
    assert planned(frame).finish == date(2026, 6, 21)
    (trouble,) = Ordering(frame.design, BatchWanted(4, by=date(2026, 6, 20)), TODAY).best.troubles
    assert trouble.days == 40


def test_what_follows_an_order_waits_until_that_should_come(frame, casting, foundry, project):
    """All castings are promised for 20 June: machined ten days later, and not from today on."""
    milling = cost_factories.OperationFactory(part=frame, process="machining", position=1)
    cost_factories.QuoteFactory(operation=milling, prices={1: "20"}, lead_days=10)
    order = cost_factories.OrderFactory(
        design=frame.design, project=project, supplier=foundry, promised_on=date(2026, 6, 20)
    )
    cost_factories.OrderLineFactory(order=order, operation=casting, quantity=4)
    assert forecast(frame, project=project).ready == date(2026, 6, 30)


def test_sales_begin_when_the_last_thing_is_there(frame, casting):
    """Ready on 1 June; one a month of 30.4 days."""
    later = cost_factories.OperationFactory(part=frame, process="machining", position=1, each=Decimal(5), lead_days=15)
    assert forecast(frame).ready == date(2026, 6, 16)
    later.delete()
    sales = [flow for flow in told(forecast(frame, machines=2)) if flow[2] == "sales"]
    assert sales == [("2026-07-01", 200, "sales"), ("2026-07-31", 200, "sales")]


def test_what_is_ordered_is_reckoned_once(frame, casting, foundry, project):
    """Three of four are ordered for 150, and 60 of it is paid; the fourth is still to be bought."""
    order = cost_factories.OrderFactory(design=frame.design, project=project, supplier=foundry)
    cost_factories.OrderLineFactory(order=order, operation=casting, quantity=3, pieces_cost=Decimal(150))
    cost_factories.PaymentFactory(order=order, amount=Decimal(60), paid_on=date(2026, 5, 4))
    assert told(forecast(frame, project=project))[:3] == [
        ("2026-05-04", -60, "paid to foundry"),
        ("2026-05-25", -90, "owed to foundry"),  # promised for the 15th, ten days to pay
        ("2026-06-11", -50, "casting, foundry"),
    ]


def test_an_order_in_money_without_a_rate_is_named(frame, casting, foundry, project):
    foundry.currency = "CHF"
    foundry.save()
    order = cost_factories.OrderFactory(design=frame.design, project=project, supplier=foundry)
    cost_factories.OrderLineFactory(order=order, operation=casting, quantity=4)
    assert forecast(frame, project=project).orders.without_rate == [order]


def test_our_own_hands_are_paid_as_machines_are_made_or_not_at_all(frame, casting):
    CostTerms.objects.create(workshop=frame.workshop, design=frame.design, wage=Decimal(30))
    cost_factories.OperationFactory(part=frame, process="fettling", position=1, each_minutes=60)
    hands = [flow for flow in told(forecast(frame, machines=2)) if flow[2] == "own hands"]
    assert hands == [("2026-06-01", -30, "own hands"), ("2026-07-01", -30, "own hands")]
    assert "own hands" not in [name for *_, name in told(forecast(frame, hands_paid=False))]


def test_a_firm_buyer_pays_as_agreed_and_the_others_a_deposit(frame, casting):
    CostTerms.objects.create(workshop=frame.workshop, design=frame.design, deposit=Decimal(25))
    museum = cost_factories.BuyerFactory(design=frame.design, standing="firm", name="museum", agreed_price=Decimal(180))
    cost_factories.StagePaymentFactory(buyer=museum, amount=Decimal(45), what="half", paid_on=date(2026, 5, 2))
    cost_factories.BuyerFactory(design=frame.design, standing="firm", name="club")
    comes = [flow for flow in told(forecast(frame, machines=2)) if flow[1] > 0]
    assert comes == [
        ("2026-05-02", 45, "half, museum"),
        ("2026-05-12", 50, "deposit, club"),
        ("2026-07-01", 135, "rest, museum"),
        ("2026-07-31", 150, "rest, club"),
    ]


def test_all_that_is_on_the_sheet_is_paid_once(frame, casting):
    CostTerms.objects.create(workshop=frame.workshop, design=frame.design, wage=Decimal(31), overhead=Decimal(17))
    cost_factories.OperationFactory(part=frame, process="fettling", position=1, each_minutes=37, setup_minutes=11)
    found = forecast(frame, machines=7)
    assert -sum(flow.amount for flow in found.flows if flow.amount < 0) == found.priced.paid_off.total
