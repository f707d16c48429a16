"""Who wants a machine of a design: enquiries, what they would bear, stages paid, how it leaves."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.costs.actions import buyers as actions
from projects.costs.domain.buyer_book import BuyerBook, MachineMass
from projects.costs.forms.buyers import BuyerForm, PaidForm, StageForm
from projects.record.models import Buyer, Design, StagePayment


@member("plan")
def buyers(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    return render(request, "projects/costs/buyers/buyers.html", {"design": design, "book": BuyerBook.of(design)})


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = BuyerForm(request.POST or None, workshop=request.workshop, design=design, today=timezone.localdate())
    if form.repeated:
        return redirect("buyer", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        return redirect("buyer", form.save().pk)
    return render(request, "projects/costs/buyers/edit.html", {"design": design, "form": form})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    buyer = _buyer(request, pk)
    form = BuyerForm(
        request.POST or None,
        instance=buyer,
        workshop=request.workshop,
        design=buyer.design,
        today=timezone.localdate(),
    )
    if request.method == "POST" and form.is_valid():
        return redirect("buyer", form.save().pk)
    context = {"design": buyer.design, "form": form, "buyer": _buyer(request, pk)}
    return render(request, "projects/costs/buyers/edit.html", context)


@member("plan")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    buyer, today = _buyer(request, pk), timezone.localdate()
    context = {
        "buyer": buyer,
        "design": buyer.design,
        "stages": [(stage, stage.overdue_on(today)) for stage in buyer.stages],
        "form": StageForm(workshop=request.workshop, buyer=buyer, today=today),
        "mass": MachineMass.of(buyer.design),
        "owed_to_them": -buyer.owed,
    }
    return render(request, "projects/costs/buyers/detail.html", context)


@member("plan")
def stage(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One more stage of the price."""
    buyer = _buyer(request, pk)
    form = StageForm(request.POST or None, workshop=request.workshop, buyer=buyer, today=timezone.localdate())
    if form.repeated:
        return redirect("buyer", buyer.pk)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("buyer", buyer.pk)
    return render(request, "projects/costs/buyers/stage.html", {"form": form, "buyer": buyer})


@member("plan")
def paid(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A stage is paid; with `not` it was not after all."""
    row = _stage(request, pk)
    if request.method == "POST" and "not" in request.POST:
        actions.note_paid(row, None)
        return redirect("buyer", row.buyer_id)
    form = PaidForm(request.POST or None, workshop=request.workshop, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        actions.note_paid(row, form.cleaned_data["paid_on"])
        return redirect("buyer", row.buyer_id)
    return render(request, "projects/costs/buyers/paid.html", {"form": form, "stage": row})


@member("plan")
@require_POST
def remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = _stage(request, pk)
    try:
        actions.remove_stage(row)
    except actions.IsPaid as why:
        messages.error(request, str(why))
    return redirect("buyer", row.buyer_id)


def _buyer(request: WorkshopRequest, pk: UUID) -> Buyer:
    rows = Buyer.objects.of(request.workshop).select_related("design__workshop", "machine__project")
    return get_object_or_404(rows.prefetch_related("payments"), pk=pk)


def _stage(request: WorkshopRequest, pk: UUID) -> StagePayment:
    return get_object_or_404(StagePayment.objects.of(request.workshop).select_related("buyer"), pk=pk)
