"""The day sheet: what can and must be done today."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import cached_property
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.db.models import Q, prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
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
from projects.work.domain.outlook import Outlook, asked_once, pieces_of, shared_outlooks
from projects.work.domain.paint_sessions import hottest_in, paint_sessions
from projects.work.forms.first_piece import FirstPieceForm
from projects.work.words import until

TAKEN_IN = 100  # pieces at work whose day is laid out whole
OPENED_LATER = ("hand", "look", "blast")  # folds of a longer day
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
    log: str  # where all of them are logged; "" for who may not


def _lines(outlooks: Iterable[Outlook], may_log: bool) -> list[BareIronLine]:
    log = reverse("log") if may_log else ""
    return [
        BareIronLine(
            str(outlook.piece.pk),
            outlook.piece.mark,
            outlook.piece.part.name,
            len(outlook.pieces) - 1,
            outlook.names,
            outlook.path.place.name,
            told,
            log and f"{log}?{urlencode({'alike': [piece.pk for piece in outlook.one_a_project]}, doseq=True)}",
        )
        for outlook, told in asked_once(outlooks, until)
    ]


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
    rows = Piece.objects.of(workshop).at_work().in_order().defer("machine", "revision")
    pieces = read_states(rows, places=places)
    outlooks = shared_outlooks(workshop, pieces, now)
    sheet = domain.day_sheet(outlooks, places)
    long, asked, opened = len(pieces) > TAKEN_IN, request.GET.get("paint", ""), request.GET.get("open", "")
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
        "lines": _lines(sheet.bare_pressing[cards:], may_log),
        "lines_in_hand": _lines(sheet.bare_in_hand, may_log) if opened == "hand" else [],
        "long": long,
        "opened": opened,
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
        **_planned(workshop, outlooks, now, _told_one_by_one(sheet, strips) if long else None),
    }
    if not pieces and "plan" in request.may:
        context["first_piece"] = FirstPieceForm(now=now, workshop=workshop)
    if request.htmx and (job := next((row for row in strips if row.asked), None)):
        return render(request, "projects/day/day_sheet/_paint.html#inside", {**context, "job": job})
    if request.htmx and opened in OPENED_LATER:
        return render(request, f"projects/day/day_sheet/day_sheet.html#{opened}", context)
    return render(request, "projects/day/day_sheet/day_sheet.html", context)


def behind(pieces: Iterable[Piece], now: datetime) -> datetime | None:
    """The newest entry's time, where it lies ahead: the clock of this computer was set back, or was wrong then."""
    newest = max((piece.last_entry_at for piece in pieces if piece.last_entry_at), default=now)
    return newest if newest > now + CLOCKS_DIFFER else None


def _strip(job: domain.PaintJob, now: datetime, key: str, asked: bool) -> PaintStrip:
    outlook = job.slowest
    zone = outlook.piece.workshop.zone
    return PaintStrip(job, strip(outlook.path.hours.start, outlook.weather_refused, now, zone, key=key), asked)


def _told_one_by_one(sheet: domain.DaySheet, strips: Iterable[PaintStrip]) -> list[Piece]:
    """Of a long day: what has a card, and what waits for the paint whose fold lies open."""
    waiting = [outlook for strip in strips if strip.strip for outlook in strip.paint.waiting]
    return pieces_of([*sheet.bare_pressing[:CARDS], *waiting])


def _planned(workshop: Workshop, shared: list[Outlook], now: datetime, told: list[Piece] | None) -> dict[str, Any]:
    """Today's steps of the kept plans, and what is offered instead of one of them.

    told: the pieces of which alone it is said what comes next; None: of all
    """
    day, pieces = workshop.day_of(now), None
    if told is not None:
        tomorrow = workshop.at(day + timedelta(days=1), time.min)
        of_today = Q(begin__lt=tomorrow, end__gte=workshop.at(day, time.min))
        slots = Slot.objects.of(workshop).filter(of_today | ~Q(broken=""), plan__state=Plan.State.KEPT)
        pieces = Piece.objects.filter(Q(slots__in=slots) | Q(pk__in=[piece.pk for piece in told]))
    plans = KeptPlans.in_short(workshop, pieces)
    if not plans.plans:
        return {}
    offered = Plan.objects.of(workshop).standing_offer()
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
