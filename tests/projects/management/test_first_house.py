"""A backup that the version before the floors made: a log, a photo, a kept plan, and two tasks left in the queue."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
import time_machine
from django.apps import apps
from django.core.management import call_command
from django.db import connection, connections
from django.db.migrations.loader import MigrationLoader
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

from projects.keeping.actions.backup_in import restore_backup
from projects.plans.actions.rechecking import recheck_next
from projects.record.models import Change, Photo, Piece, Plan, PlanRun, Step

BACKUP = Path(__file__).parents[3] / "fixtures" / "backups" / "first-house.zip"
KNOWN = MigrationLoader(None).disk_migrations.keys()
KEPT_AT = datetime(2026, 5, 12, 7, 20, tzinfo=UTC)


@pytest.fixture
def restored(tmp_path, settings, django_db_blocker):
    """The connection `default` on the restored database, brought up to date."""
    database, media = tmp_path / "fettlebook.sqlite3", tmp_path / "media"
    restore_backup(BACKUP, database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    settings.MEDIA_ROOT = media
    before = connections["default"]
    connections["default"] = before.copy()
    connections["default"].settings_dict = {**before.settings_dict, "NAME": str(database)}
    with django_db_blocker.unblock():
        counts = rows(connections["default"])
        call_command("migrate", verbosity=0)
        yield counts
    connections["default"].close()
    connections["default"] = before


def rows(opened):
    """How many rows each table has."""
    with opened.cursor() as cursor:
        counts = {}
        for table in opened.introspection.table_names(cursor):
            cursor.execute(f'SELECT count(*) FROM "{table}"')
            counts[table] = cursor.fetchone()[0]
        return counts


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a backup is one of SQLite")
def test_every_row_and_file_of_an_older_version_comes_along(restored):
    now = rows(connection)
    moved = {"projects_change", "django_tasks_database_dbtaskresult"}  # the queued recheck became a noted change
    kept = {
        table: count
        for table, count in restored.items()
        if not table.startswith(("auth_", "django_")) and table not in moved
    }
    assert kept
    assert {table: now[table] for table in kept} == kept
    assert not {model._meta.db_table for model in apps.get_app_config("projects").get_models()} - now.keys()
    assert {str(photo.image.size) for photo in Photo.objects.all()} == {"791"}
    assert [piece.state.stage for piece in Piece.objects.with_log().order_by("mark")] == ["blasted", "blasted"]
    with pytest.raises(Exception, match="append-only"):
        Step.objects.update(note="")


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a backup is one of SQLite")
def test_what_waited_in_the_queue_of_an_older_version_is_done(restored):
    run, plan = PlanRun.objects.get(state=PlanRun.State.WAITING, plans=None), Plan.objects.get()
    assert Change.objects.count() == 1
    with time_machine.travel(KEPT_AT, tick=True):
        worker = Worker(
            queue_names=["*"],
            interval=0,
            batch=True,
            backend_name="default",
            startup_delay=False,
            max_tasks=None,
            worker_id="test",
            excluded_queue_names=[],
        )
        worker.run()
        assert recheck_next(KEPT_AT)
    assert [task.status for task in DBTaskResult.objects.all()] == ["SUCCESSFUL"]
    run.refresh_from_db()
    assert run.state not in (PlanRun.State.WAITING, PlanRun.State.RUNNING)
    plan.refresh_from_db()
    assert plan.checked_at == KEPT_AT
    assert not Change.objects.exists()
