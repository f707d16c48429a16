"""A table sent to be saved, and whether the site is well."""

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse

KINDS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def sent(data: bytes, name: str) -> HttpResponse:
    """`name` is of plain letters, and ends with its kind."""
    response = HttpResponse(data, content_type=KINDS[name.rpartition(".")[2]])
    response["Content-Disposition"] = f'attachment; filename="{name}"'
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
