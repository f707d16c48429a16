"""The day of a visit: the blast sheet, on a phone and on paper; what was blasted and what was not; and what it cost."""

import uuid
from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.science import grit
from finishing.science.blasting import Own
from finishing.workshops.access import WorkshopRequest, member
from projects.record.models import Visit, VisitPiece
from projects.visits import actions
from projects.visits.domain.blast_sheet import blast_sheet
from projects.visits.domain.settlement import settlement
from projects.visits.domain.turns import in_turn, now_of
from projects.visits.forms import USUAL_REASONS, RefuseForm, SettleForm
from projects.work.domain.own_figures import Alike, own_figures

from .visits import tasks_by_phase

State = VisitPiece.State


@member("look")
def sheet(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    visit = _visit(request, pk)
    context = {"visit": visit, "sheet": blast_sheet(visit, timezone.now()), "test_patch": grit.TEST_PATCH}
    return render(request, "projects/visits/visit_day/sheet.html", context)


@member("log")
def run(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The day itself, on a phone: each piece in its turn, and the tasks around it."""
    visit = _visit(request, pk)
    turns = in_turn(visit, timezone.now())
    context = {
        "visit": visit,
        "turns": [(state, [turn for turn in turns if turn.row.state == state]) for state in State],
        "tasks": tasks_by_phase(visit),
    }
    return render(request, "projects/visits/visit_day/run.html", context)


@member("log")
def refused(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Not blasted, and why; where its metal is near the dew point that is proposed."""
    row, now = _row(request, pk), timezone.now()
    proposed = now_of(row, now).proposal
    first = {"key": uuid.uuid4(), "reason": proposed}
    form = RefuseForm(request.POST or None, workshop=request.workshop, initial=first)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        actions.refuse_piece(row, by=request.user, key=given["key"], reason=given["reason"], now=now, **form.seen)
        messages.success(request, f"{row.piece.mark} is not blasted: {given['reason']}.")
        return redirect("visit-run", row.visit_id)
    context = {"form": form, "row": row, "proposed": proposed, "usual_reasons": USUAL_REASONS}
    return render(request, "projects/visits/visit_day/refused.html", context, status=422 if form.errors else 200)


@member("log")
@require_POST
def wait_again(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = _row(request, pk)
    actions.wait_again(row)
    return redirect("visit-run", row.visit_id)


@member("settle")
def settle(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Hours, medium and money as they were, beside what was reckoned; shared over the pieces."""
    visit = _visit(request, pk)
    whole = settlement(visit)
    first = {"hours": visit.hours, "paid": visit.paid}
    form = SettleForm(request.POST or None, workshop=request.workshop, settlement=whole, initial=first)
    if request.method == "POST" and form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("hours", "paid")}
        actions.settle_visit(visit, by=request.user, used=form.used, timed=form.timed, now=timezone.now(), **given)
        messages.success(request, f"Settled: {visit}.")
        return redirect("visit", visit.pk)
    context = {"visit": visit, "form": form, "settlement": whole, "own": _own(visit, whole.blasted)}
    return render(request, "projects/visits/visit_day/settle.html", context, status=422 if form.errors else 200)


def _own(visit: Visit, rows: list[VisitPiece]) -> list[tuple[Alike, Own | None, int]]:
    """The workshop's own rate for each kind of work of the day, and how many timed pieces it still lacks."""
    own = own_figures(visit.workshop, max(timezone.now(), visit.starts_at + timedelta(days=1)))
    kinds = {Alike.of(row): None for row in rows if row.medium}
    return [(alike, own.rate(alike), own.lacking(alike)) for alike in kinds]


def _visit(request: WorkshopRequest, pk: UUID) -> Visit:
    return get_object_or_404(Visit.objects.of(request.workshop).select_related("workshop"), pk=pk)


def _row(request: WorkshopRequest, pk: UUID) -> VisitPiece:
    return get_object_or_404(VisitPiece.objects.of(request.workshop).in_full(), pk=pk)
