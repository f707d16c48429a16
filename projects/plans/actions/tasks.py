"""What is done beside the pages, in its turn, by a worker that serve and demo start."""

from django.utils import timezone
from django_tasks import task

from projects.record.models import PlanRun

from .ensemble_counts import count_offers
from .making import make_plan


@task()
def make(pk: str) -> None:
    now = timezone.now()
    count_offers(make_plan(PlanRun.objects.get(pk=pk), now), now)
