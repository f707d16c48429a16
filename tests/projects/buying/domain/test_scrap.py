"""What comes out good, counted from receipts and later rejections."""

from decimal import Decimal

import pytest

from projects.buying.domain.scrap import good_offer, good_offers
from tests import cost_factories as cost
from tests import factories

pytestmark = pytest.mark.django_db


def counted(operation):
    share = good_offer(operation).counted
    return share.started, share.good


def received(line, **counts):
    return cost.ReceiptFactory(line=line, **counts)


@pytest.fixture
def line(workshop):
    return cost.OrderLineFactory(operation__part__workshop=workshop, operation__part__design__workshop=workshop)


def test_nothing_received_offers_nothing(line):
    assert good_offer(line.operation) is None
    assert good_offers(line.operation.design) == []


def test_receipts_of_all_orders_are_counted_and_voided_ones_are_not(line):
    received(line, good=6, rejected=1, why="porosity")
    other = cost.OrderLineFactory(operation=line.operation)
    received(other, good=2, rejected=1, why="size")
    wrong = received(other, good=7)
    received(other, good=0, voids=wrong)
    assert counted(line.operation) == (10, 8)


def test_a_piece_found_bad_later_counts_against_its_operation_once(line):
    receipt = received(line, good=10)
    piece = factories.PieceFactory(part=line.operation.part, receipt=receipt)
    piece.rejected_for, piece.counts_against = "porosity", line.operation
    piece.save()
    assert counted(line.operation) == (10, 9)
    piece.rejected_in = received(line, good=0, rejected=1, why="porosity")  # counted there already
    piece.save()
    assert counted(line.operation) == (11, 10)


def test_the_offer_tells_its_share_its_count_and_whether_the_estimate_is_far(line):
    received(line, good=14, rejected=6, why="porosity")
    offer = good_offer(line.operation)
    assert (offer.percent, offer.basis) == (Decimal("70.00"), "14 good of 20 received")
    assert offer.estimate_is_far  # of 100 %
    assert offer.can_be_taken


def test_none_good_cannot_be_reckoned_with(line):
    received(line, good=0, rejected=3, why="other")
    assert not good_offer(line.operation).can_be_taken


def test_a_design_s_offers_are_read_in_a_fixed_number_of_queries(line, django_assert_num_queries):
    for _ in range(3):
        operation = cost.OperationFactory(part=factories.PartFactory(design=line.operation.design))
        received(cost.OrderLineFactory(operation=operation), good=1)
    received(line, good=1)
    with django_assert_num_queries(3):
        assert len(good_offers(line.operation.design)) == 4
