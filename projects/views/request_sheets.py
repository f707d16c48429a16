"""The sheet of a request, as it goes to its supplier."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from finishing.access import member
from projects.models import QuoteRequest, RequestLine
from projects.models.request_photos import latest_photos

from .requests import find


@member("plan")
def sheet(request: Any, pk: Any) -> HttpResponse:
    """On paper, with boxes to write into."""
    asked = find(request, pk)
    context = {"asked": asked, "lines": list(_with_photos(asked))}
    return render(request, "projects/request_sheets/sheet.html", context)


def _with_photos(asked: QuoteRequest) -> list[tuple[RequestLine, Any]]:
    """Each line, with a photo of its part where there is no drawing."""
    without = {line.operation.part_id for line in asked.lines_in_full if not (line.revision and line.revision.drawing)}
    photos = latest_photos(without - {None})
    return [(line, photos.get(line.operation.part_id)) for line in asked.lines_in_full]
