"""The worker beside the pages: plans that somebody asked for first, then kept plans held against what changed."""

import logging
import os
import sys
import time
from threading import Event, Thread
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker

from projects.plans.actions.rechecking import recheck_next
from projects.plans.actions.tasks import LEFT_AFTER, take_up_left
from projects.telling.actions import tell_all

logger = logging.getLogger(__name__)
LOOKS_EVERY = 0.5  # seconds
MAILS_EVERY = 60  # seconds
KINDER = 10  # how far it stands back where a page wants the processor too


class Command(BaseCommand):
    help = "Makes plans and holds kept ones against new weather and new entries, until it is stopped."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--kinder", action="store_true", help="stand back where a page wants the processor")

    def handle(self, *args: Any, kinder: bool, **options: Any) -> None:
        if kinder and sys.platform != "win32":  # there whoever starts it says so
            os.nice(KINDER)
        worker = Worker(
            queue_names=["*"],
            interval=LOOKS_EVERY,
            batch=True,  # ends as soon as nothing waits
            backend_name="default",
            startup_delay=False,
            max_tasks=None,
            worker_id=get_random_string(32),
            excluded_queue_names=[],
        )
        worker.configure_signals()
        over = Event()
        mails = Thread(target=_tell_each_minute, args=[over], name="mails", daemon=True)
        mails.start()
        try:
            self._work(worker)
        finally:
            over.set()
            mails.join(LOOKS_EVERY)  # one that waits for a mail server ends with the process

    def _work(self, worker: Worker) -> None:
        next_look = 0.0
        while worker.running:
            if time.monotonic() >= next_look:  # for what a worker on another machine may have left
                next_look = time.monotonic() + LEFT_AFTER.total_seconds() / 4
                take_up_left(timezone.now())
            worker.run()
            idle = not recheck_next(timezone.now())  # a workshop at a time: who asks meanwhile is not kept waiting
            close_old_connections()
            if idle:
                time.sleep(LOOKS_EVERY)


def _tell_each_minute(over: Event) -> None:
    """Beside the plans: a mail server that is silent keeps none of them waiting."""
    while not over.is_set():
        try:
            tell_all(timezone.now())
            close_old_connections()
        except Exception:
            logger.exception("No mail could be told; it is tried again in a minute")
        over.wait(MAILS_EVERY)
