"""Log a step for one piece or a rack: one form, values prefilled from the latest reading, the verdict as you type."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.air.models import Reading
from finishing.coatings.models import Layer
from finishing.workshops.access import WorkshopRequest, member
from projects.record.actions.log import log_step, void_step
from projects.record.models import Piece, Step, Visit
from projects.record.models.stages import Stage
from projects.work.domain.outlook import outlooks
from projects.work.domain.verdicts import PieceVerdict, judge, worst
from projects.work.forms.log import BOXES, SEEN, USUAL, USUAL_REASONS, WORK, LogForm, TickedForm, VoidForm

Kind = Step.Kind
FEW = 8  # so many pieces a phone shows at once; of more only those that the entry may be for


@member("log")
def new(request: WorkshopRequest) -> HttpResponse:
    """GET shows the form for the ticked pieces; POST adds one entry a piece."""
    asked = _asked(request)
    ticked, kind, visit = asked.ticked, asked.kind, asked.visit
    if not ticked and request.method == "GET":
        return _choose(request)
    form = _form(request, asked)
    verdicts = _verdicts(request, form, ticked)
    if request.method == "POST" and form.is_valid():
        _ask_for_reasons(form, verdicts)
    if request.method == "POST" and form.is_valid():
        steps = _keep(request, form, verdicts)
        return redirect("visit-run", visit.pk) if visit else _back(steps)
    return _page(request, form, ticked, kind, verdicts, visit)


@member("log")
@require_POST
def verdict(request: WorkshopRequest) -> HttpResponse:
    """The verdict on what is typed so far; nothing is kept."""
    asked = _asked(request)
    form = _form(request, asked)
    verdicts = _verdicts(request, form, asked.ticked)
    shown = _worth_telling(asked.kind, verdicts)
    return render(request, "projects/work/log/new.html#verdict", {"verdicts": shown, "worst": worst(shown)})


def _worth_telling(kind: str, verdicts: list[PieceVerdict]) -> list[PieceVerdict]:
    """Work that no sheet speaks of has a verdict only where it cannot be logged."""
    return verdicts if kind != Kind.WORKED else [one for one in verdicts if one.impossible]


@dataclass(frozen=True)
class Asked:
    """What an address asks for; without a kind of entry the first piece's next step."""

    ticked: list[Piece]
    kind: str
    visit: Visit | None
    place: Any
    layer: Any


def _asked(request: WorkshopRequest) -> Asked:
    asked = TickedForm(request.POST or request.GET, workshop=request.workshop)
    asked.is_valid()
    ticked = list(asked.cleaned_data.get("pieces") or [])
    kind = asked.cleaned_data.get("kind") or (ticked[0].state.next_kind if ticked else Kind.BLASTED)
    return Asked(ticked, kind, *(asked.cleaned_data.get(name) for name in ("visit", "place", "layer")))


def _form(request: WorkshopRequest, asked: Asked) -> LogForm:
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    now = timezone.now()
    return LogForm(
        *sent,
        workshop=request.workshop,
        kind=asked.kind,
        ticked=asked.ticked,
        layers=_layers(asked.ticked, asked.kind),
        now=now,
        initial={**_latest(asked, now), "wet_work": bool(asked.visit and asked.visit.wet), "layer": asked.layer},
    )


def _latest(asked: Asked, now: Any) -> dict[str, Any]:
    """What the boxes begin with: the place, its reading where that is fresh, the last batch of the same paint."""
    if not asked.ticked:
        return {}
    first = asked.ticked[0]
    place = asked.place or first.state.place or first.place
    reading = Reading.objects.fresh_at(place, now)
    air = {"air_temperature": reading.temperature, "humidity": reading.humidity} if reading else {}
    coat = first.state.next_coat
    return {
        "place": place,
        **air,
        "batch": Step.objects.last_batch(coat.coating) if coat and asked.kind == Kind.COATED else "",
    }


def _verdicts(request: WorkshopRequest, form: LogForm, ticked: list[Piece]) -> list[PieceVerdict]:
    now = timezone.now()
    return [
        judge(outlook, form.kind, form.when, form.seen, form.chosen_layer)
        for outlook in outlooks(request.workshop, ticked, now, at=form.when)
    ]


def _layers(ticked: list[Piece], kind: str) -> Any:
    """Layers still to come, where all the pieces have one system; else each piece takes its own next one."""
    if not ticked or len({piece.part.system_id for piece in ticked}) > 1:
        return Layer.objects.none()
    coats = kind == Kind.COATED
    coming = {layer.pk for piece in ticked for layer in piece.state.coming if layer.is_coat == coats}
    return Layer.objects.filter(pk__in=coming)


def _choose(request: WorkshopRequest) -> HttpResponse:
    """Which pieces; a kind of entry goes on to the form only where it was asked for."""
    pieces = Piece.objects.of(request.workshop).at_work().with_log().in_order()
    kind = request.GET.get("kind", "")
    return render(request, "projects/work/log/choose.html", {"heaps": _heaps(pieces, kind), "kind": kind})


@dataclass(frozen=True)
class Heap:
    """The pieces of one project that are at one stage, and whether they are laid out or folded."""

    project: Any
    stage: Stage
    pieces: list[Piece]
    open: bool


def _heaps(pieces: Iterable[Piece], kind: str) -> list[Heap]:
    def lies(piece: Piece) -> tuple[str, str, int]:
        return piece.project.name, str(piece.project_id), [*Stage].index(piece.state.stage)

    heaps = [list(heap) for _, heap in groupby(sorted(pieces, key=lies), lies)]
    few = len(heaps) == 1 or sum(map(len, heaps)) <= FEW
    return [
        Heap(heap[0].project, heap[0].state.stage, heap, few or any(piece.state.next_kind == kind for piece in heap))
        for heap in heaps
    ]


def _ask_for_reasons(form: LogForm, verdicts: list[Any]) -> None:
    """Outside asks for a reason; an entry that cannot be is told at the pieces."""
    for verdict in verdicts:
        if verdict.impossible:
            form.add_error("pieces", f"{verdict.piece.mark}: {verdict.impossible}")
    outside = any(verdict.word == Step.Verdict.OUTSIDE for verdict in verdicts)
    if outside and "reason" in form.fields and not form.cleaned_data.get("reason"):
        form.add_error("reason", "Outside the sheet: say why it was done all the same. The entry stays marked.")


def _keep(request: WorkshopRequest, form: LogForm, verdicts: list[Any]) -> list[Step]:
    steps = log_step(
        by=request.user,
        key=form.cleaned_data["key"],
        kind=form.kind,
        happened_at=form.cleaned_data["happened_at"],
        pieces=[verdict.piece for verdict in verdicts],
        of_each={verdict.piece.pk: verdict.facts for verdict in verdicts},
        photos=form.cleaned_data.get("photos") or [],
        forecast=next((verdict.forecast for verdict in verdicts if verdict.forecast), None),
        **form.facts,
    )
    marks = ", ".join(step.piece.mark for step in steps)
    messages.success(request, f"Logged: {form.kind.label} – {marks}.")
    return steps


def _back(steps: list[Step]) -> HttpResponse:
    return redirect("piece", steps[0].piece_id) if len(steps) == 1 else redirect("day-sheet")


def _page(
    request: HttpRequest, form: LogForm, ticked: list[Piece], kind: str, verdicts: list[Any], visit: Visit | None
) -> HttpResponse:
    query = "&".join(f"piece={piece.pk}" for piece in ticked)
    other_work = kind == Kind.WORKED
    context = {
        "form": form,
        "ticked": ticked,
        "kind": Kind(kind),
        "usual_kinds": USUAL,
        "other_kinds": [kind for kind in BOXES if kind not in USUAL],
        "first_boxes": form.boxes(
            *(("work", "minutes") if other_work else ()), "happened_at", "layer", "place", "back_to", "wet_work"
        ),
        "seen_boxes": form.boxes(*SEEN),
        "work_boxes": [] if other_work else form.boxes(*WORK),
        "work_open": visit or any(name in form.errors for name in WORK),
        "last_boxes": form.boxes("batch", "reason", "note", "photos"),
        "verdicts": _worth_telling(kind, verdicts),
        "worst": worst(_worth_telling(kind, verdicts)),
        "usual_reasons": USUAL_REASONS,
        "query": f"{query}&visit={visit.pk}" if visit else query,
        "visit": visit,
    }
    return render(request, "projects/work/log/new.html", context, status=422 if form.errors else 200)


@member("log")
def void(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Take an entry back by a later one; both stay."""
    step = get_object_or_404(Step.objects.of(request.workshop).select_related("piece"), pk=pk)
    form = VoidForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        void_step(by=request.user, step=step, reason=form.cleaned_data["reason"], now=timezone.now())
        messages.success(request, f"Voided: {step}. The entry stays in the log, struck through.")
        return redirect("piece", step.piece_id)
    return render(request, "projects/work/log/void.html", {"form": form, "step": step})
