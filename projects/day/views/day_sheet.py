"""The day sheet: what can and must be done today."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from django.conf import settings
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from finishing.air.domain.freshness import freshness
from finishing.air.models import Reading
from finishing.science.rust import CAUTIONS
from finishing.site.calendar import CLOCKS_DIFFER
from finishing.site.pictures.strips import Strip, strip
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from finishing.workshops.models import Place, Workshop
from projects.buying.domain.arrivals import lines_to_come
from projects.day import domain
from projects.day.pictures import next_day
from projects.keeping.domain import wanting
from projects.plans.pictures import log_query
from projects.plans.words import moved
from projects.record.domain.kept_plans import KeptPlans
from projects.record.domain.states import read_states
from projects.record.models import Loan, OpenedTin, Piece, Plan, Slot, Visit
from projects.work.domain.outlook import Outlook, pieces_of, shared_outlooks
from projects.work.domain.paint_sessions import hottest_in, paint_sessions
from projects.work.forms.first_piece import FirstPieceForm
from projects.work.words import until

TAKEN_IN = 100  # pieces at work whose day is laid out whole
CARDS = 8  # of bare iron on a longer day; the others are a line each


@dataclass(frozen=True)
class PaintStrip:
    """A paint job and the picture of its hours; on a long day both come when the job is opened."""

    paint: domain.PaintJob
    strip: Strip | None
    asked: bool = False


@dataclass(frozen=True)
class BareIronLine:
    """What a line tells of bare iron, by the first of those that are alike."""

    key: str
    mark: str
    part: str
    others: int
    names: str
    place: str
    until: str
    may_log: bool


def _line(outlook: Outlook, may_log: bool) -> BareIronLine:
    piece, names = outlook.piece, outlook.names
    others, place = len(outlook.pieces) - 1, outlook.path.place.name
    return BareIronLine(str(piece.pk), piece.mark, piece.part.name, others, names, place, until(outlook), may_log)


@dataclass(frozen=True)
class PlannedTask:
    """A step of a kept plan, for the list of today's."""

    slot: Slot
    done: bool

    @cached_property
    def log_query(self) -> str:
        return "" if self.done else log_query(self.slot)


@member("look")
@unless_unchanged
def day_sheet(request: WorkshopRequest) -> HttpResponse:
    workshop, now = request.workshop, timezone.now()
    places = list(Place.objects.of(workshop).select_related("workshop"))
    pieces = read_states(Piece.objects.of(workshop).at_work().in_order(), places=places)
    outlooks = shared_outlooks(workshop, pieces, now)
    sheet = domain.day_sheet(outlooks, places)
    long, asked = len(pieces) > TAKEN_IN, request.GET.get("paint", "")
    strips = [
        _strip(job, now, f"paint-{number}", asked=job.key == asked)
        if not long or job.key == asked
        else PaintStrip(job, None)
        for number, job in enumerate(sheet.paint_jobs)
    ]
    cards, may_log = CARDS if long else len(pieces), "log" in request.may
    today = workshop.day_of(now)
    context = {
        "cards": sheet.bare_pressing[:cards],
        "lines": [_line(outlook, may_log) for outlook in sheet.bare_pressing[cards:]],
        "lines_in_hand": [_line(outlook, may_log) for outlook in sheet.bare_in_hand] if long else [],
        "long": long,
        "next_day": next_day(sheet, outlooks, now),
        "now": now,
        "pieces": pieces,
        "day": sheet,
        "paints_pressing": [row for row in strips if row.paint.pressing],
        "paints_ready": [row for row in strips if row.paint.ready and not row.paint.pressing],
        "paints_later": [row for row in strips if not row.paint.ready],
        "readings": list(Reading.objects.of(workshop).latest_of_each_place(now)),
        "freshness": freshness(workshop, now),
        "cautions": CAUTIONS,
        "to_come": lines_to_come(workshop, today),
        "late_loans": list(Loan.objects.of(workshop).late(today)),
        "tins_over": [tin for tin in OpenedTin.objects.of(workshop).standing().told() if tin.over(today)],
        "today": today,
        "visits": Visit.objects.of(workshop).still_open(),
        "clock_behind": behind(pieces, now),
        "no_backup": "settle" in request.may and wanting(workshop, settings.BACKUPS, now),
        **_planned(workshop, outlooks, now),
    }
    if not pieces and "plan" in request.may:
        context["first_piece"] = FirstPieceForm(now=now, workshop=workshop)
    if request.htmx and (opened := next((row for row in strips if row.asked), None)):
        return render(request, "projects/day/day_sheet/_paint.html#inside", {**context, "job": opened})
    return render(request, "projects/day/day_sheet/day_sheet.html", context)


def behind(pieces: Iterable[Piece], now: datetime) -> datetime | None:
    """The newest entry's time, where it lies ahead: the clock of this computer was set back, or was wrong then."""
    newest = max((piece.last_entry_at for piece in pieces if piece.last_entry_at), default=now)
    return newest if newest > now + CLOCKS_DIFFER else None


def _strip(job: domain.PaintJob, now: datetime, key: str, asked: bool) -> PaintStrip:
    outlook = job.slowest
    zone = outlook.piece.workshop.zone
    return PaintStrip(job, strip(outlook.path.hours.start, outlook.weather_refused, now, zone, key=key), asked)


def _planned(workshop: Workshop, shared: list[Outlook], now: datetime) -> dict[str, Any]:
    """Today's steps of the kept plans, and what is offered instead of one of them."""
    plans = KeptPlans.in_short(workshop)
    if not plans.plans:
        return {}
    day, offered = workshop.day_of(now), Plan.objects.of(workshop).standing_offer()
    today = [slot for slot in plans.slots if workshop.day_of(slot.begin) <= day <= workshop.day_of(slot.end)]
    broken = {slot.pk for slot in plans.slots if slot.broken}
    prefetch_related_objects(today, "people")
    return {
        "kept_plan": plans.plans[0],
        "kept": plans,
        "planned": [PlannedTask(slot, slot.pk in plans.logged) for slot in today],
        "mixes": paint_sessions(workshop, today, pieces_of(shared), hottest_in(shared[0].air) if shared else None),
        "broken_later": len(broken - {slot.pk for slot in today}),
        "offered": offered,
        "moves": moved(offered) if offered else [],
    }
