"""What goes into the blasting pot: the starting library, and the workshop's own, copied from it or typed from a bag."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from finishing.media import actions
from finishing.media.forms import MediumForm
from finishing.media.models import Medium
from finishing.science import blasting, grit
from finishing.science.cautions import cautions_for
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid

SHOWN_STATES = ("plain rust", "thick old paint")


@require_safe
@member("look")
def media(request: WorkshopRequest) -> HttpResponse:
    return render(request, "finishing/media/media.html", Medium.objects.of(request.workshop).shelves())


@require_safe
@member("look")
def detail(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    medium = get_object_or_404(Medium.objects.of(request.workshop), pk=pk)
    own = blasting.triggers_of(medium.kind)
    context = {
        "medium": medium,
        "copy_id": uuid.uuid4(),
        "asked_as": medium.library_key if medium.from_library else medium.pk,
        "fits": [_on(metal, medium) for metal in grit.ADVICE],
        "rinse": grit.RINSE if "wet stripping" in own else "",
        "cautions": cautions_for(["blasting", "breathing air", "blast hose and pot", "noise", "static", *own]),
    }
    return render(request, "finishing/media/detail.html", context)


@require_http_methods(["GET", "POST"])
@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    return _kept_or_shown(request, None)


@require_http_methods(["GET", "POST"])
@member("plan")
def edit(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    medium = get_object_or_404(Medium.objects.of(request.workshop), pk=pk)
    if medium.from_library:
        messages.warning(request, "The starting library stays as it is. Copy this one and change the copy.")
        return redirect("medium", pk)
    return _kept_or_shown(request, medium)


@require_POST
@member("plan")
def copy(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    medium = get_object_or_404(Medium.objects.of(request.workshop), pk=pk)
    made = actions.copy_medium(medium, pk=as_uuid(request.POST.get("id")) or uuid.uuid4())
    messages.success(request, "Copied. Now make it match the sheet of the bag in your hand.")
    return redirect("medium-edit", made.pk)


def _kept_or_shown(request: WorkshopRequest, medium: Medium | None) -> HttpResponse:
    form = MediumForm(request.POST or None, workshop=request.workshop, instance=medium)
    if form.repeated:
        return redirect("medium", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        saved = actions.save_medium(form.instance, changed=form.changed_values, source=form.cleaned_data["source"])
        messages.success(request, f"{saved.name} is kept.")
        return redirect("medium", saved.pk)
    return render(request, "finishing/media/edit.html", {"form": form, "medium": medium})


def _on(metal: str, medium: Medium) -> dict[str, Any]:
    """What it does on one metal, and the pressures there."""
    start, most = grit.pressures(metal, SHOWN_STATES[0])
    fits = {state: medium.fit(metal, state) for state in SHOWN_STATES}
    alike = len(set(fits.values())) == 1
    return {"metal": metal, "fits": fits, "alike": alike, "start": start, "most": most}
