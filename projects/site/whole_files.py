"""Photos and papers in a folder: each is there whole, and on the disk before anybody is told that it is kept."""

import errno
import os
import sys
from pathlib import Path
from typing import Any

from django.core.files.base import File
from django.core.files.storage import FileSystemStorage


class WholeFiles(FileSystemStorage):
    """A disk that fills up in the middle of a file leaves none; a plug that is pulled takes none that is kept. The
    folder is made for the first file; one that was there and is gone is not made anew on the disk beneath it."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.once_there: set[str | os.PathLike[str]] = set()

    def _save(self, name: str, content: "File[bytes]") -> str:
        if self.location in self.once_there and not Path(self.location).is_dir():
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), self.location)
        try:
            kept: str = super()._save(name, content)  # type: ignore[misc]  # the stubs do not have it
        except OSError:
            self._drop_unfinished(Path(self.path(name)), content.size)
            raise
        try:
            _onto_disk(Path(self.path(kept)))
        except OSError:
            self.delete(kept)
            raise
        self.once_there.add(self.location)
        return kept

    def _drop_unfinished(self, there: Path, size: int) -> None:
        """A whole one of that name is another's, who was quicker."""
        if there.is_file() and there.stat().st_size < size:
            there.unlink()


def _onto_disk(file: Path) -> None:
    """The file, and its name in its folder; Windows keeps the names by itself."""
    for path in (file, file.parent) if sys.platform != "win32" else ():
        opened = os.open(path, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
