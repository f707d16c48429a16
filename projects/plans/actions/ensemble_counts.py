"""In how many members of an ensemble a plan stands: held against each as against new weather, counted whole first."""

from datetime import datetime

from django.db import transaction

from finishing.air.models import Ensemble
from finishing.science.scheduling.scenarios import ScenarioCount, count_scenarios
from finishing.workshops.models import Workshop
from projects.record.models import Plan, PlanRun, Slot

from .checks import laid_out_as, reasons_against


def count_plan(plan: Plan, now: datetime) -> ScenarioCount | None:
    """Counted and kept with the plan; None where there is no ensemble."""
    ensemble = Ensemble.objects.told_to(plan.workshop, now)
    counted: ScenarioCount | None = None
    plan.members = {}
    if ensemble is not None:
        to_come = [slot.pk for slot in plan.slots.all() if slot.end > now and slot.kind != Slot.Kind.MOVE]
        broken = [set(reasons_against(plan, laid_out_as(plan, now, member), now)) for member in ensemble.ahead(now)]
        counted = count_scenarios(broken, to_come)
        plan.members = {
            "of": counted.of,
            "whole": counted.whole,
            "model": ensemble.model,
            "fetched_at": ensemble.fetched_at.isoformat(),
            "until": ensemble.until.isoformat(),
        }
    with transaction.atomic():  # counting takes a while, and locks nobody out
        Plan.objects.filter(pk=plan.pk).update(members=plan.members)
        slots = list(Slot.objects.filter(plan=plan))
        for slot in slots:
            slot.stands_in = counted.tasks.get(slot.pk) if counted else None
        Slot.objects.bulk_update(slots, ["stands_in"])
    return counted


def count_offers(run: PlanRun, now: datetime) -> None:
    """What a run has come to, unless it was counted on the way."""
    for plan in run.plans.offered().filter(members={}).in_full():
        count_plan(plan, now)


def count_kept_plans(workshop: Workshop, now: datetime) -> None:
    for plan in Plan.objects.of(workshop).kept().in_full():
        count_plan(plan, now)
