"""Backup and restore on files, as the two commands do it."""

import contextlib
import os
import shutil
import sqlite3
import zipfile
from contextlib import closing
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from projects.keeping.actions.backup_in import MARKER, UNPACKED, NotABackup, finish_restore, restore_backup
from projects.keeping.actions.backup_out import PhotosGone, write_backup
from projects.keeping.actions.unclaimed import move_unclaimed
from projects.management.commands._files import data_folder
from tests import factories

KNOWN = [("projects", "0001_initial")]


@pytest.fixture
def kept(tmp_path):
    """A small database in WAL mode with an entry not yet checkpointed, and a photo."""
    database, media = tmp_path / "fettlebook.sqlite3", tmp_path / "media"
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("PRAGMA journal_mode=WAL")
        opened.execute("CREATE TABLE finishing_workshop (name TEXT)")
        opened.execute("CREATE TABLE projects_step (note TEXT, entered_at TEXT)")
        opened.execute("CREATE TABLE django_migrations (app TEXT, name TEXT)")
        opened.execute("INSERT INTO django_migrations VALUES ('projects', '0001_initial')")
        opened.execute("INSERT INTO projects_step VALUES ('blasted', '2026-05-12 07:20')")
        opened.commit()
    (media / "photos").mkdir(parents=True)
    (media / "photos" / "flywheel.jpg").write_bytes(b"picture")
    return database, media


def notes(database):
    with closing(sqlite3.connect(database)) as opened:
        return [note for (note,) in opened.execute("SELECT note FROM projects_step")]


def test_a_backup_comes_back_whole(kept, tmp_path):
    database, media = kept
    backup = tmp_path / "kept" / "monday.zip"
    write_backup(backup, database=database, media=media)
    there = tmp_path / "there"
    restore_backup(backup, database=there / database.name, media=there / "media", aside=there / "aside", known=KNOWN)
    assert notes(there / database.name) == ["blasted"]
    assert (there / "media" / "photos" / "flywheel.jpg").read_bytes() == b"picture"
    assert not (there / "aside").exists()


def test_an_entry_made_while_another_connection_is_open_is_in_the_backup(kept, tmp_path):
    database, media = kept
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("INSERT INTO projects_step VALUES ('primed', '2026-05-12 07:20')")
        opened.commit()
        write_backup(tmp_path / "now.zip", database=database, media=media)
    with zipfile.ZipFile(tmp_path / "now.zip") as archive:
        archive.extract("fettlebook.sqlite3", tmp_path / "look")
    assert notes(tmp_path / "look" / "fettlebook.sqlite3") == ["blasted", "primed"]


def test_what_stood_there_before_is_moved_aside(kept, tmp_path):
    database, media = kept
    write_backup(tmp_path / "old.zip", database=database, media=media)
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("INSERT INTO projects_step VALUES ('later', '2026-05-12 07:20')")
        opened.commit()
    restore_backup(tmp_path / "old.zip", database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    assert notes(database) == ["blasted"]
    assert notes(tmp_path / "aside" / database.name) == ["blasted", "later"]


def test_a_backup_never_overwrites_a_file(kept, tmp_path):
    database, media = kept
    write_backup(tmp_path / "a.zip", database=database, media=media)
    with pytest.raises(FileExistsError):
        write_backup(tmp_path / "a.zip", database=database, media=media)


def zip_of(path, **files):
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({"notes.txt": "hello"}, "something else"),
        ({"fettlebook.sqlite3": "x", "../outside.txt": "x"}, "something else"),
        ({"fettlebook.sqlite3": "x", "media/../../outside.txt": "x"}, "something else"),
        ({"fettlebook.sqlite3": "no database at all, but long enough to look at"}, "cannot be read"),
        ({"fettlebook.sqlite3": ""}, "another program"),
        *(
            ({"fettlebook.sqlite3": "x", name: "x"}, "something else")
            for name in (".", "./", "media", "media/.", "media//x")
        ),
    ],
)
def test_a_file_that_is_no_backup_changes_nothing(kept, tmp_path, files, said):
    database, media = kept
    wrong = zip_of(tmp_path / "wrong.zip", **files)
    with pytest.raises(NotABackup, match=said):
        restore_backup(wrong, database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    assert notes(database) == ["blasted"]
    assert not (tmp_path / "outside.txt").exists()


def test_a_torn_backup_changes_nothing(kept, tmp_path):
    database, media = kept
    write_backup(tmp_path / "whole.zip", database=database, media=media)
    torn = tmp_path / "torn.zip"
    torn.write_bytes((tmp_path / "whole.zip").read_bytes()[:-200])
    with pytest.raises(NotABackup, match="not a whole zip"):
        restore_backup(torn, database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    assert notes(database) == ["blasted"]


def test_tables_of_the_right_names_alone_make_no_backup(kept, tmp_path):
    database, media = kept
    with closing(sqlite3.connect(tmp_path / "other.sqlite3")) as opened:
        for table in ("finishing_workshop", "projects_step", "django_migrations"):
            opened.execute(f"CREATE TABLE {table} (app TEXT, name TEXT)")
    other = zip_of(tmp_path / "other.zip", **{"fettlebook.sqlite3": (tmp_path / "other.sqlite3").read_bytes()})
    with pytest.raises(NotABackup, match="another program"):
        restore_backup(other, database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    assert notes(database) == ["blasted"]


def test_a_backup_of_a_later_version_changes_nothing(kept, tmp_path):
    database, media = kept
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("INSERT INTO django_migrations VALUES ('projects', '0999_of_tomorrow')")
        opened.commit()
    write_backup(tmp_path / "tomorrow.zip", database=database, media=media)
    with pytest.raises(NotABackup, match="later version .*0999_of_tomorrow"):
        restore_backup(tmp_path / "tomorrow.zip", database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    assert notes(database) == ["blasted"]
    assert not (tmp_path / MARKER).exists()


@pytest.mark.parametrize("moves", range(8))
def test_a_restore_broken_off_between_its_moves_is_gone_on_with(kept, tmp_path, monkeypatch, moves):
    """After any number of renamings nothing is lost, and going on ends as if nothing had been."""
    database, media = kept
    write_backup(tmp_path / "old.zip", database=database, media=media)
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("INSERT INTO projects_step VALUES ('later', '2026-05-12 07:20')")
        opened.commit()
    (media / "photos" / "later.jpg").write_bytes(b"later")
    left = iter(range(moves))

    def until_the_plug_is_pulled(rename):
        def renamed(*paths):
            if next(left, None) is None:
                raise KeyboardInterrupt
            return rename(*paths)

        return renamed

    with monkeypatch.context() as patched:
        patched.setattr(os, "rename", until_the_plug_is_pulled(os.rename))
        with contextlib.suppress(KeyboardInterrupt):
            restore_backup(tmp_path / "old.zip", database=database, media=media, aside=tmp_path / "aside", known=KNOWN)
    if (tmp_path / MARKER).exists():
        finish_restore(tmp_path)
    assert notes(database) == ["blasted"]
    assert [path.name for path in (media / "photos").iterdir()] == ["flywheel.jpg"]
    assert notes(tmp_path / "aside" / database.name) == ["blasted", "later"]
    assert (tmp_path / "aside" / "media" / "photos" / "later.jpg").read_bytes() == b"later"
    assert not (tmp_path / UNPACKED).exists()
    assert not (tmp_path / MARKER).exists()


def test_a_folder_in_which_a_restore_was_broken_off_is_not_served(tmp_path, settings):
    settings.DATA = tmp_path
    (tmp_path / MARKER).touch()
    with pytest.raises(CommandError, match="restore --go-on"), data_folder():
        pass


def test_the_command_refuses_to_replace_without_being_told(tmp_path, settings, monkeypatch):
    if connection.vendor != "sqlite":
        pytest.skip("backup and restore keep the SQLite file")
    there = tmp_path / "fettlebook.sqlite3"
    there.touch()
    monkeypatch.setitem(settings.DATABASES["default"], "NAME", there)
    with pytest.raises(CommandError, match="say --yes"):
        call_command("restore", tmp_path / "any.zip")


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), sqlite3.OperationalError("disk is full")])
def test_a_backup_for_which_there_is_no_room_is_told_and_leaves_nothing(kept, tmp_path, settings, monkeypatch, fault):
    database, _ = kept
    monkeypatch.setattr("projects.management.commands.backup.database_file", lambda: database)
    settings.MEDIA_ROOT = tmp_path / "media"

    def full(*_, **__):
        raise fault

    monkeypatch.setattr(zipfile.ZipFile, "write", full)
    with pytest.raises(CommandError, match="could not be written: .*(No space|full)"):
        call_command("backup", str(tmp_path / "kept" / "monday.zip"))
    assert [*(tmp_path / "kept").iterdir()] == []


def test_beside_the_snapshot_lies_no_journal_that_a_full_disk_would_leave(kept, tmp_path, monkeypatch):
    database, media = kept
    seen = set()
    monkeypatch.setattr("projects.keeping.actions.backup_out.PAGES", 1)  # looked at while it is being copied

    def look(words, share):
        seen.update(path.name for path in (tmp_path / "kept").iterdir())

    write_backup(tmp_path / "kept" / "monday.zip", database=database, media=media, tell=look)
    assert seen == {"monday.zip.snapshot", "monday.zip.unfinished"}


def test_verify_reads_a_backup_whole_and_says_what_it_holds(kept, tmp_path, capsys):
    database, media = kept
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("CREATE TABLE projects_photo (image TEXT)")
        opened.execute("INSERT INTO projects_photo VALUES ('photos/flywheel.jpg'), ('photos/lost.jpg')")
        opened.execute("INSERT INTO finishing_workshop VALUES ('Hollowfield Works')")
        opened.commit()
    write_backup(tmp_path / "whole.zip", database=database, media=media)
    call_command("verify", tmp_path / "whole.zip")
    said = capsys.readouterr().out
    assert "Whole: Hollowfield Works.\n1 log entries, the newest entered 2026-05-12 07:20 UTC" in said
    assert "media/photos/lost.jpg" in said
    assert "flywheel" not in said


def test_verify_finds_a_single_changed_byte(kept, tmp_path):
    database, media = kept
    (media / "photos" / "flywheel.jpg").write_bytes(os.urandom(5000))
    write_backup(tmp_path / "whole.zip", database=database, media=media)
    bytes_ = bytearray((tmp_path / "whole.zip").read_bytes())
    bytes_[-2500] ^= 1
    (tmp_path / "changed.zip").write_bytes(bytes_)
    with pytest.raises(CommandError, match="cannot be put back. .*flywheel.jpg"):
        call_command("verify", tmp_path / "changed.zip")


def test_a_photo_folder_that_is_gone_stops_the_backup_so_that_it_takes_no_good_one_s_place(kept, tmp_path):
    database, media = kept
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("CREATE TABLE projects_photo (image TEXT)")
        opened.execute("INSERT INTO projects_photo VALUES ('photos/flywheel.jpg')")
        opened.commit()
    with pytest.raises(PhotosGone, match="names 1 files"):
        write_backup(tmp_path / "kept" / "a.zip", database=database, media=tmp_path / "unplugged")
    assert [*(tmp_path / "kept").iterdir()] == []


@pytest.mark.django_db
def test_files_that_no_row_names_are_moved_aside_and_no_others(tmp_path, settings, workshop):
    settings.MEDIA_ROOT = tmp_path / "media"
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    factories.photo_of(step, factories.grey_photo())
    stray = tmp_path / "media" / "photos" / "stray.jpg"
    stray.write_bytes(b"torn")
    now, to = timezone.now(), tmp_path / "unclaimed"
    assert move_unclaimed(to, now, alone=False) == 0  # another process may be about to name it
    assert move_unclaimed(to, now + timedelta(minutes=11), alone=False) == 1
    shutil.copy(to / "photos" / "stray.jpg", stray)
    assert move_unclaimed(to, now, alone=True) == 1
    assert (tmp_path / "unclaimed" / "photos" / "stray.jpg").read_bytes() == b"torn"
    assert len([path for path in (tmp_path / "media").rglob("*") if path.is_file()]) == 2
