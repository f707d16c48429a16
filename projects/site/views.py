"""A table or a paper sent, whether the site is well, and a page of help for each of its sections."""

from django.db import DatabaseError, connection
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from projects.site.templatetags.sections import SECTIONS

KINDS = {
    "csv": "text/csv; charset=utf-8",
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def sent(data: bytes, name: str) -> HttpResponse:
    """`name` is of plain letters, and ends with its kind. A paper is shown, to be printed; tables are saved."""
    kind = name.rpartition(".")[2]
    response = HttpResponse(data, content_type=KINDS[kind])
    response["Content-Disposition"] = f'{"inline" if kind == "pdf" else "attachment"}; filename="{name}"'
    return response


def healthy(request: HttpRequest) -> HttpResponse:
    """For a proxy or a watcher: 200 where the database answers, else 503; and who is to make the backups."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return HttpResponse("the database does not answer", status=503, content_type="text/plain")
    backups = "made here" if connection.vendor == "sqlite" else "PostgreSQL's own, by pg_dump"
    return HttpResponse(f"well\nbackups: {backups}\n", content_type="text/plain", headers={"Cache-Control": "no-store"})


def help_page(request: HttpRequest, section: str) -> HttpResponse:
    """Nothing of any workshop stands on it, so anybody may read it."""
    words = {name: word for name, word, _ in SECTIONS}
    if section not in words:
        raise Http404(f"There is no help called {section}.")
    others = [(name, word) for name, word in words.items() if name != section]
    page = {"section": section, "word": words[section], "others": others}
    return render(request, "projects/site/help.html", page)
