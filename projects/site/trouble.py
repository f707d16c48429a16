"""What the computer below cannot do just now is told in words, with what to do about it: nothing was entered."""

import errno
import sqlite3
import sys
from pathlib import Path

from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.views import defaults

LOCKED = "The log is busy with something else. Nothing was entered by this tap; try again in a moment."
FULL = (
    "The disk of the server is full. Nothing was entered by this tap; what is there can still be read. Make room on it."
)
READ_ONLY = "The server may not write into its folder. Nothing was entered by this tap; whoever runs it must mend that."
NOT_THERE = "The database does not answer. Nothing was entered by this tap; whoever runs the server must look at it."
NO_FILES = "The folder of photos and papers is not there. Nothing was entered by this tap; is its disk plugged in?"
WORDS_OF_SQLITE = {
    "locked": LOCKED,
    "busy": LOCKED,
    "disk is full": FULL,
    "readonly": READ_ONLY,
    "disk I/O": NOT_THERE,
    "unable to open": NOT_THERE,
}
NUMBERS = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EIO: NO_FILES,
}
GONE = {errno.ENOENT, errno.ENOTDIR, errno.EEXIST}


def server_error(request: HttpRequest) -> HttpResponse:
    """Django calls this while it handles what went wrong."""
    error = sys.exception()
    words = trouble_of(error) if error else None
    if words is None:
        return defaults.server_error(request)
    page = render_to_string("503.html", {"words": words})
    return HttpResponse(page, status=503, headers={"Retry-After": "10", "Cache-Control": "no-store"})


def trouble_of(error: BaseException) -> str | None:
    """What is wrong with disk or database, in words; None where the fault is another."""
    if isinstance(error, OperationalError | InterfaceError):
        other = None if isinstance(error.__cause__, sqlite3.Error) else NOT_THERE
        return next((words for part, words in WORDS_OF_SQLITE.items() if part in str(error)), other)
    if isinstance(error, OSError) and not isinstance(error, ConnectionError):
        gone = error.errno in GONE and not Path(settings.MEDIA_ROOT).is_dir()
        return NO_FILES if gone else NUMBERS.get(error.errno or 0)
    return None
