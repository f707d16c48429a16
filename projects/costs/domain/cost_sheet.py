"""What machines of a design cost at any number, on its terms: the ladder, single sheets, and what they rest on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from projects.money import ladder, pricing, unit
from projects.money.learning import Reading
from projects.money.what_if import scaled_route, scaled_terms
from projects.proving.domain.development import Development
from projects.record.models.cost_terms import CostTerms
from projects.record.models.quotes import sizes_in

from .cost_routes import DesignRoutes, Gap

NOTHING, HUNDRED = Decimal(0), Decimal(100)
TALLEST = 50  # machines on the ladder


@dataclass(frozen=True, eq=False)
class CostSheet:
    """`shares`: inputs moved to a share of what they are, by the names of CostRange.Input."""

    design: Any
    row: CostTerms
    day: date
    expired: bool = False
    shares: Mapping[str, Decimal] = field(default_factory=dict)

    @cached_property
    def source(self) -> DesignRoutes:
        return DesignRoutes(self.design, self.day, self.expired, self.row.spares)

    @cached_property
    def routes(self) -> tuple[unit.Route, ...]:
        return tuple(scaled_route(route, self.shares) for route in self.source.routes)

    @property
    def known(self) -> bool:
        """Whether anything can be reckoned with."""
        return bool(self.source.routes)

    @cached_property
    def terms(self) -> unit.Terms:
        usual = unit.Terms(
            wage=self.row.hourly or NOTHING,
            overhead=self.row.overhead,
            chance=self.row.chance / HUNDRED,
            spread_tools=self.row.spread_tools,
            learning=Reading(self.row.reading),
        )
        return scaled_terms(usual, self.shares)

    @cached_property
    def gaps(self) -> list[Gap]:
        no_wage = Gap("own hands", "nobody has said what an hour of them costs", "cost-terms", self.design)
        return [*([no_wage] if self._hands_for_nothing else []), *self.source.gaps]

    @property
    def _hands_for_nothing(self) -> bool:
        operations = (one for route in self.source.routes for one in route.operations)
        return not self.terms.wage and any(one.minutes_setup or one.minutes_each for one in operations)

    # -- development

    @cached_property
    def development(self) -> Decimal:
        """Spent on getting it right: on revisions that were replaced, and on the design as a whole."""
        return Development(self.design).spent.total

    @property
    def recovery(self) -> pricing.Recovery:
        return pricing.recovery(self.development, self.row.recover_over)

    @cached_property
    def development_each(self) -> Decimal:
        return self.development / self.row.recover_over

    # -- sheets

    def batch(self, machines: int) -> unit.MachineCost:
        return unit.machine_cost(self.routes, machines, self.terms, self.development_each)

    @cached_property
    def one_off(self) -> unit.MachineCost:
        """One machine that carries all of its development by itself."""
        return unit.machine_cost(self.routes, 1, self.terms, self.development)

    @cached_property
    def sizes(self) -> list[int]:
        return sizes_in(self.row.sizes)

    @cached_property
    def table(self) -> list[unit.MachineCost]:
        return [self.batch(machines) for machines in self.sizes]

    @cached_property
    def rows(self) -> list[tuple[str, tuple[Decimal, ...]]]:
        """Of one machine, the one-off first: what each part comes to, and development."""
        columns = (cost.shares_of_one for cost in (self.one_off, *self.table))
        names = [*(part.part for part in self.one_off.parts), "development"]
        return list(zip(names, zip(*columns, strict=True), strict=True))

    @cached_property
    def ladder(self) -> ladder.Ladder:
        return ladder.ladder(self.routes, range(1, TALLEST + 1), self.terms, self.development_each)
