"""Which offer for each need, at least total cost, with a proven bound. The only room here with a solver.

In whole cents. Goods move along each chain from supplier to supplier; a step from s to t costs the delivery (s, t),
once for all chains. With one worker the solver does the same for the same seed, as long as the clock does not stop it.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from math import ceil, inf

from ortools.sat.python import cp_model

from .needs import Case, Chain, OfferChoice, Picks, Wish, in_cents

MOST = 1 << 50  # cents: more money than any batch


def best_picks(case: Case, start: Picks, *, limit_s: float, seed: int) -> tuple[Picks, int]:
    """The picks and the bound, in cents, among plans that meet no fewer of the wishes than the start.

    start: where the solver sets out, and what counts if it finds nothing.
    """
    count = len(wishes_met(case, start))
    model = _OrderModel(case, case.wishes if count == len(case.wishes) else ())
    if count < len(case.wishes):
        model.cp.add(sum(map(model.met, case.wishes)) >= count)
    model.least_cost()
    model.hint(start)
    best, bound = model.solve(limit_s, seed)
    return best or start, bound


def most_wishes(case: Case, *, limit_s: float, seed: int) -> Picks | None:
    """Picks that meet as many of the wishes as can be met together; None if the clock was first."""
    model = _OrderModel(case)
    model.cp.maximize(sum(map(model.met, case.wishes)))
    return model.solve(limit_s, seed)[0]


def wishes_met(case: Case, picks: Picks) -> tuple[Wish, ...]:
    """Those whose two needs go to the same supplier."""
    return tuple(wish for wish in case.wishes if picks[wish[0]].supplier == picks[wish[1]].supplier)


class _OrderModel:
    """The choice, and the rules every plan keeps: one offer for each need, each chain in time, wishes kept."""

    def __init__(self, case: Case, wishes: tuple[Wish, ...] = ()) -> None:
        self.case, self.cp = case, cp_model.CpModel()
        self.tied = self._tied(wishes)
        self.moved: dict[tuple[str, str], dict[tuple[str, str], cp_model.IntVar]] = {}
        self.chosen = {key: [self.cp.new_bool_var("") for _ in choices] for key, choices in case.choices.items()}
        self.by = {group: self._does(group) for group in dict.fromkeys(self.tied.values())}
        for key in case.choices:
            self._one_offer(key)
        for chain in case.chains:  # Σ days along the chain ≤ the days there are
            if case.days is not None:
                self.cp.add(self._sum(chain, lambda choice: choice.days) <= case.days)

    def _tied(self, wishes: tuple[Wish, ...]) -> dict[str, str]:
        """By which of them each need is known: those that one supplier is to do share their choice of him."""
        group = {key: key for key in self.case.choices}
        for one, other in wishes:
            old, new = group[one], group[other]
            group |= {key: new for key, known in group.items() if known == old}
        return group

    def _does(self, group: str) -> dict[str, cp_model.IntVar]:
        """by(need, s), for the suppliers who offer all that is tied together."""
        offered = [
            {choice.supplier: None for choice in self.case.choices[key]} for key, g in self.tied.items() if g == group
        ]
        return {s: self.cp.new_bool_var("") for s in offered[0] if all(s in others for others in offered)}

    def _one_offer(self, key: str) -> None:
        """Σ chosen(need, offer) = 1, Σ over the offers of s = by(need, s)."""
        does = self.by[self.tied[key]]
        of_supplier: dict[str, list[cp_model.IntVar]] = defaultdict(list)
        for choice, chosen in zip(self.case.choices[key], self.chosen[key], strict=True):
            of_supplier[choice.supplier].append(chosen)
        self.cp.add_exactly_one(self.chosen[key])
        for supplier, offers in of_supplier.items():
            self.cp.add(sum(offers) == does.get(supplier, 0))

    def _sum(
        self, keys: Iterable[str], of: Callable[[OfferChoice], int], supplier: str | None = None
    ) -> cp_model.LinearExprT:
        picked = [
            (chosen, of(choice))
            for key in keys
            for choice, chosen in zip(self.case.choices[key], self.chosen[key], strict=True)
            if supplier in (None, choice.supplier)
        ]
        return cp_model.LinearExpr.weighted_sum([chosen for chosen, _ in picked], [number for _, number in picked])

    def met(self, wish: Wish) -> cp_model.IntVar:
        """by(a, s) = by(b, s) for every supplier s, where it is met."""
        met = self.cp.new_bool_var("")
        one, other = (self.by[key] for key in wish)
        for supplier in dict.fromkeys([*one, *other]):
            self.cp.add(one.get(supplier, 0) == other.get(supplier, 0)).only_enforce_if(met)
        return met

    def least_cost(self) -> None:
        carried = self._deliveries()
        deliveries = [
            in_cents(self.case.suppliers[supplier].delivery) * used for (supplier, _), used in carried.items()
        ]
        suppliers = dict.fromkeys(supplier for does in self.by.values() for supplier in does)
        self.cp.minimize(cp_model.LinearExpr.sum([*deliveries, *map(self._charged, suppliers)]))

    def _charged(self, supplier: str) -> cp_model.LinearExprT:
        """charged ≥ goods, charged ≥ least order · used, used ≥ by(need, s) for each need by itself."""
        goods = self._sum(self.case.choices, lambda choice: choice.cost, supplier)
        if not (least := in_cents(self.case.suppliers[supplier].minimum)):
            return goods
        charged, used = self.cp.new_int_var(0, MOST, ""), self.cp.new_bool_var("")
        self.cp.add(charged >= goods)
        self.cp.add(charged >= least * used)
        for does in self.by.values():
            if supplier in does:
                self.cp.add_implication(does[supplier], used)
        return charged

    def _deliveries(self) -> dict[tuple[str, str], cp_model.IntVar]:
        """carried(s, t) ≥ moved(chain, s, t) for each chain by itself, which is stronger than for their sum."""
        carried: dict[tuple[str, str], cp_model.IntVar] = {}
        for chain in self.case.chains:
            for (supplier, to), moved in self._moves(chain):
                if supplier != to and self.case.suppliers[supplier].delivery:
                    used = carried.setdefault((supplier, to), self.cp.new_bool_var(""))
                    self.cp.add_implication(moved, used)
        return carried

    def _moves(self, chain: Chain) -> Iterator[tuple[tuple[str, str], cp_model.IntVar]]:
        for one, other in pairwise(chain):
            pair = self.tied[one], self.tied[other]
            if pair not in self.moved:
                self.moved[pair] = self._move(one, other, self._slack(chain, one, other))
                yield from self.moved[pair].items()
        yield from (((supplier, self.case.home), does) for supplier, does in self.by[self.tied[chain[-1]]].items())

    def _move(self, one: str, other: str, slack: float) -> dict[tuple[str, str], cp_model.IntVar]:
        """Σ over t of moved(s, t) = by(a, s), Σ over s of moved(s, t) = by(b, t)."""
        by, after = self.by[self.tied[one]], self.by[self.tied[other]]
        quick, then = self._quickest(one), self._quickest(other)
        moved = {(s, t): self.cp.new_bool_var("") for s in by for t in after if quick[s] + then[t] <= slack}
        for supplier, does in by.items():
            self.cp.add(sum(move for (s, _), move in moved.items() if s == supplier) == does)
        for to, does in after.items():
            self.cp.add(sum(move for (_, t), move in moved.items() if t == to) == does)
        return moved

    def _slack(self, chain: Chain, one: str, other: str) -> float:
        """The days that two operations in a row may take, where the others take their fewest."""
        if self.case.days is None:
            return inf
        return self.case.days - sum(min(self._quickest(key).values()) for key in chain if key not in (one, other))

    def _quickest(self, key: str) -> dict[str, int]:
        days: dict[str, int] = {}
        for choice in self.case.choices[key]:
            days[choice.supplier] = min(choice.days, days.get(choice.supplier, choice.days))
        return days

    def hint(self, picks: Picks) -> None:
        """Where the search sets out."""
        for key, choices in self.case.choices.items():
            for choice, chosen in zip(choices, self.chosen[key], strict=True):
                self.cp.add_hint(chosen, choice == picks[key])

    def solve(self, limit_s: float, seed: int) -> tuple[Picks | None, int]:
        """The picks, None if the clock was first, and the bound in cents, or in wishes where those are counted."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = limit_s
        solver.parameters.linearization_level = 2  # the flows of goods all but decide the plan: follow their relaxation
        solver.parameters.search_branching = cp_model.LP_SEARCH
        solver.parameters.add_lp_constraints_lazily = False
        # What probing, more rounds of presolve and symmetry find here costs more than it saves.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_presolve_iterations = 1
        solver.parameters.symmetry_level = 0
        solved = solver.solve(self.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        bound = max(0, ceil(solver.best_objective_bound - 1e-6))
        if not solved:
            return None, bound
        picks = {}
        for key in (key for chain in self.case.chains for key in chain):
            at = next(at for at, chosen in enumerate(self.chosen[key]) if solver.boolean_value(chosen))
            picks[key] = self.case.choices[key][at]
        return picks, bound
