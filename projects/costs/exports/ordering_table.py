"""An ordering plan as a table: a row for each line, and in the end what all of it comes to."""

from collections.abc import Iterator
from decimal import Decimal

from projects.costs.domain.cost_sheet import NOTHING
from projects.costs.domain.planned_orders import PlannedLine, PlannedOrder, PlannedOrders
from projects.money.rounding import cents, shared_out
from projects.site.exports import TableFormat, table_bytes
from projects.site.sheets import Value

WHAT = ("supplier", "sent to", "process", "part", "work", "needed", "ordered", "done by")
MONEY = ("price each", "pieces", "set-up", "tooling", "delivery", "up to least order", "sum")
HOW = ("currency", "ordered in", "tax %", "tax")
HERE, HOME = "done here", "us"


def ordering_table(planned: PlannedOrders, currency: str, form: TableFormat) -> bytes:
    """Without tax, in the workshop's currency. An order's first line bears its delivery and the charge up to a least
    order, so that the lines add up; its tax is rounded once and handed out by what each line comes to."""
    rows = [row for order in planned.orders for row in _order(order, currency)]
    rows += [[HERE, HOME, *_what(line), *_money(line), currency, currency, None, None] for line in planned.here]
    tax = sum((row[-1] for row in rows if row[-1] is not None), NOTHING)
    empty: list[Value] = [None] * (len(WHAT) + len(MONEY) - 2)
    rows.append(["all", *empty, planned.plan.total, currency, "", None, tax])
    columns = (*WHAT, *MONEY, *HOW)
    return table_bytes(columns, rows, form, title="ordering plan")


def _order(order: PlannedOrder, currency: str) -> Iterator[list[Value]]:
    whom, to, percent = str(order.supplier), str(order.goes_to or HOME), order.supplier.tax
    moneys = _sums(order)
    taxes = shared_out(cents(order.total * percent / 100), [sums[-1] for sums in moneys])
    for line, sums, tax in zip(order.lines, moneys, taxes, strict=True):
        yield [whom, to, *_what(line), *sums, currency, order.supplier.money_in, percent, tax]


def _sums(order: PlannedOrder) -> list[list[Decimal]]:
    first, *others = order.lines
    return [_money(first, order.delivery, order.charge), *(_money(line) for line in others)]


def _what(line: PlannedLine) -> list[Value]:
    row, picked = line.needed.row, line.picked
    name = row.part.name if row.part else ""
    return [row.get_process_display(), name, row.name, picked.need.quantity, picked.quantity, line.ready]


def _money(line: PlannedLine, delivery: Decimal = NOTHING, charge: Decimal = NOTHING) -> list[Decimal]:
    picked, prices = line.picked, line.picked.offer.prices
    parts = [picked.cost, NOTHING, NOTHING]
    if line.priced:  # what a line comes to was rounded once; its parts add up to it
        pieces_cost = prices.cost(picked.quantity) - prices.setup
        parts = shared_out(picked.cost, [pieces_cost, prices.setup, prices.tooling])
    pieces, setup, tooling = parts
    each = (pieces / picked.quantity).quantize(Decimal("0.0001"))
    return [each, pieces, setup, tooling, delivery, charge, picked.cost + delivery + charge]
