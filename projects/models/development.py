"""What it cost to get a design right: money and hours of our own, by the revision they were spent on."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from .designs import Design
from .proved import current_revision
from .proving import Expense

CENT = Decimal("0.01")


def wage_of(design: Design) -> Decimal | None:
    """An hour of our own hands, as this design's costs say it, else as the workshop does."""
    terms = getattr(design, "cost_terms", None)
    return terms.wage if terms and terms.wage is not None else design.workshop.wage


@dataclass(frozen=True)
class Spent:
    """Money, and minutes with what they come to; without a wage the minutes are told and not paid."""

    money: Decimal
    minutes: Decimal
    wage: Decimal | None

    @property
    def hands(self) -> Decimal:
        return (self.minutes * (self.wage or 0) / 60).quantize(CENT)

    @property
    def total(self) -> Decimal:
        return self.money + self.hands

    @property
    def unpaid(self) -> bool:
        return self.wage is None and self.minutes > 0


class Development:
    """All that was spent on a design.

    What went into a revision that another has replaced, and into the design as a whole, is development. What went
    into the revisions that stand is told beside it: it becomes development when they are replaced.
    """

    def __init__(self, design: Design) -> None:
        self.wage = wage_of(design)
        self.expenses = list(Expense.objects.filter(design=design).select_related("revision__part"))
        standing = [current_revision(part) for part in design.parts.prefetch_related("revisions")]
        self._standing = {revision.pk for revision in standing if revision}
        self._by_revision: dict[Any, list[Expense]] = defaultdict(list)
        for expense in self.expenses:
            self._by_revision[expense.revision_id].append(expense)

    def of(self, revision: Any) -> Spent:
        """What was spent on one revision; on the design as a whole without one."""
        return self._sum(self._by_revision[revision and revision.pk])

    def _sum(self, expenses: list[Expense]) -> Spent:
        minutes = sum((Decimal(str(one.minutes.to("minute").magnitude)) for one in expenses), Decimal(0))
        return Spent(sum((one.amount for one in expenses), Decimal(0)), minutes, self.wage)

    def _where(self, standing: bool) -> Spent:
        return self._sum([one for one in self.expenses if (one.revision_id in self._standing) == standing])

    @property
    def spent(self) -> Spent:
        """Development: on replaced revisions, and on the design as a whole."""
        return self._where(standing=False)

    @property
    def standing(self) -> Spent:
        """On the revisions that stand."""
        return self._where(standing=True)
