"""The colour sheet at its secret address: candidates side by side, and room for an answer; no money and no names."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from finishing.workshops.access import VisitorRequest, by_address
from projects.lettering.forms import ReplyForm
from projects.lettering.views.try_outs import as_jpeg, shown_candidates
from projects.record.models import SheetAddress


@require_http_methods(["GET", "HEAD", "POST"])
@by_address(SheetAddress)
def sheet(request: VisitorRequest, row: SheetAddress) -> HttpResponse:
    try_out, workshop = row.try_out, row.workshop
    form = ReplyForm(request.POST or None, workshop=workshop, try_out=try_out)
    if form.repeated:
        return redirect("colour-sheet", row.token)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect(f"{request.path}?noted=yes")
    context = {
        "part": try_out.part,
        "workshop": workshop,
        "token": row.token,
        "candidates": shown_candidates(try_out),
        "form": form,
        "noted": "noted" in request.GET,
        "measures": workshop.units,
    }
    return render(request, "projects/lettering/sheets/sheet.html", context)


@require_safe
@by_address(SheetAddress)
def sheet_picture(request: VisitorRequest, row: SheetAddress, pk: UUID) -> HttpResponse:
    candidate = get_object_or_404(row.try_out.candidates.select_related("try_out__photo"), pk=pk)
    return as_jpeg(candidate.try_out, candidate, "private, no-store")
