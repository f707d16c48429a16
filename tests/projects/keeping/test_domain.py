"""Which backups are kept on, when one is due, and when work stands in none."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from projects.keeping.domain import (
    ASKED,
    BEFORE_UPDATE,
    DAILY,
    BackupProgress,
    backups_in,
    daily_due,
    file_name,
    note_progress,
    progress_of,
    to_drop,
    wanting,
)
from tests import factories

NOW = datetime(2026, 5, 12, 7, 20, tzinfo=UTC)


def kept_after(folder, days):
    """The days of the daily backups that are left after so many days of one each, and of dropping each day."""
    for day in range(days):
        (folder / file_name(DAILY, NOW + timedelta(days=day))).touch()
        for old in to_drop(backups_in(folder)):
            old.path.unlink()
    return [row.made_at.date() for row in backups_in(folder)]


def test_of_two_years_of_days_seven_days_four_weeks_and_twelve_months_are_kept(tmp_path):
    """Grandfather, father and son: no more than 7 + 4 + 12 files, and each reaches as far back as it says."""
    left = kept_after(tmp_path, 730)
    last = (NOW + timedelta(days=729)).date()
    assert left[:7] == [last - timedelta(days=day) for day in range(7)]
    assert len({day.isocalendar()[:2] for day in left if (last - day).days < 28}) == 4
    months = sorted({(day.year, day.month) for day in left}, reverse=True)
    assert len(months) == 12
    assert len(left) <= 7 + 4 + 12
    assert [day for day in left if (last - day).days > 35] == [
        (datetime(year, month, 28) + timedelta(days=4)).replace(day=1).date() - timedelta(days=1)
        for year, month in months[2:]
    ]  # of each older month its last day


def test_what_a_person_asked_for_stays_and_of_those_before_updates_the_last_three(tmp_path):
    for day in range(40):
        for why in (ASKED, BEFORE_UPDATE):
            (tmp_path / file_name(why, NOW + timedelta(days=day))).touch()
    (tmp_path / "own notes.zip").touch()
    dropped = to_drop(backups_in(tmp_path))
    assert {row.why for row in dropped} == {BEFORE_UPDATE}
    assert len(dropped) == 37
    assert max(row.made_at for row in dropped) == NOW + timedelta(days=36)


def test_one_is_due_a_day_after_the_last_and_when_the_clock_was_set_back(tmp_path):
    assert daily_due(tmp_path / "not there", NOW)
    (tmp_path / file_name(DAILY, NOW)).touch()
    assert not daily_due(tmp_path, NOW + timedelta(hours=23))
    assert daily_due(tmp_path, NOW + timedelta(hours=24))
    assert daily_due(tmp_path, NOW - timedelta(hours=2))


@pytest.mark.django_db
def test_work_is_wanting_once_a_day_has_passed_without_a_backup(tmp_path, workshop):
    with time_machine.travel(NOW, tick=False):
        factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    assert wanting(workshop, tmp_path, NOW + timedelta(hours=25)) is None
    assert wanting(workshop, tmp_path, NOW + timedelta(hours=27)).newest is None
    (tmp_path / file_name(DAILY, NOW - timedelta(days=1))).touch()
    assert wanting(workshop, tmp_path, NOW + timedelta(hours=27)).newest == NOW - timedelta(days=1)
    (tmp_path / file_name(DAILY, NOW + timedelta(hours=1))).touch()
    assert wanting(workshop, tmp_path, NOW + timedelta(days=300)) is None


def test_progress_that_has_gone_silent_was_broken_off(tmp_path):
    assert progress_of(tmp_path, NOW) is None
    note_progress(tmp_path / "new", BackupProgress("working", "Packing", 0.5, NOW.timestamp()))
    assert progress_of(tmp_path / "new", NOW + timedelta(minutes=1)).percent == 50
    assert progress_of(tmp_path / "new", NOW + timedelta(minutes=11)).state == "failed"
    (tmp_path / "new" / "progress.json").write_text("{torn")
    assert progress_of(tmp_path / "new", NOW) is None
