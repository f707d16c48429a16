"""A part: what is known of it, and the form that says so."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.proving.domain.development import Development, revision_records
from projects.proving.forms.parts import PartForm, SizeForm
from projects.record.domain.proved import Proof
from projects.record.models import Design, Part

LAST_PART = "last_part"  # in the session
PROPOSED = ("material", "system", "colour", "blasted", "profile", "lettering_coating", "lettering_colour")
PART_COLUMNS = ("material", "mass", "wall", "area")


@member("look")
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    part = _part(request, pk)
    context = {
        "part": part,
        "pieces": part.pieces.select_related("project", "revision"),
        "revisions": revision_records(part, Development(part.design), Proof(part.design)),
        "route": part.operations.order_by("position"),
    }
    return render(request, "projects/proving/parts/detail.html", context)


def _part(request: WorkshopRequest, pk: UUID) -> Part:
    rows = Part.objects.of(request.workshop).select_related("design", "system", "lettering_coating")
    return get_object_or_404(rows, pk=pk)


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    return _edit(request, design, None)


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    part = _part(request, pk)
    return _edit(request, part.design, part)


def _edit(request: WorkshopRequest, design: Design, part: Part | None) -> HttpResponse:
    form, size_form = _forms(request, part)
    if form.repeated:
        return redirect("part", form.repeated.pk)
    form.instance.design = design
    if form.is_valid() and size_form.is_valid():
        for column, value in size_form.values().items():
            setattr(form.instance, column, value)
        part = form.save()
        request.session[LAST_PART] = str(part.pk)
        if "another" in request.POST:
            messages.success(request, f"{part} is kept.")
            return redirect("part-new", design.pk)
        return redirect("part", part.pk)
    context = {"design": design, "part": part, "form": form, "size_form": size_form}
    template = "projects/proving/parts/edit.html"
    return render(request, f"{template}#size" if request.htmx else template, context)


def _forms(request: WorkshopRequest, part: Part | None) -> tuple[PartForm, SizeForm]:
    """`ask=measures` shows the boxes of another way to the area, `ask=area` works the area out; neither saves."""
    asked, typed = request.POST.get("ask"), request.POST.dict()
    kept = {name: getattr(part, name) for name in PART_COLUMNS} if part else {}
    proposed = {} if part or typed else _chosen_last(request)
    form = PartForm(
        None if asked else request.POST or None, workshop=request.workshop, instance=part, initial=typed or proposed
    )
    size_form = SizeForm(
        None if asked == "measures" else request.POST or None,
        workshop=request.workshop,
        part=part,
        initial=typed or kept or proposed,
    )
    return form, size_form


def _chosen_last(request: WorkshopRequest) -> dict[str, Any]:
    """What this person chose for the part kept last: parts of a machine are mostly finished alike."""
    rows = Part.objects.of(request.workshop)
    last = rows.filter(pk=pk).first() if (pk := as_uuid(request.session.get(LAST_PART))) else None
    return {name: getattr(last, name) for name in PROPOSED} if last else {}
