"""Orders as they are written from what was picked: lines, deliveries, charges up to a least order, and their sum."""

from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .needs import NOTHING, Case, Offer, Picks, PurchaseNeed, Trouble, in_cents
from .rounding import CENT


@dataclass(frozen=True)
class OrderPlanLine:
    """So many of a need from one offer. cost: money, tooling with it."""

    need: PurchaseNeed
    offer: Offer
    quantity: int
    cost: Decimal

    @property
    def left_over(self) -> int:
        return self.quantity + self.offer.replaced - self.need.quantity


@dataclass(frozen=True)
class Delivery:
    """One supplier's goods on their way to one place."""

    supplier: str
    to: str
    cost: Decimal


@dataclass(frozen=True)
class LeastOrder:
    """What a supplier charges above his goods, because they come to less than his least order."""

    supplier: str
    goods: Decimal
    charge: Decimal


@dataclass(frozen=True)
class OrderPlan:
    """From whom, how many, and what it comes to. No plan that leaves out the same costs less than the bound.

    What was reckoned by a rule and not searched for is its own bound.
    """

    lines: tuple[OrderPlanLine, ...]
    deliveries: tuple[Delivery, ...]
    least_orders: tuple[LeastOrder, ...]
    bound: Decimal
    troubles: tuple[Trouble, ...] = ()

    @cached_property
    def goods(self) -> Decimal:
        return sum((line.cost for line in self.lines), NOTHING)

    @cached_property
    def total(self) -> Decimal:
        delivered = sum((delivery.cost for delivery in self.deliveries), NOTHING)
        return self.goods + delivered + sum((least.charge for least in self.least_orders), NOTHING)

    @property
    def proven(self) -> bool:
        return self.total == self.bound

    @property
    def gap(self) -> float:
        """How much less, as a share of the total, the best plan could cost at most."""
        return float((self.total - self.bound) / self.total) if self.total else 0.0

    @cached_property
    def ready(self) -> dict[str, int]:
        """For each operation the days until it is done, one after another along each route."""
        by_key = {line.need.key: line for line in self.lines}
        days: dict[str, int] = {}
        for line in self.lines:  # along each chain, as they were laid out
            before = line.need.follows if line.need.follows in by_key else None
            days[line.need.key] = line.offer.lead_days + (days[before] if before else 0)
        return days

    @property
    def finish(self) -> int:
        return max(self.ready.values(), default=0)

    def saves(self, other: "OrderPlan") -> Decimal:
        """How much less it costs than another plan; below nothing where the other one costs less."""
        return other.total - self.total


def sheet_of(case: Case, picks: Picks, bound: int | None = None) -> OrderPlan:
    """What was picked as an order plan; `bound` in cents, without one the plan's own total."""
    lines = tuple(
        OrderPlanLine(case.needs[key], picks[key].offer, picks[key].quantity, CENT * picks[key].cost) for key in picks
    )
    plan = OrderPlan(lines, _deliveries(case, picks), _least_orders(case, picks), NOTHING, case.troubles)
    return replace(plan, bound=plan.total if bound is None else CENT * bound)


def _deliveries(case: Case, picks: Picks) -> tuple[Delivery, ...]:
    """Once for each supplier and place; what stays in the house is not carried."""
    carried = {(picks[key].supplier, picks[after].supplier if after else case.home): None for key, after in case.arcs()}
    return tuple(
        Delivery(supplier, to, CENT * in_cents(case.suppliers[supplier].delivery))
        for supplier, to in carried
        if supplier != to
    )


def _least_orders(case: Case, picks: Picks) -> tuple[LeastOrder, ...]:
    goods: dict[str, int] = {}
    for choice in picks.values():
        goods[choice.supplier] = goods.get(choice.supplier, 0) + choice.cost
    short = {key: in_cents(case.suppliers[key].minimum) - spent for key, spent in goods.items()}
    return tuple(LeastOrder(key, CENT * goods[key], CENT * charge) for key, charge in short.items() if charge > 0)


def order_working(plan: OrderPlan, currency: str) -> Working:
    """How the total of an ordering plan came about."""
    carried = sum((delivery.cost for delivery in plan.deliveries), NOTHING)
    raised = sum((least.charge for least in plan.least_orders), NOTHING)
    return Working(
        "ordering plan",
        "goods + deliveries + charges up to a least order",
        (
            (f"goods, {len(plan.lines)} lines", f"{plan.goods} {currency}"),
            (f"deliveries, {len(plan.deliveries)}", f"{carried} {currency}"),
            (f"up to a least order, {len(plan.least_orders)}", f"{raised} {currency}"),
        ),
        f"{plan.total} {currency}",
        COMMON_PRACTICE,
        "Proven: no other choice costs less." if plan.proven else f"No choice costs less than {plan.bound} {currency}.",
    )
