"""Years of weather: what is here, ten past ones fetched one by one, typical ones handed in as files."""

import math
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.air.actions import years as actions
from finishing.air.forms.years import TypicalYearForm
from finishing.air.models import YearOfWeather
from finishing.weather import open_meteo
from finishing.weather.typical_year import TypicalYearUnreadable
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.models import Workshop

EARTH = 6371.0  # km
FAR = 50.0  # km, from which a typical year's place is told to be another one


@dataclass(frozen=True)
class TypicalRow:
    row: YearOfWeather
    away: float  # km from the workshop

    @property
    def far(self) -> bool:
        return self.away > FAR


@member()
def years(request: WorkshopRequest) -> HttpResponse:
    rows = YearOfWeather.objects.of(request.workshop).defer("hours")
    context = {
        "progress": actions.progress(request.workshop, timezone.now()),
        "past": rows.past().here(request.workshop),
        "typical": [TypicalRow(row, _away(row, request.workshop)) for row in rows.typical()],
        **_service(request.workshop),
    }
    return render(request, "finishing/air/years/years.html", context)


def _service(workshop: Workshop) -> dict[str, Any]:
    return {
        "service": open_meteo,
        "served": workshop.weather_service != Workshop.WeatherService.NONE,
        "invented": workshop.weather_service == Workshop.WeatherService.INVENTED,
        "workshop_has_key": bool(workshop.weather_key),
    }


def _away(row: YearOfWeather, workshop: Workshop) -> float:
    """Kilometres along the ground, by the haversine."""
    here, there = math.radians(workshop.latitude), math.radians(row.latitude)
    across = math.radians(row.longitude - workshop.longitude)
    half = math.sin((there - here) / 2) ** 2 + math.cos(here) * math.cos(there) * math.sin(across / 2) ** 2
    return 2 * EARTH * math.asin(math.sqrt(half))


@require_POST
@member("plan")
def fetch(request: WorkshopRequest) -> HttpResponse:
    """One year; the page asks again once it is shown, so that years come while somebody does something else."""
    progress = actions.fetch_next_year(request.workshop, timezone.now())
    if request.htmx:
        past = YearOfWeather.objects.of(request.workshop).past().here(request.workshop).defer("hours")
        context = {"progress": progress, "past": past, "going": True, **_service(request.workshop)}
        return render(request, "finishing/air/years/years.html#past-years", context)
    if progress.trouble:
        messages.error(request, progress.trouble)
    return redirect("years")


@member("plan")
def add_typical(request: WorkshopRequest) -> HttpResponse:
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = TypicalYearForm(*sent, workshop=request.workshop)
    if form.repeated or (form.is_valid() and _kept(request, form)):
        return redirect("years")
    return render(request, "finishing/air/years/add_typical.html", {"form": form})


def _kept(request: WorkshopRequest, form: TypicalYearForm) -> bool:
    try:
        actions.keep_typical_year(form.instance, form.cleaned_data["file"].read(), timezone.now())
    except TypicalYearUnreadable as unreadable:
        form.add_error("file", str(unreadable))
        return False
    messages.success(request, f"{form.instance} is kept.")
    return True


@require_POST
@member("plan")
def remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = get_object_or_404(YearOfWeather.objects.of(request.workshop).defer("hours"), pk=pk)
    row.delete()
    messages.success(request, f"{row} is taken out.")
    return redirect("years")
