"""What is to come from suppliers, and how the pieces that come are marked."""

from dataclasses import dataclass
from datetime import date

from django.db.models import F, Q, Sum

from finishing.workshops.models import Workshop
from projects.record.domain.marks import propose_marks
from projects.record.models.orders import OrderLine, Receipt
from projects.record.models.pieces import Piece


@dataclass(frozen=True)
class ExpectedLine:
    """A line of which something is outstanding, or was rejected and not replaced.

    days_late: since the day for which it was promised; 0 before it, and where no day was promised
    """

    line: OrderLine
    days_late: int


def lines_to_come(workshop: Workshop, day: date) -> list[ExpectedLine]:
    """The earliest promised first, and at the end those rejected and not replaced."""
    good = Sum("receipts__good", filter=Q(receipts__voids=None, receipts__voided_by=None), default=0)
    rows = OrderLine.objects.of(workshop).filter(order__cancelled_on=None).alias(good_by_now=good)
    rows = rows.filter(good_by_now__lt=F("quantity"))  # all the others are done with, and cost a page nothing
    rows = rows.select_related("order__supplier", "order__goes_to", "order__design", "operation__part", "revision")
    expected = [row for row in rows.prefetch_related("receipts") if row.outstanding or row.short]
    expected.sort(key=lambda row: (not row.outstanding, row.order.promised_on or date.max, str(row)))
    return [ExpectedLine(row, max(0, (day - (row.order.promised_on or day)).days)) for row in expected]


def given_back(line: OrderLine) -> dict[str, Piece]:
    """Pieces by mark that only a voided receipt made: the next receipt may be of the same castings."""
    waiting = Piece.objects.filter(project=line.order.project_id, part=line.operation.part_id, set_aside=True)
    return {piece.mark: piece for piece in waiting.filter(rejected_for="", receipt__voided_by__isnull=False)}


def free_marks(line: OrderLine, count: int) -> list[str]:
    """Marks proposed for pieces that come of a line: first those given back by a voided receipt."""
    again = list(given_back(line))[:count]
    made: dict[str, list[str]] = {name: [] for name in line.order.design.parts.values_list("name", flat=True)}
    for name, mark in Piece.objects.filter(project=line.order.project_id).values_list("part__name", "mark"):
        made[name].append(mark)
    return again + propose_marks([str(line.operation.part)] * (count - len(again)), made)


def used_pieces(receipt: Receipt) -> list[Piece]:
    """Pieces that a receipt made and with which something was done since: the receipt can be voided no more."""
    done = Q(steps__isnull=False) | Q(fittings__isnull=False) | Q(visits__isnull=False)
    return list(receipt.pieces.filter(done).distinct())
