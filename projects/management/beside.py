"""What goes on beside the pages as long as they are served: the worker's life, the daily backup, a backup put back,
pages made before they are asked for."""

import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from finishing.site.editions import RENEWED
from finishing.workshops.access import PAGES, RestsOn, make_ahead
from finishing.workshops.models import Workshop
from projects.keeping.actions.backup_in import MARKER, NotABackup, finish_restore, restore_backup
from projects.keeping.actions.backups import BackupFailed, database_path, keep_backup, note_restore, wanted_restore
from projects.keeping.actions.letting_go import let_go
from projects.keeping.actions.unclaimed import UNCLAIMED, move_unclaimed
from projects.keeping.domain import DAILY, BackupFile, BackupProgress, daily_due, note_progress
from projects.management.gate import Gate, StillBusy
from projects.plans.actions.tasks import take_up_left

LOG = logging.getLogger(__name__)
PATIENCE = 5  # seconds that the worker has to end by itself
PAUSE = 1  # seconds until a dead one has a successor
LOOKS_EVERY = 1  # seconds, for a backup to be put back
AGAIN_AFTER = 3600  # seconds, where a daily backup failed
CHECKS_EVERY = 60  # seconds, whether one is due
AHEAD_EVERY = 0.5  # seconds between two looks whether another process has changed what is looked at


class Planner:
    """The worker that makes plans, in a process of its own: pages answer while it reckons.

    One that dies has a successor. It reads from us, so it notices our end however that comes.
    """

    def __init__(self) -> None:
        self.worker = hired()
        self.over = False
        self.hiring = threading.Lock()
        threading.Thread(target=self._replace_the_dead, daemon=True).start()

    def _replace_the_dead(self) -> None:
        while not self.over:
            self.worker.wait()
            time.sleep(PAUSE)
            with self.hiring:
                if not self.over:
                    take_up_left(timezone.now(), alone=connection.vendor == "sqlite")
                    connections.close_all()
                    self.worker = hired()

    @contextmanager
    def sent_away(self) -> Iterator[None]:
        with self.hiring:
            self._dismiss()
            yield

    def close(self) -> None:
        self.over = True
        with self.hiring:
            self._dismiss()

    def _dismiss(self) -> None:
        self.worker.terminate()
        try:
            self.worker.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self.worker.kill()  # the best plan so far is kept
            self.worker.wait()


def hired() -> "subprocess.Popen[bytes]":
    here = {
        "DJANGO_SETTINGS_MODULE": "projects.settings",
        "FETTLEBOOK_DATA": str(settings.DATA),
        "FETTLEBOOK_BACKUPS": str(settings.BACKUPS),
        "SITE_ADDRESS": settings.SITE_ADDRESS,
    }
    command = [sys.executable, "-m", "projects.management.ends_with_input", "plan_worker", "--kinder"]
    kinder = 0
    if sys.platform == "win32":  # elsewhere it stands back by itself
        kinder = subprocess.BELOW_NORMAL_PRIORITY_CLASS
    return subprocess.Popen(
        command, env={**os.environ, **here}, cwd=settings.BASE, stdin=subprocess.PIPE, creationflags=kinder
    )


class Keeper:
    """Looks in a thread of its own whether a backup is due, one is to be put back, or something deleted goes for good.

    PostgreSQL makes its backups itself.
    """

    def __init__(self, gate: Gate, planner: Planner) -> None:
        self.gate, self.planner = gate, planner
        self.over = threading.Event()
        self.next_check = 0.0
        self.tidied_on: date | None = None
        self.own_file = settings.RESTORES_FROM_PAGE = connection.vendor == "sqlite"
        self.thread = threading.Thread(target=self._look, daemon=True)
        self.thread.start()

    def close(self) -> None:
        self.over.set()
        self.thread.join()  # a backup that is being put back is put back whole

    def _look(self) -> None:
        while not self.over.wait(LOOKS_EVERY):
            try:
                if self.own_file and (wanted := wanted_restore()):
                    self._put_back(*wanted)
                if time.monotonic() >= self.next_check:
                    self.next_check = time.monotonic() + (self._keep_daily() if self.own_file else CHECKS_EVERY)
                    self._tidy()
            except (DatabaseError, OSError):
                LOG.exception("The daily housekeeping is tried again later.")
                self.next_check = time.monotonic() + AGAIN_AFTER
            finally:
                connections.close_all()

    def _keep_daily(self) -> float:
        """Seconds until it is to be looked at again."""
        now = timezone.now()
        try:
            if daily_due(settings.BACKUPS, now) and Workshop.objects.exists():
                keep_backup(DAILY, now)
        except BackupFailed as error:
            LOG.error("No daily backup: %s", error)
            return AGAIN_AFTER
        return CHECKS_EVERY

    def _tidy(self) -> None:
        """Once a day what was deleted long enough ago goes for good, and files that no row names are moved out."""
        now = timezone.now()
        if self.tidied_on != now.date():
            self.tidied_on = now.date()
            for gone in let_go(now):
                LOG.info("Gone for good: %s.", gone)
            if moved := move_unclaimed(settings.DATA / UNCLAIMED, now, alone=False):
                LOG.info("%d photos or papers that no row names were moved to %s.", moved, settings.DATA / UNCLAIMED)

    def _put_back(self, backup: BackupFile, by: str) -> None:
        """The pages are shut meanwhile. What goes wrong before anything is moved leaves all as it was."""
        aside = settings.DATA / f"before-restore-{timezone.now():%Y-%m-%d-%H%M%S}"
        database = database_path()
        try:
            with self.gate.shut("A backup is being put back."), self.planner.sent_away():
                connections.close_all()
                restore_backup(
                    backup.path,
                    database=database,
                    media=Path(settings.MEDIA_ROOT),
                    aside=aside,
                    known=MigrationLoader(None).disk_migrations.keys(),
                )
                call_command("migrate", verbosity=0)
                take_up_left(timezone.now(), alone=connection.vendor == "sqlite")
                note_restore(backup.name, by=by)
            state, words = "done", f"The backup is put back. What stood here before is in {aside}."
        except (NotABackup, StillBusy) as error:
            state, words = "failed", f"Nothing was put back. {error or 'Somebody was still at work.'}"
        except OSError as error:
            state, words = "failed", f"The backup could not be put back: {error}"
            if (database.parent / MARKER).exists():
                self._finish_or_stay_shut(database.parent)
        note_progress(settings.BACKUPS, BackupProgress(state, words, 1, time.time()))

    def _finish_or_stay_shut(self, folder: Path) -> None:
        """Between the moves there is no whole log to show."""
        try:
            finish_restore(folder)
            call_command("migrate", verbosity=0)
        except OSError:
            LOG.exception("A restore was broken off.")
            self.gate.shut_because = (
                "A backup was being put back and could not be finished. Nothing is lost: whoever runs the server"
                f" stops it, makes room on the disk, and says: {settings.COMMAND} restore --go-on"
            )


class Forerunner:
    """Pages that several look at are made anew, in a thread of its own, as soon as something was written."""

    def __init__(self, gate: Gate) -> None:
        self.gate, self.over = gate, threading.Event()
        self.thread = threading.Thread(target=self._look, daemon=True)
        self.thread.start()

    def close(self) -> None:
        self.over.set()
        RENEWED.set()
        self.thread.join()

    def _look(self) -> None:
        done: RestsOn | None = None
        while not self.over.is_set():
            RENEWED.wait(AHEAD_EVERY)
            RENEWED.clear()
            if not PAGES.looked_at(1):
                continue
            with self.gate.passed() as let_in:
                try:
                    done = make_ahead(done) if let_in else done
                except Exception:  # whoever asks for the page is told of it
                    LOG.exception("A page could not be made ahead.")
                finally:
                    connections.close_all()
