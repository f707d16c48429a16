"""Pieces: listed, several made or changed at once, one changed."""

from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from finishing.site.searching import A_PAGE, page_of
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from finishing.workshops.models import Place
from projects.record.actions import pieces as actions
from projects.record.domain.piece_changes import change_of
from projects.record.forms.pieces import (
    PieceForm,
    PieceRows,
    PiecesChangeForm,
    PiecesFilter,
    StandsForm,
    WhichPiecesForm,
    piece_rows,
)
from projects.record.models import Piece, Project
from projects.record.models.pieces import PieceQuerySet
from projects.record.models.stages import Stage


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


@member("look")
def listed(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Fifty a page, narrowed by what the address asks."""
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    shown = PiecesFilter(request.GET, workshop=request.workshop, project=project)
    page = page_of(request, _in_order(shown, project))
    places = Place.objects.of(request.workshop).in_bulk({vars(piece)["place_now"] for piece in page})
    context = {
        "project": project,
        "filter": shown,
        "page": page,
        "rows": [
            (piece, Stage(said["stage_now"] or Stage.RAW), places[said["place_now"]])
            for piece in page
            for said in [vars(piece)]
        ],
    }
    return render(request, "projects/work/pieces/listed.html", context)


def _in_order(shown: PiecesFilter, project: Project) -> PieceQuerySet:
    rows = shown.narrowed(project.pieces.as_they_stand())
    return rows.select_related("part", "machine").order_by("part__name", "mark")


@member("plan")
def change(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """The address says which pieces; a first button tells what would change, a second one changes it."""
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    pieces = _chosen(request, project)
    if not pieces:
        messages.info(request, "Tick the pieces first.")
        return redirect("pieces", project.pk)
    form = PiecesChangeForm(request.POST or None, workshop=request.workshop, project=project)
    told = None
    if request.method == "POST" and form.is_valid():
        told = change_of(pieces, form.asked)
        if "change" in request.POST:
            actions.change_pieces(told.changed)
            count = len(told.changed)
            messages.success(request, f"{count} piece{'' if count == 1 else 's'} changed.")
            if told.logged:
                words = f"{len(told.logged)} stayed where they are: entries are in their log. Log a move instead."
                messages.warning(request, words)
            return redirect("pieces", project.pk)
    labels = {name: (form.fields[name].label or name.replace("_", " ")).lower() for name in form.fields}
    context = {
        "project": project,
        "pieces": pieces,
        "form": form,
        "told": told,
        "counts": [(labels[name], count) for name, count in told.counts.items()] if told else [],
        "move": urlencode([("kind", "moved"), *(("piece", piece.pk) for piece in told.logged[:A_PAGE])])
        if told
        else "",
    }
    return render(request, "projects/work/pieces/change.html", context)


def _chosen(request: WorkshopRequest, project: Project) -> list[Piece]:
    if "all" in request.GET:
        return list(_in_order(PiecesFilter(request.GET, workshop=request.workshop, project=project), project))
    ticked = list(filter(None, map(as_uuid, request.GET.getlist("piece"))))
    return list(project.pieces.filter(pk__in=ticked).select_related("part", "place", "machine").order_by("mark"))


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
