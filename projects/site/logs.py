"""What the server says, one line of JSON each, for a program that collects it."""

import json
import logging
from datetime import UTC, datetime

from django.http import HttpRequest


class JsonLines(logging.Formatter):
    """at (UTC), level, logger, message; of a request its method, path and status; of an error its traceback."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        request = getattr(record, "request", None)
        if isinstance(request, HttpRequest):
            line |= {"method": request.method, "path": request.path}
        if status := getattr(record, "status_code", None):
            line["status"] = status
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)
