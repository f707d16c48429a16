"""A full disk, a locked database, a folder that is gone: told in words, nothing half-written, reads go on."""

import errno
import sqlite3
import uuid
from pathlib import Path

import pytest
from django.core.files.storage import FileSystemStorage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from projects.record.actions.log import correct_rack, rows_and_files
from projects.record.images import photograph
from projects.record.models import Photo, Step
from projects.site.trouble import FULL, LOCKED, NO_FILES, NOT_THERE, trouble_of
from tests import factories

pytestmark = pytest.mark.django_db


def of_sqlite(words):
    error = OperationalError(words)
    error.__cause__ = sqlite3.OperationalError(words)
    return error


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (of_sqlite("database is locked"), LOCKED),
        (of_sqlite("database or disk is full"), FULL),
        (of_sqlite("no such column: oops"), None),
        (OperationalError("connection refused"), NOT_THERE),
        (OSError(errno.ENOSPC, "No space left on device"), FULL),
        (ConnectionResetError(errno.ECONNRESET, "reset"), None),
        (ValueError("a fault of ours"), None),
    ],
)
def test_a_fault_below_is_told_apart_from_one_of_ours(error, words):
    assert trouble_of(error) == words


def test_a_file_not_found_is_told_only_where_the_whole_folder_is_gone(tmp_path, settings):
    gone = FileNotFoundError(errno.ENOENT, "No such file")
    settings.MEDIA_ROOT = tmp_path
    assert trouble_of(gone) is None
    settings.MEDIA_ROOT = tmp_path / "unplugged"
    assert trouble_of(gone) == NO_FILES


def sent_with_photos(client, piece, count=2):
    photos = [SimpleUploadedFile(f"{number}.png", factories.grey_photo()) for number in range(count)]
    moment = f"{timezone.now():%Y-%m-%dT%H:%M}"
    client.raise_request_exception = False
    sent = {"key": str(uuid.uuid4()), "kind": "noted", "happened_at": moment, "pieces": [piece.pk]}
    return client.post(reverse("log"), {**sent, "note": "as found", "photos": photos})


@pytest.mark.parametrize("at", range(1, 5))
def test_a_disk_that_fills_up_between_photos_leaves_neither_entry_nor_file(
    owner_client, workshop, tmp_path, settings, monkeypatch, at
):
    """Two photos are four files; the disk is full in the middle of each of them in turn."""
    settings.MEDIA_ROOT = tmp_path
    piece = factories.PieceFactory(part__design__workshop=workshop)
    write, left = FileSystemStorage._save, iter(range(at - 1))

    def until_it_is_full(self, name, content):
        if next(left, None) is None:
            there = Path(self.path(name))
            there.parent.mkdir(parents=True, exist_ok=True)
            there.write_bytes(content.read()[:100])
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(self, name, content)

    with monkeypatch.context() as patched:
        patched.setattr(FileSystemStorage, "_save", until_it_is_full)
        answer = sent_with_photos(owner_client, piece)
    assert answer.status_code == 503
    assert "The disk of the server is full. Nothing was entered" in answer.content.decode()
    assert not Step.objects.exists()
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    assert owner_client.get("/").status_code == 200
    assert sent_with_photos(owner_client, piece).status_code == 302
    assert Photo.objects.count() == 2


def test_a_folder_that_is_gone_while_the_server_runs_is_told_and_not_made_anew(
    owner_client, workshop, tmp_path, settings
):
    settings.MEDIA_ROOT = tmp_path / "plugged in"
    piece = factories.PieceFactory(part__design__workshop=workshop)
    assert sent_with_photos(owner_client, piece).status_code == 302
    settings.MEDIA_ROOT.rename(tmp_path / "pulled out")
    answer = sent_with_photos(owner_client, piece)
    assert answer.status_code == 503
    assert "The folder of photos and papers is not there. Nothing was entered" in answer.content.decode()
    assert not settings.MEDIA_ROOT.exists()
    assert Step.objects.count() == 1
    assert owner_client.get("/").status_code == 200


def test_a_locked_database_is_told_and_the_form_may_be_sent_again(owner_client, workshop, monkeypatch):
    piece = factories.PieceFactory(part__design__workshop=workshop)

    def locked(*args, **kwargs):
        raise of_sqlite("database is locked")

    with monkeypatch.context() as patched:
        patched.setattr(Step.objects, "bulk_create", locked)
        answer = sent_with_photos(owner_client, piece, count=0)
    assert answer.status_code == 503
    assert "try again in a moment" in answer.content.decode()
    assert not Step.objects.exists()


def test_a_disk_that_is_full_at_the_very_end_of_an_entry_leaves_no_photo_of_it(workshop, owner, tmp_path, settings):
    """What fails last is the commit, when all files are there."""
    settings.MEDIA_ROOT = tmp_path
    piece = factories.PieceFactory(part__design__workshop=workshop)
    photo = photograph(factories.grey_photo(), settings.PHOTO_MOST_BYTES, settings.PHOTO_MOST_PIXELS)
    entry = {"key": uuid.uuid4(), "kind": "noted", "happened_at": timezone.now(), "pieces": [piece], "of_each": {}}
    there = []

    @rows_and_files()
    def logged_until_the_commit():
        correct_rack(by=owner, wrong=[], now=timezone.now(), photos=[photo], **entry)
        there.extend(path for path in tmp_path.rglob("*") if path.is_file())
        raise of_sqlite("database or disk is full")

    with pytest.raises(OperationalError):
        logged_until_the_commit()
    assert len(there) == 2
    assert not any(path.exists() for path in there)
    assert not Step.objects.exists()
