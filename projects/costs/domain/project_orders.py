"""A project's orders that were not cancelled, and what their money costs in the workshop's own."""

from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from projects.record.models.orders import Order
from projects.record.models.projects import Project


@dataclass(frozen=True, eq=False)
class ProjectOrders:
    """None where there is no project. `rates`: what a unit of each currency costs in the workshop's own."""

    project: Project | None
    rates: dict[str, Decimal]

    @cached_property
    def standing(self) -> list[Order]:
        """In whatever money."""
        return [] if self.project is None else list(self.project.orders.with_sums().filter(cancelled_on=None))

    @cached_property
    def priced(self) -> list[tuple[Order, Decimal]]:
        """Those in money that has a rate, each with what one unit of it costs in the workshop's own."""
        return [(order, self.rates[order.currency]) for order in self.standing if order.currency in self.rates]

    @property
    def without_rate(self) -> list[Order]:
        return [order for order in self.standing if order.currency not in self.rates]
