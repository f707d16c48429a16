"""What is in the tins: the starting library, and the workshop's own, copied from it or typed from a sheet."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from finishing.coatings.actions import coatings as actions
from finishing.coatings.forms.coatings import CoatingForm
from finishing.coatings.models import Coating, DryingPoint
from finishing.science import drying, film
from finishing.science.cautions import cautions_for
from finishing.science.drying import DryingStage
from finishing.science.units import Quantity
from finishing.science.working import Working
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid


@require_safe
@member("look")
def coatings(request: WorkshopRequest) -> HttpResponse:
    return render(request, "finishing/coatings/coatings.html", Coating.objects.of(request.workshop).shelves())


@require_safe
@member("look")
def detail(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    coating = get_object_or_404(
        Coating.objects.of(request.workshop).prefetch_related("additives__layers__system"), pk=pk
    )
    table = coating.drying_table()
    context = {
        "coating": coating,
        "bears_dew": BEARS_DEW[table.dew_safe_stage] if table else "",
        "dew_told": table is not None and table.gives(DryingStage.DEW_SAFE),
        "times_from": _times_from(table) if table else [],
        "copy_id": uuid.uuid4(),
        "asked_as": coating.library_key if coating.from_library else coating.pk,
        "cautions": cautions_for(coating.triggers),
        "workings": _workings(coating),
    }
    return render(request, "finishing/coatings/detail.html", context)


@require_http_methods(["GET", "POST"])
@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    return _kept_or_shown(request, None)


@require_http_methods(["GET", "POST"])
@member("plan")
def edit(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    coating = get_object_or_404(Coating.objects.of(request.workshop), pk=pk)
    if coating.from_library:
        messages.warning(request, "The starting library stays as it is. Copy this one and change the copy.")
        return redirect("coating", pk)
    return _kept_or_shown(request, coating)


@require_POST
@member("plan")
def copy(request: WorkshopRequest, pk: uuid.UUID) -> HttpResponse:
    coating = get_object_or_404(Coating.objects.of(request.workshop), pk=pk)
    made = actions.copy_coating(coating, pk=as_uuid(request.POST.get("id")) or uuid.uuid4())
    messages.success(request, "Copied. Now make it match the sheet of the tin in your hand.")
    return redirect("coating-edit", made.pk)


def _kept_or_shown(request: WorkshopRequest, coating: Coating | None) -> HttpResponse:
    form = CoatingForm(request.POST or None, workshop=request.workshop, instance=coating)
    if form.repeated:
        return redirect("coating", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        try:
            saved = actions.save_coating(
                form.instance,
                changed=form.changed_values,
                source=form.cleaned_data["source"],
                rows={name: [row.instance for row in rows.filled] for name, rows in form.tables.items()},
                pot_life=form.pot_life.pairs,
            )
        except actions.AdditiveInUse as used:
            system = used.layer.system
            form.add_error(None, f"“{used.additive}” is stirred into layer {used.layer.position} of {system}.")
        else:
            messages.success(request, f"{saved.name} is kept.")
            return redirect("coating", saved.pk)
    return render(request, "finishing/coatings/edit.html", {"form": form, "coating": coating})


BEARS_DEW = {
    DryingStage.DEW_SAFE: "its sheet says, see the table",
    DryingStage.TOUCH: "it is touch-dry",
    DryingStage.HANDLE: "it may be handled",
    DryingStage.CLOSED_UNTIL: "its closed zone is over",
    DryingStage.RECOAT_FROM: "the next coat may go on",
}


def _times_from(table: drying.DryingTable) -> list[tuple[str, list[tuple[str, list[str]]]]]:
    """By column of the table: each source with the temperatures (°C) at which it gives the time."""
    told, names = [], {column.name: str(column.verbose_name) for column in DryingPoint._meta.concrete_fields}
    for stage in filter(table.gives, DryingStage):
        rows = [point for point in table.points if point.hours(stage) is not None]
        sources: dict[str, list[str]] = {}
        for point in rows:
            sources.setdefault(table.source(stage, point), []).append(f"{point.temperature:g}")
        told.append((names[stage], list(sources.items())))
    return told


def _workings(coating: Coating) -> list[Working]:
    """Of one coat as the sheet has it, dried at 20 °C."""
    coat = coating.dry_film, coating.volume_solids, coating.thinning
    made = [film.wet_film_working(*coat), film.spreading_rate_working(coating.volume_solids, coating.dry_film)]
    table = coating.drying_table()
    if table is None:
        return made
    air = Quantity(20, "degC"), coating.sheet_humidity
    return made + [drying.drying_working(table, stage, *air) for stage in drying.DryingStage if table.gives(stage)]
