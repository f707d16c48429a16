"""A backup put back in place. What stood there before is moved aside, not deleted."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from django.utils import timezone

from projects.management.backup_in import NotABackup, restore_backup

from ._files import database_file


class Command(BaseCommand):
    help = "Put a backup back in place; stop the server first."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--yes", action="store_true", help="replace what is there now")

    def handle(self, *args: Any, file: Path, yes: bool, **options: Any) -> None:
        database = database_file()
        if database.exists() and not yes:
            raise CommandError(f"{database} exists. Stop the server and say --yes to put the backup in its place.")
        aside = settings.DATA / f"before-restore-{timezone.now():%Y-%m-%d-%H%M%S}"
        connections.close_all()
        try:
            restore_backup(file, database=database, media=Path(settings.MEDIA_ROOT), aside=aside)
        except NotABackup as error:
            raise CommandError(f"Nothing was changed. {error}") from error
        except OSError as error:
            raise CommandError(f"The backup could not be put in place: {error}. Look in {aside}, too.") from error
        call_command("migrate", verbosity=0)
        kept = f" What stood there before is in {aside}." if aside.exists() else ""
        self.stdout.write(f"Put back from {file}.{kept}")
