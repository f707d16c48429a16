"""What is to come from suppliers, and how the pieces that come are marked."""

from datetime import date
from typing import Any

from django.db.models import Q

from projects.record.domain.marks import propose_marks
from projects.record.models.designs import Part
from projects.record.models.orders import OrderLine, Receipt
from projects.record.models.pieces import Piece
from projects.record.models.projects import Project


def lines_to_come(workshop: Any, day: date) -> list[OrderLine]:
    """Lines of which something is outstanding or was rejected and not replaced, the earliest promised first.

    `late`: by how many days each is.
    """
    rows = OrderLine.objects.of(workshop).filter(order__cancelled_on=None)
    rows = rows.select_related("order__supplier", "order__goes_to", "order__design", "operation__part", "revision")
    waited_for = [row for row in rows.prefetch_related("receipts") if row.outstanding or row.short]
    for row in waited_for:
        row.late = (day - row.order.promised_on).days if row.order.promised_on else 0
    return sorted(waited_for, key=lambda row: (not row.outstanding, row.order.promised_on or date.max, str(row)))


def given_back(project: Project, part: Part) -> dict[str, Piece]:
    """Pieces by mark that only a voided receipt made: the next receipt may be of the same castings."""
    waiting = Piece.objects.filter(project=project, part=part, set_aside=True, rejected_for="")
    return {piece.mark: piece for piece in waiting.filter(receipt__voided_by__isnull=False)}


def free_marks(project: Project, part: Part, count: int) -> list[str]:
    """Marks proposed for pieces that come: first those given back by a voided receipt."""
    again = list(given_back(project, part))[:count]
    made: dict[str, list[str]] = {name: [] for name in project.design.parts.values_list("name", flat=True)}
    for name, mark in project.pieces.values_list("part__name", "mark"):
        made[name].append(mark)
    return again + propose_marks([part.name] * (count - len(again)), made)


def used_pieces(receipt: Receipt) -> list[Piece]:
    """Pieces that a receipt made and with which something was done since: the receipt can be voided no more."""
    done = Q(steps__isnull=False) | Q(fittings__isnull=False) | Q(visits__isnull=False)
    return list(receipt.pieces.filter(done).distinct())
