"""A backup read back: checked whole before anything is put in its place."""

import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from contextlib import closing
from pathlib import Path, PurePosixPath

DATABASE = "fettlebook.sqlite3"


class NotABackup(Exception):
    """The file is no whole backup; the text says what is wrong with it."""


def restore_backup(backup: Path, *, database: Path, media: Path, aside: Path) -> None:
    """Put a backup's database, photos and papers in place; what stood there before moves to the folder `aside`."""
    database.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=database.parent) as folder:
        unpacked = Path(folder)
        _unpack(backup, unpacked)
        _check(unpacked / DATABASE)
        _move_aside([*database.parent.glob(f"{database.name}*"), media], aside)
        shutil.move(unpacked / DATABASE, database)
        if (unpacked / "media").exists():
            shutil.move(unpacked / "media", media)


def _unpack(backup: Path, to: Path) -> None:
    try:
        with zipfile.ZipFile(backup) as archive:
            names = archive.namelist()
            if DATABASE not in names or not all(_expected(name) for name in names):
                raise NotABackup("It holds something else than a database, photos and papers.")
            archive.extractall(to)
    except (zipfile.BadZipFile, EOFError, zlib.error) as error:
        raise NotABackup(f"It is not a whole zip file ({error}).") from error


def _expected(name: str) -> bool:
    path = PurePosixPath(name)
    return name == DATABASE or (path.parts[0] == "media" and ".." not in path.parts and "\\" not in name)


def _check(database: Path) -> None:
    try:
        with closing(sqlite3.connect(database)) as opened:
            sound = opened.execute("PRAGMA integrity_check").fetchone()[0]
            tables = {name for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.DatabaseError as error:
        raise NotABackup(f"Its database cannot be read ({error}).") from error
    if sound != "ok" or not {"finishing_workshop", "projects_step"} <= tables:
        raise NotABackup("Its database is damaged or belongs to another program.")


def _move_aside(stood: list[Path], aside: Path) -> None:
    for path in filter(Path.exists, stood):
        aside.mkdir(parents=True, exist_ok=True)
        shutil.move(path, aside / path.name)
