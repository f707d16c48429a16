"""What is to come and what came, as it is looked at in the yard: counts, marks and reasons, no money."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import receipts as actions
from projects.buying.domain.arrivals import lines_to_come
from projects.buying.forms.receipts import ReceiptForm, RejectForm, VoidReceiptForm
from projects.record.models import OrderLine, Piece, Receipt


@member("log")
def to_come(request: WorkshopRequest) -> HttpResponse:
    lines = lines_to_come(request.workshop, timezone.localdate())
    return render(request, "projects/buying/receipts/to_come.html", {"lines": lines})


@member("log")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """What came of one line. With ?good=… marks are proposed for so many."""
    line = _line(request, pk)
    asked = request.GET.get("good", "")
    good = int(asked) if asked.isdecimal() and asked.isascii() and len(asked) < 7 else None
    sent = request.POST if request.method == "POST" else None
    form = ReceiptForm(sent, workshop=request.workshop, line=line, today=timezone.localdate(), good=good)
    if form.repeated:
        return redirect("receipt-new", line.pk)
    if form.is_valid():
        form.instance.by = request.user
        marks, which = form.cleaned_data.get("marks", ()), form.cleaned_data.get("which", ())
        receipt = actions.receive(form.instance, marks=marks, place=form.cleaned_data.get("place"), rejected=which)
        pieces = f" New pieces: {', '.join(marks)}." if marks else ""
        messages.success(request, f"Received: {receipt}.{pieces}")
        return redirect("receipt-new", line.pk)
    page = "projects/buying/receipts/new.html"
    context = {"line": line, "order": line.order, "form": form}
    return render(request, f"{page}#marks" if request.htmx and not form.is_bound else page, context)


@member("log")
def void(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Taken back by a new entry, with the reason."""
    rows = Receipt.objects.of(request.workshop).select_related("line__order", "line__operation__part")
    receipt = get_object_or_404(rows.filter(voids=None), pk=pk)
    form = VoidReceiptForm(request.POST or None)
    if form.is_valid():
        try:
            actions.void_receipt(receipt, by=request.user, reason=form.cleaned_data["reason"], day=timezone.localdate())
            return redirect("receipt-new", receipt.line_id)
        except actions.StillUsed as why:
            form.add_error(None, str(why))
    return render(
        request, "projects/buying/receipts/void.html", {"form": form, "receipt": receipt, "line": receipt.line}
    )


@member("log")
def reject(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A piece found bad later."""
    rows = Piece.objects.of(request.workshop).select_related("part", "project", "receipt__line", "counts_against")
    piece = get_object_or_404(rows, pk=pk)
    form = RejectForm(request.POST or None, workshop=request.workshop, piece=piece)
    if request.method == "POST" and piece.rejected_for:
        return redirect("piece", piece.pk)
    if form.is_valid():
        actions.reject_piece(
            piece,
            by=request.user,
            key=form.cleaned_data["key"] or uuid4(),
            why=form.cleaned_data["why"],
            note=form.cleaned_data["note"],
            counts_against=form.cleaned_data.get("counts_against"),
            now=timezone.now(),
        )
        messages.success(request, f"{piece.mark} is rejected and set aside.")
        return redirect("piece", piece.pk)
    return render(request, "projects/buying/receipts/reject.html", {"form": form, "piece": piece})


def _line(request: WorkshopRequest, pk: UUID) -> OrderLine:
    rows = OrderLine.objects.of(request.workshop).select_related(
        "order__supplier", "order__project__design", "order__goes_to", "operation__part", "revision"
    )
    return get_object_or_404(rows.prefetch_related("receipts__by", "receipts__pieces"), pk=pk)
