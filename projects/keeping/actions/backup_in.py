"""A backup read back: checked whole before anything is put in its place, and put there so that it can be gone on with.

What comes is unpacked beside what stands there. From the marker on, everything is renaming, and renaming again does no
harm: a restore that was broken off is finished by doing it once more.
"""

import json
import os
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Collection, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from django.apps import apps
from django.db.models import FileField

DATABASE = "fettlebook.sqlite3"
MARKER, UNPACKED = "restore-unfinished.json", "restore-unpacked"


class NotABackup(Exception):
    """The file is no whole backup; the text says what is wrong with it."""


@dataclass(frozen=True)
class Contents:
    """What a backup holds; `missing` are photos and papers that its log names and that are not in it."""

    migrations: frozenset[tuple[str, str]]
    workshops: tuple[str, ...]
    entries: int
    newest_entry: str  # UTC, as the database has it; "" without one
    files: int
    missing: tuple[str, ...]


def read_backup(backup: Path, *, beside: Path) -> Contents:
    """Read a backup whole: every byte against its checksum, the database against its own rules.

    The database is unpacked into the folder `beside` meanwhile. NotABackup says what is wrong.
    """
    try:
        with zipfile.ZipFile(backup) as archive:
            names = _names(archive)
            if torn := archive.testzip():
                raise NotABackup(f"{torn} in it is damaged.")
            archive.extract(DATABASE, beside)
    except (zipfile.BadZipFile, EOFError, zlib.error) as error:
        raise NotABackup(f"It is not a whole zip file ({error}).") from error
    try:
        return _contents(beside / DATABASE, {name for name in names if name != DATABASE})
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def refuse_later(contents: Contents, known: Collection[tuple[str, str]]) -> None:
    """`known` are this version's migrations: a backup that has others is of a later version."""
    if later := sorted(name for app, name in contents.migrations - set(known) if app in ("finishing", "projects")):
        raise NotABackup(
            f"It was made by a later version of this program (it has {later[-1]}): install that one first."
        )


def restore_backup(
    backup: Path, *, database: Path, media: Path, aside: Path, known: Collection[tuple[str, str]]
) -> None:
    """Put a backup's database, photos and papers in place; what stood there before moves to the folder `aside`."""
    database.parent.mkdir(parents=True, exist_ok=True)
    unpacked = database.parent / UNPACKED
    shutil.rmtree(unpacked, ignore_errors=True)  # of one that was broken off before anything was moved
    try:
        _unpack(backup, unpacked)
        refuse_later(_contents(unpacked / DATABASE, set()), known)
    except (NotABackup, OSError):
        shutil.rmtree(unpacked, ignore_errors=True)
        raise
    photos = (unpacked / "media").exists()
    marker = {"database": str(database), "media": str(media), "aside": str(aside), "photos": photos}
    with (database.parent / MARKER).open("x", encoding="utf-8") as file:
        json.dump(marker, file)
        file.flush()
        os.fsync(file.fileno())
    finish_restore(database.parent)


def finish_restore(folder: Path) -> None:
    """Do the moves that are still to be done in a data folder with a restore's marker, and take the marker away."""
    marker = json.loads((folder / MARKER).read_text(encoding="utf-8"))
    database, media, aside = (Path(marker[name]) for name in ("database", "media", "aside"))
    unpacked = folder / UNPACKED
    if (unpacked / DATABASE).exists():  # so what stands there is the old one, with what belongs to it
        for path in database.parent.glob(f"{database.name}*"):
            _move_aside(path, aside)
        (unpacked / DATABASE).rename(database)
    if not marker["photos"] or (unpacked / "media").exists():
        _move_aside(media, aside)
    if (unpacked / "media").exists():
        shutil.move(unpacked / "media", media)
    shutil.rmtree(unpacked, ignore_errors=True)
    (folder / MARKER).unlink()


def _move_aside(path: Path, aside: Path) -> None:
    if path.exists():
        aside.mkdir(parents=True, exist_ok=True)
        shutil.move(path, aside / path.name)


def _unpack(backup: Path, to: Path) -> None:
    try:
        with zipfile.ZipFile(backup) as archive:
            _names(archive)
            archive.extractall(to)
    except (zipfile.BadZipFile, EOFError, zlib.error) as error:
        raise NotABackup(f"It is not a whole zip file ({error}).") from error


def _names(archive: zipfile.ZipFile) -> list[str]:
    names = archive.namelist()
    if DATABASE not in names or not all(_expected(name) for name in names):
        raise NotABackup("It holds something else than a database, photos and papers.")
    return names


def _expected(name: str) -> bool:
    """The database, or a file below the folder of photos and papers, named as plainly as a backup names it; whoever
    packed it anew by hand may have the folders themselves in it."""
    path = PurePosixPath(name)
    below = path.parts[:1] == ("media",) and (len(path.parts) > 1 or name.endswith("/"))
    plain = str(path) == name.removesuffix("/") and ".." not in path.parts and "\\" not in name
    return name == DATABASE or (below and plain)


def _contents(database: Path, files: set[str]) -> Contents:
    try:
        with closing(sqlite3.connect(database)) as opened:
            sound = opened.execute("PRAGMA integrity_check").fetchone()[0]
            pointing_nowhere = opened.execute("PRAGMA foreign_key_check").fetchone()
            tables = {name for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            ours = {"finishing_workshop", "projects_step", "django_migrations"} <= tables
            done = set(opened.execute("SELECT app, name FROM django_migrations")) if ours else set()
            if sound != "ok" or pointing_nowhere or ("projects", "0001_initial") not in done:
                raise NotABackup("Its database is damaged or belongs to another program.")
            named = {f"media/{name}" for name in _files_named(opened, tables)}
            entries, newest = opened.execute("SELECT count(*), max(entered_at) FROM projects_step").fetchone()
            workshops = tuple(name for (name,) in opened.execute("SELECT name FROM finishing_workshop ORDER BY name"))
    except sqlite3.DatabaseError as error:
        raise NotABackup(f"Its database cannot be read ({error}).") from error
    return Contents(
        frozenset(done), workshops, entries, str(newest or "")[:16], len(files), tuple(sorted(named - files))
    )


def _files_named(opened: sqlite3.Connection, tables: set[str]) -> Iterator[str]:
    """Every photo and paper that a row names; an older version may lack a table or a column."""
    for model in apps.get_models():
        table = model._meta.db_table
        there = {row[1] for row in opened.execute(f'PRAGMA table_info("{table}")')} if table in tables else set()
        for field in model._meta.concrete_fields:
            if isinstance(field, FileField) and field.column in there:
                named = opened.execute(
                    f'SELECT DISTINCT "{field.column}" FROM "{table}" WHERE "{field.column}" <> \'\''
                )
                yield from (name for (name,) in named if name)
