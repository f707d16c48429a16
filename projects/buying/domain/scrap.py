"""How many of an operation came out good, by its receipts and by what was found bad later."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Q, QuerySet

from projects.money.rounding import cents
from projects.money.scrap import GoodShare
from projects.record.models.designs import Design
from projects.record.models.routes import Operation

FOUND_LATER = Q(pieces_rejected__rejected_in=None) & ~Q(pieces_rejected__rejected_for="")


@dataclass(frozen=True)
class GoodOffer:
    """A share of good ones that was seen, beside the operation's own estimate; it is taken by hand only."""

    operation: Operation
    counted: GoodShare

    @property
    def percent(self) -> Decimal:
        return cents(100 * self.counted.share)

    @property
    def range(self) -> tuple[Decimal, Decimal]:
        low, high = self.counted.range
        return 100 * low, 100 * high

    @property
    def can_be_taken(self) -> bool:
        """Without a good one there is nothing to reckon with."""
        return self.counted.good > 0 and self.percent != self.operation.good_percent

    @property
    def estimate_is_far(self) -> bool:
        low, high = self.range
        return not low <= self.operation.good_percent <= high

    @property
    def basis(self) -> str:
        return f"{self.counted.good} good of {self.counted.started} received"


def good_offer(operation: Operation) -> GoodOffer | None:
    """None where nothing was received yet."""
    return next(iter(_offers(Operation.objects.filter(pk=operation.pk))), None)


def good_offers(design: Design) -> list[GoodOffer]:
    """For each operation of a design of which something was received, in three queries."""
    return _offers(design.operations.filter(order_lines__receipts__isnull=False).distinct())


def _offers(operations: QuerySet[Operation]) -> list[GoodOffer]:
    """Started is what was received of an operation; good, what was good of it and stayed so."""
    rows = operations.annotate(found_later=Count("pieces_rejected", filter=FOUND_LATER, distinct=True))
    offers = []
    for operation in rows.select_related("part").prefetch_related("order_lines__receipts"):
        lines = operation.order_lines.all()
        started = sum(line.received for line in lines)
        good = max(0, sum(line.good for line in lines) - operation.found_later)
        if started:
            offers.append(GoodOffer(operation, GoodShare(started, good)))
    return offers
