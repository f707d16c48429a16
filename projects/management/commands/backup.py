"""One zip with everything: the database as it is now, and every photo."""

import os
import sqlite3
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from projects.keeping.actions.backup_in import NotABackup
from projects.keeping.actions.backup_out import write_backup
from projects.keeping.actions.backups import media_folder
from projects.keeping.domain import ASKED, file_name

from ._files import database_file


class Command(BaseCommand):
    help = "Write a backup and read it back; the server may go on running meanwhile."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="default: in the folder of backups, named by date")

    def handle(self, *args: Any, file: Path | None, **options: Any) -> None:
        database = database_file()
        if not database.exists():
            raise CommandError(f"There is nothing to keep yet: {database} does not exist.")
        os.umask(0o077)  # it holds names and photos: for its owner alone
        to = file or settings.BACKUPS / file_name(ASKED, timezone.now())
        try:
            contents = write_backup(to, database=database, media=media_folder(), tell=self.tell)
        except (OSError, sqlite3.Error, NotABackup) as error:
            raise CommandError(f"The backup could not be written: {error}.") from error
        self.stdout.write(f"Kept in {to}, and read back whole: {contents.entries} entries, {contents.files} files.")
        if media_folder() is None:
            self.stdout.write("Photos and papers lie in a store elsewhere: they are not in it, that store keeps them.")
        elif contents.missing:
            self.stdout.write(
                f"{len(contents.missing)} files that the log names are not there, as {contents.missing[0]}."
            )
        self.stdout.write("It holds people's names and photos: store it where only you can read it.")

    said = ""

    def tell(self, words: str, share: float) -> None:
        """Each stretch of the work once; a line for each file would be noise."""
        if words != self.said:
            self.said = words
            self.stdout.write(f"{words} …")
            self.stdout.flush()
