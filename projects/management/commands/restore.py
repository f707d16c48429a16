"""A backup put back in place. What stood there before is moved aside, not deleted."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from projects.keeping.actions.backup_in import MARKER, NotABackup, finish_restore, restore_backup
from projects.keeping.actions.backups import note_restore

from ._files import data_folder, database_file


class Command(BaseCommand):
    help = "Put a backup back in place; stop the server first."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", type=Path, nargs="?")
        parser.add_argument("--yes", action="store_true", help="replace what is there now")
        parser.add_argument("--go-on", action="store_true", help="finish a restore that was broken off")

    def handle(self, *args: Any, file: Path | None, yes: bool, go_on: bool, **options: Any) -> None:
        database = database_file()
        if go_on != (file is None):
            raise CommandError("Name the backup to be put back, or say --go-on to finish one that was broken off.")
        if file and database.exists() and not yes:
            raise CommandError(f"{database} exists. Stop the server and say --yes to put the backup in its place.")
        if go_on and not (database.parent / MARKER).exists():
            raise CommandError(f"No restore was broken off in {database.parent}.")
        aside = settings.DATA / f"before-restore-{timezone.now():%Y-%m-%d-%H%M%S}"
        connections.close_all()
        with data_folder(half_restored=go_on):
            try:
                if file:
                    known = MigrationLoader(None).disk_migrations.keys()
                    media = Path(settings.MEDIA_ROOT)
                    restore_backup(file, database=database, media=media, aside=aside, known=known)
                else:
                    finish_restore(database.parent)
            except NotABackup as error:
                raise CommandError(f"Nothing was changed. {error}") from error
            except OSError as error:
                raise CommandError(f"The backup could not be put in place: {error}. Look in {aside}, too.") from error
            call_command("migrate", verbosity=0)
            note_restore(file.name if file else "a restore that was broken off", by="the command line")
        kept = f" What stood there before is in {aside}." if aside.exists() else ""
        self.stdout.write(f"Put back{f' from {file}' if file else ''}.{kept}")
