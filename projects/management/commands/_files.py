"""The data folder: where the SQLite database lies, and that only one program at a time works on it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection
from filelock import FileLock, Timeout

from projects.keeping.actions.backup_in import MARKER


def database_file() -> Path:
    if connection.vendor != "sqlite":
        raise CommandError(
            "These commands keep the SQLite file. For PostgreSQL use pg_dump and pg_restore, and copy the folder"
            f" {settings.MEDIA_ROOT} beside it."
        )
    return Path(settings.DATABASES["default"]["NAME"])


@contextmanager
def data_folder(*, half_restored: bool = False) -> Iterator[None]:
    """The data folder, made if need be and held by this program alone; what is written there only its owner reads.

    One in which a restore was broken off is refused, unless that is to be finished.
    """
    os.umask(0o077)
    try:
        settings.DATA.mkdir(parents=True, exist_ok=True)
        settings.DATA.chmod(0o700)
        lock = FileLock(settings.DATA / "in-use.lock", timeout=0)
        lock.acquire()
    except Timeout as error:
        raise CommandError(
            f"Another copy of this program works on {settings.DATA}. Stop it first, or choose another folder."
        ) from error
    except OSError as error:
        raise CommandError(f"The folder {settings.DATA} cannot be made: {error}.") from error
    with lock:
        if (settings.DATA / MARKER).exists() and not half_restored:
            raise CommandError(
                f"A restore was broken off in {settings.DATA}. Finish it first: {settings.COMMAND} restore --go-on"
            )
        yield
