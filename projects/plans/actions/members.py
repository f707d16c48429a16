"""In how many members of an ensemble a plan stands: held against each as against new weather, counted whole first."""

from datetime import datetime
from typing import Any

from django.db import transaction

from finishing.air.models import Ensemble
from finishing.science.scheduling.scenarios import ScenarioCount, count_scenarios
from projects.record.models import Plan, PlanRun, Slot

from .checks import laid_out_as, reasons_against


def count_plan(plan: Plan, now: datetime) -> ScenarioCount | None:
    """Counted and kept with the plan; None where there is no ensemble."""
    ensemble = Ensemble.objects.told_to(plan.workshop, now)
    counted = _counted(plan, ensemble, now) if ensemble else None
    _keep(plan, ensemble, counted)
    return counted


def count_offers(run: PlanRun, now: datetime) -> None:
    """What a run has come to, unless it was counted on the way."""
    for plan in run.plans.offered().filter(members={}).in_full():
        count_plan(plan, now)


def count_kept_plans(workshop: Any, now: datetime) -> None:
    for plan in Plan.objects.of(workshop).kept().in_full():
        count_plan(plan, now)


def _counted(plan: Plan, ensemble: Ensemble, now: datetime) -> ScenarioCount:
    steps = [slot.pk for slot in plan.slots.all() if slot.end > now and slot.kind != Slot.Kind.MOVE]
    broken = [set(reasons_against(plan, laid_out_as(plan, now, member), now)) for member in ensemble.ahead(now)]
    return count_scenarios(broken, steps)


@transaction.atomic
def _keep(plan: Plan, ensemble: Ensemble | None, counted: ScenarioCount | None) -> None:
    told: dict[str, Any] = {}
    if ensemble and counted:
        told = {"of": counted.of, "whole": counted.whole, "model": ensemble.model,
                "fetched_at": ensemble.fetched_at.isoformat(), "until": ensemble.until.isoformat()}  # fmt: skip
    Plan.objects.filter(pk=plan.pk).update(members=told)
    plan.members = told
    slots = list(Slot.objects.filter(plan=plan))
    for slot in slots:
        slot.stands_in = counted.tasks.get(slot.pk) if counted else None
    Slot.objects.bulk_update(slots, ["stands_in"])
