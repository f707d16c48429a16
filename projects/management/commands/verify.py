"""A backup read whole, without putting it anywhere."""

import sqlite3
import tempfile
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db.migrations.loader import MigrationLoader

from projects.keeping.actions.backup_in import NotABackup, read_backup, refuse_later


class Command(BaseCommand):
    help = "Read a backup whole and say what it holds, or what is wrong with it."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            with tempfile.TemporaryDirectory() as folder:
                contents = read_backup(file, beside=Path(folder) / "unpacked")
            refuse_later(contents, MigrationLoader(None).disk_migrations.keys())
        except NotABackup as error:
            raise CommandError(f"{file} cannot be put back. {error}") from error
        except (OSError, sqlite3.Error) as error:
            raise CommandError(f"{file} cannot be read: {error}.") from error
        newest = f", the newest entered {contents.newest_entry} UTC" if contents.newest_entry else ""
        self.stdout.write(f"Whole: {', '.join(contents.workshops) or 'no workshop'}.")
        self.stdout.write(f"{contents.entries} log entries{newest}; {contents.files} photos and papers.")
        if contents.missing:
            self.stdout.write(f"Its log names {len(contents.missing)} files that are not in it:")
            self.stdout.writelines(f"  {name}" for name in contents.missing)
