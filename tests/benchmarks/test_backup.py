"""A backup made while people log, put back and compared row by row and file by file; then making one and putting one
back, each broken off by a kill at random moments."""

import os
import random
import shutil
import sqlite3
import subprocess
import time
import zipfile
from contextlib import closing

from tests.under_load import ROOT, Yard

BREAKS = int(os.environ.get("BREAKS", "20"))
BULK = 40  # files of a megabyte each, so that the work takes long enough to be broken off


def all_rows(database):
    """Of every table, each row as text."""
    with closing(sqlite3.connect(database)) as opened:
        named = opened.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name <> 'sqlite_sequence'")
        tables = [name for (name,) in named]
        return {(table, repr(row)) for table in tables for row in opened.execute(f'SELECT * FROM "{table}"')}


def changed(before, after):
    """Rows that are gone or have come, but for the one that says in the audit who put a backup back."""
    return [row for row in before ^ after if row in before or not is_note_of_restore(row)]


def is_note_of_restore(row):
    table, values = row
    return table == "finishing_auditentry" and "'restored'" in values


def all_files(media):
    return {path.relative_to(media).as_posix(): path.read_bytes() for path in media.rglob("*") if path.is_file()}


LOGS = ("projects_step", "projects_photo", "finishing_reading")  # rows that are added, never changed


def test_backup_under_load_equals_what_was_there(tmp_path):
    yard = Yard(tmp_path / "yard")
    yard.start()
    people = yard.work()
    differences = []
    for number in range(3):
        time.sleep(1)
        before = list(yard.acknowledged)
        file = tmp_path / f"{number}.zip"
        yard.run(*yard.command("backup", str(file)))
        yard.run(*yard.command("verify", str(file)))
        differences += [(number, "acknowledged before it, not in it")] * missing_from(file, tmp_path, yard, before)
    yard.over.set()
    for person in people:
        person.join()
    yard.stop()
    live = yard.folder / "fettlebook.sqlite3"
    for number in range(3):  # what was in it then is there now, and no other
        rows, now = unpacked_rows(tmp_path / f"{number}.zip", tmp_path), all_rows(live)
        differences += [(number, row) for row in rows - now if row[0] in LOGS]
    yard.run(*yard.command("backup", str(tmp_path / "last.zip")))
    rows, files = all_rows(live), all_files(yard.folder / "media")
    yard.run(*yard.command("restore", str(tmp_path / "last.zip"), "--yes"))
    restored = all_rows(live)
    differences += changed(rows, restored)
    assert len(restored - rows) == 1
    kept = all_files(yard.folder / "media")
    differences += [name for name in files.keys() | kept.keys() if files.get(name) != kept.get(name)]
    print(f"\nfigure backup.rows {len(rows)} rows")
    print(f"figure backup.files {len(files)} files")
    print(f"figure backup.differences {len(differences)} differences")
    assert not differences


def missing_from(file, folder, yard, keys):
    with zipfile.ZipFile(file) as archive:
        archive.extract("fettlebook.sqlite3", folder / "look")
    look = Yard.__new__(Yard)
    look.folder, look.database_url, look.pieces = folder / "look", "", yard.pieces
    look.sent, look.acknowledged = keys, keys
    missing = len(look.lost())
    shutil.rmtree(folder / "look")
    return missing


def unpacked_rows(file, folder):
    with zipfile.ZipFile(file) as archive:
        archive.extract("fettlebook.sqlite3", folder / "look")
    rows = all_rows(folder / "look" / "fettlebook.sqlite3")
    shutil.rmtree(folder / "look")
    return rows


def test_backup_and_restore_broken_off_lose_nothing(tmp_path):
    yard = Yard(tmp_path / "yard")
    (yard.folder / "media" / "photos").mkdir(parents=True)
    for number in range(BULK):
        (yard.folder / "media" / "photos" / f"{number}.jpg").write_bytes(os.urandom(2**20))
    live = yard.folder / "fettlebook.sqlite3"
    yard.run(*yard.command("backup", str(tmp_path / "good.zip")))
    rows, files = all_rows(live), all_files(yard.folder / "media")
    moments, lost = random.Random(2), []
    for number in range(BREAKS):
        making = number % 2 == 0
        to = yard.folder / "backups" / f"kept-2026-05-12-0000{number:02}.zip"
        words = ["backup", str(to)] if making else ["restore", str(tmp_path / "good.zip"), "--yes"]
        broken_off(yard, words, moments)
        if not making and (yard.folder / "restore-unfinished.json").exists():
            yard.run(*yard.command("restore", "--go-on"))
        if to.exists():
            yard.run(*yard.command("verify", str(to)))
        lost += [(number, row) for row in changed(rows, all_rows(live))]
        lost += [(number, "files")] if all_files(yard.folder / "media") != files else []
    yard.start()
    yard.stop()
    stray = [path for path in (yard.folder / "backups").iterdir() if path.name.endswith((".unfinished", ".snapshot"))]
    print(f"\nfigure backup.broken_off {BREAKS} moments")
    print(f"figure backup.broken_off_lost {len(lost)} differences")
    print(f"figure backup.broken_off_stray {len(stray)} files")
    assert not lost
    assert not stray


def broken_off(yard, words, moments):
    """Killed at a random moment after it has begun to write."""
    running = subprocess.Popen(
        yard.command(*words), cwd=ROOT, env=yard.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    while running.poll() is None and not has_begun(yard.folder):
        time.sleep(0.005)
    time.sleep(moments.uniform(0, 1.5))
    running.kill()
    running.wait()


def has_begun(folder):
    return (folder / "restore-unpacked").exists() or any((folder / "backups").glob("*.snapshot"))
