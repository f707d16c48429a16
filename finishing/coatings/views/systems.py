"""Systems: which layers go on a piece, in which order, and whether each may go over the one below."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from finishing.coatings.actions import systems as actions
from finishing.coatings.forms.systems import SystemForm
from finishing.coatings.models import System
from finishing.science.cautions import cautions_for
from finishing.site.models import LibraryQuerySet
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid


@require_safe
@member("look")
def systems(request: WorkshopRequest) -> HttpResponse:
    return render(request, "finishing/coatings/systems/systems.html", _with_layers(request).shelves())


@require_safe
@member("look")
def detail(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    system = get_object_or_404(_with_layers(request), pk=pk)
    cautions = cautions_for(trigger for coat in system.coats if coat.coating for trigger in coat.coating.triggers)
    context = {"system": system, "copy_id": uuid.uuid4(), "cautions": cautions}
    return render(request, "finishing/coatings/systems/detail.html", context)


@require_http_methods(["GET", "POST"])
@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    return _kept_or_shown(request, None)


@require_http_methods(["GET", "POST"])
@member("plan")
def edit(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    system = get_object_or_404(_with_layers(request), pk=pk)
    if system.from_library:
        messages.warning(request, "The starting library stays as it is. Copy this one and change the copy.")
        return redirect("system", pk)
    return _kept_or_shown(request, system)


@require_POST
@member("plan")
def copy(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    system = get_object_or_404(_with_layers(request), pk=pk)
    made = actions.copy_system(system, pk=as_uuid(request.POST.get("id")) or uuid.uuid4())
    messages.success(request, "Copied. Now put your own tins into it.")
    return redirect("system-edit", made.pk)


def _kept_or_shown(request: WorkshopRequest, system: System | None) -> HttpResponse:
    form = SystemForm(request.POST or None, workshop=request.workshop, instance=system)
    if form.repeated:
        return redirect("system", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        try:
            saved = actions.save_system(form.instance, form.layers.in_order)
        except actions.LayerInUse as used:
            form.add_error(None, f"“{used.layer}” is in the log of a piece, so it stays in this system.")
        else:
            messages.success(request, f"{saved.name} is kept.")
            return redirect("system", saved.pk)
    return render(request, "finishing/coatings/systems/edit.html", {"form": form, "system": system})


def _with_layers(request: WorkshopRequest) -> LibraryQuerySet[System]:
    return System.objects.of(request.workshop).prefetch_related("layers__coating", "layers__additives")
