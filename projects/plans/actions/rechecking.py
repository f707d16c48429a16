"""Kept plans follow what changes: the worker holds them against it, and a new plan is offered for a broken one."""

import logging
from datetime import datetime

from django.db import OperationalError

from finishing.workshops.models import Workshop
from projects.record.models import Change, Plan, PlanRun

from .checks import recheck_plan
from .ensemble_counts import count_kept_plans
from .plans import OFFERED, ask_plan

log = logging.getLogger(__name__)


def recheck_next(now: datetime) -> bool:
    """Hold the kept plans of one workshop against all that has changed there; False where nothing has, anywhere.

    The workshop whose change waits longest comes first. A change that is noted meanwhile waits for the next turn.
    """
    oldest = Change.objects.select_related("workshop").first()
    if oldest is None:
        return False
    workshop = oldest.workshop
    seen = list(Change.objects.of(workshop).values_list("pk", flat=True))
    try:
        recheck_kept_plans(workshop, now)
        count_kept_plans(workshop, now)
    except OperationalError:  # the database is busy: what changed waits for the next turn
        return False
    except Exception:  # a fault of ours is not met again and again, and keeps no other workshop waiting
        log.exception("The kept plans of %s were not rechecked", workshop)
    Change.objects.filter(pk__in=seen).delete()
    return True


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
    return ask_plan(
        plan.workshop,
        projects,
        by=plan.run.asked_by,
        now=now,
        settings={**plan.run.settings, "instead_of": str(plan.pk)},
        aims=plan.run.aims,
        seed=plan.run.seed,
        priority=OFFERED,
    )
