"""Backups made beside the pages, by the worker that makes plans."""

import time
from contextlib import suppress

from django.conf import settings
from django.utils import timezone
from django_tasks import task

from projects.keeping.domain import ASKED, BackupProgress, note_progress

from .backups import BackupFailed, keep_backup

FIRST = 50  # before plans, which take longer


@task(priority=FIRST)
def make_backup() -> None:
    with suppress(BackupFailed):  # its words stand where the page looks for them
        keep_backup(ASKED, timezone.now())


def ask_backup() -> None:
    note_progress(settings.BACKUPS, BackupProgress("waiting", "Waiting for its turn", 0, time.time()))
    make_backup.enqueue()
