"""How many of an operation came out good, by its receipts and by what was found bad later."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Q

from projects.money.rounding import cents
from projects.money.scrap import GoodShare
from projects.record.models.designs import Design
from projects.record.models.routes import Operation

FOUND_LATER = Q(pieces_rejected__rejected_in=None) & ~Q(pieces_rejected__rejected_for="")


def _with_counts(operations: Iterable[Operation]) -> Iterable[Operation]:
    found_later = Count("pieces_rejected", filter=FOUND_LATER, distinct=True)
    return operations.annotate(found_later=found_later).prefetch_related("order_lines__receipts")


def _scrap(operation: Operation) -> tuple[int, int]:
    lines = operation.order_lines.all()
    good = sum(line.good for line in lines) - operation.found_later
    return sum(line.received for line in lines), max(0, good)


def scrap_of(operation: Operation) -> tuple[int, int]:
    """(started, good): pieces received from this operation, and those that were good and stayed so."""
    return _scrap(_with_counts(Operation.objects.filter(pk=operation.pk)).get())


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
    started, good = scrap_of(operation)
    return GoodOffer(operation, GoodShare(started, good)) if started else None


def good_offers(design: Design) -> list[GoodOffer]:
    """For each operation of a design of which something was received, in five queries."""
    operations = _with_counts(design.operations.select_related("part").filter(order_lines__receipts__isnull=False))
    counts = [(operation, *_scrap(operation)) for operation in operations.distinct()]
    return [GoodOffer(operation, GoodShare(started, good)) for operation, started, good in counts if started]
