"""One workshop as one file that another installation reads as the same workshop: its rows as lines of JSON, photos and
papers as files, a checksum for each; and the rows once more as tables for a spreadsheet."""

import hashlib
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from typing import IO, Any
from uuid import UUID

from django.apps import apps
from django.core.files.storage import default_storage
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from finishing.workshops.models import AuditEntry, Invitation, User, Workshop
from projects.record.models import Change, KeptState, MailReader, MailSent, MailServer
from projects.site.exports import csv_bytes

FORMAT, VERSION = "a workshop of Fettlebook", 1
MANIFEST, PEOPLE = "manifest.json", "people"
# what stays: doors of this installation, its audit and mail, and what is worked out anew from the rest
STAYS = (Invitation, AuditEntry, KeptState, Change, MailServer, MailReader, MailSent)
OF_PERSON = ("id", "username", "first_name", "last_name")  # no password: an owner makes a link for a new one
AT_ONCE = 500  # rows held in memory together
BLOCK = 1 << 20  # bytes
NO_TABLE = {"hours", "members"}  # columns of a whole run of hours, which no spreadsheet shows


@dataclass(frozen=True)
class Pairing:
    """A many-to-many field: its table's name in the file, and the table between, with the columns of both keys."""

    name: str
    model: type[models.Model]
    related: type[models.Model]
    through: type[models.Model]
    holder: str
    held: str


def kinds() -> list[type[models.Model]]:
    """The workshop, and the models whose rows belong to one and go with it."""
    own = (model for model in apps.get_models() if any(field.related_model is Workshop for field in model._meta.fields))
    return [Workshop, *(model for model in own if model not in STAYS)]


def pairings(model: type[models.Model]) -> list[Pairing]:
    return [
        Pairing(
            f"{model._meta.label_lower}.{field.name}",
            model,
            field.related_model,
            field.remote_field.through,
            f"{field.m2m_field_name()}_id",
            f"{field.m2m_reverse_field_name()}_id",
        )
        for field in model._meta.local_many_to_many
        if field.remote_field.through is not None
    ]


def schema() -> list[str]:
    """What rows look like: this program's own migrations."""
    known = MigrationLoader(None).disk_migrations
    return sorted(f"{app} {name}" for app, name in known if app in ("finishing", "projects"))


def rows_of(model: type[models.Model], workshop: Workshop) -> "models.QuerySet[Any]":
    """What was deleted too, as long as it may be put back."""
    return model._base_manager.filter(**{"pk" if model is Workshop else "workshop": workshop.pk}).order_by("pk")


def files_of(workshop: Workshop) -> set[str]:
    return {
        name
        for model in kinds()
        for field in model._meta.concrete_fields
        if isinstance(field, models.FileField)
        for name in rows_of(model, workshop).exclude(**{field.name: ""}).values_list(field.name, flat=True)
    }


def write_workshop(workshop: Workshop, to: IO[bytes]) -> int:
    """Write the file, as of one moment; how many rows it holds. A photo that is not there is left out."""
    alone = not connection.in_atomic_block
    with transaction.atomic(), zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as archive:
        if connection.vendor == "postgresql" and alone:
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        sums, count = {}, 0
        for name, rows in _tables(workshop):
            sums[f"rows/{name}.jsonl"], written = _write_lines(archive, f"rows/{name}.jsonl", rows)
            sums[f"tables/{name}.csv"] = _write_table(archive, f"tables/{name}.csv", rows)
            count += written
        for name in sorted(files_of(workshop)):
            if default_storage.exists(name):
                sums[f"files/{name}"] = _write_file(archive, name)
        manifest = {
            "format": FORMAT,
            "version": VERSION,
            "schema": schema(),
            "workshop": {"id": str(workshop.pk), "name": workshop.name},
            "made_at": timezone.now().isoformat(),
            "rows": count,
            "sha256": sums,
        }
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
    return count


def _tables(workshop: Workshop) -> Iterator[tuple[str, "models.QuerySet[Any, dict[str, Any]]"]]:
    yield PEOPLE, User.objects.filter(pk__in=_people(workshop)).order_by("pk").values(*OF_PERSON)
    for model in kinds():
        columns = [field.attname for field in model._meta.concrete_fields]
        yield model._meta.label_lower, rows_of(model, workshop).values(*columns)
        for pairing in pairings(model):
            held_by = {f"{pairing.holder.removesuffix('_id')}__workshop": workshop}
            rows = pairing.through._base_manager.filter(**held_by).order_by(pairing.holder, pairing.held)
            yield pairing.name, rows.values(pairing.holder, pairing.held)


def _people(workshop: Workshop) -> set[UUID]:
    """Whoever a row names."""
    named: set[UUID] = set()
    for model in kinds():
        fields: list[Any] = [*model._meta.concrete_fields, *model._meta.local_many_to_many]
        for name in [field.name for field in fields if field.related_model is User]:
            named |= set(rows_of(model, workshop).order_by().exclude(**{name: None}).values_list(name, flat=True))
    return named


def _write_lines(archive: zipfile.ZipFile, name: str, rows: "models.QuerySet[Any, dict[str, Any]]") -> tuple[str, int]:
    digest, count = hashlib.sha256(), 0
    with archive.open(name, "w", force_zip64=True) as file:
        for row in rows.iterator(AT_ONCE):
            line = json.dumps({column: _plain(value) for column, value in row.items()}, allow_nan=False)
            digest.update(f"{line}\n".encode())
            file.write(f"{line}\n".encode())
            count += 1
    return digest.hexdigest(), count


def _plain(value: Any) -> Any:
    """A value as JSON keeps it without loss."""
    if isinstance(value, date | time):  # a moment is a date too
        return value.isoformat()
    return str(value) if isinstance(value, UUID | Decimal) else value


def _write_table(archive: zipfile.ZipFile, name: str, rows: "models.QuerySet[Any, dict[str, Any]]") -> str:
    columns = [column for column in rows.query.values_select if column not in NO_TABLE]
    table = csv_bytes(columns, ([_cell(row[column]) for column in columns] for row in rows.iterator(AT_ONCE)))
    archive.writestr(name, table)
    return hashlib.sha256(table).hexdigest()


def _cell(value: Any) -> Any:
    return json.dumps(value) if isinstance(value, list | dict) else _plain(value)


def _write_file(archive: zipfile.ZipFile, name: str) -> str:
    digest = hashlib.sha256()
    with default_storage.open(name, "rb") as kept, archive.open(f"files/{name}", "w", force_zip64=True) as file:
        while block := kept.read(BLOCK):
            digest.update(block)
            file.write(block)
    return digest.hexdigest()
