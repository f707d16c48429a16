"""Quotes from a file in our own columns; the empty sheet for it."""

from collections.abc import Callable
from functools import partial
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.text import slugify

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions.quotes import take_quotes
from projects.buying.domain.comparison import to_be_bought
from projects.buying.domain.offers import rates_of
from projects.buying.exports.request_sheet import empty_sheet
from projects.buying.forms.quote_sheets import ImportForm, SheetForm
from projects.buying.imports.quotes_rows import Checked, Common, by_design, checked
from projects.buying.words import preview
from projects.record.models import Design, Supplier
from projects.site.exports import TableFormat
from projects.site.imports.tables import NotATable
from projects.site.views import sent


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The file is looked at, and then taken in whole or not at all."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = ImportForm(
        request.POST or None, request.FILES or None, workshop=request.workshop, today=timezone.localdate()
    )
    read = look_at(request, form, partial(_checked, design))
    if read and read.whole and "take" in request.POST:
        take(request, read)
        return redirect("quotes", design.pk)
    context = {"design": design, "form": form, "read": read, "currencies": _currencies(request.workshop)}
    context["preview"] = preview(read) if read else None
    return render(request, "projects/buying/quote_imports/new.html", context)


def _checked(design: Design, form: ImportForm) -> Checked:
    typed = form.cleaned_data
    common = Common(typed["supplier"], typed["quoted_on"], typed["number"])
    return checked(typed["bytes"], common, by_design(to_be_bought(design)), keyed=False)


def _currencies(workshop: Any) -> list[str]:
    """In which anybody is asked, our own first."""
    rows = Supplier.objects.of(workshop).filter(retired=False).exclude(currency="")
    foreign = sorted(set(rows.values_list("currency", flat=True)) & rates_of(workshop).keys())
    return [workshop.currency, *(one for one in foreign if one != workshop.currency)]


@member("plan")
def empty(request: WorkshopRequest, pk: UUID, form: TableFormat) -> HttpResponse:
    """All that may be bought, to be filled in; `currency` as asked, else our own."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    asked = request.GET.get("currency", "")
    currency = asked if asked in _currencies(request.workshop) else request.workshop.currency
    return sent(empty_sheet(design, currency, form), f"{slugify(design.name) or 'design'}-prices.{form}")


def look_at(request: WorkshopRequest, form: SheetForm, check: Callable[[Any], Checked]) -> Checked | None:
    """None: there is nothing to be looked at yet, or the form says why not."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        read = check(form)
    except NotATable as wrong:
        form.add_error("file", [str(error) for error in wrong.errors])
        return None
    if not read.quotes and not read.errors:
        form.add_error("file", "Nothing is filled in on this sheet.")
        return None
    return read


def take(request: WorkshopRequest, read: Checked) -> None:
    taken = len(take_quotes(read.quotes))
    if taken:
        messages.success(request, f"{taken} quote{'' if taken == 1 else 's'} taken in.")
    else:
        messages.info(request, "This sheet was taken in before; its quotes are there.")
