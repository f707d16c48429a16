"""One piece: its stage and log, what comes next and when, its metal through the hours, what it bears of each visit."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from finishing.air.domain.freshness import freshness
from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from finishing.workshops.models import Place
from projects.record.domain.kept_plans import KeptPlans
from projects.record.domain.proved import Proof
from projects.record.domain.tags import tag_address
from projects.record.models import Piece, Removal, Slot, Step
from projects.visits.domain.settlement import shares_of
from projects.work.domain.moves import move, standing
from projects.work.domain.outlook import Outlook, outlooks
from projects.work.domain.verdicts import JUDGED
from projects.work.pictures import metal_picture


@dataclass(frozen=True)
class LogEntry:
    """An entry, whether it has a verdict, the later one that voids it, and what was kept as the piece came off."""

    step: Step
    judged: bool
    voiding: Step | None
    removal: Removal | None


@member("look")
@unless_unchanged
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.of(request.workshop).with_log(), pk=pk)
    state, system = piece.state, piece.part.system
    at_work = not (piece.set_aside or piece.project.closed)
    outlook = outlooks(request.workshop, [piece], timezone.now())[0] if at_work else None
    tag = piece.tags.select_related("workshop").first()
    context = {
        "piece": piece,
        "part": piece.part,
        "state": state,
        "place": state.place or piece.place,
        "outlook": outlook,
        "by_plan": _by_plan(piece) if at_work else [],
        **(_metal(outlook) if outlook else {}),
        "layers": [(layer, layer in state.layers_done) for layer in system.layers.all()] if system else [],
        "entries": _entries(piece),
        "tag": tag,
        "tag_address": tag and tag_address(tag, request.build_absolute_uri("/")),
        "loan": piece.loans.out().told().first(),
        "visits": shares_of(piece),
        "unproved": piece.revision_id and Proof(piece.part.design).unproved(piece.part, piece.revision),
    }
    return render(request, "projects/day/piece/detail.html", context)


def _by_plan(piece: Piece) -> list[Slot]:
    return KeptPlans.in_short(piece.workshop, Piece.objects.filter(pk=piece.pk)).coming(piece)


def _metal(outlook: Outlook) -> dict[str, Any]:
    """The metal of a piece at work, and where else it might stand until it is finished."""
    workshop = outlook.piece.workshop
    places = Place.objects.of(workshop).exclude(pk=outlook.path.place.pk)
    moves = [] if outlook.state.finished else [move(outlook, place) for place in places]
    return {
        "picture": metal_picture(outlook, workshop.units),
        "freshness": freshness(workshop, outlook.now),
        "standing": standing(outlook),
        "any_time": [move for move in moves if move.any_time],
        "moves": [move for move in moves if not move.any_time],
    }


def _entries(piece: Piece) -> list[LogEntry]:
    """The log as it happened."""
    steps = sorted(piece.steps.all(), key=lambda step: (step.happened_at, step.entered_at, str(step.pk)))
    voiding = {step.voids_id: step for step in steps}
    removals = _removals(piece) if any(step.kind == Step.Kind.TAKEN_OFF for step in steps) else {}
    return [
        LogEntry(step, step.kind in JUDGED, voiding.get(step.pk), removals.get(step.pk))
        for step in steps
        if not step.voids_id
    ]


def _removals(piece: Piece) -> dict[UUID, Removal]:
    rows = Removal.objects.filter(step__piece=piece).select_related("machine", "step")
    return {row.step_id: row for row in rows}
