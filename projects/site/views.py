"""A table sent to be saved."""

from django.http import HttpResponse

KINDS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def sent(data: bytes, name: str) -> HttpResponse:
    """`name` is of plain letters, and ends with its kind."""
    response = HttpResponse(data, content_type=KINDS[name.rpartition(".")[2]])
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
