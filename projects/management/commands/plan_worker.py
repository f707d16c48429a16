"""The worker beside the pages: plans that somebody asked for first, then kept plans held against what changed."""

import os
import signal
import sys
import threading
import time
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker

from projects.plans.actions.rechecking import recheck_next

LOOKS_EVERY = 0.5  # seconds
KINDER = 10  # how far it stands back where a page wants the processor too
PATIENCE = 5  # seconds for what is being done, once whoever started it is gone


class Command(BaseCommand):
    help = "Makes plans and holds kept ones against new weather and new entries, until it is stopped."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--until-input-ends", action="store_true", help="stop when whoever started it is gone")

    def handle(self, *args: Any, until_input_ends: bool, **options: Any) -> None:
        if until_input_ends and sys.platform != "win32":  # there whoever starts it says so
            os.nice(KINDER)
        if until_input_ends:
            threading.Thread(target=end_with_input, daemon=True).start()
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
        while worker.running:
            worker.run()
            idle = not recheck_next(timezone.now())  # a workshop at a time: who asks meanwhile is not kept waiting
            close_old_connections()
            if idle:
                time.sleep(LOOKS_EVERY)


def end_with_input() -> None:
    """Nothing is ever sent: a read returns when the other end of the pipe is closed, by an end or by a kill."""
    while os.read(sys.stdin.fileno(), 1):  # not through a buffer, whose lock a thread may hold when we end
        pass
    signal.raise_signal(signal.SIGTERM)
    time.sleep(PATIENCE)
    os._exit(1)  # a plan in the making would hold it up; the best so far is kept
