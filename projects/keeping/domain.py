"""The backups that lie in a folder: which there are, which of them are kept on, and whether one is wanting."""

import json
import re
from collections.abc import Collection, Iterable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.db.models import QuerySet

from finishing.workshops.models import Membership, User, Workshop
from projects.record.models import Step

DAILY, BEFORE_UPDATE, ASKED, BROUGHT = "daily", "before-update", "kept", "brought"
IN_WORDS = {
    DAILY: "made by itself",
    BEFORE_UPDATE: "made before an update",
    ASKED: "asked for",
    BROUGHT: "brought from elsewhere",
}
NAME = re.compile(rf"({'|'.join(IN_WORDS)})-(\d{{4}}-\d\d-\d\d-\d{{6}})\.zip")
STAMP = "%Y-%m-%d-%H%M%S"  # UTC
DAYS, WEEKS, MONTHS, UPDATES = 7, 4, 12, 3  # how many are kept on: common practice (grandfather, father, son)
A_DAY = timedelta(days=1)
LATE_AFTER = timedelta(hours=26)  # a daily one that fails is tried again before anybody is told
SILENT_AFTER = timedelta(minutes=10)  # longer than any single step of making one takes


@dataclass(frozen=True)
class BackupFile:
    path: Path
    why: str
    made_at: datetime

    @property
    def name(self) -> str:
        return self.path.stem

    @property
    def size(self) -> int:
        return self.path.stat().st_size

    @property
    def reason(self) -> str:
        return IN_WORDS[self.why]


def file_name(why: str, now: datetime) -> str:
    return f"{why}-{now.astimezone(UTC):{STAMP}}.zip"


def backups_in(folder: Path) -> list[BackupFile]:
    """The newest first. A file that has another name is nobody's to list or to drop."""
    named = [(path, NAME.fullmatch(path.name)) for path in (folder.iterdir() if folder.is_dir() else ())]
    rows = [
        BackupFile(path, match[1], datetime.strptime(match[2], STAMP).replace(tzinfo=UTC))
        for path, match in named
        if match
    ]
    return sorted(rows, key=lambda row: row.made_at, reverse=True)


def to_drop(backups: Iterable[BackupFile]) -> list[BackupFile]:
    """Those made by themselves that are the newest of none of the last days, weeks or months that have one, and all
    but the last few of those before an update. What a person asked for or brought stays until a person takes it away.
    """
    rows = sorted(backups, key=lambda row: row.made_at, reverse=True)
    daily = [row for row in rows if row.why == DAILY]
    kept: set[BackupFile] = {row for row in rows if row.why in (ASKED, BROUGHT)}
    kept |= set([row for row in rows if row.why == BEFORE_UPDATE][:UPDATES])
    for period, most in (("%Y-%m-%d", DAYS), ("%G-%V", WEEKS), ("%Y-%m", MONTHS)):
        newest: dict[str, BackupFile] = {}
        for row in daily:
            newest.setdefault(row.made_at.strftime(period), row)
        kept |= set(list(newest.values())[:most])
    return [row for row in rows if row not in kept]


def daily_due(folder: Path, now: datetime) -> bool:
    """Once a day; also where the clock was set back, which makes the last one lie in the future."""
    last = next((row.made_at for row in backups_in(folder) if row.why == DAILY), None)
    return last is None or not timedelta() <= now - last < A_DAY


def deleted_workshops_of(person: User) -> QuerySet[Workshop]:
    """Those that may still be put back, by one of their owners."""
    owned = Membership.with_deleted.filter(user=person, role=Membership.Role.OWNER, deleted_at=None)
    return Workshop.with_deleted.deleted().filter(pk__in=owned.values("workshop")).order_by("name")


@dataclass(frozen=True)
class Wanting:
    """Work that stands in no backup although there was time to make one; `newest` is None where there is none."""

    newest: datetime | None


def wanting(workshop: Workshop, folder: Path, now: datetime) -> Wanting | None:
    """Whether entries of more than a day ago came after the newest backup."""
    newest = next((row.made_at for row in backups_in(folder)), None)
    entered = Step.objects.of(workshop).filter(entered_at__lt=now - LATE_AFTER)
    after = entered.filter(entered_at__gt=newest) if newest else entered
    return Wanting(newest) if after.exists() else None


@dataclass(frozen=True)
class BackupProgress:
    """How far the work on a backup has come, in a small file beside them: whoever does it writes, any page reads.

    state: waiting, working, done or failed
    """

    state: str
    words: str
    share: float
    at: float  # seconds since 1970

    @property
    def percent(self) -> int:
        return round(100 * self.share)

    @property
    def open(self) -> bool:
        return self.state in ("waiting", "working")


PROGRESS = "progress.json"


def note_progress(folder: Path, progress: BackupProgress) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    beside = folder / f"{PROGRESS}.new"
    try:
        beside.write_text(json.dumps(asdict(progress)), encoding="utf-8")
        beside.replace(folder / PROGRESS)
    except OSError:  # a full disk: what is told of the work is less than the work
        beside.unlink(missing_ok=True)


def progress_of(folder: Path, now: datetime) -> BackupProgress | None:
    """None where nothing was done yet. What has been silent for long was broken off."""
    try:
        progress = BackupProgress(**json.loads((folder / PROGRESS).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None
    if progress.open and now.timestamp() - progress.at > SILENT_AFTER.total_seconds():
        return BackupProgress("failed", "It was broken off.", progress.share, progress.at)
    return progress


def left_over(folder: Path) -> Collection[Path]:
    """What a backup that was broken off has left."""
    return [*folder.glob("*.unfinished"), *folder.glob("*.snapshot*"), *folder.glob(f"{PROGRESS}.new")]
