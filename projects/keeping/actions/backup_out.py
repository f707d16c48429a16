"""A backup: one plain zip with a snapshot of the database and every photo and paper, read back before it counts."""

import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from projects.keeping.actions.backup_in import DATABASE, Contents, read_backup

Tell = Callable[[str, float], None]  # what is being done, and which share of all is done
PAGES = 4000  # of the database at once, before a writer may have its turn
COPIED, PACKED = 0.3, 0.7  # shares of the work, roughly


class PhotosGone(OSError):
    """The folder of photos and papers is not there although the log names some: nothing is written."""


def write_backup(to: Path, *, database: Path, media: Path | None, tell: Tell = lambda words, share: None) -> Contents:
    """The snapshot comes first: photos and papers are only ever added, so that it mentions none that is missing.

    Without `media` photos lie elsewhere. What is written is read again, whole, before it gets its name; what it holds
    is returned.
    """
    if to.exists():
        raise FileExistsError(f"{to} is there already")
    to.parent.mkdir(parents=True, exist_ok=True)
    unfinished, snapshot = to.with_name(f"{to.name}.unfinished"), to.with_name(f"{to.name}.snapshot")
    try:
        # the snapshot lies beside the backup: where that has room, the system's own folder may have none
        _snapshot(database, snapshot, lambda share: tell("Copying the log", share * COPIED))
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.write(snapshot, DATABASE)
            files = sorted(path for path in media.rglob("*") if path.is_file()) if media else []
            for number, file in enumerate(files):
                tell("Packing photos and papers", COPIED + number / len(files) * (PACKED - COPIED))
                archive.write(file, f"media/{file.relative_to(media or file).as_posix()}")
        snapshot.unlink()
        tell("Reading it back", PACKED)
        contents = read_backup(unfinished, beside=snapshot)
        if media and contents.missing and not media.is_dir():
            raise PhotosGone(f"the folder {media} is not there, and the log names {len(contents.missing)} files in it")
        unfinished.rename(to)
    finally:
        unfinished.unlink(missing_ok=True)
        snapshot.unlink(missing_ok=True)
        shutil.rmtree(snapshot, ignore_errors=True)
    return contents


def _snapshot(database: Path, to: Path, tell: Callable[[float], None]) -> None:
    """A whole copy even while somebody writes: of one moment, else each new entry would begin it anew."""
    to.unlink(missing_ok=True)
    live_at = f"{database.resolve().as_uri()}?mode=rw"
    with closing(sqlite3.connect(live_at, uri=True)) as live, closing(sqlite3.connect(to)) as copy:
        copy.execute("PRAGMA journal_mode = OFF")  # one that is broken off is thrown away, with nothing beside it
        live.execute("BEGIN")
        live.execute("SELECT count(*) FROM sqlite_master").fetchone()  # from here on it sees this moment
        live.backup(copy, pages=PAGES, progress=lambda _, left, of: tell(1 - left / max(of, 1)))
