"""Backups made, asked for, brought, taken away, and asked to be put back."""

import json
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db.migrations.loader import MigrationLoader
from filelock import FileLock, Timeout

from finishing.workshops.actions.audit import note
from finishing.workshops.models import AuditEntry, Workshop
from projects.keeping.domain import (
    BROUGHT,
    BackupFile,
    BackupProgress,
    backups_in,
    file_name,
    left_over,
    note_progress,
    to_drop,
)

from .backup_in import NotABackup, read_backup, refuse_later
from .backup_out import Tell, write_backup

WANTED = "restore-wanted.json"


class BackupFailed(Exception):
    """Why there is no backup, in words for whoever wanted it; nothing of it is left."""


def keep_backup(why: str, now: datetime) -> BackupFile:
    """Make a backup in the folder of backups, read it back, and drop those that are not kept on."""
    folder = settings.BACKUPS
    with _alone(folder), _told(folder) as tell:
        clear_left_over(folder)
        path = folder / file_name(why, now)
        write_backup(path, database=database_path(), media=media_folder(), tell=tell)
        for old in to_drop(backups_in(folder)):
            old.path.unlink(missing_ok=True)
    return next(row for row in backups_in(folder) if row.path == path)


def bring_backup(sent: BinaryIO, now: datetime) -> BackupFile:
    """Keep a backup that somebody brought, once it has been read and found whole and of no later version."""
    folder = settings.BACKUPS
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / file_name(BROUGHT, now)
    unfinished = path.with_name(f"{path.name}.unfinished")
    try:
        with unfinished.open("wb") as kept:
            shutil.copyfileobj(sent, kept)
        contents = read_backup(unfinished, beside=path.with_name(f"{path.name}.snapshot"))
        refuse_later(contents, MigrationLoader(None).disk_migrations.keys())
        unfinished.rename(path)
    finally:
        unfinished.unlink(missing_ok=True)
    return next(row for row in backups_in(folder) if row.path == path)


def want_restore(backup: BackupFile, *, by: str) -> None:
    """Asked of whoever serves the pages: it closes them, puts the backup in place and opens them again."""
    beside = settings.DATA / f"{WANTED}.new"
    beside.write_text(json.dumps({"name": backup.path.name, "by": by}), encoding="utf-8")
    beside.replace(settings.DATA / WANTED)


def wanted_restore() -> tuple[BackupFile, str] | None:
    """The backup that was asked to be put back, and by whom; it is asked for once."""
    try:
        wanted = json.loads((settings.DATA / WANTED).read_text(encoding="utf-8"))
        name, by = wanted["name"], str(wanted["by"])
    except (OSError, ValueError, KeyError):
        return None
    finally:
        (settings.DATA / WANTED).unlink(missing_ok=True)
    return next(((row, by) for row in backups_in(settings.BACKUPS) if row.path.name == name), None)


def note_restore(backup: str, *, by: str) -> None:
    """In each workshop that came back with it; the people of today may not be among those of then."""
    for workshop in Workshop.objects.all():
        note(AuditEntry.What.RESTORED, by=None, name=by, workshop=workshop, about=backup)


def clear_left_over(folder: Path) -> None:
    for path in left_over(folder):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def media_folder() -> Path | None:
    """None where photos and papers lie in a store elsewhere, which keeps its own copies."""
    return Path(settings.MEDIA_ROOT) if isinstance(default_storage, FileSystemStorage) else None


def database_path() -> Path:
    return Path(settings.DATABASES["default"]["NAME"])


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One at a time, in whichever process."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)  # names and photos: for their owner alone
        lock = FileLock(folder / "in-use.lock", timeout=0)
        lock.acquire()
    except Timeout as error:
        raise BackupFailed("Another backup is being made at this moment.") from error
    except OSError as error:
        raise BackupFailed(f"The folder {folder} cannot be written: {error}.") from error
    with lock:
        yield


@contextmanager
def _told(folder: Path) -> Iterator[Tell]:
    """How it goes is told to whichever page asks, at most once a second."""
    last = 0.0

    def tell(words: str, share: float) -> None:
        nonlocal last
        if time.time() - last >= 1:
            last = time.time()
            note_progress(folder, BackupProgress("working", words, share, last))

    tell("Beginning", 0)
    try:
        yield tell
    except (OSError, sqlite3.Error, NotABackup) as error:
        words = f"The backup could not be written: {error}"
        note_progress(folder, BackupProgress("failed", words, 0, time.time()))
        raise BackupFailed(words) from error
    except BaseException:
        with suppress(OSError):
            note_progress(folder, BackupProgress("failed", "The backup was broken off", 0, time.time()))
        raise
    note_progress(folder, BackupProgress("done", "The backup is made, and was read back whole.", 1, time.time()))
