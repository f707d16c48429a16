"""The sheet of a request as it goes to its supplier, and the filled one that comes back."""

from functools import partial
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.domain.request_photos import latest_photos
from projects.buying.exports.request_sheet import request_sheet
from projects.buying.forms.quote_sheets import AnswerForm
from projects.buying.imports.quotes_rows import Common, by_request, checked
from projects.buying.words import preview
from projects.record.models import QuoteRequest, RequestLine
from projects.site.exports import TableFormat
from projects.site.views import sent

from .quote_imports import look_at, take
from .requests import find


@member("plan")
def sheet(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """On paper, with boxes to write into."""
    asked = find(request, pk)
    context = {"asked": asked, "lines": list(_with_photos(asked))}
    return render(request, "projects/buying/request_sheets/sheet.html", context)


def _with_photos(asked: QuoteRequest) -> list[tuple[RequestLine, Any]]:
    """Each line, with a photo of its part where there is no drawing."""
    without = {line.operation.part_id for line in asked.lines_in_full if not (line.revision and line.revision.drawing)}
    photos = latest_photos(without - {None})
    return [(line, photos.get(line.operation.part_id)) for line in asked.lines_in_full]


@member("plan")
def file(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    asked = find(request, pk)
    name = f"{slugify(asked.supplier.name) or 'supplier'}-{asked.asked_on:%Y-%m-%d}.{form}"
    return sent(request_sheet(asked, form), name)


@member("plan")
def answer(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The filled sheet is looked at, and then taken in whole or not at all."""
    asked = find(request, pk)
    form = AnswerForm(
        request.POST or None,
        request.FILES or None,
        workshop=request.workshop,
        supplier=asked.supplier,
        today=timezone.localdate(),
    )
    read = look_at(request, form, partial(_checked, asked))
    if read and read.whole and "take" in request.POST:
        take(request, read)
        return redirect("request", asked.pk)
    context = {"asked": asked, "design": asked.design, "form": form, "read": read}
    context["preview"] = preview(read) if read else None
    return render(request, "projects/buying/request_sheets/answer.html", context)


def _checked(asked: QuoteRequest, form: AnswerForm) -> Any:
    typed = form.cleaned_data
    common = Common(asked.supplier, typed["quoted_on"], typed["number"], asked)
    return checked(typed["bytes"], common, by_request(asked), keyed=True)
