"""A repair chosen for a piece, and an old casting that is to be its own pattern."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from finishing.science.castings import CONTRACTION
from finishing.science.cautions import cautions_for
from finishing.workshops.access import WorkshopRequest, member
from projects.record.models import CastingSize, Part, Piece
from projects.strip_down import actions
from projects.strip_down.domain import pattern_sizes
from projects.strip_down.forms import CastingSizeForm, ChooseRepairForm, chosen_repair


@member("log")
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).select_related("part", "project"), pk=pk)
    form = ChooseRepairForm(request.POST if request.method == "POST" else None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        repair = chosen_repair(given, given["what"])
        assert repair is not None
        step = actions.note_repair(by=request.user, key=given["key"], piece=piece, now=timezone.now(), repair=repair)
        messages.success(request, f"{repair.way.label.capitalize()} {piece.mark}: noted.", extra_tags=str(step.rack))
        return redirect("piece", piece.pk)
    context = {"form": form, "piece": piece, "cautions": cautions_for(["repair of iron", "old paint"])}
    return render(request, "projects/strip_down/repairs/new.html", context, status=422 if form.errors else 200)


@member("plan")
@require_http_methods(["GET", "HEAD", "POST"])
def casting_sizes(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """What a pattern measures, and what comes of the old casting moulded as it is."""
    part = get_object_or_404(Part.objects.of(request.workshop).select_related("design"), pk=pk)
    form = CastingSizeForm(request.POST if request.method == "POST" else None, workshop=request.workshop)
    form.instance.part = part
    if form.repeated:
        return redirect("casting-sizes", part.pk)
    if request.method == "POST" and form.is_valid():
        form.save()
        return redirect("casting-sizes", part.pk)
    sizes = pattern_sizes(part, list(part.casting_sizes.all()))
    context = {"part": part, "form": form, "contraction": CONTRACTION[str(part.material)], "sizes": sizes}
    status = 422 if form.errors else 200
    return render(request, "projects/strip_down/repairs/casting_sizes.html", context, status=status)


@member("plan")
@require_POST
def casting_size_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    size = get_object_or_404(CastingSize.objects.of(request.workshop), pk=pk)
    size.delete()
    return redirect("casting-sizes", size.part_id)
