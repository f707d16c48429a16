"""Receiving in the yard: counts and marks, no money; wrong ones voided, bad ones rejected."""

import uuid
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from projects.record.models import Piece, Receipt
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _today():
    with time_machine.travel("2026-05-20 09:00Z", tick=False):
        yield


@pytest.fixture
def line(workshop):
    """Four castings for a batch, at a price that helpers do not see."""
    part = factories.PartFactory(workshop=workshop, design__workshop=workshop, name="frame")
    project = factories.ProjectFactory(design=part.design)
    return cost.OrderLineFactory(
        operation__part=part, order__project=project, quantity=4, pieces_cost=Decimal("777.77")
    )


@pytest.fixture
def machined(line):
    """The same part's machining, which makes no piece."""
    return cost.OrderLineFactory(
        operation__part=line.operation.part,
        operation__process="machining",
        operation__position=1,
        order__project=line.order.project,
        quantity=4,
    )


@pytest.fixture
def send(helper_client, yard):
    def sent(line, **told):
        boxes = {"id": uuid.uuid4(), "received_on": "2026-05-20", "place": yard.pk, **told}
        return helper_client.post(reverse("receipt-new", args=[line.pk]), boxes)

    return sent


def wrong(answer):
    return dict(answer.context["form"].errors)


def test_a_helper_sees_what_is_to_come_and_no_money(helper_client, line):
    pages = [reverse("to-come"), reverse("receipt-new", args=[line.pk]), reverse("day-sheet")]
    for page in (helper_client.get(address).content.decode() for address in pages):
        assert "frame: casting" in page
        assert "777.77" not in page


def test_a_guest_does_not_receive(guest_client, line):
    assert guest_client.get(reverse("to-come")).status_code == 403
    assert guest_client.get(reverse("receipt-new", args=[line.pk])).status_code == 403


def test_good_ones_become_pieces_and_bad_ones_do_not(send, line, yard):
    send(line, good="2", rejected="1", why="porosity", marks="A1, A2")
    assert set(Piece.objects.values_list("mark", "place__name", "project")) == {
        ("A1", "Yard", line.order.project_id),
        ("A2", "Yard", line.order.project_id),
    }
    assert str(Receipt.objects.get()) == "2 good, 1 rejected"


def test_more_marks_than_are_needed_are_left_over(send, line):
    send(line, good="1", marks="A1\nA2\nA3")
    assert [piece.mark for piece in Piece.objects.all()] == ["A1"]


def test_all_marks_taken_out_make_no_piece(send, line):
    send(line, good="2", marks="")
    assert not Piece.objects.exists()
    assert Receipt.objects.get().good == 2


def test_marks_are_proposed_for_as_many_as_came(helper_client, line):
    address = reverse("receipt-new", args=[line.pk])
    assert "F-01, F-02, F-03, F-04" in helper_client.get(address).content.decode()
    part = helper_client.get(address, {"good": "2"}, headers={"HX-Request": "true"}).content.decode()
    assert "F-01, F-02<" in part
    assert "<h1" not in part


def test_sent_twice_it_is_one_receipt(send, line):
    key = uuid.uuid4()
    for _ in range(2):
        send(line, id=key, good="1", marks="A1")
    assert Receipt.objects.count() == Piece.objects.count() == 1


WRONG = [
    ({"good": "0", "rejected": "0"}, "good"),
    ({"good": "", "rejected": ""}, "good"),
    ({"good": "-1"}, "good"),
    ({"good": "x"}, "good"),
    ({"good": "99999999999999999999"}, "good"),
    ({"rejected": "-1"}, "rejected"),
    ({"rejected": "1"}, "why"),
    ({"rejected": "1", "why": "spite"}, "why"),
    ({"good": "5", "marks": ""}, "more"),
    ({"good": "2", "marks": "A1"}, "marks"),
    ({"good": "2", "marks": "A1, A1"}, "marks"),
    ({"good": "1", "marks": "A" * 41}, "marks"),
    ({"good": "1", "marks": "A1", "place": ""}, "place"),
    ({"good": "1", "marks": "A1", "place": factories.NO_ROW}, "place"),
    ({"good": "1", "marks": "A1", "received_on": "2026-05-21"}, "received_on"),
    ({"good": "1", "marks": "A1", "received_on": "2026-04-30"}, "received_on"),
    ({"good": "1", "marks": "A1", "received_on": "yesterday"}, "received_on"),
]


@pytest.mark.parametrize(("told", "box"), WRONG)
def test_what_cannot_be_is_told_at_its_box_alone(send, line, told, box):
    assert list(wrong(send(line, **told))) == [box]
    assert not Receipt.objects.exists()


def test_a_mark_that_there_is_already_is_told(send, line):
    factories.PieceFactory(project=line.order.project, part=line.operation.part, mark="A1")
    assert wrong(send(line, good="1", marks="A1")) == {"marks": ["There is a A1 already."]}


def test_more_than_ordered_is_asked_about_and_taken_if_it_is_so(send, line):
    answer = send(line, good="6", marks="")
    assert wrong(answer) == {"more": ["2 more than the 4 ordered. If so many came, tick this."]}
    send(line, good="6", marks="", more="on")
    assert Receipt.objects.get().good == 6


def test_rejects_alone_are_not_more_good_ones(send, line):
    """Two too many came good; one that comes bad later asked "More came than were ordered", and none more did."""
    send(line, good="6", marks="", more="on")
    send(line, good="0", rejected="1", why="size", marks="")
    assert Receipt.objects.filter(rejected=1).exists()


def test_replacements_for_rejected_ones_are_not_more_than_ordered(send, line):
    send(line, good="2", rejected="2", why="size", marks="")
    send(line, good="2", marks="")
    assert Receipt.objects.count() == 2


def test_nothing_comes_of_a_cancelled_order(send, line):
    line.order.cancelled_on = line.order.ordered_on
    line.order.save()
    assert "cancelled" in str(wrong(send(line, good="1", marks="")))


def test_machining_makes_no_piece_and_names_those_that_came_back_bad(send, line, machined):
    send(line, good="2", marks="A1, A2")
    bad = Piece.objects.get(mark="A2")
    send(machined, good="1", rejected="1", why="size", which=[bad.pk])
    bad.refresh_from_db()
    assert Piece.objects.count() == 2
    assert (bad.set_aside, bad.rejected_for) == (True, "size")


def test_no_more_pieces_are_named_than_were_rejected(send, line, machined):
    send(line, good="2", marks="A1, A2")
    which = list(Piece.objects.values_list("pk", flat=True))
    assert "which" in wrong(send(machined, rejected="1", why="size", which=which))


def test_a_wrong_receipt_is_voided_with_its_reason(helper_client, send, line):
    send(line, good="1", marks="A1")
    receipt = Receipt.objects.get()
    helper_client.post(reverse("receipt-void", args=[receipt.pk]), {"reason": "was a table"})
    assert Piece.objects.get().set_aside
    page = helper_client.get(reverse("receipt-new", args=[line.pk])).content.decode()
    assert "Void: was a table" in page
    assert "<b>4</b> of 4 to come" in page


def test_a_void_without_a_reason_is_none(helper_client, send, line):
    send(line, good="1", marks="A1")
    answer = helper_client.post(reverse("receipt-void", args=[Receipt.objects.get().pk]), {"reason": " "})
    assert "reason" in answer.context["form"].errors
    assert Receipt.objects.count() == 1


def test_a_receipt_whose_piece_was_logged_stays_and_says_which(helper_client, send, line):
    send(line, good="1", marks="A1")
    factories.StepFactory(piece=Piece.objects.get())
    answer = helper_client.post(reverse("receipt-void", args=[Receipt.objects.get().pk]), {"reason": "x"})
    assert "something was done with A1" in answer.content.decode()
    assert Receipt.objects.count() == 1


def test_a_void_is_not_voided(helper_client, send, line):
    send(line, good="1", marks="")
    helper_client.post(reverse("receipt-void", args=[Receipt.objects.get().pk]), {"reason": "x"})
    void = Receipt.objects.get(voids__isnull=False)
    assert helper_client.get(reverse("receipt-void", args=[void.pk])).status_code == 404


def test_a_piece_found_bad_is_set_aside_and_counts(helper_client, send, line):
    send(line, good="2", marks="A1, A2")
    piece = Piece.objects.get(mark="A2")
    address = reverse("piece-reject", args=[piece.pk])
    assert "casting" in helper_client.get(address).content.decode()
    told = {"why": "porosity", "note": "in the bore", "counts_against": line.operation.pk, "key": uuid.uuid4()}
    for _ in range(2):
        answer = helper_client.post(address, told, follow=True)
    piece.refresh_from_db()
    assert (piece.rejected_for, piece.counts_against, piece.steps.count()) == ("porosity", line.operation, 1)
    assert "rejected: porosity" in answer.content.decode()


@pytest.mark.parametrize("told", [{}, {"why": "spite"}, {"why": "size", "counts_against": factories.NO_ROW}])
def test_a_rejection_without_a_right_reason_is_none(helper_client, send, line, told):
    send(line, good="1", marks="A1")
    piece = Piece.objects.get()
    helper_client.post(reverse("piece-reject", args=[piece.pk]), told)
    piece.refresh_from_db()
    assert piece.rejected_for == ""


def test_a_piece_taken_up_again_is_bad_no_more(owner_client, send, line):
    send(line, good="1", marks="A1")
    piece = Piece.objects.get()
    owner_client.post(reverse("piece-reject", args=[piece.pk]), {"why": "other"})
    owner_client.post(reverse("piece-set-aside", args=[piece.pk]), {})
    piece.refresh_from_db()
    assert (piece.set_aside, piece.rejected_for) == (False, "")
