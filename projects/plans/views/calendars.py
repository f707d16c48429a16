"""The kept plan for a calendar: at its secret address, as a file, and the address renewed."""

from collections.abc import Iterable
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from finishing.workshops.access import VisitorRequest, WorkshopRequest, by_address, member
from finishing.workshops.models import Workshop
from projects.plans.actions import calendars as actions
from projects.plans.domain.bare_racks import finish_by
from projects.plans.exports import plan_ics
from projects.plans.pictures import known_before
from projects.record.domain.kept_plans import KeptPlans
from projects.record.domain.states import read_states
from projects.record.models import CalendarAddress, Piece, Plan, Slot
from projects.work.domain.bare_marks import BareMark, bare_marks
from projects.work.domain.kept_air import run_since
from projects.work.domain.outlook import shared_outlooks
from projects.work.domain.paint_sessions import hottest_in, paint_sessions, pieces_planned

TYPE = "text/calendar; charset=utf-8"


@require_safe
@by_address(CalendarAddress)
def feed(request: VisitorRequest, address: CalendarAddress) -> HttpResponse:
    """What is kept, to whoever holds the address."""
    kept, now = Plan.objects.of(address.workshop).kept().in_full(), timezone.now()
    pieces = read_states(Piece.objects.of(address.workshop).at_work().in_order())
    marks = bare_marks(shared_outlooks(address.workshop, pieces, now))
    return HttpResponse(_calendar(request, address.workshop, kept, marks), content_type=TYPE)


@member("look")
@require_safe
def plan_file(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One plan as a file, offered or kept."""
    plan = get_object_or_404(Plan.objects.of(request.workshop).in_full(), pk=pk)
    name = f"plan-{timezone.localdate(plan.made_at)}.ics"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(_calendar(request, request.workshop, [plan]), content_type=TYPE, headers=headers)


def _calendar(request: HttpRequest, workshop: Workshop, plans: Iterable[Plan], marks: Iterable[BareMark] = ()) -> bytes:
    def address_of(slot: Slot) -> str:
        return str(request.build_absolute_uri(reverse("plan-slot", args=[slot.pk])))

    read, now = list(plans), timezone.now()
    slots = [slot for plan in read for slot in plan.slots.all()]
    run = run_since(workshop, known_before(slots, now), now)
    pieces = pieces_planned(slots)
    bare = finish_by(workshop, KeptPlans([plan for plan in read if plan.kept]), now, run, pieces)
    mixes = [mix for plan in read for mix in paint_sessions(workshop, plan.slots.all(), pieces, hottest_in(run.air))]
    here = request.build_absolute_uri
    told = [(mark, here(reverse("piece", args=[mark.outlook.piece.pk]))) for mark in marks]
    return plan_ics(workshop, read, address_of, now, bare, told, mixes)


@member("look")
@require_safe
def calendar(request: WorkshopRequest) -> HttpResponse:
    """Where a calendar reads the plan, and the file for those that read none."""
    row = CalendarAddress.objects.of(request.workshop).in_use().first()
    address = request.build_absolute_uri(reverse("feed", args=[row.token])) if row else ""
    kept = Plan.objects.of(request.workshop).kept()
    return render(request, "projects/plans/calendars/calendar.html", {"row": row, "address": address, "kept": kept})


@require_POST
@member("plan")
def renew(request: WorkshopRequest) -> HttpResponse:
    had = CalendarAddress.objects.of(request.workshop).in_use().exists()
    actions.renew_calendar(request.workshop)
    messages.success(request, "Renewed: the address before it opens nothing any more." if had else "Here it is.")
    return redirect("calendar")


@require_POST
@member("plan")
def close(request: WorkshopRequest) -> HttpResponse:
    actions.close_calendar(request.workshop)
    messages.success(request, "Closed: no calendar reads the plan any more.")
    return redirect("calendar")
