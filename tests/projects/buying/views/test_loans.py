"""Loans: what, to whom, since when and until when; back with one tap, corrected in words, asked for when late."""

import uuid
from datetime import date

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.urls import reverse

from projects.record.models import Loan, Supplier, Tool
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 18)


@pytest.fixture(autouse=True)
def _a_day_in_november():
    with time_machine.travel("2026-11-18 10:00", tick=False):
        yield


@pytest.fixture
def piece(workshop, yard):
    return factories.PieceFactory(part__design__workshop=workshop, part__name="Column", mark="C-1", place=yard)


@pytest.fixture
def pattern(piece):
    casting = cost_factories.OperationFactory(part=piece.part, process="casting")
    return cost_factories.ToolFactory(operation=casting, name="P-7")


@pytest.fixture
def foundry(workshop):
    return Supplier.objects.create(workshop=workshop, name="Hill Foundry")


def lend(client, query="", **typed):
    first = {"id": str(uuid.uuid4()), "lent_on": "2026-10-01"}
    return client.post(reverse("loan-new") + query, {**first, **typed})


def read(client, name, *args, query=""):
    return client.get(reverse(name, args=args) + query).content.decode()


def test_a_pattern_at_the_foundry_is_on_every_page_that_asks_for_it(owner_client, piece, pattern, foundry):
    lend(owner_client, tool=pattern.pk, supplier=foundry.pk, due_on="2026-11-12")
    loan = Loan.objects.get()
    assert str(loan) == "Pattern P-7, Column: at Hill Foundry"
    day_sheet = " ".join(read(owner_client, "day-sheet").replace("</b></a>", "").split())
    assert "Pattern P-7, Column: at Hill Foundry, due 12 Nov 2026" in day_sheet
    assert "6 days late" in day_sheet
    design = pattern.operation.design
    for query in ("", f"?project={piece.project_id}", f"?design={design.pk}", f"?supplier={foundry.pk}"):
        assert f"/loans/{loan.pk}/" in read(owner_client, "loans", query=query)
    other = factories.PieceFactory(part__design__workshop=piece.workshop).project
    assert f"/loans/{loan.pk}/" not in read(owner_client, "loans", query=f"?project={other.pk}")
    for name, row in (("tools", design), ("tool", pattern), ("supplier", foundry)):
        assert f"/loans/{loan.pk}/" in read(owner_client, name, row.pk)


def test_back_with_one_tap_and_out_again_with_another(helper_client, piece):
    lend(helper_client, f"?piece={piece.pk}", borrower="Ann at the forge", due_on="2026-11-18")
    loan = Loan.objects.get()
    assert loan.project == piece.project
    assert "Ann at the forge" in read(helper_client, "piece", piece.pk)
    assert "Due back" not in read(helper_client, "day-sheet")  # late on the day after it was due
    for _ in range(2):  # a double tap
        helper_client.post(reverse("loan-back", args=[loan.pk]))
    loan.refresh_from_db()
    assert loan.back_on == TODAY
    assert "Ann at the forge" not in read(helper_client, "piece", piece.pk)
    helper_client.post(reverse("loan-undo", args=[loan.pk]))
    assert Loan.objects.get().is_out
    assert [change.words for change in loan.changes.all()] == ["back", "not back after all"]


def test_what_was_lent_again_meanwhile_is_not_out_twice(helper_client, piece):
    lend(helper_client, f"?piece={piece.pk}", borrower="Ann")
    first = Loan.objects.get()
    assert lend(helper_client, f"?piece={piece.pk}", borrower="Bert").url == reverse("loan", args=[first.pk])
    helper_client.post(reverse("loan-back", args=[first.pk]))
    lend(helper_client, f"?piece={piece.pk}", borrower="Bert")
    answer = helper_client.post(reverse("loan-undo", args=[first.pk]), follow=True)
    assert "lent again since" in answer.content.decode()
    assert [loan.holder for loan in Loan.objects.out()] == ["Bert"]
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.LoanFactory(piece=piece, by=first.by)


def test_a_correction_tells_what_stood_there_and_a_mistake_why(helper_client, owner, piece, foundry):
    loan = factories.LoanFactory(piece=piece, by=owner, due_on=date(2026, 11, 12))
    typed = {"supplier": foundry.pk, "lent_on": "2026-05-01", "due_on": "2026-11-20"}
    helper_client.post(reverse("loan-edit", args=[loan.pk]), typed)
    helper_client.post(reverse("loan-mistake", args=[loan.pk]), {"reason": "it was the other one"})
    assert [change.words for change in loan.changes.all()] == [
        "at Hill Foundry instead of a turner; due 20 Nov 2026 instead of 12 Nov 2026",
        "entered by mistake: it was the other one",
    ]
    assert "Entered by mistake" in read(helper_client, "loan", loan.pk)
    assert not Loan.objects.out().exists()


@pytest.mark.parametrize(
    ("typed", "box", "words"),
    [
        ({"borrower": "Ann"}, "what", "or say in words what it is"),
        ({"what": "hoist"}, "borrower", "Choose who has it, or type a name"),
        ({"what": "hoist", "borrower": "Ann", "lent_on": "2026-11-19"}, "lent_on", "still to come"),
        ({"what": "hoist", "borrower": "Ann", "due_on": "2026-09-30"}, "due_on", "before it was lent"),
        ({"what": "hoist", "borrower": "Ann", "piece": "its own"}, "what", "One at a time: Piece is filled in"),
    ],
)
def test_what_cannot_be_is_told_at_its_box(helper_client, piece, typed, box, words):
    typed = {name: piece.pk if value == "its own" else value for name, value in typed.items()}
    answer = lend(helper_client, **typed)
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors[box])
    assert not Loan.objects.exists()


def test_a_guest_reads_and_changes_nothing(guest_client, owner, piece):
    loan = factories.LoanFactory(piece=piece, by=owner, due_on=date(2026, 11, 12))
    assert "6 days late" in read(guest_client, "loan", loan.pk)
    assert "Column" in read(guest_client, "loans")
    assert guest_client.post(reverse("loan-back", args=[loan.pk])).status_code == 403
    assert lend(guest_client, what="hoist", borrower="me").status_code == 403
    assert Loan.objects.get().is_out


def test_a_pattern_stays_as_long_as_it_is_wanted_back(owner_client, pattern, foundry):
    """Neither the supplier nor the piece of a loan is gone while the book names it."""
    lend(owner_client, tool=pattern.pk, supplier=foundry.pk)
    owner_client.post(reverse("supplier-remove", args=[foundry.pk]))
    assert Supplier.objects.filter(pk=foundry.pk).exists()
    assert Tool.objects.get().on_loan == Loan.objects.get()
