"""The evening before a visit: go, postpone or split, what each costs; and the odds of days that nobody foretells."""

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from finishing.air.domain.freshness import freshness
from finishing.air.models import YearOfWeather
from finishing.workshops.access import WorkshopRequest, member
from projects.record.models import Plan, Visit
from projects.visits.domain.evening import Evening, Odds, evening_before, first_coating, odds

WEEKS_AHEAD = 2  # the same weekday of the weeks that follow, as days to ask for


@member("look")
def evening(request: WorkshopRequest) -> HttpResponse:
    """For the next visit, or another that is asked for."""
    now = timezone.now()
    rows = Visit.objects.of(request.workshop).still_open().select_related("workshop")
    visits = [visit for visit in rows if visit.ends_at > now]
    asked = request.GET.get("visit")
    visit = next((each for each in visits if str(each.pk) == asked), visits[0] if visits else None)
    context: dict[str, Any] = {"visits": visits, "visit": visit, "freshness": freshness(request.workshop, now)}
    if visit:
        before = evening_before(visit, now)
        following = [line.following for line in before.go.lines]
        context |= {
            "evening": before,
            "courses": [(course, timedelta(minutes=course.minutes)) for course in before.courses if course.possible],
            "known": bool(following) and all(ahead is not None and ahead.known for ahead in following),
            "late": now > before.call_off_by,
            "offered": Plan.objects.of(request.workshop).standing_offer(),
            "odds": _odds(before, visits),
            "years": YearOfWeather.objects.of(request.workshop).past().here(request.workshop).count(),
        }
    return render(request, "projects/visits/evenings/evening.html", context)


def _odds(before: Evening, visits: list[Visit]) -> list[Odds]:
    """Of the visit's own day, the other days on offer, and the same weekday of the weeks that follow."""
    lines = [line for line in before.go.lines if first_coating(line.row.piece)]
    if not lines:
        return []
    day, piece = before.visit.date, lines[0].row.piece
    place = lines[0].following.before.path.place if lines[0].following else piece.place
    days = {day, *(visit.date for visit in visits), *(day + timedelta(weeks=n + 1) for n in range(WEEKS_AHEAD))}
    return odds(before.visit, sorted(days), place, piece)
