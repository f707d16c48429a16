"""The air: what was read and what is foretold, a reading typed, a logger's file taken in."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRefresh

from finishing.air.actions import weather
from finishing.air.domain.freshness import freshness
from finishing.air.domain.outside_air import WorkshopAir
from finishing.air.forms.weather import LoggerForm, ReadingForm
from finishing.air.models import Reading
from finishing.science.air import dew_point, dew_point_working, margin_working
from finishing.science.hours import HOUR, utc
from finishing.science.working import Working
from finishing.site.pictures.charts import Hour, air_at, chart, days
from finishing.weather.logger import LoggerUnreadable
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from finishing.workshops.models import Place
from finishing.workshops.models.workshops import time_zones

LOOK_BACK = timedelta(hours=6)
SOON, AHEAD = 48, 9 * 24  # hours
LATEST, A_PAGE, LISTED = 8, 50, 2000


@dataclass(frozen=True)
class PlaceAir:
    """The air at one place: as it was last read, and as it is reckoned for now."""

    place: Place
    reading: Reading | None
    fresh: bool
    workings: list[Working]
    reckoned: Hour


@member()
def outlook(request: WorkshopRequest) -> HttpResponse:
    now = timezone.now()
    fresh = freshness(request.workshop, now)
    # a service may be silent for days, and its last forecast still reach ahead
    begin = min(now - LOOK_BACK, fresh.forecast.fetched_at) if fresh.forecast else now - LOOK_BACK
    air = WorkshopAir(request.workshop, begin, now)
    return render(
        request,
        "finishing/air/weather/outlook.html",
        {
            "now": now,
            "freshness": fresh,
            "places": [_air_at(place, air) for place in Place.objects.of(request.workshop)],
            "readings": Reading.objects.of(request.workshop).select_related("place", "by")[:LATEST],
            **_pictures(air),
        },
    )


def _air_at(place: Place, air: WorkshopAir) -> PlaceAir:
    reading = place.readings.latest_before(air.now)
    age = timedelta(minutes=air.workshop.reading_age_minutes)
    return PlaceAir(
        place,
        reading,
        fresh=reading is not None and air.now - reading.taken_at <= age,
        workings=_workings(reading) if reading else [],
        reckoned=air_at(air.of(place), utc(air.now)),
    )


def _workings(reading: Reading) -> list[Working]:
    workings = [dew_point_working(reading.temperature, reading.humidity)]
    if reading.surface_temperature is not None:
        wet_below = dew_point(reading.temperature, reading.humidity)
        workings.append(margin_working(reading.surface_temperature, wet_below))
    return workings


def _pictures(air: WorkshopAir) -> dict[str, Any]:
    zone, measures = air.workshop.zone, air.workshop.units
    begin = utc(air.now).astype("datetime64[h]")
    soon, ahead = (air.outdoor.between(begin, begin + count * HOUR) for count in (SOON, AHEAD))
    return {
        "soon": chart(soon, zone, measures, key="soon"),
        "ahead": chart(ahead, zone, measures, key="ahead"),
        "soon_hours": [air_at(soon, when) for when in soon.times],
        "days": days(ahead, zone),
    }


@require_POST
@member()
def fetch(request: WorkshopRequest) -> HttpResponse:
    """A page calls this once it is shown, so that nobody waits for the network to read what is known."""
    now = timezone.now()
    fetched = weather.refresh_forecast(request.workshop, now)
    if not request.htmx:
        return redirect("weather")
    if fetched.news:
        return HttpResponseClientRefresh()
    return render(request, "finishing/air/weather/_freshness.html", {"freshness": freshness(request.workshop, now)})


@member()
def readings(request: WorkshopRequest) -> HttpResponse:
    rows = Reading.objects.of(request.workshop).select_related("place", "by")
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "finishing/air/weather/readings.html", {"page": page})


@member("log")
def new_reading(request: WorkshopRequest) -> HttpResponse:
    last = Reading.objects.of(request.workshop).filter(by=request.user).first()
    places = Place.objects.of(request.workshop)
    asked = places.filter(pk=pk).first() if (pk := as_uuid(request.GET.get("place"))) else None
    first_values = {
        "place": asked or (last.place_id if last else places.first()),
        "taken_at": timezone.localtime().replace(second=0, microsecond=0, tzinfo=None),
    }
    form = ReadingForm(request.POST or None, workshop=request.workshop, initial=first_values)
    if request.method == "POST" and form.is_valid():
        if not form.repeated:
            weather.add_reading(form.instance, by=request.user)
        messages.success(request, f"Reading at {form.instance.place} kept.")
        return redirect("weather")
    return render(request, "finishing/air/weather/new_reading.html", {"form": form})


@require_POST
@member("log")
def remove_reading(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A typed reading may be a slip, and a sensor lie; what entries said of the air is their own copy and stays."""
    get_object_or_404(Reading.objects.of(request.workshop).removable(), pk=pk).delete()
    messages.success(request, "Reading taken out.")
    return redirect("readings")


@member("log")
def import_logger(request: WorkshopRequest) -> HttpResponse:
    form = LoggerForm(request.POST or None, request.FILES or None, workshop=request.workshop)
    imported = _take_in(request, form) if request.method == "POST" and form.is_valid() else None
    context = {"form": form, "imported": imported, "time_zones": time_zones()}
    if imported:
        context["bad_lines"] = imported.file.bad_line_report(LISTED)
    return render(request, "finishing/air/weather/import_logger.html", context)


def _take_in(request: WorkshopRequest, form: LoggerForm) -> weather.Imported | None:
    asked = form.cleaned_data
    try:
        imported = weather.import_logger_file(
            request.workshop,
            asked["place"],
            asked["file"].read(),
            zone=asked["time_zone"],
            by=request.user,
            now=timezone.now(),
            day_first=form.day_first,
        )
    except LoggerUnreadable as error:
        form.add_error("file", str(error))
        return None
    if imported.file.ambiguous_dates:
        form.add_error("dates", "Day and month cannot be told apart in this file: say which stands first.")
        return None
    return imported
