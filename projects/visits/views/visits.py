"""A contractor's visits: which there are, and one prepared: its terms, its tasks, its pieces."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.science import grit
from finishing.science.cautions import cautions_for
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from finishing.workshops.models import Workshop
from projects.record.domain.states import read_states
from projects.record.models import Part, Piece, Visit, VisitPiece, VisitTask, pieces_on
from projects.record.models.stages import Stage
from projects.visits import actions
from projects.visits.domain.blast_sheet import blast_sheet
from projects.visits.domain.settlement import settlement
from projects.visits.forms import ChoosePiecesForm, DayForm, VisitForm, VisitPieceForm, task_rows

Phase = VisitTask.Phase
A_PAGE = 50  # visits that are over; the rest comes when it is scrolled to


@member("look")
@unless_unchanged
def visits(request: WorkshopRequest) -> HttpResponse:
    rows = Visit.objects.of(request.workshop).select_related("workshop")
    over = Paginator(rows.over(), A_PAGE).get_page(request.GET.get("page"))
    coming = list(rows.still_open()) if over.number == 1 else []
    pieces = pieces_on([*coming, *over])
    context = {
        "open": [(visit, pieces[visit.pk]) for visit in coming],
        "over": [(visit, pieces[visit.pk]) for visit in over],
        "page": over,
    }
    if request.htmx:
        return render(request, "projects/visits/visits.html#over", context)
    return render(request, "projects/visits/visits.html", {**context, "waiting": len(to_be_blasted(request.workshop))})


@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    """A new visit begins with the contractor and the rig of the last one."""
    last = Visit.objects.of(request.workshop).order_by("-date").first()
    form = VisitForm(request.POST or None, workshop=request.workshop, last=last)
    if form.repeated:
        return redirect("visit", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        return redirect("visit-pieces", actions.prepare_visit(form.instance).pk)
    return render(request, "projects/visits/edit.html", {"form": form})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    visit = _visit(request, pk)
    asked = DayForm(request.GET).asked
    form = VisitForm(request.POST or None, workshop=request.workshop, instance=visit, initial=asked)
    if request.method == "POST" and form.is_valid():
        return redirect("visit", form.save().pk)
    return render(request, "projects/visits/edit.html", {"form": form, "visit": visit})


@member("look")
@unless_unchanged
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    visit, now = _visit(request, pk), timezone.now()
    sheet, settled = blast_sheet(visit, now), settlement(visit)
    context = {
        "visit": visit,
        "now": now,
        "sheet": sheet,
        "settlement": settled,
        "tasks": tasks_by_phase(visit),
        "cautions": cautions_for([caution.trigger for caution in sheet.cautions] + ["solvent"]),
        "too_late_to_cancel": now > visit.cancelled_for_nothing_until,
    }
    return render(request, "projects/visits/detail.html", context)


def to_be_blasted(workshop: Workshop) -> list[Piece]:
    """By a contractor: neither here, nor bought clean."""
    pieces, cabinet = read_states(Piece.objects.of(workshop).at_work().in_order()), workshop.has_cabinet
    raw = (piece for piece in pieces if piece.state.stage == Stage.RAW)
    return [piece for piece in raw if piece.blasted_by(cabinet) == Part.Blasted.CONTRACTOR]


def tasks_by_phase(visit: Visit) -> list[tuple[str, list[VisitTask], float]]:
    """The tasks under what they are for, with the hours of work that they make."""
    tasks = list(visit.tasks.all())
    groups = [(phase, [task for task in tasks if task.phase == phase]) for phase in Phase]
    hours = {task.pk: task.people * task.minutes.to("hour").magnitude for task in tasks if task.minutes is not None}
    return [(phase.label, own, sum(hours.get(task.pk, 0.0) for task in own)) for phase, own in groups if own]


@member("plan")
def pieces(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Which of the pieces to be blasted are on the visit."""
    visit = _visit(request, pk)
    rows = list(visit.pieces.in_full())
    standing = [row.piece for row in rows]
    offered = [*standing, *(piece for piece in to_be_blasted(request.workshop) if piece not in standing)]
    offered.sort(key=lambda piece: str(piece.project))  # under one heading each
    ticked = request.GET.getlist("piece") or [str(piece.pk) for piece in standing]
    sent = request.POST if request.method == "POST" else None
    form = ChoosePiecesForm(sent, workshop=request.workshop, visit=visit, offered=offered, initial={"pieces": ticked})
    if request.method == "POST" and form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("medium", "grade")}
        actions.choose_pieces(visit, form.chosen, **given)
        return redirect("visit", visit.pk)
    context = {"visit": visit, "form": form}
    return render(request, "projects/visits/pieces.html", context, status=422 if form.errors else 200)


@member("plan")
def piece(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One piece on a visit: with what, how hard, masked how."""
    row = get_object_or_404(VisitPiece.objects.of(request.workshop).in_full(), pk=pk)
    form = VisitPieceForm(request.POST or None, workshop=request.workshop, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("visit", row.visit_id)
    context = {"form": form, "row": row, "advised": row.advised_pressures, "test_patch": grit.TEST_PATCH}
    return render(request, "projects/visits/piece.html", context)


@member("plan")
def tasks(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    visit = _visit(request, pk)
    rows = task_rows(request.POST or None, visit)
    if request.method == "POST" and rows.is_valid():
        actions.keep_tasks(visit, rows.kept)
        return redirect("visit", visit.pk)
    return render(request, "projects/visits/tasks.html", {"visit": visit, "rows": rows})


@member("log")
@require_POST
def tick(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A task done, or not done after all; back to where it was ticked."""
    task = get_object_or_404(VisitTask.objects.of(request.workshop), pk=pk)
    actions.tick_task(task, done="done" in request.POST, now=timezone.now())
    return redirect("visit-run" if "run" in request.POST else "visit", task.visit_id)


@member("plan")
@require_POST
def cancel(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    visit = _visit(request, pk)
    actions.cancel_visit(visit, now=timezone.now())
    messages.success(request, f"Cancelled: {visit}. Its pieces wait for another visit.")
    return redirect("visit", visit.pk)


def _visit(request: WorkshopRequest, pk: UUID) -> Visit:
    return get_object_or_404(Visit.objects.of(request.workshop).select_related("workshop"), pk=pk)
