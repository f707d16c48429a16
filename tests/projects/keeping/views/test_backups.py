"""The owner's page of backups: who may see what, and what the pages ask to be done beside them."""

import zipfile
from datetime import UTC, datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse
from django_tasks_db.models import DBTaskResult

from finishing.workshops.models import Membership
from projects.keeping.actions.backups import wanted_restore
from projects.keeping.domain import ASKED, DAILY, BackupProgress, backups_in, file_name, note_progress
from tests import factories

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a backup is one of SQLite"),
]
MADE = datetime(2026, 5, 12, 7, 20, tzinfo=UTC)
NAME = file_name(DAILY, MADE).removesuffix(".zip")


@pytest.fixture(autouse=True)
def folder(tmp_path, settings):
    settings.DATA, settings.BACKUPS = tmp_path, tmp_path / "backups"
    settings.BACKUPS.mkdir()
    (settings.BACKUPS / file_name(DAILY, MADE)).write_bytes(b"a zip")
    return settings.BACKUPS


def test_an_owner_sees_what_there_is_and_takes_it_away(owner_client):
    page = owner_client.get(reverse("backups")).content.decode()
    assert "made by itself, 5\xa0bytes" in page
    assert "command line" not in page
    taken = owner_client.get(reverse("backup", args=[NAME]))
    assert taken.getvalue() == b"a zip"
    assert taken["Cache-Control"] == "private, no-store"


def test_a_backup_asked_for_waits_for_the_worker_and_the_page_tells_how_it_goes(owner_client, folder):
    owner_client.post(reverse("backup-new"))
    owner_client.post(reverse("backup-new"))  # pressed twice
    assert DBTaskResult.objects.count() == 1
    assert "Waiting for its turn" in owner_client.get(reverse("backups")).content.decode()
    note_progress(folder, BackupProgress("working", "Packing photos", 0.4, datetime.now(UTC).timestamp()))
    part = owner_client.get(reverse("backups"), headers={"HX-Request": "true"})
    assert 'value="40"' in part.content.decode()
    assert "<html" not in part.content.decode()
    note_progress(folder, BackupProgress("failed", "The disk is full", 0, datetime.now(UTC).timestamp()))
    ended = owner_client.get(reverse("backups"), headers={"HX-Request": "true"})
    assert ended["HX-Refresh"] == "true"
    assert "The disk is full" in ended.content.decode()


def test_a_restore_is_asked_of_the_server_and_only_where_it_can(owner_client, settings):
    assert owner_client.post(reverse("backup-restore", args=[NAME])).status_code == 403
    settings.RESTORES_FROM_PAGE = True
    answer = owner_client.post(reverse("backup-restore", args=[NAME]))
    assert "being put back" in answer.content.decode()
    backup, by = wanted_restore()
    assert (backup.name, by) == (NAME, "owner")
    assert wanted_restore() is None
    assert owner_client.post(reverse("backup-restore", args=["daily-2020-01-01-000000"])).status_code == 404


def test_what_is_brought_is_read_first(owner_client, folder):
    torn = SimpleUploadedFile("torn.zip", b"PK not a zip")
    page = owner_client.post(reverse("backup-bring"), {"file": torn}).content.decode()
    assert "This is no backup that can be put back. It is not a whole zip file" in page
    with zipfile.ZipFile(folder / "other.zip", "w") as archive:
        archive.writestr("notes.txt", "hello")
    other = SimpleUploadedFile("other.zip", (folder / "other.zip").read_bytes())
    assert "something else" in owner_client.post(reverse("backup-bring"), {"file": other}).content.decode()
    assert [row.why for row in backups_in(folder)] == [DAILY]
    assert sorted(path.name for path in folder.iterdir()) == [f"{NAME}.zip", "other.zip"]


def test_one_that_is_taken_away_for_good_is_gone(owner_client, folder):
    (folder / file_name(ASKED, MADE)).touch()
    owner_client.post(reverse("backup-remove", args=[NAME]))
    assert [row.why for row in backups_in(folder)] == [ASKED]


def test_who_owns_one_of_two_workshops_has_nobody_s_backup(owner_client, owner, other_workshop, settings):
    """A backup holds every workshop: none of another goes out by it, comes in by it or goes by it."""
    settings.RESTORES_FROM_PAGE = True
    assert "command line" in owner_client.get(reverse("backups")).content.decode()
    assert owner_client.get(reverse("backup", args=[NAME])).status_code == 403
    for name in ("backup-restore", "backup-remove"):
        assert owner_client.post(reverse(name, args=[NAME])).status_code == 403
    for name in ("backup-new", "backup-bring"):
        assert owner_client.post(reverse(name)).status_code == 403
    factories.MembershipFactory(workshop=other_workshop, user=owner, role=Membership.Role.OWNER)
    assert owner_client.get(reverse("backup", args=[NAME])).status_code == 200


@pytest.mark.parametrize("role", ["helper_client", "restorer_client", "guest_client"])
def test_nobody_but_an_owner_comes_here(request, role):
    assert request.getfixturevalue(role).get(reverse("backups")).status_code == 403


def test_the_day_sheet_tells_an_owner_of_work_in_no_backup(owner_client, helper_client, workshop):
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    told = "Work of more than a day ago stands in no backup"
    assert told not in owner_client.get("/").content.decode()
    old = datetime(2026, 5, 20, tzinfo=UTC)
    with connection.cursor() as cursor:  # the log is append-only, so an old entry is one put in anew
        cursor.execute(f"DROP TRIGGER {type(step)._meta.db_table}_refuses_update")
    type(step).objects.filter(pk=step.pk).update(entered_at=old)
    assert told in owner_client.get("/").content.decode()
    assert told not in helper_client.get("/").content.decode()
