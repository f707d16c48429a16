"""The day sheet: what can and must be done today."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from finishing.access import member
from finishing.models import Place, Reading
from finishing.science.rust import CAUTIONS
from finishing.views.strips import Strip, strip
from finishing.views.weather import freshness
from projects.models import Piece, Visit
from projects.models.day import Day, Paint
from projects.models.outlook import outlooks


@dataclass(frozen=True)
class PaintStrip:
    paint: Paint
    strip: Strip


@member("look")
def day_sheet(request: Any) -> HttpResponse:
    now = timezone.now()
    pieces = list(Piece.objects.of(request.workshop).at_work().with_log().in_order())
    day = Day(outlooks(request.workshop, pieces, now), Place.objects.of(request.workshop))
    context = {
        "now": now,
        "day": day,
        "pieces": pieces,
        "readings": Reading.objects.of(request.workshop).latest_of_each_place(now),
        "freshness": freshness(request.workshop, now),
        "strips": [_strip(paint, at, now, request.workshop) for at, paint in enumerate(day.paints)],
        "cautions": CAUTIONS,
        "visits": Visit.objects.of(request.workshop).still_open(),
    }
    return render(request, "projects/day_sheet/day_sheet.html", context)


def _strip(paint: Paint, at: int, now: Any, workshop: Any) -> PaintStrip:
    outlook = paint.outlook
    hours = outlook.path.hours
    return PaintStrip(paint, strip(hours.start, outlook.weather_refused, now, workshop.zone, key=f"paint-{at}"))
