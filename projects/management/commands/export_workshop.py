"""One workshop as a file that another installation reads."""

import os
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from finishing.workshops.models import Workshop
from projects.keeping.actions.workshop_out import write_workshop


class Command(BaseCommand):
    help = "Write one workshop, with its photos and papers, as a file for import_workshop."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("workshop", help="its name, or its id")
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, workshop: str, file: Path, **options: Any) -> None:
        named = [row for row in Workshop.objects.all() if workshop in (row.name, str(row.pk))]
        if len(named) != 1:
            known = "".join(f"\n{row.pk}  {row.name}" for row in Workshop.objects.order_by("name"))
            raise CommandError(f"{len(named)} workshops here go by {workshop!r}. There are:{known}")
        os.umask(0o077)
        unfinished = file.with_name(f"{file.name}.unfinished")
        try:
            with file.open("xb"):  # nothing that is there is written over
                pass
            with unfinished.open("wb") as opened:
                rows = write_workshop(named[0], opened)
            unfinished.replace(file)
        except OSError as error:
            if not isinstance(error, FileExistsError):
                file.unlink(missing_ok=True)
            raise CommandError(f"The file could not be written: {error}.") from error
        finally:
            unfinished.unlink(missing_ok=True)
        self.stdout.write(f"Kept in {file}: {rows} rows of {named[0]}.")
