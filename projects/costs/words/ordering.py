"""How each number of an ordering plan came about."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working, day_told
from projects.costs.domain.ordering import Ordering, Stop
from projects.costs.domain.planned_orders import PlannedLine, PlannedOrder, PlannedOrders
from projects.money.breaks import order_working
from projects.money.in_hand import lack_working
from projects.money.ordering import OrderPlan
from projects.money.rounding import cents
from projects.money.unit import Terms, line_working
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
    steps = [max(planned.lines.values(), key=lambda line: line.ready)]
    while before := planned.lines.get(steps[0].picked.need.follows):
        steps.insert(0, before)
    return Working(
        "all there",
        "Σ days along the route that takes longest, from today",
        (
            ("today", day_told(planned.asked.day)),
            *((str(line.stop.row), f"{line.picked.offer.lead_days} days") for line in steps),
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


def line_workings(line: PlannedLine, asked: Ordering, currency: str) -> Iterator[Working]:
    if line.stop.row.process != Operation.Process.PATTERN:
        yield _count_working(line.stop, asked.terms)
    if line.stop.lack.anything:
        yield lack_working(line.stop.lack, str(line.stop.row))
    if line.column is None:
        yield line_working(line.stop.line, asked.terms, currency)
    else:
        yield _price_working(line, currency)


def _count_working(stop: Stop, terms: Terms) -> Working:
    return Working(
        f"how many come to {stop.row}",
        "max(good, ⌈started · share that comes through before⌉)",
        (
            ("good ones wanted", str(stop.good)),
            ("chance of enough", f"{100 * terms.chance:.4g} %"),
            ("started at the first operation", str(stop.started)),
            ("come through before this one", f"{100 * stop.before:.4g} %"),
        ),
        str(stop.lack.afresh),
        "BINOMIAL",
    )


def _price_working(line: PlannedLine, currency: str) -> Working:
    picked, tooling = line.picked, line.picked.offer.prices.tooling
    working = order_working(picked.offer.prices, picked.need.quantity, currency)
    more = (("tooling, once", f"{cents(tooling)} {currency}"),) if tooling else ()
    result = f"order {picked.quantity}: {cents(Decimal(picked.cost))} {currency}"
    return replace(working, name=str(line.stop.row), inputs=(*working.inputs, *more), result=result)
