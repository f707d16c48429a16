"""Buyers on pages: noted, given a machine, their stages agreed and paid."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Buyer, CostTerms, StagePayment
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-20 09:00Z", tick=False):
        yield


@pytest.fixture
def design(workshop):
    return factories.DesignFactory(workshop=workshop)


@pytest.fixture
def buyer(design):
    return cost.BuyerFactory(design=design, standing="firm", agreed_price=Decimal(1200))


def note(client, design, **told):
    boxes = {
        "id": uuid.uuid4(), "name": "Ada Quill", "standing": "enquiry", "enquired_on": "2026-05-20", "count": "1",
        "leaves": "collected",
    }  # fmt: skip
    return client.post(reverse("buyer-new", args=[design.pk]), {**boxes, **told})


def see(client, name, row):
    return client.get(reverse(name, args=[row.pk])).content.decode()


def test_an_enquiry_is_noted_with_what_they_would_bear(owner_client, design):
    note(owner_client, design, would_bear="950,50", colour="#2f5d3a")
    assert Buyer.objects.get().would_bear == Decimal("950.50")
    page = see(owner_client, "buyers", design)
    assert "Ada Quill" in page
    assert "950.50" in page


def test_sent_twice_it_is_one_buyer(owner_client, design):
    key = uuid.uuid4()
    for _ in range(2):
        note(owner_client, design, id=key)
    assert Buyer.objects.count() == 1


WRONG = [
    ({"name": ""}, "name"),
    ({"count": "0"}, "count"),
    ({"count": "-2"}, "count"),
    ({"count": "5000"}, "count"),
    ({"would_bear": "-1"}, "would_bear"),
    ({"agreed_price": "dear"}, "agreed_price"),
    ({"enquired_on": "2026-05-21"}, "enquired_on"),
    ({"neutral": "on", "colour": "#2f5d3a"}, "colour"),
    ({"colour": "green"}, "colour"),
    ({"carriage": "40"}, "carriage"),
    ({"standing": "rich"}, "standing"),
    ({"machine": factories.NO_ROW}, "machine"),
]


@pytest.mark.parametrize(("told", "box"), WRONG)
def test_what_cannot_be_is_told_at_its_box(owner_client, design, told, box):
    assert list(note(owner_client, design, **told).context["form"].errors) == [box]
    assert not Buyer.objects.exists()


def test_a_machine_of_the_design_is_given_to_one_buyer_only(owner_client, design, other_workshop):
    machine = factories.MachineFactory(project__design=design, number="7")
    elsewhere = factories.MachineFactory(project__design__workshop=other_workshop)
    note(owner_client, design, machine=machine.pk)
    assert Buyer.objects.get().machine == machine
    for taken in (machine, elsewhere):
        assert "machine" in note(owner_client, design, name="Bo", machine=taken.pk).context["form"].errors


def test_a_buyer_keeps_the_machine_when_changed(owner_client, design):
    machine = factories.MachineFactory(project__design=design)
    buyer = cost.BuyerFactory(design=design, machine=machine)
    page = see(owner_client, "buyer-edit", buyer)
    assert f'<option value="{machine.pk}" selected>' in page


def add(client, buyer, **told):
    boxes = {"id": uuid.uuid4(), "what": "deposit"}
    return client.post(reverse("buyer-payment-new", args=[buyer.pk]), {**boxes, **told})


def test_the_deposit_is_proposed_as_the_terms_ask_and_then_the_rest(owner_client, buyer):
    CostTerms.objects.create(workshop=buyer.workshop, design=buyer.design, deposit=Decimal(30))
    form = owner_client.get(reverse("buyer", args=[buyer.pk])).context["form"]
    assert (form["what"].value(), form["amount"].value()) == ("deposit", Decimal("360.00"))
    add(owner_client, buyer, amount="360")
    form = owner_client.get(reverse("buyer", args=[buyer.pk])).context["form"]
    assert (form["what"].value(), form["amount"].value()) == ("the rest", Decimal(840))


def test_a_stage_is_paid_and_not_after_all(owner_client, buyer):
    add(owner_client, buyer, amount="300", due_on="2026-05-10")
    assert "overdue" in see(owner_client, "buyer", buyer)
    stage = StagePayment.objects.get()
    address = reverse("buyer-payment-paid", args=[stage.pk])
    owner_client.post(address, {"paid_on": "2026-05-19"})
    stage.refresh_from_db()
    assert stage.paid_on == date(2026, 5, 19)
    assert "900.00" in see(owner_client, "buyer", buyer)  # still owed
    owner_client.post(address, {"not": "1"})
    stage.refresh_from_db()
    assert stage.paid_on is None


def test_a_stage_sent_twice_is_one(owner_client, buyer):
    key = uuid.uuid4()
    for _ in range(2):
        add(owner_client, buyer, amount="300", id=key)
    assert StagePayment.objects.count() == 1


WRONG_STAGES = [
    ({"amount": "0"}, "amount"),
    ({"amount": "-5"}, "amount"),
    ({"amount": "1200.01"}, "amount"),
    ({"amount": "NaN"}, "amount"),
    ({"amount": "5", "paid_on": "2026-05-21"}, "paid_on"),
    ({"amount": "5", "due_on": "2026-04-30"}, "due_on"),
    ({"amount": "5", "due_on": "9999-12-31"}, "due_on"),
    ({"amount": "5", "paid_on": "0026-05-10"}, "paid_on"),
    ({"amount": "5", "what": ""}, "what"),
]


@pytest.mark.parametrize(("told", "box"), WRONG_STAGES)
def test_a_stage_that_cannot_be_is_told(owner_client, buyer, told, box):
    assert list(add(owner_client, buyer, **told).context["form"].errors) == [box]


@pytest.mark.parametrize("day", ["", "2026-05-21", "soon"])
def test_a_payment_needs_a_day_that_has_been(owner_client, buyer, day):
    add(owner_client, buyer, amount="300")
    stage = StagePayment.objects.get()
    owner_client.post(reverse("buyer-payment-paid", args=[stage.pk]), {"paid_on": day})
    stage.refresh_from_db()
    assert stage.paid_on is None


def test_only_a_stage_that_is_not_paid_is_taken_out(owner_client, buyer):
    add(owner_client, buyer, amount="300", paid_on="2026-05-19")
    stage = StagePayment.objects.get()
    address = reverse("buyer-payment-remove", args=[stage.pk])
    answer = owner_client.post(address, follow=True)
    assert "Take the payment back first" in answer.content.decode()
    owner_client.post(reverse("buyer-payment-paid", args=[stage.pk]), {"not": "1"})
    owner_client.post(address)
    assert not StagePayment.objects.exists()


def test_what_it_weighs_and_costs_to_carry_is_shown(owner_client, buyer):
    factories.PartFactory(design=buyer.design, name="lamp", mass=None)
    factories.PartFactory(design=buyer.design, name="frame", mass=13.5)
    buyer.leaves, buyer.crate, buyer.carriage = "carried", Decimal(45), Decimal("88.20")
    buyer.save()
    page = see(owner_client, "buyer", buyer)
    for told in ("13.5 kg", "without lamp: not weighed", "45.00", "88.20"):
        assert told in page


def test_a_firm_buyer_without_a_price_is_pointed_out(owner_client, design):
    assert "No price is agreed" in see(owner_client, "buyer", cost.BuyerFactory(design=design, standing="firm"))


def test_an_empty_page_says_what_to_do(owner_client, design):
    assert "Note the first" in see(owner_client, "buyers", design)


@pytest.mark.parametrize("name", ["buyers", "buyer-new"])
def test_buyers_are_not_for_helpers(helper_client, design, name):
    assert helper_client.get(reverse(name, args=[design.pk])).status_code == 403
