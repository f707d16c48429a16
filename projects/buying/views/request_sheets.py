"""The sheet of a request as it goes to its supplier, and the filled one that comes back."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.domain.request_photos import with_photos
from projects.buying.exports.request_sheet import request_sheet
from projects.buying.forms.quote_sheets import AnswerForm
from projects.buying.imports.quotes_rows import SheetHead, by_request
from projects.buying.words import preview
from projects.record.models import QuoteRequest
from projects.site.exports import TableFormat
from projects.site.views import sent

from .quote_imports import look_at, take_in


@member("plan")
def sheet(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """On paper, with boxes to write into."""
    asked = get_object_or_404(QuoteRequest.objects.of(request.workshop).in_full(), pk=pk)
    context = {"asked": asked, "lines": with_photos(asked.lines_in_full)}
    return render(request, "projects/buying/request_sheets/sheet.html", context)


@member("plan")
def file(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    asked = get_object_or_404(QuoteRequest.objects.of(request.workshop).in_full(), pk=pk)
    name = f"{slugify(asked.supplier.name) or 'supplier'}-{asked.asked_on:%Y-%m-%d}.{form}"
    return sent(request_sheet(asked, form), name)


@member("plan")
def answer(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The filled sheet is looked at, and then taken in whole or not at all."""
    asked = get_object_or_404(QuoteRequest.objects.of(request.workshop).in_full(), pk=pk)
    form = AnswerForm(
        request.POST or None,
        request.FILES or None,
        workshop=request.workshop,
        supplier=asked.supplier,
        today=timezone.localdate(),
    )
    sheet = None
    if form.is_valid():
        head = SheetHead(asked.supplier, form.cleaned_data["quoted_on"], form.cleaned_data["number"], asked)
        sheet = look_at(form, head, by_request(asked), keyed=True)
    if sheet and sheet.whole and "take" in request.POST:
        take_in(request, sheet)
        return redirect("request", asked.pk)
    context = {
        "asked": asked,
        "design": asked.design,
        "form": form,
        "sheet": sheet,
        "preview": preview(sheet) if sheet else None,
    }
    return render(request, "projects/buying/request_sheets/answer.html", context)
