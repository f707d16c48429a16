"""Systems: which layers go on a piece, in which order, and whether each may go over the one below."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from finishing.coatings.actions import systems as actions
from finishing.coatings.forms.systems import Plan
from finishing.coatings.models import System
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.copies import copy_id


@require_safe
@member("look")
def systems(request: WorkshopRequest) -> HttpResponse:
    rows = _with_layers(request)
    own = rows.filter(from_library=False)
    context = {
        "own": own.filter(retired=False),
        "retired": own.filter(retired=True),
        "library": rows.filter(from_library=True),
    }
    return render(request, "finishing/coatings/systems/systems.html", context)


@require_safe
@member("look")
def detail(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    system = get_object_or_404(_with_layers(request), pk=pk)
    return render(request, "finishing/coatings/systems/detail.html", {"system": system, "copy_id": uuid.uuid4()})


@require_http_methods(["GET", "POST"])
@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    return _plan(request, None)


@require_http_methods(["GET", "POST"])
@member("plan")
def edit(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    system = get_object_or_404(_with_layers(request), pk=pk)
    if system.from_library:
        messages.warning(request, "The starting library stays as it is. Copy this one and change the copy.")
        return redirect("system", pk)
    return _plan(request, system)


@require_POST
@member("plan")
def copy(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    made = actions.copy_system(get_object_or_404(_with_layers(request), pk=pk), pk=copy_id(request.POST))
    messages.success(request, "Copied. Now put your own tins into it.")
    return redirect("system-edit", made.pk)


def _plan(request: HttpRequest, system: System | None) -> HttpResponse:
    plan = Plan(request.POST or None, workshop=request.workshop, system=system)
    if plan.form.repeated:
        return redirect("system", plan.form.repeated.pk)
    if request.method == "POST" and plan.is_valid():
        try:
            saved = actions.save_system(plan.form.instance, plan.rows.in_order)
        except actions.LayerInUse as used:
            plan.form.add_error(None, f"“{used.layer}” is in the log of a piece, so it stays in this system.")
        else:
            messages.success(request, f"{saved.name} is kept.")
            return redirect("system", saved.pk)
    return render(request, "finishing/coatings/systems/edit.html", {"plan": plan, "form": plan.form, "system": system})


def _with_layers(request: WorkshopRequest) -> Any:
    return System.objects.of(request.workshop).prefetch_related("layers__coating")
