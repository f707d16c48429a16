"""From a problem to a schedule, with a lower bound that no schedule can beat. The only room with a solver.

The aims are taken in turn: each is made as small as it goes, held there, and the next one follows. A first schedule
comes by insertion, local search makes it better, and the solver goes on from it. The same seed and effort give the
same schedule, unless somebody stops earlier: effort counts work, not seconds.

>>> from finishing.science.scheduling.problem import Chain, Grid, Mode, Person, Task, Workplace

>>> day = np.arange(24)
>>> coat = Mode("shop", may_start=(day >= 8) & (day < 15), dry=day + 6)
>>> rack = Chain("frame", (Task("frame, coat 1", "coat", slots=2, modes=(coat,)),))
>>> result = solve(Problem(Grid(60, 24), (rack,), (Person("Ada", (day >= 9) & (day < 17)),), (Workplace("shop"),)))
>>> result.schedule.tasks["frame, coat 1"].begin, result.schedule.finish, result.proven
(9, 15, True)
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, Thread
from typing import Any

import numpy as np
from ortools.graph.python import linear_sum_assignment, max_flow
from ortools.sat.python import cp_model

from finishing.science.hours import Flags

from .aims import sum_of
from .problem import Problem
from .rules import LinearRow, Terms, Variables, Way, rules
from .schedule import AIMS, Aim
from .search import Attempt, Report, Result, Search, Stop
from .search_space import SearchSpace
from .symmetry import Starts

EFFORT = 8.0  # of the solver's deterministic seconds
EFFORT_OF_A_SECOND = 0.3  # that somebody is ready to wait: the search goes slower than it counts


def solve(
    problem: Problem,
    aims: tuple[Aim, ...] = AIMS,
    *,
    seed: int = 0,
    effort: float = EFFORT,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Result:
    """The best schedule for these aims in turn.

    report: is told each better schedule, every one checked · stop: asked often; True keeps the best so far.
    """
    solver = _Solver(seed)
    return Search(problem, aims, solver, seed, effort, report or (lambda _: None), stop or (lambda: False)).run()


def solve_for(
    seconds: float,
    problem: Problem,
    aims: tuple[Aim, ...] = AIMS,
    *,
    seed: int = 0,
    report: Report | None = None,
    stop: Stop | None = None,
) -> Result:
    """The best schedule that comes in so many seconds on the clock; sooner where it is proven, or stopped."""
    until = time.monotonic() + seconds

    def over() -> bool:
        return time.monotonic() > until or (stop is not None and stop())

    return solve(problem, aims, seed=seed, effort=EFFORT_OF_A_SECOND * seconds, report=report, stop=over)


class _Solver:
    """What a search asks of it; the same seed and effort give the same answer."""

    def __init__(self, seed: int) -> None:
        self.seed = seed

    def ask(
        self,
        space: SearchSpace,
        aim: Aim | None,
        held: dict[Aim, int],
        hint: Starts | None,
        effort: float,
        stop: Stop,
        keep: Callable[[Starts], bool],
    ) -> Attempt:
        model = _CpModel(space, aim, held)
        if hint is not None:
            model.hint(hint)
        return model.solve(self.seed, effort, stop, keep)

    def flow(self, arcs: list[Any]) -> int:
        network = max_flow.SimpleMaxFlow()
        tails, heads, room = np.concatenate(arcs, axis=1)
        network.add_arcs_with_capacity(tails.astype(np.int32), heads.astype(np.int32), room)
        network.solve(0, 1)
        return int(network.optimal_flow())

    def match(self, able: Flags) -> list[int]:
        assignment = linear_sum_assignment.SimpleLinearSumAssignment()
        rows, columns = np.indices(able.shape, np.int32)
        # a pair that can meet costs nothing, any other 1
        assignment.add_arcs_with_cost(rows.ravel(), columns.ravel(), (~able).astype(np.int64).ravel())
        assignment.solve()
        return [assignment.right_mate(row) for row in range(len(able))]


class _CpModel:
    """The rules as the solver's own."""

    def __init__(self, space: SearchSpace, aim: Aim | None, held: dict[Aim, int]) -> None:
        self.space, self.variables, self.model = space, Variables(space), cp_model.CpModel()
        self.any_will_do = aim is None
        rows = list(rules(self.variables))
        # What is held is made small again where nothing else is: a relaxation tells soonest that it does not go.
        aim = Aim.COST if aim is None and Aim.COST in held else aim
        aimed = None if aim is None else sum_of(aim, self.variables)
        for other, value in held.items():
            if other in (Aim.COST, Aim.LATENESS):
                kept = sum_of(other, self.variables)
                rows += [*kept.rows, LinearRow(kept.terms, high=value - kept.offset)]
        rows += aimed.rows if aimed is not None else []
        self.numbers = [self.model.new_int_var(0, highest, "") for highest in self.variables.highest]
        for row in rows:
            self._add(row)
        if aimed is not None:
            self.model.minimize(self._sum(aimed.terms) + aimed.offset)

    def _sum(self, terms: Terms) -> Any:
        return cp_model.LinearExpr.weighted_sum([self.numbers[v] for _, v in terms], [c for c, _ in terms])

    def _add(self, row: LinearRow) -> None:
        low = cp_model.INT32_MIN if row.low is None else row.low
        high = cp_model.INT32_MAX if row.high is None else row.high
        self.model.add_linear_constraint(self._sum(row.terms), low, high)

    def hint(self, starts: Starts) -> None:
        """Goes on from these starts."""
        for name, ways in self.space.choices.items():
            for choice in ways:
                self._hint(choice, [c.starts[k] for c, k in starts[name] if c.by_slot is choice.by_slot])
            for way in self.variables.fetchings[name]:
                self._hint(way, [c.fetches(k) for c, k in starts[name] if way.serves_like(c)])

    def _hint(self, way: Way, begins: list[Any]) -> None:
        begun = np.searchsorted(np.sort(begins), way.starts, side="right")
        for i, number in enumerate(begun):
            self.model.add_hint(self.numbers[self.variables.base[id(way)] + i], int(number))

    def solve(self, seed: int, effort: float, stop: Stop, keep: Callable[[Starts], bool]) -> Attempt:
        """What came of so much effort."""
        solver = cp_model.CpSolver()
        # With one worker and its own clock the solver does the same for the same seed.
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = effort
        # The rows are tight as they stand: what probing and more rounds of presolve find costs more than it saves.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_presolve_iterations = 1
        if self.model.has_objective():  # a sum is judged by its relaxation, "possible by then?" better without
            solver.parameters.linearization_level = 2
            solver.parameters.add_lp_constraints_lazily = False
        reporter = _Reporter(self, keep)
        with _stopping(solver, stop):
            status = solver.solve(self.model, reporter)
        spent = float(solver.response_proto.deterministic_time)
        if status == cp_model.INFEASIBLE:
            return reporter.better, None, spent
        bound = int(np.ceil(solver.best_objective_bound - 1e-6)) if self.model.has_objective() else 0
        return reporter.better, bound, spent

    def starts(self, value: Callable[[Any], int]) -> Starts:
        """What the solver's numbers say: where y rises, so many begin."""
        starts: Starts = {}
        for name, ways in self.space.choices.items():
            begun = {id(choice): self._rises(choice, value) for choice in ways}
            starts[name] = [(choice, k) for choice in ways for k in begun[id(choice)] if not choice.fetched_early]
            for way in self.variables.fetchings[name]:
                served = [(choice, k) for choice in way.serves for k in begun[id(choice)]]
                starts[name] += way.shared_out(served, self._rises(way, value))
        return starts

    def _rises(self, way: Way, value: Callable[[Any], int]) -> list[int]:
        base = self.variables.base[id(way)]
        begun = [value(number) for number in self.numbers[base : base + len(way)]]
        return [int(k) for k in np.repeat(np.arange(len(way)), np.diff(begun, prepend=0))]


class _Reporter(cp_model.CpSolverSolutionCallback):
    """Is told each schedule; where any better one will do, the first ends the search."""

    def __init__(self, model: _CpModel, keep: Callable[[Starts], bool]) -> None:
        super().__init__()
        self._model, self._keep, self.better = model, keep, False

    def on_solution_callback(self) -> None:
        self.better |= self._keep(self._model.starts(self.value))
        if self.better and self._model.any_will_do:
            self.stop_search()


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
