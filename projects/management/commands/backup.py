"""One zip with everything: the database as it is now, and every photo."""

import os
import sqlite3
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from projects.management.backup_out import write_backup

from ._files import database_file


class Command(BaseCommand):
    help = "Write a backup; the server may go on running meanwhile."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="default: in the data folder, named by date and time")

    def handle(self, *args: Any, file: Path | None, **options: Any) -> None:
        database = database_file()
        if not database.exists():
            raise CommandError(f"There is nothing to keep yet: {database} does not exist.")
        os.umask(0o077)  # it holds names and photos: for its owner alone
        to = file or settings.DATA / "backups" / f"fettlebook-{timezone.now():%Y-%m-%d-%H%M%S}.zip"
        try:
            write_backup(to, database=database, media=settings.MEDIA_ROOT)
        except (OSError, sqlite3.Error) as error:
            raise CommandError(f"The backup could not be written: {error}.") from error
        self.stdout.write(f"Kept in {to}. It holds people's names and photos: store it where only you can read it.")
