"""What a batch costs whether any machine of it is sold or not, and what each one adds."""

from dataclasses import dataclass
from decimal import Decimal

from .rounding import cents
from .unit_cost import CostingTerms, CostLine, MachineCost

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Split:
    """The costs of a batch; `rest` is that of all its machines together."""

    machines: int
    development: Decimal
    tools: Decimal
    setups: Decimal
    rest: Decimal

    @property
    def fixed(self) -> Decimal:
        return self.development + self.tools + self.setups

    @property
    def variable(self) -> Decimal:
        return cents(self.rest / self.machines)

    def counted(self, currency: str) -> tuple[tuple[str, str], ...]:
        """What is counted as what, for a working."""
        return (
            ("fixed: development, all of it", f"{self.development} {currency}"),
            ("fixed: tools still to be paid", f"{self.tools} {currency}"),
            ("fixed: set-ups", f"{self.setups} {currency}"),
            (f"the rest, of {self.machines} machines", f"{self.rest} {currency}"),
        )


def own_hands(line: CostLine, terms: CostingTerms) -> Decimal:
    """What our own set-up and work come to in a line of a sheet, with their overhead; the rest of it is bought."""
    setup = cents(line.setups * line.operation.minutes_setup * terms.wage / 60)
    return min(line.setup, setup) + line.work + line.overhead


def split(cost: MachineCost, development: Decimal) -> Split:
    """Fixed and variable costs of a batch, out of its sheet.

    fixed = development + tools + set-ups;  variable = (everything else) / machines
    `development` is all of it, where the sheet has the share that the batch bears. Material, pieces, hours of work
    with their overhead, paint and blasting are the rest.      Source: common practice.

    >>> from .unit_cost import CostingTerms, Route, RouteOperation, ToolCost, machine_cost
    >>> casting = RouteOperation("casting", "cast", (ToolCost("pattern", Decimal(900)),), material=Decimal(262))
    >>> costs = split(machine_cost([Route("set", 1, (casting,))], 5, CostingTerms(wage=Decimal(0))), Decimal(1500))
    >>> str(costs.fixed), str(costs.variable)
    ('2400.00', '262.00')
    """
    lines = [line for part in cost.parts for line in part.lines]
    tools = sum((line.tools for line in lines), NOTHING)
    setups = sum((line.setup for line in lines), NOTHING)
    rest = sum((line.total for line in lines), NOTHING) - tools - setups
    return Split(cost.machines, cents(development), cents(tools), cents(setups), cents(rest))
