"""From whom, and how many of each, for a batch at least total cost, with a proven bound on what any plan could save.

One offer for each need, at the cheapest quantity that is at least what is needed; a delivery for each supplier and
place that his goods go to; an order for less than the least order is charged as that; a part's operations one after
another within the days there are.

>>> from decimal import Decimal
>>> from projects.money.breaks import Break, PriceList
>>> prices = PriceList((Break(1, Decimal(20)), Break(10, Decimal(15))))
>>> plan = order_plan(
...     [Need("bed, cast", "bed", 9)],
...     [Offer("near", "bed, cast", "Near", prices, 20), Offer("far", "bed, cast", "Far", prices, 10)],
...     [Supplier("Near", delivery=Decimal(25)), Supplier("Far", delivery=Decimal(60))],
... )
>>> plan.lines[0].offer.key, plan.lines[0].quantity, str(plan.total), plan.proven
('near', 10, '175.00', True)
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from .needs import Case, Need, Offer, Picks, Reason, Supplier, Trouble, Wish, cheapest_in_time, lay_out
from .order_sheet import Delivery, LeastOrder, OrderLine, OrderPlan, order_working, sheet_of
from .order_solve import best_picks, most_wishes, wishes_met

__all__ = [
    "Delivery", "LeastOrder", "Need", "Offer", "OrderLine", "OrderPlan", "Reason", "Supplier", "Trouble",
    "as_picked", "one_supplier", "order_plan", "order_working", "part_by_part",
]  # fmt: skip

HOME = "workshop"
LIMIT = 10.0  # s


def order_plan(
    needs: Sequence[Need],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    days: int | None = None,
    home: str = HOME,
    *,
    limit_s: float = LIMIT,
    seed: int = 0,
) -> OrderPlan:
    """The cheapest plan: min Σ goods + Σ deliveries + Σ charges up to a least order.      Source: common practice.

    Goods are those of `PriceList.cheapest` with tooling, each line rounded to the cent. Days are counted from the
    order; None: there is no hurry. What cannot be had or cannot be there in time is left out and told in `troubles`,
    and what comes before it is delivered home; of the wishes for one supplier as many are met as can be.
    A proven plan is the same for the same seed. Raises ValueError for doubled or unknown keys and for circles.
    """
    case = lay_out(needs, offers, suppliers, days, home)
    start = most_wishes(case, limit_s=limit_s, seed=seed) if case.wishes else None
    picks, bound = best_picks(case, start or cheapest_in_time(case), limit_s=limit_s, seed=seed)
    return sheet_of(_with_wishes_told(case, picks), picks, bound)


def part_by_part(
    needs: Sequence[Need],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    days: int | None = None,
    home: str = HOME,
) -> OrderPlan:
    """What it costs when each part is bought by itself, where its own prices are least and it comes in time.

    Deliveries and least orders are charged as they fall, wishes for one supplier are not looked at.
    """
    case = lay_out(needs, offers, suppliers, days, home)
    return sheet_of(case, cheapest_in_time(case))


def as_picked(
    needs: Sequence[Need],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    picked: Mapping[str, str],
    bound: Decimal,
    days: int | None = None,
    home: str = HOME,
) -> OrderPlan | None:
    """The plan in which each need has the offer named for it, by their keys, with a bound found before.

    None where that is no plan any more: a need or an offer is gone, another has come, or it cannot be there in time.
    """
    case = lay_out(needs, offers, suppliers, days, home)
    ways = {key: {way.offer.key: way for way in case.ways[key]} for chain in case.chains for key in chain}
    picks = {key: ways[key][picked[key]] for key in ways if picked.get(key) in ways[key]}
    if not picks.keys() == ways.keys() == picked.keys():
        return None
    plan = replace(sheet_of(_with_wishes_told(case, picks), picks), bound=bound)
    return plan if days is None or plan.finish <= days else None


def one_supplier(
    needs: Sequence[Need],
    offers: Sequence[Offer],
    suppliers: Sequence[Supplier],
    days: int | None = None,
    home: str = HOME,
    *,
    limit_s: float = LIMIT,
    seed: int = 0,
) -> OrderPlan | None:
    """The cheapest plan in which one supplier does all of a process; None where nobody can.

    Needs without a process count as one process.
    """
    case = lay_out(needs, offers, suppliers, days, home)
    case = replace(case, wishes=_by_process(case))
    start = most_wishes(case, limit_s=limit_s, seed=seed)
    if start is None or wishes_met(case, start) != case.wishes:
        return None
    return sheet_of(case, *best_picks(case, start, limit_s=limit_s, seed=seed))


def _with_wishes_told(case: Case, picks: Picks) -> Case:
    met = wishes_met(case, picks)
    apart = tuple(Trouble(_why_apart(case, tie), tie) for tie in case.wishes if tie not in met)
    return replace(case, troubles=case.troubles + apart)


def _why_apart(case: Case, tie: Wish) -> Reason:
    one, other = ({way.supplier for way in case.ways[key]} for key in tie)
    return Reason.KEPT_APART if one & other else Reason.NOBODY_DOES_BOTH


def _by_process(case: Case) -> tuple[Wish, ...]:
    first: dict[str, str] = {}
    together = ((key, first.setdefault(need.process, key)) for key, need in case.needs.items())
    return tuple((key, other) for key, other in together if key != other)
