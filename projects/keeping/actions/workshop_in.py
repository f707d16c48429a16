"""A workshop's file read into this installation: all of it is looked at before anything is kept, and then kept whole or
not at all."""

import hashlib
import json
import math
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import IO, Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import DatabaseError, models, transaction

from finishing.workshops.models import Membership, User, Workshop
from projects.record.actions.states import keep_states
from projects.record.models import Photo, Piece

from .workshop_out import BLOCK, FORMAT, MANIFEST, OF_PERSON, PEOPLE, VERSION, Pairing, kinds, pairings, schema

LONGEST_LINE = 64 << 20  # bytes of one row: a forecast with all of its hours has a few hundred thousand
LONGEST_MANIFEST = 64 << 20
JPEG = b"\xff\xd8\xff"
Row = dict[str, Any]


class NotAWorkshop(Exception):
    """The file is no workshop that can be read in; the text says why. Nothing was changed."""


@dataclass
class Archive:
    """The file of a workshop, found whole: the ids of its rows by model, and the people that they name."""

    file: zipfile.ZipFile
    manifest: Mapping[str, Any]
    ids: dict[type[models.Model], set[Any]] = field(default_factory=dict)

    @property
    def workshop_id(self) -> UUID:
        return UUID(self.manifest["workshop"]["id"])

    @property
    def name(self) -> str:
        return str(self.manifest["workshop"]["name"])

    def lines(self, table: str) -> Iterator[Row]:
        with self.file.open(f"rows/{table}.jsonl") as opened:
            while line := opened.readline(LONGEST_LINE):
                row = json.loads(line, parse_constant=_no_number)
                if not isinstance(row, dict):
                    raise ValueError("a line is no row")
                yield row

    def rows(self, model: type[models.Model]) -> Iterator[models.Model]:
        """As they were, with the types of their columns."""
        columns = {column.attname: column for column in model._meta.concrete_fields}
        for line in self.lines(model._meta.label_lower):
            if line.keys() != columns.keys():
                raise ValueError("a row has other columns")
            yield model(**{name: _value(columns[name], value) for name, value in line.items()})


def read_workshop(file: IO[bytes], *, keeper: User, trusted: bool = False) -> Workshop:
    """Keep the workshop of a file, with whoever brings it among its owners.

    `trusted`: whoever runs the server says that people of the same id are the same persons; else only the keeper is
    recognised, and everybody else begins with an account of their own, to which an owner makes a link.
    Raises NotAWorkshop, and leaves everything as it was.
    """
    saved: dict[str, str] = {}
    try:
        with _opened(file) as archive:
            _check(archive)
            _room_for(archive)
            with transaction.atomic():
                return _keep(archive, keeper, trusted, saved)
    except (ValueError, TypeError, KeyError, ValidationError, RecursionError) as error:
        _take_away(saved.values())
        raise NotAWorkshop("What is in it cannot be read as rows of a workshop.") from error
    except DatabaseError as error:
        _take_away(saved.values())
        raise NotAWorkshop("Some of its rows do not fit together, or are here already.") from error
    except BaseException:
        _take_away(saved.values())
        raise


def person_named(file: IO[bytes], name: str) -> Row:
    """Id and names of the person in a workshop's file who signs in by this name; empty where there is none."""
    try:
        with _opened(file) as archive:
            people = [line for line in archive.lines(PEOPLE) if line.get("username") == name]
            return {key: people[0][key] for key in ("id", "first_name", "last_name")} if people else {}
    except (ValueError, TypeError, KeyError) as error:
        raise NotAWorkshop("What is in it cannot be read as rows of a workshop.") from error


@contextmanager
def _opened(file: IO[bytes]) -> Iterator[Archive]:
    try:
        with zipfile.ZipFile(file) as opened:
            yield Archive(opened, _manifest(opened))
    except (zipfile.BadZipFile, EOFError, zlib.error, NotImplementedError) as error:
        raise NotAWorkshop(f"It is not a whole zip file ({error}).") from error


def _manifest(opened: zipfile.ZipFile) -> Mapping[str, Any]:
    if MANIFEST not in opened.namelist() or opened.getinfo(MANIFEST).file_size > LONGEST_MANIFEST:
        raise NotAWorkshop("It is not the file of a workshop.")
    manifest = json.loads(opened.read(MANIFEST))
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise NotAWorkshop("It is not the file of a workshop.")
    if manifest.get("version") != VERSION or set(manifest["schema"]) != set(schema()):
        later = sorted(set(manifest["schema"]) - set(schema()))
        raise NotAWorkshop(
            "It was made by a later version of this program: bring this one up to date first."
            if later or manifest.get("version") != VERSION
            else "It was made by an earlier version of this program: bring that one up to date, then make it again."
        )
    if Workshop.with_deleted.filter(pk=UUID(manifest["workshop"]["id"])).exists():
        raise NotAWorkshop("This workshop is here already, perhaps among those that were deleted.")
    return manifest


def _check(archive: Archive) -> None:
    """Every byte against its checksum; every row in the form of its table, and naming only rows of the same file."""
    sums = archive.manifest["sha256"]
    names = archive.file.namelist()
    if len(set(names)) != len(names) or set(names) != {*sums, MANIFEST} or not all(map(_expected, names)):
        raise NotAWorkshop("It holds something else than the rows, photos and papers of a workshop.")
    for name, told in sums.items():
        if _digest(archive.file, name) != told:
            raise NotAWorkshop(f"{name} in it is damaged.")
    archive.ids[User] = {UUID(line["id"]) for line in archive.lines(PEOPLE)}
    for model in kinds():
        keys = [row.pk for row in archive.rows(model)]
        archive.ids[model] = set(keys)
        if len(archive.ids[model]) != len(keys):
            raise NotAWorkshop("A row stands in it twice.")
    if archive.ids[Workshop] != {archive.workshop_id}:
        raise NotAWorkshop("It holds another workshop than it says.")
    for model in kinds():
        for row in archive.rows(model):
            _check_row(row, archive)


def _check_row(row: models.Model, archive: Archive) -> None:
    for column in row._meta.concrete_fields:
        value = getattr(row, column.attname)
        if column.related_model and value is not None and value not in archive.ids[column.related_model]:
            raise NotAWorkshop(f"A row of it ({row._meta.verbose_name}) names one that is not in it.")
        if isinstance(column, models.FileField) and value:
            _check_file(row, f"files/{value.name}", archive)


def _check_file(row: models.Model, name: str, archive: Archive) -> None:
    """A photo is shown as one; a paper is only ever handed out to be saved."""
    if name in archive.manifest["sha256"] and isinstance(row, Photo):
        with archive.file.open(name) as opened:
            if opened.read(len(JPEG)) != JPEG:
                raise NotAWorkshop(f"{name} in it is no photo.")


def _expected(name: str) -> bool:
    path = PurePosixPath(name)
    places = ("rows", "tables", "files")
    return name == MANIFEST or (path.parts[0] in places and ".." not in path.parts and "\\" not in name)


def _digest(opened: zipfile.ZipFile, name: str) -> str:
    digest = hashlib.sha256()
    with opened.open(name) as member:
        while block := member.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()


def _room_for(archive: Archive) -> None:
    wanted = sum(member.file_size for member in archive.file.infolist())
    if wanted > shutil.disk_usage(tempfile.gettempdir()).free:
        raise NotAWorkshop("It holds more than there is room for on this computer.")


def _keep(archive: Archive, keeper: User, trusted: bool, saved: dict[str, str]) -> Workshop:
    people = _people(archive, keeper, trusted)
    names = {name.removeprefix("files/") for name in archive.manifest["sha256"] if name.startswith("files/")}
    for model in kinds():
        files = [column.name for column in model._meta.concrete_fields if isinstance(column, models.FileField)]
        persons = [column.attname for column in model._meta.concrete_fields if column.related_model is User]
        for row in archive.rows(model):
            for name in persons:
                setattr(row, name, people.get(getattr(row, name)))
            for name in files:
                if (told := getattr(row, name).name) in names:
                    setattr(row, name, _keep_file(archive, told, saved))
            row.save_base(raw=True, force_insert=True)  # as Django reads rows in: moments stay as they were
    for model in kinds():
        for pairing in pairings(model):
            _pair(archive, pairing, people)
    workshop = Workshop.objects.get(pk=archive.workshop_id)
    Membership.with_deleted.update_or_create(
        workshop=workshop, user=keeper, defaults={"role": Membership.Role.OWNER, "deleted_at": None}
    )
    keep_states(Piece.objects.of(workshop))
    return workshop


def _keep_file(archive: Archive, name: str, saved: dict[str, str]) -> str:
    """Once, however many rows share it, as the photo of a rack is shared by the entries of all its pieces."""
    if name not in saved:
        with archive.file.open(f"files/{name}") as opened:
            saved[name] = default_storage.save(name, File(opened, name=name))
    return saved[name]


def _take_away(saved: Iterable[str]) -> None:
    for name in saved:
        default_storage.delete(name)


def _pair(archive: Archive, pairing: Pairing, people: Mapping[UUID, UUID]) -> None:
    rows = []
    for line in archive.lines(pairing.name):
        one, other = UUID(line[pairing.holder]), UUID(line[pairing.held])
        if one not in archive.ids[pairing.model] or other not in archive.ids[pairing.related]:
            raise ValueError("a pair names a row that is not there")
        rows.append(pairing.through(**{pairing.holder: one, pairing.held: people.get(other, other)}))
    pairing.through._base_manager.bulk_create(rows, batch_size=500)


def _people(archive: Archive, keeper: User, trusted: bool) -> dict[UUID, UUID]:
    """The accounts here that stand for the people of the file, made where there is none."""
    here: dict[UUID, UUID] = {}
    for line in archive.lines(PEOPLE):
        person = User(**{name: _value(User._meta.get_field(name), line[name]) for name in OF_PERSON})
        there = User.objects.filter(pk=person.pk).first()
        if there and (trusted or there == keeper):
            here[person.pk] = there.pk
            continue
        told = person.pk
        if there:
            person.pk = User._meta.pk.get_default()
        person.username = _free_name(person.username)
        person.set_unusable_password()
        person.clean_fields(exclude=["password"])
        person.save(force_insert=True)
        here[told] = person.pk
    return here


def _free_name(name: str) -> str:
    names, number = User.objects.filter(username__startswith=name[:140]).values_list("username", flat=True), 2
    taken, free = set(names), name
    while free in taken:
        free, number = f"{name[:140]}-{number}", number + 1
    return free


def _value(column: Any, value: Any) -> Any:
    if isinstance(column, models.FileField) or value is None:
        return value
    read: Callable[[Any], Any] = column.to_python
    if isinstance(value, str) and "\x00" in value:
        raise ValueError("a sign that no text has")
    told = read(value)
    number = getattr(told, "magnitude", told)
    if isinstance(number, float) and not math.isfinite(number):
        raise ValueError("no number")
    return told


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")
