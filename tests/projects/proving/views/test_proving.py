"""Proving a design: revisions with reason and cost, checks listed, money and minutes spent."""

import uuid
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Check, Expense
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-20 09:00Z", tick=False):
        yield


@pytest.fixture
def part(workshop):
    workshop.wage = Decimal("42.00")
    workshop.save()
    return factories.PartFactory(design__workshop=workshop, name="Frame")


@pytest.fixture
def design(part):
    return part.design


def spend(part, label, amount, minutes=0):
    revision = label and part.revisions.get(label=label)
    return cost_factories.ExpenseFactory(design=part.design, revision=revision, amount=amount, minutes=minutes)


def page_of(client, name, row):
    return client.get(reverse(name, args=[row.pk])).content.decode()


def check_form(**more):
    return {"id": str(uuid.uuid4()), "what": "spindle runs true", "limit": "within 0.05 mm", "part": "", **more}


def test_a_check_is_listed_for_a_part_or_the_whole_machine(restorer_client, design, part):
    address = reverse("check-new", args=[design.pk])
    assert f'<option value="{part.pk}" selected>' in restorer_client.get(f"{address}?part={part.pk}").content.decode()
    restorer_client.post(address, check_form(part=part.pk))
    whole = check_form(what="runs at 60 turns")
    for _ in range(2):
        restorer_client.post(address, whole)
    assert {check.part for check in Check.objects.all()} == {part, None}
    assert Check.objects.count() == 2
    page = page_of(restorer_client, "proving", design)
    for words in ("spindle runs true", "within 0.05 mm", "runs at 60 turns", "no revision"):
        assert words in page


def test_a_check_may_be_given_up_and_stays_told(restorer_client, design):
    check = cost_factories.CheckFactory(design=design, part=None, what="quiet")
    restorer_client.post(reverse("check-edit", args=[check.pk]), {"what": "quiet", "retired": "on"})
    check.refresh_from_db()
    assert check.retired
    assert "no longer asked for" in page_of(restorer_client, "proving", design)


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("what", "", "required"),
        ("what", "x" * 201, "at most 200"),
        ("limit", "x" * 201, "at most 200"),
        ("part", factories.NO_ROW, "valid choice"),
        ("part", "nonsense", "valid"),
    ],
)
def test_a_check_that_cannot_be_is_told_at_its_field(restorer_client, design, box, value, words):
    response = restorer_client.post(reverse("check-new", args=[design.pk]), check_form(**{box: value}))
    assert words in response.content.decode()
    assert not Check.objects.exists()


def test_development_is_what_went_into_revisions_that_another_replaced(restorer_client, design, part):
    """A was replaced, B stands: 180 + 90 min at 42 an hour (63) + 25 for the whole are development, 40 are not yet."""
    for label in "AB":
        cost_factories.RevisionFactory(part=part, label=label, reason=f"reason of {label}")
    spend(part, "A", 180, minutes=90)
    spend(part, "B", 40)
    spend(part, None, 25)
    page = page_of(restorer_client, "proving", design)
    for words in ("268.00", "at 42.00 an hour", "40.00 GBP", "reason of A", "243.00"):
        assert words in page


def test_orders_for_a_replaced_revision_stand_with_what_was_spent(restorer_client, design, part):
    first, _ = (cost_factories.RevisionFactory(part=part, label=label) for label in "AB")
    operation = cost_factories.OperationFactory(part=part)
    line = cost_factories.OrderLineFactory(operation=operation, revision=first, pieces_cost=Decimal(150))
    page = page_of(restorer_client, "proving", design)
    assert reverse("order", args=[line.order.pk]) in page
    assert "150.00 GBP" in page


def test_minutes_without_a_rate_are_told_and_come_to_nothing(restorer_client, design, part):
    design.workshop.wage = None
    design.workshop.save()
    spend(part, None, 0, minutes=90)
    assert "No rate per hour is set" in page_of(restorer_client, "proving", design)


def expense_form(**more):
    first = {"id": str(uuid.uuid4()), "what": "trial castings", "revision": "", "amount": "", "minutes": ""}
    return {**first, "spent_on": "2026-05-12", **more}


def test_what_was_spent_is_noted_once_changed_and_removed(restorer_client, design):
    form = expense_form(amount="120,50", minutes="2 h")
    for _ in range(2):
        restorer_client.post(reverse("expense-new", args=[design.pk]), form)
    expense = Expense.objects.get()
    assert (expense.amount, expense.minutes.to("minute").magnitude) == (Decimal("120.50"), 120)
    restorer_client.post(reverse("expense-edit", args=[expense.pk]), expense_form(amount="99", minutes="0"))
    expense.refresh_from_db()
    assert expense.amount == 99
    restorer_client.post(reverse("expense-remove", args=[expense.pk]))
    assert not Expense.objects.exists()


@pytest.mark.parametrize(
    ("box", "value", "words"),
    [
        ("amount", "", "Nothing was spent"),
        ("amount", "-5", "not negative"),
        ("amount", "a lot", "is not understood"),
        ("amount", "1e40", "is not understood"),
        ("minutes", "-5", "Must lie between"),
        ("minutes", "3 kg", "measures something else"),
        ("what", "", "required"),
        ("what", "x" * 201, "at most 200"),
        ("spent_on", "yesterday", "valid date"),
        ("spent_on", "2026-05-21", "still to come"),
        ("spent_on", "9999-12-31", "The year 9999 cannot be meant"),
        ("spent_on", "0026-05-12", "The year 26 cannot be meant"),
        ("revision", factories.NO_ROW, "valid choice"),
    ],
)
def test_an_expense_that_cannot_be_is_told_at_its_field(restorer_client, design, box, value, words):
    form = expense_form(**{"amount": "5" if box != "amount" else "", box: value})
    assert words in restorer_client.post(reverse("expense-new", args=[design.pk]), form).content.decode()
    assert not Expense.objects.exists()


def test_many_parts_take_a_fixed_number_of_queries(restorer_client, design, django_assert_max_num_queries):
    for number in range(8):
        revision = cost_factories.RevisionFactory(part=factories.PartFactory(design=design))
        cost_factories.CheckFactory(design=design, part=revision.part)
        spend(revision.part, "A", number + 1)
    page_of(restorer_client, "proving", design)  # a sign-in is noted as seen once in a while
    with django_assert_max_num_queries(22):
        page_of(restorer_client, "proving", design)


@pytest.mark.parametrize("name", ["proving", "check-new", "check-edit", "expense-new", "expense-edit"])
def test_another_workshops_rows_are_not_there(stranger_client, design, part, name):
    rows = {"check-edit": cost_factories.CheckFactory(part=part), "expense-edit": spend(part, None, 5)}
    assert stranger_client.get(reverse(name, args=[rows.get(name, design).pk])).status_code == 404


def test_a_helper_sees_no_money(helper_client, design, part):
    cost_factories.RevisionFactory(part=part, label="A", reason="thicker web")
    spend(part, "A", 1234)
    assert helper_client.get(reverse("proving", args=[design.pk])).status_code == 403
    page = page_of(helper_client, "part", part)
    assert "thicker web" in page
    assert "1234.00" not in page.replace("\u202f", "")


def test_rubbish_in_the_address_of_a_check_is_told_plainly(restorer_client, design):
    assert restorer_client.get(reverse("check-new", args=[design.pk]) + "?part=%00").status_code == 404


def test_only_its_own_design_s_revisions_are_offered(restorer_client, design, part):
    other = cost_factories.RevisionFactory(part__design__workshop=design.workshop)
    form = expense_form(amount="5", revision=other.pk)
    assert "valid choice" in restorer_client.post(reverse("expense-new", args=[design.pk]), form).content.decode()
