"""Kept plans follow what changes: held against it by the worker in its turn, a new plan offered for a broken one."""

from datetime import datetime

from finishing.workshops.models import Workshop
from projects.record.models import Change, Plan, PlanRun

from .checks import recheck_plan
from .members import count_kept_plans
from .plans import ask_plan


def recheck_changed(now: datetime) -> None:
    """Hold the plans of each workshop in which something changed against it, however many changes there were."""
    seen = list(Change.objects.select_related("workshop"))
    for workshop in {change.workshop for change in seen}:
        recheck_kept_plans(workshop, now)
        count_kept_plans(workshop, now)
    Change.objects.filter(pk__in=[change.pk for change in seen]).delete()


def recheck_kept_plans(workshop: Workshop, now: datetime) -> list[Plan]:
    """Mark what is broken in every kept plan of the workshop; for those that are, a new one is offered."""
    broken = [plan for plan in Plan.objects.of(workshop).kept().in_full() if recheck_plan(plan, now)]
    for plan in broken:
        offer_another(plan, now)
    return broken


def offer_another(plan: Plan, now: datetime) -> PlanRun | None:
    """Ask for a plan instead of a broken one, unless one is on its way or was made from this same weather."""
    projects = list(plan.run.projects.all())
    under_way = PlanRun.objects.of(plan.workshop).filter(
        projects__in=projects, state__in=(PlanRun.State.WAITING, PlanRun.State.RUNNING)
    )
    offered = plan.offers.filter(state=Plan.State.OFFERED, forecast=plan.forecast)
    if under_way.exists() or offered.exists():
        return None
    settings = {**plan.run.settings, "instead_of": str(plan.pk)}
    return ask_plan(
        plan.workshop,
        projects,
        by=plan.run.asked_by,
        now=now,
        settings=settings,
        aims=plan.run.aims,
        seed=plan.run.seed,
    )
