"""From whom, and how many of each, for a batch at least total cost, with a proven bound on what any plan could save.

One offer for each need, at the cheapest quantity that is at least what is needed; a delivery for each supplier and
place that his goods go to; an order for less than the least order is charged as that; a part's operations one after
another within the days there are.

>>> from decimal import Decimal
>>> from projects.money.breaks import Break, PriceList
>>> prices = PriceList((Break(1, Decimal(20)), Break(10, Decimal(15))))
>>> case = lay_out(
...     [PurchaseNeed("bed, cast", "bed", 9)],
...     [Offer("near", "bed, cast", "Near", prices, 20), Offer("far", "bed, cast", "Far", prices, 10)],
...     [SupplierTerms("Near", delivery=Decimal(25)), SupplierTerms("Far", delivery=Decimal(60))],
... )
>>> plan = order_plan(case)
>>> plan.lines[0].offer.key, plan.lines[0].quantity, str(plan.total), plan.proven
('near', 10, '175.00', True)
"""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from .needs import Case, Offer, Picks, PurchaseNeed, SupplierTerms, Trouble, TroubleReason, cheapest_in_time, lay_out
from .order_sheet import Delivery, LeastOrder, OrderPlan, OrderPlanLine, order_working, sheet_of
from .order_solve import best_picks, most_wishes, wishes_met

__all__ = [
    "Delivery", "LeastOrder", "Offer", "OrderPlan", "OrderPlanLine", "PurchaseNeed", "SupplierTerms", "Trouble",
    "TroubleReason", "as_picked", "lay_out", "one_supplier", "order_plan", "order_working", "part_by_part",
]  # fmt: skip

LIMIT = 10.0  # s


def order_plan(case: Case, *, limit_s: float = LIMIT, seed: int = 0) -> OrderPlan:
    """The cheapest plan: min Σ goods + Σ deliveries + Σ charges up to a least order.      Source: common practice.

    Goods are those of `PriceList.cheapest` with tooling, each line rounded to the cent. What cannot be had or cannot
    be there in time is named in `troubles`, and what comes before it is delivered home; of the wishes for one supplier
    as many are met as can be. A proven plan is the same for the same seed.
    """
    start = most_wishes(case, limit_s=limit_s, seed=seed) if case.wishes else None
    picks, bound = best_picks(case, start or cheapest_in_time(case), limit_s=limit_s, seed=seed)
    return sheet_of(_naming_wishes_not_met(case, picks), picks, bound)


def part_by_part(case: Case) -> OrderPlan:
    """What it costs when each part is bought by itself, where its own prices are least and it comes in time.

    Deliveries and least orders are charged as they fall, wishes for one supplier are not looked at.
    """
    return sheet_of(case, cheapest_in_time(case))


def as_picked(case: Case, picked: Mapping[str, str], bound: Decimal) -> OrderPlan | None:
    """The plan in which each need has the offer named for it, by their keys, with a bound that was proven before.

    None where that is no plan any more: a need or an offer is gone, another has come, or it cannot be there in time.
    """
    choices = {key: {choice.offer.key: choice for choice in case.choices[key]} for key, _ in case.arcs()}
    picks = {key: choices[key][picked[key]] for key in choices if picked.get(key) in choices[key]}
    if not picks.keys() == choices.keys() == picked.keys():
        return None
    plan = replace(sheet_of(_naming_wishes_not_met(case, picks), picks), bound=bound)
    return plan if case.days is None or plan.finish <= case.days else None


def one_supplier(case: Case, *, limit_s: float = LIMIT, seed: int = 0) -> OrderPlan | None:
    """The cheapest plan in which one supplier does all of a process; None where nobody can.

    Needs without a process count as one process.
    """
    first: dict[str, str] = {}
    together = ((key, first.setdefault(need.process, key)) for key, need in case.needs.items())
    case = replace(case, wishes=tuple((key, other) for key, other in together if key != other))
    start = most_wishes(case, limit_s=limit_s, seed=seed)
    if start is None or wishes_met(case, start) != case.wishes:
        return None
    return sheet_of(case, *best_picks(case, start, limit_s=limit_s, seed=seed))


def _naming_wishes_not_met(case: Case, picks: Picks) -> Case:
    """The case with a trouble more for each wish that these picks do not meet."""
    met, troubles = wishes_met(case, picks), list(case.troubles)
    for wish in case.wishes:
        if wish not in met:
            one, other = ({choice.supplier for choice in case.choices[key]} for key in wish)
            why = TroubleReason.KEPT_APART if one & other else TroubleReason.NOBODY_DOES_BOTH
            troubles.append(Trouble(why, wish))
    return replace(case, troubles=tuple(troubles))
