"""Paint bought for a project: its receipts are noted, and taken back."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from finishing.workshops.access import WorkshopRequest, member
from projects.buying.actions import paint_receipts as actions
from projects.buying.forms.paint_receipts import PaintReceiptForm
from projects.buying.forms.receipts import VoidReceiptForm
from projects.record.models import PaintReceipt, Project


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    sent = request.POST if request.method == "POST" else None
    first = {"coating": request.GET.get("coating")}
    form = PaintReceiptForm(sent, workshop=request.workshop, project=project, today=timezone.localdate(), initial=first)
    if form.repeated:
        return redirect("paint-list", project.pk)
    if form.is_valid():
        form.instance.by = request.user
        messages.success(request, f"Noted: {form.save()}.")
        return redirect("paint-list", project.pk)
    context = {"form": form, "project": project}
    return render(request, "projects/buying/paint_receipts/new.html", context, status=422 if form.errors else 200)


@member("plan")
def void(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Taken back by a new entry, with the reason."""
    rows = PaintReceipt.objects.of(request.workshop).filter(voids=None).select_related("project", "coating")
    receipt = get_object_or_404(rows, pk=pk)
    form = VoidReceiptForm(request.POST or None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        actions.void_paint(receipt, by=request.user, reason=reason, day=timezone.localdate())
        return redirect("paint-list", receipt.project_id)
    return render(request, "projects/buying/paint_receipts/void.html", {"form": form, "receipt": receipt})
