"""Files of photos and papers that no row names: a server was killed between a file and its row."""

import shutil
from datetime import datetime, timedelta
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.files.storage import FileSystemStorage, default_storage
from django.db.models import FileField

UNCLAIMED = "unclaimed"
YOUNG = timedelta(minutes=10)  # such a file may still be on its way to a row, where somebody serves


def move_unclaimed(to: Path, now: datetime, *, alone: bool) -> int:
    """Moved, not deleted: whoever has put another database in place by hand loses no picture. How many there were.

    alone: nobody serves, so that no file is on its way to a row.
    """
    media = Path(settings.MEDIA_ROOT)
    if not isinstance(default_storage, FileSystemStorage) or not media.is_dir():
        return 0
    claimed = {
        name
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, FileField)
        for name in model._base_manager.exclude(**{field.name: ""}).values_list(field.name, flat=True)
    }
    unclaimed = [
        path
        for path in media.rglob("*")
        if path.is_file()
        and path.relative_to(media).as_posix() not in claimed
        and (alone or now.timestamp() - path.stat().st_mtime > YOUNG.total_seconds())
    ]
    for path in unclaimed:
        target = to / path.relative_to(media)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.move(path, target)
    return len(unclaimed)
