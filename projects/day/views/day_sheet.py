"""The day sheet: what can and must be done today."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from finishing.air.domain.freshness import freshness
from finishing.air.models import Reading
from finishing.science.rust import CAUTIONS
from finishing.site.pictures.strips import Strip, strip
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.models import Place
from projects.buying.domain.arrivals import lines_to_come
from projects.day.domain import Day, Paint
from projects.plans.pictures import DrawnTask, drawn_tasks
from projects.plans.words import moved
from projects.record.models import Piece, Plan, Visit
from projects.work.domain.outlook import outlooks


@dataclass(frozen=True)
class PaintStrip:
    paint: Paint
    strip: Strip


@member("look")
def day_sheet(request: WorkshopRequest) -> HttpResponse:
    now = timezone.now()
    pieces = list(Piece.objects.of(request.workshop).at_work().with_log().in_order())
    day = Day(outlooks(request.workshop, pieces, now), Place.objects.of(request.workshop))
    context = {
        "now": now,
        "day": day,
        "pieces": pieces,
        "readings": Reading.objects.of(request.workshop).latest_of_each_place(now),
        "freshness": freshness(request.workshop, now),
        **_paints(day, now, request.workshop),
        "cautions": CAUTIONS,
        "to_come": lines_to_come(request.workshop, timezone.localdate(now)),
        "visits": Visit.objects.of(request.workshop).still_open(),
        **_planned(request.workshop, now),
    }
    return render(request, "projects/day/day_sheet/day_sheet.html", context)


def _paints(day: Day, now: Any, workshop: Any) -> dict[str, list[PaintStrip]]:
    """What must go on today, what can, and what waits."""
    strips = [_strip(paint, at, now, workshop) for at, paint in enumerate(day.paints)]
    return {
        "paints_pressing": [each for each in strips if each.paint.pressing],
        "paints_ready": [each for each in strips if each.paint.ready and not each.paint.pressing],
        "paints_later": [each for each in strips if not each.paint.ready],
    }


def _strip(paint: Paint, at: int, now: Any, workshop: Any) -> PaintStrip:
    outlook = paint.outlook
    hours = outlook.path.hours
    return PaintStrip(paint, strip(hours.start, outlook.weather_refused, now, workshop.zone, key=f"paint-{at}"))


def _planned(workshop: Any, now: Any) -> dict[str, Any]:
    """Today's steps of the kept plans, and what is offered instead of one."""
    kept = list(Plan.objects.of(workshop).kept().in_full())
    if not kept:
        return {}
    steps = sorted((task for plan in kept for task in drawn_tasks(plan)), key=lambda task: task.begin)
    today = [task for task in steps if _on(task, timezone.localdate(now))]
    newest = Plan.objects.of(workshop).first()
    return {
        "kept_plan": kept[0],
        "planned": today,
        "broken_later": sum(bool(task.broken) for task in steps if task not in today),
        "moves": moved(newest) if newest and newest.state == Plan.State.OFFERED else [],
    }


def _on(task: DrawnTask, day: date) -> bool:
    return bool(timezone.localdate(task.begin) <= day <= timezone.localdate(task.end))
