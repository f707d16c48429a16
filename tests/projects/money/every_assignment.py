"""The ordering plan by trying everything: every offer for every need, every quantity, plain loops, plain dicts.

It shares nothing with the model: not its quantities, not its sums, not its rules.
"""

from decimal import ROUND_HALF_UP, Decimal
from itertools import product


def price_of(prices, pieces):
    if prices.counting == "all units":
        reached = prices.breaks[0].price
        for at in prices.breaks:
            if at.from_quantity <= pieces:
                reached = at.price
        return pieces * reached
    total = Decimal(0)
    for piece in range(1, pieces + 1):
        reached = prices.breaks[0].price
        for at in prices.breaks:
            if at.from_quantity <= piece:
                reached = at.price
        total += reached
    return total


def line_cost(offer, need):
    """The cheapest of every quantity that is enough, up to where no price changes any more."""
    prices = offer.prices
    fewest = max(need.quantity, prices.minimum, prices.breaks[0].from_quantity)
    most = max(fewest, prices.breaks[-1].from_quantity)
    least = min(price_of(prices, pieces) for pieces in range(fewest, most + 1))
    return (least + prices.setup + prices.tooling).quantize(Decimal("0.01"), ROUND_HALF_UP)


def total_cost(chosen, needs, suppliers, home):
    """chosen: an offer by the key of its need."""
    goods, carried, total = {}, set(), Decimal(0)
    for need in needs:
        supplier = chosen[need.key].supplier
        goods[supplier] = goods.get(supplier, Decimal(0)) + line_cost(chosen[need.key], need)
        to = home
        for later in needs:
            if later.follows == need.key:
                to = chosen[later.key].supplier
        if to != supplier:
            carried.add((supplier, to))
    for supplier in suppliers:
        if supplier.key in goods:
            total += max(goods[supplier.key], supplier.minimum)
    for supplier, _ in carried:
        total += {s.key: s.delivery for s in suppliers}[supplier]
    return total


def in_time(chosen, needs, days):
    for need in needs:
        spent, at = 0, need
        while at is not None:
            spent += chosen[at.key].lead_days
            at = next((before for before in needs if before.key == at.follows), None)
        if days is not None and spent > days:
            return False
    return True


def wishes_met(chosen, needs):
    wished = [need for need in needs if need.keep_with]
    return sum(chosen[need.key].supplier == chosen[need.keep_with].supplier for need in wished)


def least_total(needs, offers, suppliers, days, home):
    """Of the assignments that come in time and meet most wishes: how many those are, and the least total; or None."""
    best = None
    for picked in product(*([o for o in offers if o.operation == need.key] for need in needs)):
        chosen = {need.key: offer for need, offer in zip(needs, picked, strict=True)}
        if in_time(chosen, needs, days):
            rank = -wishes_met(chosen, needs), total_cost(chosen, needs, suppliers, home)
            best = rank if best is None else min(best, rank)
    return None if best is None else (-best[0], best[1])
