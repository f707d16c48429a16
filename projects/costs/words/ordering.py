"""How each number of an ordering plan came about."""

from collections.abc import Iterator
from dataclasses import replace

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working, day_told
from projects.costs.domain.ordering import NeededOperation, Ordering
from projects.costs.domain.planned_orders import PlannedLine, PlannedOrder, PlannedOrders
from projects.money.breaks import order_working
from projects.money.ordering import OrderPlan
from projects.money.rounding import cents
from projects.money.starts import starts
from projects.money.stock import net_requirement_working
from projects.money.unit_cost import CostingTerms, line_working
from projects.record.models.routes import Operation


def saving_working(plan: OrderPlan, other: OrderPlan, against: str, currency: str) -> Working:
    return Working(
        f"saved against {against}",
        "total of the other − total of this plan",
        ((against, f"{other.total} {currency}"), ("this plan", f"{plan.total} {currency}")),
        f"{plan.saves(other)} {currency}",
        COMMON_PRACTICE,
        "Both with their deliveries and charges up to a least order.",
    )


def bound_working(plan: OrderPlan, currency: str) -> Working:
    return Working(
        "how far from the best it may be",
        "(total − bound) / total; no choice of offers costs less than the bound",
        (("total", f"{plan.total} {currency}"), ("bound", f"{plan.bound} {currency}")),
        f"{100 * plan.gap:.2f} %",
        COMMON_PRACTICE,
        "The bound comes from the solver's relaxation of the choice." if not plan.proven else "Total and bound agree.",
    )


def finish_working(planned: PlannedOrders) -> Working:
    """Along the route that takes longest."""
    route = [max(planned.lines.values(), key=lambda line: line.ready)]
    while before := planned.lines.get(route[0].picked.need.follows or ""):
        route.insert(0, before)
    return Working(
        "all there",
        "Σ days along the route that takes longest, from today",
        (
            ("today", day_told(planned.ordering.day)),
            *((str(line.needed.row), f"{line.picked.offer.lead_days} days") for line in route),
        ),
        day_told(planned.finish),
        COMMON_PRACTICE,
        "Each works on when the one before has delivered; days on the way are those of their quotes.",
    )


def sum_working(order: PlannedOrder, currency: str) -> Working:
    parts = (("goods", order.goods), ("delivery", order.delivery), ("up to their least order", order.charge))
    return Working(
        f"order to {order.supplier}",
        "goods + delivery + charge up to the least order",
        tuple((name, f"{amount} {currency}") for name, amount in parts if amount),
        f"{order.total} {currency}",
        COMMON_PRACTICE,
    )


def line_workings(line: PlannedLine, ordering: Ordering, currency: str) -> Iterator[Working]:
    """How many come to it, what of that is in stock or on order, and what it costs."""
    needed = line.needed
    if needed.row.process != Operation.Process.PATTERN:
        yield _count_working(needed, ordering.terms)
    if needed.requirement.reduced:
        yield net_requirement_working(needed.requirement, str(needed.row))
    if line.priced is not None:
        yield _price_working(line, currency)
    elif needed.line is not None:
        yield line_working(needed.line, ordering.terms, currency)


def _count_working(needed: NeededOperation, terms: CostingTerms) -> Working:
    return Working(
        f"how many come to {needed.row}",
        "max(good, least of ⌈started · share that comes through before⌉ and as many as still must be)",
        (
            ("good ones wanted", str(needed.good)),
            ("chance of enough", f"{100 * terms.chance:.4g} %"),
            ("started at the first operation", str(needed.started)),
            ("come through before this one", f"{100 * needed.before:.4g} %"),
            ("come through this one and all after", f"{100 * needed.rest:.4g} %"),
            ("still must be, for the chance", str(starts(needed.good, needed.rest, terms.chance))),
        ),
        str(needed.requirement.gross),
        "BINOMIAL",
        "What was started beyond need stays as rough as it can.",
    )


def _price_working(line: PlannedLine, currency: str) -> Working:
    picked, tooling = line.picked, line.picked.offer.prices.tooling
    replaced = picked.offer.replaced
    working = order_working(picked.offer.prices, max(1, picked.need.quantity - replaced), currency)
    more = [("tooling, once", f"{cents(tooling)} {currency}")] if tooling else []
    if replaced:
        more.append(("bad castings replaced free of charge", str(replaced)))
    result = f"order {picked.quantity}: {cents(picked.cost)} {currency}"
    return replace(working, name=str(line.needed.row), inputs=(*working.inputs, *more), result=result)
