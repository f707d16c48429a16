"""A run is worked through: a first plan at once, then better ones until it is proven, or stopped."""

import gc
import logging
import time
from datetime import datetime
from functools import cached_property, partial
from typing import Any

from django.utils import timezone

from finishing.science.scheduling.insertion import Insertion, schedule_beside, schedule_what_fits
from finishing.science.scheduling.problem import Chain, Problem, ProblemError
from finishing.science.scheduling.repair import repaired
from finishing.science.scheduling.schedule import Schedule
from finishing.science.scheduling.solve import solve, solve_for
from finishing.science.scheduling.stages import first_schedule
from projects.record.models import Piece, PlanRun

from .relaxations import ForbiddingRules, try_changes
from .scenarios import choose_over_members, make_surer
from .schedule_rows import as_scheduled, by_piece
from .under_way import RunUnderWay

logger = logging.getLogger(__name__)
State = PlanRun.State
AT_ONCE = 60  # pieces of which a first plan is made while a page waits for it; of more it comes with the run
REPAIRED = "The kept plan, with only that put elsewhere which no longer holds. Plan anew for the best of all plans."
KEPT_EVERY = 8.0  # seconds between two better plans that become rows, and a page shown anew; the last one always does
TRIED_FOR = 1.0  # seconds for each change that is tried
FIRST_ORDERS, ORDERS = 4, 40  # in which racks are put in where not all of them find a place
TOGETHER, MOST_TOGETHER = 6.0, 10  # of the solver's seconds for racks laid out together from nothing, and how many
ONE_BY_ONE = 5.0  # seconds for finding a place for those that find none beside the others
REASONS = 12.0  # seconds for finding out which rules forbid a plan,
SHORT_REASONS = 2.0  # and where somebody has stopped it


def make_plan(run: PlanRun, now: datetime) -> PlanRun:
    """Plan what can be planned; what cannot is named with what is missing."""
    PlanRun.objects.filter(pk=run.pk).update(state=State.RUNNING)
    try:
        Making(run, now).work_through()
    except ProblemError as error:
        _end(run, State.FAILED, f"{error}.")
    except Exception:
        _end(run, State.FAILED, "The planner failed; the fault is in the server's log.")
        raise
    run.refresh_from_db()
    return run


def offer_first_plan(run: PlanRun, now: datetime) -> None:
    """A plan by insertion alone, for a page that waits for it; where none comes of it, the run itself says why.

    A layout's parts know each other, so it would stay until Python looks for such things, which a server does rarely:
    its 130 MB go at once.
    """
    if Piece.objects.of(run.workshop).at_work().filter(project__plan_runs=run).count() > AT_ONCE:
        return
    _offer_first(run, now)
    gc.collect()


def _offer_first(run: PlanRun, now: datetime) -> None:
    try:
        making = Making(run, now)
        if making.layout.problem is not None and (first := making.first()) is not None:
            making.offer_unproven(first)
    except ProblemError:
        return
    except Exception:
        logger.exception("No first plan could be made; the run tries anew")


def _end(run: PlanRun, state: State, message: str, **values: Any) -> None:
    PlanRun.objects.filter(pk=run.pk).update(state=state, message=message, ended_at=timezone.now(), **values)


class Making(RunUnderWay):
    """One run on its way from its rows to its best plan.

    impossible: racks that could not be done even if each were alone · crowded: that find no time beside the others
    forbidden: why each of these is left out, in words.
    """

    def __init__(self, run: PlanRun, now: datetime) -> None:
        super().__init__(run, now)
        self.impossible: list[Chain] = []
        self.crowded: list[Chain] = []
        self.forbidden: list[str] = []

    def work_through(self) -> None:
        """A plan comes first and is made better; why something is not in it, and what would let it in, comes last."""
        if self.repairs and self._repaired():
            return
        if self.layout.problem is not None:
            self.start()
        self.keep(missing=[missing.as_json() for missing in self.layout.missing])
        if self.incumbent is not None:
            self.improve(self.incumbent)
            return
        self.explain()
        if self.forbidden:
            self._end_without("; ".join(self.forbidden))
        elif self.layout.missing:
            self._end_without("Nothing can be planned: what is missing is named below.")
        else:
            _end(self.run, State.FAILED, "There is nothing to plan: every piece is finished.")

    def _repaired(self) -> bool:
        """The kept plan with what no longer holds put elsewhere, and nothing else: True where that is possible."""
        rows = by_piece(self.kept_slots)
        tasks = ((name, as_scheduled(self.layout, *there, rows)) for name, there in self.layout.tasks.items())
        as_kept = {name: done for name, done in tasks if done is not None}
        schedule = repaired(self.problem, as_kept) if self.layout.problem is not None else None
        if schedule is None:
            return False
        self.offer(schedule)
        self.run.plans.offered().update(note=REPAIRED)
        _end(self.run, State.DONE, "", missing=[missing.as_json() for missing in self.layout.missing])
        return True

    @cached_property
    def possible(self) -> Problem:
        """The racks that could each be done if it were alone."""
        whole = self.problem
        if not self.impossible:
            return whole
        return whole.restricted_to(chain for chain in whole.chains if chain not in self.impossible)

    # -- what cannot be planned

    def explain(self) -> None:
        """Which rule keeps those out that are not in the plan."""
        rules, crowded = ForbiddingRules(SHORT_REASONS if self.stopped else REASONS), []
        for chain in [*self.impossible, *self.crowded]:
            alone = self.problem.restricted_to([chain])
            if chain in self.impossible or first_schedule(alone) is None:
                self._lacks(chain, rules.of(alone, first_schedule))
            else:
                crowded.append(chain)
        if crowded:
            why = rules.of(self.possible, self._with_more)
            for chain in crowded:
                self._lacks(chain, f"it finds no time beside the others: {why}")

    def _lacks(self, chain: Chain, why: str) -> None:
        self.forbidden.append(f"{chain.name}: {why}")
        self.layout.lacks(chain.name, why)
        missing = [missing.as_json() for missing in self.layout.missing]
        self.keep(message="; ".join(self.forbidden), missing=missing)

    def _with_more(self, problem: Problem, patient: bool = False) -> Schedule | None:
        """A schedule of more racks, or of a larger share where there are more of them, than the incumbent has.

        patient: where insertion finds none, each rack more is looked for a while.
        """
        schedule = schedule_what_fits(problem, ORDERS)
        planned = [chain.name for chain in self.incumbent.problem.chains] if self.incumbent else []
        share = len(planned) / max(1, len(self.possible.chains))
        if schedule is not None and len(schedule.problem.chains) > share * len(problem.chains):
            return schedule
        for chain in problem.chains:
            wider = [other for other in problem.chains if other.name in (*planned, chain.name)]
            if chain.name not in planned and len(wider) == len(planned) + 1:
                wanted = problem.restricted_to(wider)
                schedule = self._for_a_while(wanted) if patient else first_schedule(wanted)
                if schedule is not None:
                    return schedule
        return None

    def _end_without(self, why: str) -> None:
        """The reason is told at once, then what would allow a plan, as it is found."""
        self.keep(message=why, progress={"words": "What would allow one is tried"})
        changes = try_changes(self, lambda problem: self._for_a_while(problem) or self._with_more(problem), racks=1)
        _end(self.run, State.FAILED, why, changes=changes)

    # -- plans

    def first(self) -> Schedule | None:
        """A plan of all that finds time in it, without those that could not be done even if each were alone."""
        alone = Insertion(self.problem)
        self.impossible = [chain for chain in self.problem.chains if not alone.allows(chain)]
        if not self.possible.chains:
            return None
        return first_schedule(self.possible) or schedule_what_fits(self.possible, FIRST_ORDERS, self.run.seed)

    def start(self) -> None:
        """A first plan at once, if need be without those that find no time in it; then a while is spent on them."""
        first = self.first()
        if first is not None and self.run.plans.offered().exists():
            self.incumbent = first  # the page has it already
        elif first is not None:
            self.offer_unproven(first)
        chains = self.possible.chains
        if first is None or len(first.problem.chains) < len(chains):
            more = schedule_what_fits(self.possible, ORDERS, self.run.seed) if chains else None
            if more is not None and (first is None or len(more.problem.chains) > len(first.problem.chains)):
                first = more
                self.offer(first)
            visited = self._visited_together()
            if visited is not None and (first is None or len(visited.problem.chains) > len(first.problem.chains)):
                first = visited
                self.offer(first)
        self.crowded = [chain for chain in chains if first is None or chain not in first.problem.chains]
        if self.crowded and (together := self._for_a_while(self.possible)) is not None:
            self.crowded = []
            self.offer(together)
        if self.crowded and first is not None:
            self._one_by_one(first)

    def _visited_together(self) -> Schedule | None:
        """Racks that are blasted in a visit stand closest together: they are laid out first, the others beside them."""
        waiting = [chain for chain in self.possible.chains if any(task.by_visit for task in chain.tasks)]
        if not waiting or len(waiting) > MOST_TOGETHER:
            return None
        alone, found = self.possible.restricted_to(waiting), list[Schedule]()

        def enough() -> bool:
            return bool(found) or self.stop_wanted()

        solve(alone, self.aims, seed=self.run.seed, effort=TOGETHER, report=found.append, stop=enough)
        return schedule_beside(found[-1], self.possible) if found else None

    def _one_by_one(self, schedule: Schedule) -> None:
        """Each of those that found no time is tried beside all that did."""
        until, first = time.monotonic() + ONE_BY_ONE, schedule
        for chain in list(self.crowded):
            if time.monotonic() > until or self.stop_wanted():
                break
            planned = (*schedule.problem.chains, chain)
            wider = self._for_a_while(self.possible.restricted_to(c for c in self.possible.chains if c in planned))
            if wider is not None:
                schedule = wider
                self.crowded.remove(chain)
        if schedule is not first:
            self.offer(schedule)

    def _for_a_while(self, problem: Problem) -> Schedule | None:
        return (
            first_schedule(problem)
            or solve_for(TRIED_FOR, problem, self.aims, seed=self.run.seed, stop=self.stop_wanted).schedule
        )

    def improve(self, first: Schedule) -> None:
        """The best plan of its racks that comes in the time there is, and, as asked, the surest."""
        result = solve_for(
            self.terms.patience, first.problem, self.aims, seed=self.run.seed, first=first, report=self._better,
            stop=self.stop_wanted,
        )  # fmt: skip
        assert result.schedule is not None  # there was one to begin with
        self.offer(result.schedule, result)
        if not self.stopped:
            choose = make_surer if self.terms.stands_in else choose_over_members
            note = choose(self, result)
            self.run.plans.offered().update(note=note)
        self.explain()
        changes = []
        if self.forbidden and not self.stopped:
            self.tell("What would let more of the others be planned is tried")
            changes = try_changes(self, partial(self._with_more, patient=True), racks=len(first.problem.chains) + 1)
        _end(self.run, State.STOPPED if self.stopped else State.DONE, "; ".join(self.forbidden), changes=changes)

    def _better(self, schedule: Schedule) -> None:
        if time.monotonic() - self.offered_at > KEPT_EVERY:
            self.offer(schedule)
        else:
            self.show_progress(schedule)
