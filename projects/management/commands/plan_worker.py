"""The worker beside the pages: plans that somebody asked for first, then kept plans held against what changed."""

import time
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker

from projects.plans.actions.rechecking import recheck_changed

LOOKS_EVERY = 0.5  # seconds


class Command(BaseCommand):
    help = "Makes plans and holds kept ones against new weather and new entries, until it is stopped."

    def handle(self, *args: Any, **options: Any) -> None:
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
            recheck_changed(timezone.now())
            close_old_connections()
            time.sleep(LOOKS_EVERY)
