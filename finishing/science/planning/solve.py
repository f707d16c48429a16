"""From a problem to a plan, with a proven bound on how much better any plan could be. The only room with a solver.

The aims are taken in turn: each is made as small as it goes, held there, and the next one follows. A first plan comes
by insertion, is shuffled better, and is then handed to the solver, which goes on from it. The same seed and effort
give the same plan, unless somebody stops earlier: effort counts work, not seconds.

>>> day = np.arange(24)
>>> coat = Option("shop", may_start=(day >= 8) & (day < 15), dry=day + 6)
>>> rack = Chain("frame", (Step("frame, coat 1", "coat", slots=2, options=(coat,)),))
>>> answer = solve(Problem(Grid(60, 24), (rack,), (Person("Ada", (day >= 9) & (day < 17)),), (Place("shop"),)))
>>> answer.plan.slots["frame, coat 1"].begin, answer.plan.finish, answer.proven
(9, 15, True)
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from threading import Event, Thread
from typing import Any

import numpy as np
from ortools.graph.python import max_flow
from ortools.sat.python import cp_model

from .aims import earliest, sum_of
from .board import Board, Picks, again, lay_out, narrow, settle, within
from .check import check
from .enough import dearest_call, enough
from .improve import Improver
from .plan import AIMS, Aim, Plan
from .problem import NEVER, Chain, Grid, Option, Person, Place, Problem, Step
from .rules import Ladder, Row, Terms, rules
from .start import first_picks

__all__ = ["Answer", "Chain", "Grid", "Option", "Person", "Place", "Problem", "Step", "solve"]

EFFORT = 8.0  # of the solver's deterministic seconds
TURN = 0.0005  # of them that a turn of shuffling counts for each rack
SHARE = 0.25  # of what is left of the effort that shuffling may take for one aim, where the solver follows
TURNS = 10  # for each rack, where the solver follows
PROBE = 0.1  # of what is left of the effort, for one question on the way to a bound
QUESTION = 0.6  # of the deterministic seconds that it takes at most: what takes longer is more often yes than no
LIMITED = ("crew", "visit", "bench", "wet")  # what there may not be enough of
REACH = 15_000  # starts beyond which the solver has not been seen to help

Report = Callable[[Plan], None]
Stop = Callable[[], bool]


@dataclass(frozen=True, eq=False)
class Answer:
    """The best plan found, None where there is none; for each aim in turn no plan is better than its bound.

    bounds: in the sense of Plan.values, the less the better, each while the aims before it keep what the plan has
    impossible: that there is no plan at all has been proven.
    """

    plan: Plan | None
    aims: tuple[Aim, ...]
    bounds: tuple[int, ...]
    impossible: bool = False

    @property
    def proven(self) -> bool:
        """Nothing is better, in any of the aims."""
        return self.impossible or (self.plan is not None and self.plan.values(self.aims) == self.bounds)

    @property
    def open_aim(self) -> Aim | None:
        """The first aim in which a better plan has not been ruled out."""
        if self.plan is None:
            return None
        values = self.plan.values(self.aims)
        return next((a for a, v, b in zip(self.aims, values, self.bounds, strict=True) if v != b), None)

    @property
    def gap(self) -> float:
        """How much better, as a share of what the plan has, the first aim that is open could be at most."""
        if self.plan is None or self.open_aim is None:
            return 0.0
        value = self.plan.value(self.open_aim)
        return (value - self.bounds[self.aims.index(self.open_aim)]) / max(1, abs(value))


def solve(
    problem: Problem,
    aims: tuple[Aim, ...] = AIMS,
    *,
    seed: int = 0,
    effort: float = EFFORT,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Answer:
    """The best plan for these aims in turn.

    report: is told each better plan, every one checked · stop: asked often; True keeps the best so far.
    """
    return _Search(problem, aims, seed, effort, report or (lambda _: None), stop or (lambda: False)).run()


class _Search:
    def __init__(
        self, problem: Problem, aims: tuple[Aim, ...], seed: int, effort: float, report: Report, stop: Stop
    ) -> None:
        self.problem, self.aims, self.seed, self.left = problem, aims, seed, effort
        self.report, self.stop = report, stop
        self.board = lay_out(problem)
        self.held: dict[Aim, int] = {}
        self.picks: Picks = {}
        self.plan: Plan | None = None

    def run(self) -> Answer:
        """First a plan, then each aim in its turn."""
        first = first_picks(self.board)
        if first is not None:
            self._keep(first)
        self.board = narrow(self.board)
        if first is None and (no_way := self._no_way()) is not None:
            return no_way
        bounds = [self._best(aim) for aim in self.aims]
        return Answer(self.plan, self.aims, tuple(bounds))

    def _no_way(self) -> Answer | None:
        """None once there is a plan after all."""
        nothing = tuple(0 for _ in self.aims)
        if not all(self.board.choices.values()):
            return Answer(None, self.aims, nothing, impossible=True)
        found, proven = self._solver(self.board, None)
        return None if found else Answer(None, self.aims, nothing, impossible=proven is None)

    def _best(self, aim: Aim) -> int:
        """Makes this aim as small as it goes and holds it; gives its bound."""
        bound = self._bound(aim)
        if self._value(aim) > bound and not self.stop():
            self._shuffle(aim, bound)
        if self._value(aim) > bound and not self.stop():
            bound = max(bound, self._thicker(bound) if aim is Aim.MARGIN else self._smaller(aim, bound))
        self._hold(aim)
        return bound

    def _value(self, aim: Aim) -> int:
        assert self.plan is not None
        return self.plan.value(aim)

    def _keep(self, picks: Picks) -> bool:
        """Takes a plan if it is better than the one before; one that breaks a rule is a fault of ours and is said."""
        plan = settle(self.board, picks)
        if self.plan is not None and plan.values(self.aims) >= self.plan.values(self.aims):
            return False
        if broken := check(plan):
            raise RuntimeError(f"this plan breaks its rules: {'; '.join(map(str, broken))}")
        self.picks, self.plan = picks, plan
        self.report(plan)
        return True

    def _bound(self, aim: Aim) -> int:
        """What no plan can be better in, seen without the solver."""
        chains = self.problem.chains
        if aim is Aim.LATENESS:
            promised = ((chain, chain.promised) for chain in chains if chain.promised is not None)
            return sum(max(0, earliest(self.board, chain) - date) for chain, date in promised)
        if aim is Aim.FINISH:
            return self._enough_hands(max(earliest(self.board, chain) for chain in chains))
        if aim is Aim.COST:
            starts = sum(min(int(c.after.cost.min()) for c in ways) for ways in self.board.choices.values())
            return starts + dearest_call(self.board)
        return -min(max(int(c.after.margin.max()) for c in ways) for ways in self.board.choices.values())

    def _enough_hands(self, low: int) -> int:
        """The earliest end for which the people, each piece of work cut up as one likes, are enough."""
        high = self._value(Aim.FINISH)
        while low < high and not self.stop():
            middle = (low + high) // 2
            board = within(self.board, middle)
            if all(board.choices.values()) and all(enough(board, on, _flow) for on in LIMITED):
                high = middle
            else:
                low = middle + 1
        return low

    def _shuffle(self, aim: Aim, bound: int) -> None:
        improver = Improver(self.board, self.picks, self.aims[: self.aims.index(aim) + 1], self.seed)

        def better(picks: Picks) -> bool:
            self._keep(picks)
            return self._value(aim) > bound

        turn = TURN * len(self.problem.chains)
        few, share = (TURNS * len(self.problem.chains), SHARE) if self._in_reach(self.board) else (NEVER, 1.0)
        turns = min(few, int(share * self.left / turn))
        self.left -= turn * improver.run(turns, better, self.stop)

    def _smaller(self, aim: Aim, bound: int) -> int:
        if aim is Aim.FINISH:
            return self._earlier(bound)
        _, proven = self._solver(self.board, aim)
        return self._value(aim) if proven is None else proven

    def _earlier(self, low: int) -> int:
        """Finish: "all done by then?" is answered sooner than "when?": halves what is open, then tries its end."""
        high = self._value(Aim.FINISH)
        while low < high and not self.stop():
            middle = (low + high - 1) // 2
            if self._possible_by(middle, min(PROBE, QUESTION / max(self.left, QUESTION))):
                high = min(middle, self._value(Aim.FINISH))
            else:
                low = middle + 1
        while low < self._value(Aim.FINISH) and not self.stop() and self.left > 0:
            before = self._value(Aim.FINISH)
            if not self._possible_by(before - 1, 0.5):
                return before
            if self._value(Aim.FINISH) == before:
                break
        return low

    def _possible_by(self, end: int, share: float) -> bool:
        """False once it is proven that nothing ends by then."""
        board = within(self.board, end)
        if not all(board.choices.values()):
            return False
        found, left_open = self._solver(board, None, share)
        return found or left_open is not None

    def _thicker(self, best: int) -> int:
        """Margin: the starts that keep less are left out, and what is left is tried; the bound, negative."""
        high = -best
        while -self._value(Aim.MARGIN) < high and not self.stop():
            low = -self._value(Aim.MARGIN)
            middle = high if high - low <= 1 else (low + high + 1) // 2
            board = self._keeping(middle)
            impossible = not all(board.choices.values())
            found, proven = (False, None) if impossible else self._solver(board, None)
            if not found and proven is not None:
                return -high
            if not found:
                high = middle - 1
        return -high

    def _keeping(self, margin: int) -> Board:
        kept = {name: [c.keep(c.after.margin >= margin) for c in w] for name, w in self.board.choices.items()}
        return narrow(replace(self.board, choices=kept, _follows={}))

    def _hold(self, aim: Aim) -> None:
        """What comes after may not make this aim worse."""
        value = self.held[aim] = self._value(aim)
        if aim is Aim.FINISH:
            self._restrict(within(self.board, value))
        elif aim is Aim.LATENESS and value == 0:
            self._restrict(within(self.board, self.problem.grid.count, promised=True))
        elif aim is Aim.MARGIN:
            self._restrict(self._keeping(-value))

    def _restrict(self, board: Board) -> None:
        """The same picks, counted in what is left."""
        self.board, self.picks = board, {name: again(board, name, pick) for name, pick in self.picks.items()}

    def _in_reach(self, board: Board) -> bool:
        return sum(len(c) for ways in board.choices.values() for c in ways) <= REACH

    def _solver(self, board: Board, aim: Aim | None, share: float = 1.0) -> tuple[bool, int | None]:
        """Whether a better plan came of it; the aim's bound, or, without an aim, None once nothing is left to find."""
        if not self._in_reach(board) or self.left <= 0:
            return False, self._bound(aim) if aim is not None else 0
        model = _Model(board, aim, self.held)
        if aim is not None:  # where the plan at hand is not asked for, to start from it leads astray
            model.hint(self.picks)
        found, bound, spent = model.solve(self.seed, share * self.left, self.stop, self._keep)
        self.left -= spent
        return found, bound


class _Model:
    """The rules as the solver's own."""

    def __init__(self, board: Board, aim: Aim | None, held: dict[Aim, int]) -> None:
        self.board, self.ladder, self.model = board, Ladder(board), cp_model.CpModel()
        rows = list(rules(self.ladder))
        aimed = None if aim is None else sum_of(aim, self.ladder)
        for other, value in held.items():
            if other in (Aim.COST, Aim.LATENESS) and other is not aim:
                kept = sum_of(other, self.ladder)
                rows += [*kept.rows, Row(kept.terms, high=value - kept.offset)]
        rows += aimed.rows if aimed is not None else []
        self.numbers = [self.model.new_bool_var("") for _ in range(self.ladder.count)]
        for row in rows:
            self._add(row)
        if aimed is not None:
            self.model.minimize(self._sum(aimed.terms) + aimed.offset)

    def _sum(self, terms: Terms) -> Any:
        return cp_model.LinearExpr.weighted_sum([self.numbers[v] for _, v in terms], [c for c, _ in terms])

    def _add(self, row: Row) -> None:
        coefficients = [c for c, _ in row.terms]
        numbers = [self.numbers[v] for _, v in row.terms]
        if coefficients == [1, -1] and (row.low, row.high) == (None, 0):
            self.model.add_implication(*numbers)
        else:
            low = cp_model.INT32_MIN if row.low is None else row.low
            high = cp_model.INT32_MAX if row.high is None else row.high
            self.model.add_linear_constraint(self._sum(row.terms), low, high)

    def hint(self, picks: Picks) -> None:
        """Goes on from these picks."""
        for name, (choice, k) in picks.items():
            start = choice.starts[k]
            for c in self.board.choices[name]:
                same = c.by_slot is choice.by_slot
                for i, other in enumerate(c.starts):
                    number = self.numbers[self.ladder.base[id(c)] + i]
                    self.model.add_hint(number, bool(same and other >= start))

    def solve(
        self, seed: int, effort: float, stop: Stop, keep: Callable[[Picks], bool]
    ) -> tuple[bool, int | None, float]:
        """Whether it found better, the bound (None: there is nothing better), and the effort spent."""
        solver = cp_model.CpSolver()
        # With one worker and its own clock the solver does the same for the same seed.
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = effort
        # The rows are tight as they stand: what probing and more rounds of presolve find costs more than it saves.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_presolve_iterations = 1
        found: list[bool] = []
        with _stopping(solver, stop):
            status = solver.solve(self.model, _Found(self, lambda picks: found.append(keep(picks))))
        spent = float(solver.response_proto.deterministic_time)
        if status in (cp_model.OPTIMAL, cp_model.INFEASIBLE):
            return any(found), None, spent
        bound = int(np.ceil(solver.best_objective_bound - 1e-6)) if self.model.has_objective() else 0
        return any(found), bound, spent

    def picks(self, value: Callable[[Any], bool]) -> Picks:
        """What the solver's numbers say: the first y of a choice that is 1 is its start."""
        picks = {}
        for name, ways in self.board.choices.items():
            for choice in ways:
                base = self.ladder.base[id(choice)]
                k = next((k for k in range(len(choice)) if value(self.numbers[base + k])), None)
                if k is not None:
                    picks[name] = choice, k
        return picks


class _Found(cp_model.CpSolverSolutionCallback):
    def __init__(self, model: _Model, tell: Callable[[Picks], None]) -> None:
        super().__init__()
        self._model, self._tell = model, tell

    def on_solution_callback(self) -> None:
        self._tell(self._model.picks(self.boolean_value))


@contextmanager
def _stopping(solver: cp_model.CpSolver, stop: Stop) -> Iterator[None]:
    """Asks meanwhile whether to stop; where asking itself fails, that ends the search and is raised here."""
    over = Event()
    failed: list[Exception] = []

    def watch() -> None:
        try:
            while not over.wait(0.05):
                if stop():
                    solver.stop_search()
        except Exception as error:
            failed.append(error)
            solver.stop_search()

    watcher = Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join()
    if failed:
        raise failed[0]


def _flow(arcs: list[Any]) -> int:
    network = max_flow.SimpleMaxFlow()
    tails, heads, room = np.concatenate(arcs, axis=1)
    network.add_arcs_with_capacity(tails.astype(np.int32), heads.astype(np.int32), room)
    network.solve(0, 1)
    return int(network.optimal_flow())
