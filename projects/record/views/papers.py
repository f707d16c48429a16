"""Drawings, models and suppliers' letters: for members of their workshop only, and to be saved, never shown."""

from uuid import UUID

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404

from finishing.workshops.access import WorkshopRequest, may, member
from projects.record.models import Quote, Revision, Tool

# kind: the rows, the column of the file, and the right that it takes
PAPERS = {
    "revision": (Revision, "drawing", "look"),
    "tool": (Tool, "drawing", "look"),
    "quote": (Quote, "file", "plan"),
}


@member("look")
def paper(request: WorkshopRequest, kind: str, pk: UUID) -> FileResponse:
    """As plain bytes to be saved: what somebody uploaded is never run or drawn by this site."""
    if kind not in PAPERS or not may(request, PAPERS[kind][2]):
        raise Http404("There is no such paper.")
    rows, column, _ = PAPERS[kind]
    row = get_object_or_404(rows.objects.of(request.workshop), pk=pk)
    kept, name = getattr(row, column), getattr(row, f"{column}_name")
    if not kept:
        raise Http404("There is no paper here.")
    try:
        response = FileResponse(
            kept.open("rb"), as_attachment=True, filename=name or kept.name, content_type="application/octet-stream"
        )
    except FileNotFoundError:
        raise Http404("The paper's file is not there.") from None
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
