"""Many parts of a design changed at once: ticked, or all that a list shows."""

from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.buying.actions.routes import give_routes
from projects.proving.actions import change_parts
from projects.proving.domain.parts_change import PartsChange, change_of
from projects.proving.forms.parts_change import LIKE, PartsChangeForm
from projects.record.forms.designs import PartsFilter
from projects.record.models import Design, Part

MOST_NAMED = 50


@member("plan")
def change(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The address says which parts; a first button tells what would change, a second one changes it."""
    design = get_object_or_404(Design.objects.of(request.workshop), pk=pk)
    parts = _chosen(request, design)
    if not parts:
        messages.info(request, "Tick the parts first.")
        return redirect("design", design.pk)
    form = PartsChangeForm(request.POST or None, workshop=request.workshop, design=design)
    told: PartsChange | None = None
    if request.method == "POST" and form.is_valid():
        told = _told(form, parts)
        if "change" in request.POST:
            with transaction.atomic():
                change_parts(told.changed)
                give_routes(told.routes, form.cleaned_data["like"] if form.cleaned_data["route"] == LIKE else None)
            _say(request, told)
            return redirect("design", design.pk)
    context = {"design": design, "parts": parts, "form": form, "told": told, "most": MOST_NAMED}
    return render(request, "projects/proving/parts_change/change.html", context)


def _chosen(request: WorkshopRequest, design: Design) -> list[Part]:
    rows = design.parts.select_related("system").order_by("name")
    if "all" in request.GET:
        return list(PartsFilter(request.GET, workshop=request.workshop).narrowed(rows))
    ticked = filter(None, map(as_uuid, request.GET.getlist("part")))
    return list(rows.filter(pk__in=list(ticked)))


def _told(form: PartsChangeForm, parts: list[Part]) -> PartsChange:
    cleaned = form.cleaned_data
    return change_of(
        parts,
        form.asked,
        over_coats=cleaned["over_coats"],
        route=bool(cleaned["route"]),
        like=cleaned["like"] if cleaned["route"] == LIKE else None,
        anew=cleaned["anew"],
    )


def _say(request: WorkshopRequest, told: PartsChange) -> None:
    if told.parts:
        messages.success(request, f"{told.parts} part{'' if told.parts == 1 else 's'} changed.")
    else:
        messages.info(request, "Nothing was changed.")
    if told.stays:
        named = "; ".join(f"{part}: {why}" for part, why in told.stays[:5])
        more = f"; and {len(told.stays) - 5} more" if len(told.stays) > 5 else ""
        messages.warning(request, f"Left as it was: {named}{more}.")
