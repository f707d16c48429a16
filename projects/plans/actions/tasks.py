"""What is done beside the pages, in its turn, by a worker that serve and demo start."""

from typing import Any

from django.utils import timezone
from django_tasks import task

from finishing.workshops.models import Workshop
from projects.record.models import PlanRun


@task()
def make(pk: str) -> None:
    from .making import make_plan
    from .members import count_offers

    now = timezone.now()
    count_offers(make_plan(PlanRun.objects.get(pk=pk), now), now)


@task()
def recheck(workshop: str) -> None:
    from .checks import recheck_kept_plans
    from .members import count_kept_plans

    row, now = Workshop.objects.get(pk=workshop), timezone.now()
    recheck_kept_plans(row, now)
    count_kept_plans(row, now)


def recheck_later(workshop_id: Any) -> None:
    """Hold the kept plans against log and weather, where there are any."""
    from projects.record.models import Plan

    if Plan.objects.kept().filter(workshop_id=workshop_id).exists():
        recheck.enqueue(str(workshop_id))
