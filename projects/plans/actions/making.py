"""A run is worked through: a first plan at once, then better ones until it is proven, or stopped."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from django.db import Error, connection, transaction
from django.utils import timezone

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.problem import Chain, Problem, ProblemError
from finishing.science.scheduling.schedule import AIMS, Aim, Schedule
from finishing.science.scheduling.search_space import SearchSpace, search_space
from projects.plans.domain.problem import LEAST, Layout, lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Plan, PlanRun

from .changes import NO_HOURS, Reasons, Search, tried
from .checks import differences
from .rows import keep_as_offer
from .search import Found, earliest_end, fitting, quickly, solved
from .sure import surer

State = PlanRun.State
POLLED = 0.5  # seconds between two looks whether somebody wants it stopped
KEPT_EVERY = 2.0  # seconds between two better plans that become rows; the last one always does
TRIED_FOR = 1.0  # seconds for each change that is tried
ONE_BY_ONE = 5.0  # seconds for finding a place for those that find none beside the others
REASONS = 12.0  # seconds for finding out which rules forbid a plan


def make_plan(run: PlanRun, now: datetime) -> PlanRun:
    """Plan what can be planned; what cannot is named with what is missing."""
    _keep(run, state=State.RUNNING)
    try:
        _make(Making(run, now))
    except ProblemError as error:
        _end(run, State.FAILED, f"{error}.")
    except Exception:
        _end(run, State.FAILED, "The planner failed; the fault is in the server's log.")
        raise
    run.refresh_from_db()
    return run


def _make(making: "Making") -> None:
    """A plan comes first; why something is not in it is found out while that is looked at."""
    making.set_impossible_aside()
    making.start()
    making.explain()
    if making.problem is None:
        making.say_why_not()
    else:
        making.improve()


def _keep(run: PlanRun, **values: Any) -> None:
    PlanRun.objects.filter(pk=run.pk).update(**values)


def _end(run: PlanRun, state: str, message: str = "", **values: Any) -> None:
    _keep(run, state=state, message=message, ended_at=timezone.now(), **values)


@dataclass(eq=False)
class Making:
    """One run on its way."""

    run: PlanRun
    now: datetime
    layout: Layout = field(init=False)
    problem: Problem | None = field(init=False)
    impossible: list[Chain] = field(default_factory=list)  # could not be done even if it were alone
    crowded: list[Chain] = field(default_factory=list)  # finds no time beside the others
    forbidden: list[str] = field(default_factory=list)
    began: float = field(default_factory=time.monotonic)
    stopped: bool = False
    _looked: float = 0.0
    _kept_at: float = 0.0

    def __post_init__(self) -> None:
        self.terms = Terms(self.run.workshop, self.run.settings)
        self.projects = list(self.run.projects.all())
        kept = list(
            Plan.objects.of(self.run.workshop).kept().filter(run__projects__in=self.projects).distinct().in_full()
        )
        self.kept_slots = [slot for plan in kept for slot in plan.slots.all()]
        self.kept = kept[0] if kept else None
        self.layout = lay_out_rows(self.terms, self.projects, self.now, self.kept_slots)
        self.problem = self.layout.problem

    @property
    def aims(self) -> tuple[Aim, ...]:
        return tuple(Aim(aim) for aim in self.run.aims) or AIMS

    # -- what cannot be planned

    def set_impossible_aside(self) -> None:
        """A rack that could not be done even if it were alone is left out; the others are planned."""
        if self.problem is None:
            return
        good = [chain for chain in self.problem.chains if self._space.allows(chain)]
        self.impossible = [chain for chain in self.problem.chains if chain not in good]
        if self.impossible:
            self.problem = self.problem.restricted_to(good) if good else None

    def explain(self) -> None:
        """Which rule keeps those out that are not in the plan, and what is missing."""
        reasons = Reasons(within(REASONS))
        for chain in self.impossible:
            self._lacks(chain, "", reasons.of(self.layout.problem.restricted_to([chain]), quickly))
        if self.crowded:
            why = reasons.of(self._possible, self._with_more)
            for chain in self.crowded:
                self._lacks(chain, "it finds no time beside the others: ", why)
        _keep(self.run, missing=[missing.as_json() for missing in self.layout.missing])

    def _with_more(self, problem: Problem) -> Schedule | None:
        """A plan of more racks, or of a larger share where there are more of them, than stand in it now."""
        space = search_space(problem)
        fit, plan = fitting(problem, space)
        planned = [chain.name for chain in self.problem.chains] if self.problem else []
        share = len(planned) / max(1, len(self._possible.chains))
        if fit is not None and len(fit.chains) > share * len(problem.chains):
            return plan
        wider = (_with_one(problem, planned, chain) for chain in problem.chains if chain.name not in planned)
        return next((found for each in wider if each is not None and (found := quickly(each, space))), None)

    @cached_property
    def _space(self) -> SearchSpace:
        """All that there is to plan, laid out once."""
        return search_space(self.layout.problem)

    @property
    def _possible(self) -> Problem:
        return self.layout.problem.restricted_to([c for c in self.layout.problem.chains if c not in self.impossible])

    def _lacks(self, chain: Chain, how: str, why: str) -> None:
        self.forbidden.append(f"{chain.name}: {how}{why}")
        self.layout.lacks(chain.name, f"{how}{why}")
        _keep(self.run, message="; ".join(self.forbidden), missing=[one.as_json() for one in self.layout.missing])

    def say_why_not(self) -> None:
        """No plan: the rule that forbids it, and what would allow one."""
        if self.forbidden:
            self._end_without("; ".join(self.forbidden))
        elif self.layout.missing:
            self._end_without("Nothing can be planned: what is missing is named below.")
        else:
            _end(self.run, State.FAILED, "There is nothing to plan: every piece is finished.")

    def _end_without(self, why: str) -> None:
        """The reason is told at once, then what would allow a plan, as it is found."""
        _keep(self.run, message=why, progress={"words": "What would allow one is tried"})
        changes = self.changes(1, lambda problem: self._for_a_while(problem) or self._with_more(problem))
        _end(self.run, State.FAILED, why, changes=changes)

    def changes(self, racks: int, search: Search) -> list[dict[str, Any]]:
        """What would allow a plan of at least so many racks."""
        if self.layout.ground is None or self.layout.ground.known < LEAST:
            return []
        return tried(self.layout, search, racks, self._tell_changes, self.stop_wanted)

    def _tell_changes(self, changes: list[dict[str, Any]]) -> None:
        _keep(self.run, changes=changes)

    def _for_a_while(self, problem: Problem) -> Schedule | None:
        return quickly(problem) or solved(problem, self.aims, TRIED_FOR, self.run.seed, stop=self.stop_wanted).plan

    # -- plans

    def start(self) -> None:
        """A first plan at once, if need be without those that find no time in it; then a while is spent on them."""
        if self.problem is None:
            return
        first = quickly(self.problem, self._space) or self._without_the_crowded()
        if first is not None:
            self.offer(first)
        if self.crowded:
            self._all_together()
        if self.crowded and self.problem is not None:
            self._one_by_one()

    def _without_the_crowded(self) -> Schedule | None:
        fit, plan = fitting(self.problem, self._space)
        self.crowded = [chain for chain in self.problem.chains if fit is None or chain not in fit.chains]
        self.problem = fit
        return plan

    def _all_together(self) -> None:
        """What shuffling and the solver find where putting in one after the other does not."""
        found = self._for_a_while(self._possible)
        if found is not None:
            self.problem, self.crowded = self._possible, []
            self.offer(found)

    def _one_by_one(self) -> None:
        """Each of those that found no time is tried beside all that did."""
        over, plan = within(ONE_BY_ONE), None
        for chain in list(self.crowded):
            if over() or self.stop_wanted():
                break
            wider = _with_one(self._possible, [each.name for each in self.problem.chains], chain)
            if (found := self._for_a_while(wider)) is not None:
                self.problem, plan = wider, found
                self.crowded.remove(chain)
        if plan is not None:
            self.offer(plan)

    def improve(self) -> None:
        found = solved(self.problem, self.aims, self.terms.patience, self.run.seed, self._better, self.stop_wanted)
        if found.plan is None:
            self._end_without("; ".join(self.forbidden) or NO_HOURS)
            return
        self.offer(found.plan, found)
        if self.terms.stands_in and not self.stopped:
            note = surer(self, found, self._tell)
            self.run.plans.offered().update(note=note)
        changes = self._what_else() if self.forbidden and not self.stopped else []
        _end(self.run, State.STOPPED if self.stopped else State.DONE, "; ".join(self.forbidden), changes=changes)

    def _what_else(self) -> list[dict[str, Any]]:
        _keep(self.run, message="; ".join(self.forbidden))
        self._tell("What would let more of the others be planned is tried")
        return self.changes(len(self.problem.chains) + 1, self._with_more)

    def _tell(self, words: str) -> None:
        """What is being done, beside how far it has come."""
        self.run.refresh_from_db(fields=["progress"])
        _keep(self.run, progress={**self.run.progress, "words": words})

    def _better(self, plan: Schedule) -> None:
        if time.monotonic() - self._kept_at > KEPT_EVERY:
            self.offer(plan)
        else:
            _keep(self.run, progress=self._progress(plan, None))

    def offer(self, plan: Schedule, found: Found | None = None) -> None:
        """Every plan that is ever shown has passed the check."""
        broken = check_feasibility(plan)
        if broken:
            raise RuntimeError("; ".join(str(each) for each in broken))
        bounds = told_bounds(found, self.layout) if found else []
        with transaction.atomic():
            row = keep_as_offer(self.run, self.layout, plan, timezone.now(), bounds)
            if self.kept is not None:
                row.instead_of = self.kept
                row.changes = differences(self.kept, Plan.objects.in_full().get(pk=row.pk), self.now)
                row.save(update_fields=["instead_of", "changes"])
            _keep(self.run, progress=self._progress(plan, found))
        self._kept_at = time.monotonic()

    def _progress(self, plan: Schedule, found: Found | None) -> dict[str, Any]:
        """gap: by how many per cent of its length the plan could end earlier at most."""
        bound = next((aim["bound"] for aim in found.bounds if aim["aim"] == Aim.FINISH), 0) if found else 0
        low = max(bound, self._earliest)
        return {
            "finish": self.layout.ground.moment(plan.finish).isoformat(),
            "gap": round(100 * max(0, plan.finish - low) / max(1, plan.finish), 1),
            "proven": bool(found and found.proven),
            "seconds": round(time.monotonic() - self.began, 1),
            "racks": len(plan.problem.chains),
        }

    @property
    def _earliest(self) -> int:
        return earliest_end(self.problem, self._space)

    def stop_wanted(self) -> bool:
        """Asked from beside the solver as well, on a connection of that thread's own."""
        if not self.stopped and time.monotonic() - self._looked > POLLED:
            self._looked = time.monotonic()
            self.stopped = self._asked_to_stop()
        return self.stopped

    def _asked_to_stop(self) -> bool:
        try:
            return PlanRun.objects.filter(pk=self.run.pk, stop_wanted=True).exists()
        except Error:  # busy for a moment: asked again in half a second
            return False
        finally:
            if threading.current_thread() is not threading.main_thread():
                connection.close()


def _with_one(problem: Problem, names: list[str], chain: Chain) -> Problem | None:
    """These racks and one more; None where the problem does not have them all."""
    chains = [each for each in problem.chains if each.name == chain.name or each.name in names]
    return problem.restricted_to(chains) if len(chains) == len(names) + 1 else None


def within(seconds: float) -> Callable[[], bool]:
    """Whether so many seconds are over."""
    until = time.monotonic() + seconds
    return lambda: time.monotonic() > until


def told_bounds(found: Found, layout: Layout) -> list[dict[str, Any]]:
    """Each aim with its value and bound as a page tells them: minutes late, instants, money, °C."""
    return [{**aim, "value": _told(layout, aim, "value"), "bound": _told(layout, aim, "bound")} for aim in found.bounds]


def _told(layout: Layout, aim: dict[str, Any], name: str) -> Any:
    number = aim[name]
    match Aim(aim["aim"]):
        case Aim.LATENESS:
            return number * layout.ground.grid.minutes
        case Aim.FINISH:
            return layout.ground.moment(number).isoformat()
        case Aim.COST:
            return number / 100
    return None if number <= -1000 else -number / 10
