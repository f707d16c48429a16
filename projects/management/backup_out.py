"""A backup: one plain zip with a snapshot of the database and every photo and paper."""

import sqlite3
import tempfile
import zipfile
from contextlib import closing
from pathlib import Path

DATABASE = "fettlebook.sqlite3"


def write_backup(to: Path, *, database: Path, media: Path) -> None:
    """The snapshot comes first: photos and papers are only ever added, so that it mentions none that is missing."""
    if to.exists():
        raise FileExistsError(f"{to} is there already")
    to.parent.mkdir(parents=True, exist_ok=True)
    unfinished = to.with_name(f"{to.name}.unfinished")
    try:
        # the snapshot lies beside the backup: where that has room, the system's own folder may have none
        with (
            tempfile.TemporaryDirectory(dir=to.parent) as folder,
            zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            archive.write(_snapshot(database, Path(folder) / DATABASE), DATABASE)
            for file in sorted(path for path in media.rglob("*") if path.is_file()):
                archive.write(file, (Path("media") / file.relative_to(media)).as_posix())
        unfinished.rename(to)
    finally:
        unfinished.unlink(missing_ok=True)


def _snapshot(database: Path, to: Path) -> Path:
    """A whole copy even while somebody writes."""
    with closing(sqlite3.connect(database)) as live, closing(sqlite3.connect(to)) as copy:
        live.backup(copy)
    return to
