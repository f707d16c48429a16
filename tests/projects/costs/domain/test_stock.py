"""What is there and on order, read from pieces, receipts and orders, and what is left to be ordered."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from projects.costs.domain.ordering import BatchWanted, Ordering
from projects.costs.domain.planned_orders import PlannedOrders
from projects.record.models import Operation, Part, Piece, Tool
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db

Process = Operation.Process
DAY = date(2026, 5, 12)


@pytest.fixture
def frame(workshop):
    return Part.objects.get(pk=factories.PartFactory(design__workshop=workshop, name="frame").pk)


@pytest.fixture
def batch(frame):
    return factories.ProjectFactory(design=frame.design, name="batch of ten")


@pytest.fixture
def other(frame):
    """A batch of two machines."""
    project = factories.ProjectFactory(design=frame.design, name="earlier batch")
    factories.MachineFactory.create_batch(2, project=project)
    return project


@pytest.fixture
def casting(frame):
    supplier = cost.SupplierFactory(workshop=frame.workshop, name="Hollow Foundry", lead_days=40)
    row = cost.OperationFactory(part=frame, position=1)
    cost.QuoteFactory(operation=row, supplier=supplier, prices={1: "48"})
    return row


@pytest.fixture
def machining(frame):
    supplier = cost.SupplierFactory(workshop=frame.workshop, name="Vale Turning", lead_days=20)
    row = cost.OperationFactory(part=frame, process=Process.MACHINING, position=2)
    cost.QuoteFactory(operation=row, supplier=supplier, prices={1: "20"})
    return row


def asked(frame, machines=10, **options):
    return Ordering(frame.design, BatchWanted(machines, **options), DAY)


def counts(frame, machines=10, **options):
    """(in hand, on order, to order) of each operation of which something is there."""
    rows = asked(frame, machines, **options).already
    return {
        one.row.process: (one.requirement.in_stock, one.requirement.on_order, one.requirement.to_order) for one in rows
    }


def ordered(frame, machines=10, **options):
    question = asked(frame, machines, **options)
    lines = PlannedOrders(question, question.best).rows
    return {line.operation.process: line.quantity for line in lines}


def left_out(frame, **options):
    return {one.why: one for _, one in asked(frame, **options).not_counted}


def line_of(operation, batch=None, **values):
    return cost.OrderLineFactory(operation=operation, order__project=batch, **values)


def came(line, good, **values):
    """A receipt, with a piece for each good one where it is for a batch."""
    receipt = cost.ReceiptFactory(line=line, good=good, **values)
    if line.brings_pieces:
        factories.PieceFactory.create_batch(
            good, part=line.operation.part, project=line.order.project, receipt=receipt, revision=line.revision
        )
    return receipt


@pytest.mark.parametrize("for_the_batch", [True, False])
def test_what_was_ordered_last_week_is_not_ordered_again(frame, batch, casting, machining, for_the_batch):
    line_of(casting, batch if for_the_batch else None)
    assert ordered(frame, batch=batch) == {"machining": 10}
    assert counts(frame, batch=batch) == {"casting": (0, 10, 0)}
    assert ordered(frame, batch=batch, afresh=True) == {"casting": 10, "machining": 10}
    assert asked(frame, batch=batch, afresh=True).already == []


def test_what_is_on_order_for_another_batch_is_left_to_it(frame, batch, other, casting):
    line_of(casting, other)
    assert ordered(frame, batch=batch) == {"casting": 10}
    assert [line.quantity for line in left_out(frame, batch=batch)["for machines of another batch"].lines] == [10]


def test_the_next_begins_when_what_is_on_order_has_come(frame, batch, casting, machining):
    line_of(casting, batch, order__promised_on=date(2026, 6, 1))  # in twenty days, then twenty of turning
    question = asked(frame, batch=batch)
    assert PlannedOrders(question, question.best).finish == date(2026, 6, 21)
    late = asked(frame, batch=batch, by=date(2026, 6, 20)).best.troubles
    assert [trouble.days for trouble in late] == [40]


def test_all_on_order_leaves_nothing_to_order_and_a_day(frame, batch, casting, machining):
    line_of(casting, batch, order__promised_on=date(2026, 6, 1))
    line_of(machining, batch, order__promised_on=date(2026, 6, 20))
    question = asked(frame, batch=batch)
    assert PlannedOrders(question, question.best).orders == []
    assert (question.best.total, PlannedOrders(question, question.best).finish) == (0, date(2026, 6, 20))


def test_received_castings_and_turned_ones_count_where_they_stand(frame, batch, casting, machining):
    came(line_of(casting, batch), 6, rejected=1, why="porosity")
    came(line_of(machining, batch, quantity=4), 3)
    # six are cast, three to come; three of the six are turned and one is at the turner's
    assert counts(frame, batch=batch) == {"casting": (6, 3, 1), "machining": (3, 1, 6)}


def test_more_than_was_ordered_counts_whole(frame, batch, casting):
    came(line_of(casting, batch, quantity=4), 6)
    assert counts(frame, batch=batch) == {"casting": (6, 0, 4)}


def test_a_rejected_piece_does_not_count(frame, batch, casting, machining):
    receipt = came(line_of(casting, batch), 10)
    came(line_of(machining, batch), 10)
    bad = receipt.pieces.first()
    Piece.objects.filter(pk=bad.pk).update(set_aside=True, rejected_for="size", counts_against=machining)
    assert counts(frame, batch=batch) == {"casting": (9, 0, 1), "machining": (9, 0, 1)}
    assert left_out(frame, batch=batch)["rejected or set aside"].pieces == (bad,)


def test_a_casting_found_bad_by_the_turner_was_never_turned(frame, batch, casting, machining):
    receipt = came(line_of(casting, batch), 10)
    turned = came(line_of(machining, batch), 9, rejected=1, why="porosity")
    bad = receipt.pieces.first()
    Piece.objects.filter(pk=bad.pk).update(set_aside=True, rejected_for="porosity", rejected_in=turned)
    assert counts(frame, batch=batch) == {"casting": (9, 0, 1), "machining": (9, 0, 1)}


def test_pieces_and_orders_of_an_earlier_revision_are_not_counted_and_named(frame, batch, casting):
    old = cost.RevisionFactory(part=frame, label="A")
    line = line_of(casting, batch, revision=old)
    came(line, 3)
    cost.RevisionFactory(part=frame, label="B")
    assert counts(frame, batch=batch) == {}
    assert ordered(frame, batch=batch) == {"casting": 10}
    told = left_out(frame, batch=batch)["of an earlier revision"]
    assert (len(told.pieces), told.lines) == (3, (line,))


def test_what_another_batch_s_machines_hold_or_still_lack_is_theirs(frame, batch, other, casting):
    machine = other.machines.first()
    fitted, *loose = factories.PieceFactory.create_batch(4, part=frame, project=other)
    cost.FittingFactory(machine=machine, piece=fitted)
    # one sits in a machine, one is for the other; two are left over
    assert counts(frame, batch=batch) == {"casting": (2, 0, 8)}
    kept = left_out(frame, batch=batch)["for machines of another batch"].pieces
    assert fitted in kept
    assert len(kept) == 2
    assert counts(frame, batch=other)["casting"] == (4, 0, 6)


def test_a_piece_of_the_batch_in_another_one_s_machine_is_gone(frame, batch, other, casting):
    piece = factories.PieceFactory(part=frame, project=batch)
    cost.FittingFactory(machine=other.machines.first(), piece=piece)
    assert counts(frame, batch=batch) == {}


def test_a_blasted_piece_is_through_all_before_blasting(frame, batch, casting, machining):
    cost.OperationFactory(part=frame, process=Process.BLASTING, position=3)
    piece = factories.PieceFactory(part=frame, project=batch)
    factories.StepFactory(piece=piece)
    assert counts(frame, batch=batch)["machining"] == (1, 0, 9)


def test_an_entry_taken_back_tells_nothing(frame, batch, casting, machining):
    cost.OperationFactory(part=frame, process=Process.BLASTING, position=3)
    piece = factories.PieceFactory(part=frame, project=batch)
    step = factories.StepFactory(piece=piece)
    factories.StepFactory(piece=piece, kind="voided", voids=step)
    assert counts(frame, batch=batch) == {"casting": (1, 0, 9)}


def test_what_came_for_no_batch_counts_by_its_receipts_until_pieces_are_entered(frame, batch, casting):
    came(line_of(casting), 6, received_on=date(2026, 5, 1))
    assert counts(frame, batch=batch) == {"casting": (6, 4, 0)}
    assert asked(frame, batch=batch).already[0].unmarked == 6
    piece = factories.PieceFactory(part=frame, project=batch)
    Piece.objects.filter(pk=piece.pk).update(made_at=datetime(2026, 5, 2, tzinfo=UTC))
    assert counts(frame, batch=batch) == {"casting": (6, 4, 0)}
    Piece.objects.filter(pk=piece.pk).update(made_at=datetime(2026, 4, 2, tzinfo=UTC))
    assert counts(frame, batch=batch) == {"casting": (7, 4, 0)}


def test_a_voided_receipt_and_a_cancelled_order_bring_nothing(frame, batch, casting):
    line = line_of(casting, batch)
    receipt = came(line, 4)
    receipt.pieces.update(set_aside=True)
    cost.ReceiptFactory(line=line, good=0, voids=receipt)
    assert counts(frame, batch=batch) == {"casting": (0, 10, 0)}
    assert left_out(frame, batch=batch) == {}
    line.order.cancelled_on = DAY
    line.order.save()
    assert counts(frame, batch=batch) == {}


@pytest.mark.parametrize(("good", "told"), [(0, (0, 1, 0)), (1, (1, 0, 0))])
def test_a_pattern_on_order_or_received_is_not_ordered_again(frame, batch, other, casting, good, told):
    pattern = cost.OperationFactory(part=frame, process=Process.PATTERN, position=0)
    cost.QuoteFactory(operation=pattern, prices={1: "600"})
    assert ordered(frame, batch=batch) == {"pattern": 1, "casting": 10}
    line = line_of(pattern, other, quantity=1)
    if good:
        came(line, good)
    assert ordered(frame, batch=batch) == {"casting": 10}
    assert counts(frame, batch=batch) == {"pattern": told}


def test_where_enough_castings_are_there_no_pattern_is_bought(frame, batch, casting, machining):
    pattern = cost.OperationFactory(part=frame, process=Process.PATTERN, position=0)
    cost.QuoteFactory(operation=pattern, prices={1: "600"})
    came(line_of(casting, batch), 10)
    assert ordered(frame, batch=batch) == {"machining": 10}
    assert not Tool.objects.exists()


def test_carriage_of_machines_counts_for_its_batch_alone(frame, batch, casting):
    carriage = cost.OperationFactory(part=None, design=frame.design, workshop=frame.workshop, process=Process.CARRIAGE)
    cost.QuoteFactory(operation=carriage, prices={1: "90"})
    came(line_of(carriage, quantity=5), 5)
    assert ordered(frame, batch=batch)["carriage"] == 10
    came(line_of(carriage, batch, quantity=6), 4)
    assert counts(frame, batch=batch)["carriage"] == (4, 2, 4)


def test_a_wish_for_the_supplier_of_what_is_on_order_is_no_trouble(frame, batch, casting, machining):
    Operation.objects.filter(pk=machining.pk).update(keep_with=casting)
    line_of(casting, batch)
    assert asked(frame, batch=batch).best.troubles == ()


def test_the_queries_do_not_grow_with_pieces_and_orders(
    frame, batch, other, casting, machining, django_assert_max_num_queries
):
    for at in range(8):
        part = factories.PartFactory(design=frame.design, name=f"bracket {at}")
        row = cost.OperationFactory(part=part)
        cost.QuoteFactory(operation=row, supplier=casting.quotes.get().supplier)
        came(line_of(row, batch), 3)
        factories.PieceFactory(part=part, project=other)
    with django_assert_max_num_queries(25):
        question = asked(frame, batch=batch)
        assert PlannedOrders(question, question.best).rows
        assert all(one.pieces and str(one.lines[0].order) for one in question.already)


def test_what_is_there_costs_nothing_more(frame, batch, casting):
    came(line_of(casting, batch), 4)
    assert asked(frame, batch=batch).best.total == 6 * Decimal(48) - 6 * Decimal(48)  # six are on order yet
    assert asked(frame, 12, batch=batch).best.total == 2 * Decimal(48)
