"""Pieces: several made at once, one with its log."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.air.views.weather import freshness
from finishing.workshops.access import member
from finishing.workshops.models import Place
from projects.record.actions import pieces as actions
from projects.record.domain.proved import Proof
from projects.record.forms.pieces import PieceForm, PieceRows, StandsForm, WhichPiecesForm
from projects.record.models import Piece, Project
from projects.visits.domain.settlement import shares_of
from projects.work.domain.moves import move, standing
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.verdicts import JUDGED
from projects.work.pictures import metal_picture


@member("plan")
def new(request: Any, pk: Any) -> HttpResponse:
    """GET asks which parts of which machines and proposes marks; POST makes the pieces."""
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    which = _which(request, project)
    if request.method == "POST":
        rows = PieceRows(request.POST, project=project)
        stands = StandsForm(request.POST, workshop=request.workshop)
        if rows.is_valid() and stands.is_valid():
            actions.make_pieces(rows.pieces(**stands.cleaned_data))
            return redirect("project", project.pk)
    elif which.is_bound and which.is_valid():
        rows = PieceRows(initial=which.proposed(), project=project)
        stands = StandsForm(workshop=request.workshop)
    else:
        rows = stands = None
    context = {"project": project, "which": which, "rows": rows, "stands": stands}
    return render(request, "projects/work/pieces/new.html", context)


def _which(request: Any, project: Project) -> WhichPiecesForm:
    """Parts that have no piece yet are ticked first, and every machine."""
    made = project.pieces.values("part")
    first = {
        "part": project.design.parts.exclude(pk__in=made).values_list("pk", flat=True),
        "machine": project.machines.values_list("pk", flat=True),
    }
    asked = request.GET if "part" in request.GET or "machine" in request.GET else None
    return WhichPiecesForm(asked, workshop=request.workshop, project=project, initial=first)


@member("look")
def detail(request: Any, pk: Any) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).with_log(), pk=pk)
    state, system = piece.state, piece.part.system
    at_work = not (piece.set_aside or piece.project.closed)
    outlook = outlooks(request.workshop, [piece], timezone.now())[0] if at_work else None
    context = {
        "piece": piece,
        "part": piece.part,
        "state": state,
        "place": state.moves[-1][1] if state.moves else piece.place,
        "outlook": outlook,
        **(_metal(outlook) if outlook else {}),
        "layers": [(layer, layer in state.layers_done) for layer in system.layers.all()] if system else [],
        "entries": _entries(piece),
        "visits": shares_of(piece),
        "unproved": piece.revision_id and Proof(piece.part.design).unproved(piece.part, piece.revision),
    }
    return render(request, "projects/work/pieces/detail.html", context)


def _metal(outlook: Outlook) -> dict[str, Any]:
    """The metal of a piece at work, and where else it might stand until it is finished."""
    workshop = outlook.piece.workshop
    places = Place.objects.of(workshop).exclude(pk=outlook.path.place.pk)
    moves = [] if outlook.state.finished else [move(outlook, place) for place in places]
    return {
        "picture": metal_picture(outlook, workshop.us_units),
        "freshness": freshness(workshop, outlook.now),
        "standing": standing(outlook),
        "any_time": [move for move in moves if move.any_time],
        "moves": [move for move in moves if not move.any_time],
    }


def _entries(piece: Piece) -> list[Any]:
    """The log as it happened; a voided entry stands there with the one that voids it."""
    steps = list(piece.steps.all())
    voiding = {step.voids_id: step for step in steps if step.voids_id}
    told = [step for step in steps if not step.voids_id]
    for step in told:
        step.voiding = voiding.get(step.pk)
        step.judged = step.kind in JUDGED
    return sorted(told, key=lambda step: (step.happened_at, step.entered_at, str(step.pk)))


@member("plan")
def edit(request: Any, pk: Any) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).select_related("project", "part"), pk=pk)
    form = PieceForm(request.POST or None, workshop=request.workshop, instance=piece)
    if request.method == "POST" and form.is_valid():
        actions.change_piece(form.instance)
        return redirect("piece", piece.pk)
    return render(request, "projects/work/pieces/edit.html", {"form": form, "piece": piece})


@member("plan")
@require_POST
def set_aside(request: Any, pk: Any) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop), pk=pk)
    actions.set_aside(piece, aside="aside" in request.POST)
    return redirect("piece", piece.pk)
