"""Designs, each with its parts."""

from uuid import UUID

from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from finishing.workshops.access import WorkshopRequest, member
from projects.record.forms.designs import DesignForm
from projects.record.models import Design


@member("look")
def designs(request: WorkshopRequest) -> HttpResponse:
    rows = (
        Design.objects.of(request.workshop)
        .filter(hidden=False)
        .annotate(part_count=Count("parts", distinct=True), project_count=Count("projects", distinct=True))
        .order_by("name")
    )
    return render(request, "projects/record/designs/designs.html", {"designs": rows})


@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    form = DesignForm(request.POST or None, workshop=request.workshop)
    if form.repeated:
        return redirect("design", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        return redirect("design", form.save().pk)
    return render(request, "projects/record/designs/edit.html", {"form": form})


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    made = Count("pieces", filter=Q(pieces__set_aside=False, pieces__project__deleted_at=None))
    parts = design.parts.select_related("system", "lettering_coating").annotate(piece_count=made).order_by("name")
    context = {"design": design, "parts": parts, "projects": design.projects.all()}
    return render(request, "projects/record/designs/detail.html", context)


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = DesignForm(request.POST or None, workshop=request.workshop, instance=design)
    if request.method == "POST" and form.is_valid():
        return redirect("design", form.save().pk)
    return render(request, "projects/record/designs/edit.html", {"form": form, "design": design})
