"""Designs, each with its parts."""

from uuid import UUID

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from finishing.site.searching import page_of
from finishing.workshops.access import WorkshopRequest, member
from projects.record.actions.designs import copy_design
from projects.record.forms.designs import CopyForm, DesignForm, PartsFilter
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
    """Fifty parts a page, narrowed by what the address asks."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    made = Count("pieces", filter=Q(pieces__set_aside=False, pieces__project__deleted_at=None))
    parts = design.parts.select_related("system", "lettering_coating").annotate(piece_count=made).order_by("name")
    shown = PartsFilter(request.GET, workshop=request.workshop)
    context = {
        "design": design,
        "filter": shown,
        "page": page_of(request, shown.narrowed(parts)),
        "projects": design.projects.all(),
    }
    return render(request, "projects/record/designs/detail.html", context)


@member("plan")
def copy(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A new project of the same parts, systems and routes."""
    design = get_object_or_404(Design.objects.of(request.workshop).select_related("workshop"), pk=pk)
    form = CopyForm(request.POST or None, workshop=request.workshop)
    if form.repeated:
        return redirect("project", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        project = copy_design(design, form.instance)
        messages.success(request, f"{project} has the parts, systems and routes of {design}, and no piece yet.")
        return redirect("project", project.pk)
    return render(request, "projects/record/designs/copy.html", {"form": form, "design": design})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    form = DesignForm(request.POST or None, workshop=request.workshop, instance=design)
    if request.method == "POST" and form.is_valid():
        return redirect("design", form.save().pk)
    return render(request, "projects/record/designs/edit.html", {"form": form, "design": design})
