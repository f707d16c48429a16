"""A project's orders that were not cancelled, and what their money costs in the workshop's own."""

from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from finishing.workshops.models import Workshop
from projects.buying.domain.offers import rates_of
from projects.record.models.orders import Order
from projects.record.models.projects import Project


@dataclass(frozen=True, eq=False)
class ProjectOrders:
    """None where there is no project."""

    workshop: Workshop
    project: Project | None

    @cached_property
    def standing(self) -> list[Order]:
        """In whatever money."""
        return [] if self.project is None else list(self.project.orders.in_full().filter(cancelled_on=None))

    @cached_property
    def rates(self) -> dict[str, Decimal]:
        return rates_of(self.workshop)

    @cached_property
    def priced(self) -> list[tuple[Order, Decimal]]:
        """Those in money that has a rate, each with what one unit of it costs in the workshop's own."""
        return [(order, self.rates[order.currency]) for order in self.standing if order.currency in self.rates]

    @property
    def without_rate(self) -> list[Order]:
        return [order for order in self.standing if order.currency not in self.rates]
