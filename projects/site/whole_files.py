"""Photos and papers in a folder: each is there whole, and on the disk before anybody is told that it is kept."""

import os
import sys
from pathlib import Path

from django.core.files.base import File
from django.core.files.storage import FileSystemStorage


class WholeFiles(FileSystemStorage):
    """A disk that fills up in the middle of a file leaves none; a plug that is pulled takes none that is kept."""

    def _save(self, name: str, content: "File[bytes]") -> str:
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
