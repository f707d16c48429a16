"""Pieces: several made at once, one with its log."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.record.actions import pieces as actions
from projects.record.forms.pieces import PieceForm, PieceRows, StandsForm, WhichPiecesForm, piece_rows
from projects.record.models import Piece, Project


@member("plan")
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """GET asks which parts of which machines and proposes marks; POST makes the pieces."""
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    which = _which(request, project)
    rows: PieceRows | None = None
    old = {"old_paint": project.design.hidden}  # what is restored has it as a rule, what is cast anew has not
    stands = StandsForm(request.POST or None, workshop=request.workshop, initial=old)
    if request.method == "POST":
        rows = piece_rows(project, request.POST)
        if rows.is_valid() and stands.is_valid():
            actions.make_pieces(rows.pieces(**stands.cleaned_data))
            return redirect("project", project.pk)
    elif which.is_bound and which.is_valid():
        rows = piece_rows(project, initial=which.proposed())
    context = {"project": project, "which": which, "rows": rows, "stands": stands}
    return render(request, "projects/work/pieces/new.html", context)


def _which(request: WorkshopRequest, project: Project) -> WhichPiecesForm:
    """Parts that have no piece yet are ticked first, and every machine."""
    made = project.pieces.values("part")
    first = {
        "part": project.design.parts.exclude(pk__in=made).values_list("pk", flat=True),
        "machine": project.machines.values_list("pk", flat=True),
    }
    asked = request.GET if "part" in request.GET or "machine" in request.GET else None
    return WhichPiecesForm(asked, workshop=request.workshop, project=project, initial=first)


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).select_related("project", "part"), pk=pk)
    form = PieceForm(request.POST or None, workshop=request.workshop, instance=piece)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("piece", piece.pk)
    return render(request, "projects/work/pieces/edit.html", {"form": form, "piece": piece})


@member("plan")
@require_POST
def set_aside(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop), pk=pk)
    actions.set_aside(piece, aside="aside" in request.POST)
    return redirect("piece", piece.pk)
