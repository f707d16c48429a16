"""Pieces that come, that are taken back, that turn out bad."""

import uuid
from datetime import UTC, date, datetime

import pytest

from projects.buying.actions import receipts as actions
from projects.buying.domain.arrivals import free_marks, lines_to_come
from projects.buying.domain.scrap import good_offer
from projects.record.actions.pieces import set_aside
from projects.record.models import Piece, Receipt
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 20)
NOW = datetime(2026, 5, 20, 9, tzinfo=UTC)


@pytest.fixture
def line(workshop):
    """Four frames A ordered for a batch that has an F-01."""
    part = factories.PartFactory(workshop=workshop, design__workshop=workshop, name="frame")
    project = factories.ProjectFactory(design=part.design)
    factories.PieceFactory(project=project, part=part, mark="F-01")
    return cost.OrderLineFactory(
        operation__part=part, order__project=project, quantity=4, revision=cost.RevisionFactory(part=part)
    )


@pytest.fixture
def receive(line, owner, yard):
    def received(*marks, **counts):
        counts = {"good": len(marks), **counts}
        receipt = Receipt(workshop=line.workshop, line=line, received_on=TODAY, by=owner, **counts)
        return actions.receive(receipt, marks=marks, place=yard)

    return received


def counted(operation):
    share = good_offer(operation).counted
    return share.started, share.good


def waited_for(workshop):
    return [expected.line for expected in lines_to_come(workshop, TODAY)]


def test_good_ones_become_pieces_of_the_batch(line, receive, yard):
    receipt = receive("F-02", "F-03")
    pieces = Piece.objects.filter(receipt=receipt)
    assert [piece.mark for piece in pieces] == ["F-02", "F-03"]
    assert {(piece.project, piece.revision, piece.place) for piece in pieces} == {
        (line.order.project, line.revision, yard)
    }


def test_marks_go_on_from_those_there_are(line):
    assert free_marks(line, 3) == ["F-02", "F-03", "F-04"]


def test_a_void_sets_its_pieces_aside_and_stays_in_the_book(receive, owner):
    receipt = receive("F-02", "F-03")
    void = actions.void_receipt(receipt, by=owner, reason="these were tables", day=TODAY)
    assert Receipt.objects.count() == 2
    assert void.voids == receipt
    assert all(piece.set_aside for piece in receipt.pieces.all())


def test_the_same_castings_received_anew_take_up_their_marks(line, receive, owner):
    actions.void_receipt(receive("F-02", "F-03"), by=owner, reason="one more came", day=TODAY)
    marks = free_marks(line, 3)
    assert marks == ["F-02", "F-03", "F-04"]
    receipt = receive(*marks)
    assert Piece.objects.count() == 4
    assert not receipt.pieces.filter(set_aside=True).exists()


def test_one_taken_up_and_then_found_bad_is_never_received_as_good(line, receive, owner):
    actions.void_receipt(receive("F-02"), by=owner, reason="of another order", day=TODAY)
    piece = Piece.objects.get(mark="F-02")
    set_aside(piece, aside=False)
    told = {"why": "porosity", "note": "", "counts_against": None, "now": NOW}
    actions.reject_piece(piece, by=owner, key=uuid.uuid4(), **told)
    assert free_marks(line, 1) == ["F-03"]


def test_a_receipt_is_voided_once(receive, owner):
    receipt = receive("F-02")
    first = actions.void_receipt(receipt, by=owner, reason="x", day=TODAY)
    assert actions.void_receipt(receipt, by=owner, reason="y", day=TODAY) == first


def _logged(piece):
    factories.StepFactory(piece=piece)


def _fitted(piece):
    cost.FittingFactory(piece=piece, machine=factories.MachineFactory(project=piece.project))


def _on_a_visit(piece):
    factories.VisitPieceFactory(piece=piece)


@pytest.mark.parametrize("something_done", [_logged, _fitted, _on_a_visit])
def test_pieces_worked_on_keep_their_receipt(receive, owner, something_done):
    receipt = receive("F-02", "F-03")
    something_done(receipt.pieces.get(mark="F-03"))
    with pytest.raises(actions.StillUsed, match="F-03") as kept:
        actions.void_receipt(receipt, by=owner, reason="x", day=TODAY)
    assert "F-02" not in str(kept.value)
    assert not receipt.pieces.filter(set_aside=True).exists()


def test_pieces_that_come_back_bad_are_set_aside_until_that_receipt_is_void(line, receive, owner):
    piece = receive("F-02").pieces.get()
    machined = cost.OrderLineFactory(
        operation__part=line.operation.part, operation__process="machining", order__project=line.order.project
    )
    back = Receipt(workshop=line.workshop, line=machined, received_on=TODAY, by=owner, rejected=1, why="size")
    actions.receive(back, rejected=[piece])
    piece.refresh_from_db()
    assert (piece.set_aside, piece.rejected_for) == (True, "size")
    assert counted(machined.operation) == (1, 0)
    assert counted(line.operation) == (1, 1)
    actions.void_receipt(back, by=owner, reason="it was the gauge", day=TODAY)
    piece.refresh_from_db()
    assert (piece.set_aside, piece.rejected_for) == (False, "")


def test_a_piece_found_bad_later_says_so_in_its_log_and_in_the_figures(line, receive, owner):
    piece = receive("F-02", "F-03").pieces.get(mark="F-03")
    key = uuid.uuid4()
    for _ in range(2):  # sent twice
        actions.reject_piece(
            piece, by=owner, key=key, why="porosity", note="bore", counts_against=line.operation, now=NOW
        )
    piece.refresh_from_db()
    assert (piece.set_aside, piece.rejected_word) == (True, "porosity")
    assert [step.note for step in piece.steps.all()] == ["Rejected: porosity, bore"]
    assert counted(line.operation) == (2, 1)


def test_what_is_to_come_is_told_by_the_day_promised_and_shows_what_was_not_replaced(line, receive, workshop):
    later = cost.OrderLineFactory(operation=line.operation, order__promised_on=date(2026, 6, 1))
    assert waited_for(workshop) == [line, later]
    receive("F-02", "F-03", "F-04", rejected=1, why="porosity")
    assert waited_for(workshop) == [later, line]
    receive("F-05")
    assert waited_for(workshop) == [later]
