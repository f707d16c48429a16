"""What is done beside the pages, in its turn, by a worker that serve and demo start."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import close_old_connections, connection, transaction
from django.db.models import F, Q
from django.utils import timezone
from django_tasks import task

from projects.record.models import PlanRun

from .ensemble_counts import count_offers
from .making import make_plan

SAYS_SO_EVERY = 5.0  # seconds, that a worker is at it
LEFT_AFTER = timedelta(seconds=60)  # without a word nobody is
TRIES = 2  # a run that ends its worker twice would end it again
State = PlanRun.State
BROKEN_OFF = "It was broken off twice, while it was being made; the best plan so far is kept. Ask for it anew."


@task()
def make(pk: str) -> None:
    """One worker has it: whoever comes later leaves it alone."""
    now = timezone.now()
    waiting = PlanRun.objects.filter(pk=pk, state=State.WAITING)
    if waiting.update(state=State.RUNNING, alive_at=now, tries=F("tries") + 1):
        with said_to_be_alive(pk):
            count_offers(make_plan(PlanRun.objects.get(pk=pk), now), now)


@contextmanager
def said_to_be_alive(pk: str) -> Iterator[None]:
    over = threading.Event()

    def say_so() -> None:
        while not over.wait(SAYS_SO_EVERY):
            PlanRun.objects.filter(pk=pk).update(alive_at=timezone.now())
            close_old_connections()
        connection.close()

    threading.Thread(target=say_so, daemon=True).start()
    try:
        yield
    finally:
        over.set()


def take_up_left(now: datetime, *, alone: bool = False) -> int:
    """Runs whose worker is gone wait for their turn once more, and are broken off the second time; how many there were.

    alone: nobody else can be at one. Otherwise its worker has been silent for long. Of several who find the same run
    one takes it.
    """
    silent = Q() if alone else Q(alive_at=None) | Q(alive_at__lt=now - LEFT_AFTER)
    left = 0
    for run in PlanRun.objects.filter(silent, state=State.RUNNING):
        same = PlanRun.objects.filter(pk=run.pk, state=State.RUNNING, alive_at=run.alive_at, tries=run.tries)
        again = run.tries < TRIES
        with transaction.atomic():
            values = (
                {"state": State.WAITING} if again else {"state": State.STOPPED, "message": BROKEN_OFF, "ended_at": now}
            )
            taken = same.update(**values)
            if taken and again:
                make.enqueue(str(run.pk))
        left += taken
    return left
