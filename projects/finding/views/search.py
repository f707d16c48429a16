"""One box over everything in a workshop."""

from django.http import Http404, HttpResponse
from django.shortcuts import render

from finishing.site.searching import page_of
from finishing.workshops.access import WorkshopRequest, member
from projects.finding.domain import FoundRow, find, kinds_for

MOST_SIGNS = 100


@member("look")
def search(request: WorkshopRequest) -> HttpResponse:
    """The first of each kind; with `kind` all of that one, fifty a page."""
    text = request.GET.get("text", "").replace("\0", "")[:MOST_SIGNS].strip()
    asked = request.GET.get("kind", "")
    context = {"text": text}
    if not text:
        return render(request, "projects/finding/search/search.html", context)
    if not asked:
        groups = find(request.workshop, text, request.may)
        return render(request, "projects/finding/search/search.html", {**context, "groups": groups})
    kind = next((kind for kind in kinds_for(request.may) if kind.name == asked), None)
    if kind is None:
        raise Http404("Nothing of this kind is found here.")
    page = page_of(request, kind.found(request.workshop, text).distinct())
    rows = [FoundRow.of(kind, row) for row in page]
    return render(request, "projects/finding/search/kind.html", {**context, "kind": kind, "page": page, "rows": rows})
