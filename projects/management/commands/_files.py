"""Where the SQLite database lies; backup and restore are for it alone."""

from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection


def database_file() -> Path:
    if connection.vendor != "sqlite":
        raise CommandError(
            "These commands keep the SQLite file. For PostgreSQL use pg_dump and pg_restore, and copy the folder"
            f" {settings.MEDIA_ROOT} beside it."
        )
    return Path(settings.DATABASES["default"]["NAME"])
