"""A run under way: what its rows come to, what it offers, how far it is, and whether somebody wants it stopped."""

import threading
import time
from datetime import datetime
from functools import cached_property
from typing import Any

from django.db import Error, connection, transaction
from django.utils import timezone

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.lower_bounds import own_ways
from finishing.science.scheduling.problem import MOST_MARGIN, Problem
from finishing.science.scheduling.schedule import AIMS, Aim, Schedule
from finishing.science.scheduling.solve import Result
from projects.plans.domain.ground import Ground
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Plan, PlanRun

from .checks import differences
from .schedule_rows import keep_as_offer

POLLED = 0.5  # seconds between two looks whether somebody wants it stopped


class RunUnderWay:
    """A run with its layout; `incumbent` is the best schedule so far, offered as the run's plan."""

    def __init__(self, run: PlanRun, now: datetime) -> None:
        self.run, self.now = run, now
        self.aims = tuple(Aim(aim) for aim in run.aims) or AIMS
        self.terms = Terms(run.workshop, run.settings)
        self.projects = list(run.projects.all())
        kept = list(Plan.objects.of(run.workshop).kept().filter(run__projects__in=self.projects).distinct().in_full())
        self.kept = kept[0] if kept else None
        self.kept_slots = [slot for plan in kept for slot in plan.slots.all()]
        if self.repairs:
            hung_on = {str(piece.pk): slot.rack for slot in self.kept_slots for piece in slot.pieces.all()}
            self.terms = self.terms.asks(racks=hung_on)
        self.layout = lay_out_rows(self.terms, self.projects, now, self.kept_slots)
        self.incumbent: Schedule | None = None
        self.began = self.offered_at = time.monotonic()
        self.stopped, self._polled_at = False, 0.0

    @property
    def repairs(self) -> bool:
        """It was asked for because the kept plan no longer holds."""
        return self.kept is not None and self.run.settings.get("instead_of") == str(self.kept.pk)

    @property
    def ground(self) -> Ground:
        """The air that is planned in: there is some wherever there is a problem."""
        assert self.layout.ground is not None
        return self.layout.ground

    @property
    def problem(self) -> Problem:
        """All that there is to plan."""
        assert self.layout.problem is not None
        return self.layout.problem

    @cached_property
    def _soonest(self) -> dict[str, int]:
        """By when each rack could be dry if it were alone, by its name."""
        return {way.chain.name: way.earliest for way in own_ways(self.problem)}

    # -- what is offered

    def offer(self, schedule: Schedule, result: Result | None = None) -> None:
        """The schedule as the run's plan, instead of what it offered before; RuntimeError if it breaks a rule.

        result: what proved how good it is.
        """
        with transaction.atomic():
            self._keep_as_offer(schedule, self._bounds(result) if result else [])
            self.show_progress(schedule, result)

    def offer_unproven(self, schedule: Schedule) -> None:
        """The same at once: how much better a plan could be is not asked yet."""
        with transaction.atomic():
            self._keep_as_offer(schedule, [])
            self.keep(progress=self._progress(schedule))

    def _keep_as_offer(self, schedule: Schedule, bounds: list[dict[str, Any]]) -> None:
        broken = check_feasibility(schedule)
        if broken:
            raise RuntimeError("; ".join(str(violation) for violation in broken))
        self.incumbent = schedule
        row = keep_as_offer(self.run, self.layout, schedule, timezone.now(), bounds)
        if self.kept is not None:
            row.instead_of = self.kept
            row.changes = differences(self.kept, Plan.objects.in_full().get(pk=row.pk), self.now)
            row.save(update_fields=["instead_of", "changes"])
        self.offered_at = time.monotonic()

    def _bounds(self, result: Result) -> list[dict[str, Any]]:
        """Each aim with its value and lower bound as a page says them: minutes late, instants, money, °C."""
        if result.schedule is None:
            return []
        values = zip(result.aims, result.schedule.values(result.aims), result.bounds, strict=True)
        return [
            {
                "aim": str(aim),
                "value": self._on_page(aim, value),
                "bound": self._on_page(aim, bound),
                "proven": value == bound,
            }
            for aim, value, bound in values
        ]

    def _on_page(self, aim: Aim, number: int) -> int | float | str | None:
        match aim:
            case Aim.LATENESS:
                return number
            case Aim.FINISH:
                return self.ground.moment(number).isoformat()
            case Aim.COST:
                return number / 100
        return None if number <= -MOST_MARGIN else -number / 10

    # -- what is told meanwhile

    def keep(self, **values: Any) -> None:
        """Columns of the run's row."""
        PlanRun.objects.filter(pk=self.run.pk).update(**values)

    def tell(self, words: str) -> None:
        """What is being done, beside how far it has come."""
        self.run.refresh_from_db(fields=["progress"])
        self.keep(progress={**self.run.progress, "words": words})

    def show_progress(self, schedule: Schedule, result: Result | None = None) -> None:
        """gap: by how many per cent of its length the plan could end earlier at most."""
        low = max(self._soonest[chain.name] for chain in schedule.problem.chains)
        if result is not None and result.schedule is not None and Aim.FINISH in result.aims:
            low = max(low, result.bounds[result.aims.index(Aim.FINISH)])
        gap = round(100 * max(0, schedule.finish - low) / max(1, schedule.finish), 1)
        self.keep(progress={**self._progress(schedule), "gap": gap, "proven": result is not None and result.proven})

    def _progress(self, schedule: Schedule) -> dict[str, Any]:
        return {
            "finish": self.ground.moment(schedule.finish).isoformat(),
            "seconds": round(time.monotonic() - self.began, 1),
            "racks": len(schedule.problem.chains),
        }

    def stop_wanted(self) -> bool:
        """Asked from beside the solver as well, on a connection of that thread's own."""
        if not self.stopped and time.monotonic() - self._polled_at > POLLED:
            self._polled_at = time.monotonic()
            try:
                self.stopped = PlanRun.objects.filter(pk=self.run.pk, stop_wanted=True).exists()
            except Error:  # busy for a moment: asked again in half a second
                pass
            finally:
                if threading.current_thread() is not threading.main_thread():
                    connection.close()
        return self.stopped
