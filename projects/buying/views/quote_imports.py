"""Quotes from a file in our own columns; the empty sheet for it."""

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.models import Workshop
from projects.buying.actions.quotes import take_in_quotes
from projects.buying.domain.comparison import to_be_bought
from projects.buying.domain.offers import rates_of
from projects.buying.exports.request_sheet import empty_sheet
from projects.buying.forms.quote_sheets import FilledSheetForm, ImportForm
from projects.buying.imports.quotes_rows import CheckedSheet, SheetHead, Subject, by_design, checked
from projects.buying.words import preview
from projects.record.models import Design, Supplier
from projects.site.exports import TableFormat
from projects.site.imports.tables import NotATable
from projects.site.sheets import QuoteLine
from projects.site.views import sent


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The file is looked at, and then taken in whole or not at all."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = ImportForm(
        request.POST or None, request.FILES or None, workshop=request.workshop, today=timezone.localdate()
    )
    sheet = None
    if form.is_valid():
        head = SheetHead(form.cleaned_data["supplier"], form.cleaned_data["quoted_on"], form.cleaned_data["number"])
        sheet = look_at(form, head, by_design(to_be_bought(design)), keyed=False)
    if sheet and sheet.whole and "take" in request.POST:
        take_in(request, sheet)
        return redirect("quotes", design.pk)
    context = {
        "design": design,
        "form": form,
        "sheet": sheet,
        "preview": preview(sheet) if sheet else None,
        "currencies": _currencies(request.workshop),
    }
    return render(request, "projects/buying/quote_imports/new.html", context)


def look_at(
    form: FilledSheetForm, head: SheetHead, find: Callable[[QuoteLine], Subject], keyed: bool
) -> CheckedSheet | None:
    """None where there is nothing to be looked at; the form then says why."""
    try:
        sheet = checked(form.cleaned_data["bytes"], head, find, keyed)
    except NotATable as wrong:
        form.add_error("file", [str(error) for error in wrong.errors])
        return None
    if not sheet.quotes and not sheet.errors:
        form.add_error("file", "Nothing is filled in on this sheet.")
        return None
    return sheet


def take_in(request: WorkshopRequest, sheet: CheckedSheet) -> None:
    count = len(take_in_quotes(sheet.quotes))
    if count:
        messages.success(request, f"{count} quote{'' if count == 1 else 's'} taken in.")
    else:
        messages.info(request, "This sheet was taken in before; its quotes are there.")


def _currencies(workshop: Workshop) -> list[str]:
    """In which anybody is asked, our own first."""
    rows = Supplier.objects.of(workshop).filter(retired=False).exclude(currency="")
    foreign = set(rows.values_list("currency", flat=True)) & rates_of(workshop).keys()
    return [workshop.currency, *sorted(foreign - {workshop.currency})]


@member("plan")
def empty(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """All that may be bought, to be filled in; `currency` as asked, else our own."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    asked = request.GET.get("currency", "")
    currency = asked if asked in _currencies(request.workshop) else request.workshop.currency
    return sent(empty_sheet(design, currency, form), f"{slugify(design.name) or 'design'}-prices.{form}")
