"""Log a step for one piece or a rack: one form, values prefilled from the latest reading, the verdict as you type."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.record.actions.log import correct_rack, void_rack
from projects.record.domain.states import read_states
from projects.record.models import Piece, Project, Step
from projects.record.models.stages import Stage
from projects.work.domain.outlook import outlooks
from projects.work.domain.verdicts import PieceVerdict, judge, worst
from projects.work.forms.log import BOXES, SEEN, USUAL, USUAL_REASONS, WORK, AskedEntry, LogForm, TickedForm, VoidForm

Kind = Step.Kind
LATE = "logged without signal"  # the reason of an entry whose writer saw no verdict
IN_THE_YARD = (
    *(Kind.BLASTED, Kind.COATED, Kind.PREPARED, Kind.LETTERED, Kind.LOOKED, Kind.BLOOM),
    *(Kind.WETTED, Kind.TURNED, Kind.NOTED),
)
LONG = 30  # pieces in a heap from which those that are alike are one line
FEW = 8  # so many pieces a phone shows at once; of more only those that the entry may be for


@member("log")
def new(request: WorkshopRequest) -> HttpResponse:
    """GET shows the form for the ticked pieces; POST adds an entry to each."""
    asked = TickedForm(request.POST or request.GET, workshop=request.workshop).asked()
    if asked.wrong and asked.wrong[0].kind in (Kind.TAKEN_OFF, Kind.TO_REPAIR):
        return redirect("strip-down-correct", asked.wrong[0].pk)
    if not asked.ticked and request.method == "GET":
        return _choose(request)
    if request.method == "POST" and (arrived := _arrived(request)):
        return _onward(asked, arrived)
    form, verdicts = _judged(request, asked)
    if request.method == "POST" and form.is_valid():
        _ask_for_reasons(form, verdicts, late="late" in request.POST)
    if request.method == "POST" and form.is_valid():
        steps = _keep(request, form, verdicts, asked.wrong)
        return _onward(asked, steps)
    return _page(request, form, asked, verdicts)


def _arrived(request: WorkshopRequest) -> list[Step]:
    """What this form has logged already: sent again because no answer came, it is not judged again."""
    key = as_uuid(request.POST.get("key"))
    return list(Step.objects.of(request.workshop).filter(rack=key)) if key else []


def _onward(asked: AskedEntry, steps: list[Step]) -> HttpResponse:
    if asked.visit:
        return redirect("visit-run", asked.visit.pk)
    return redirect("piece", steps[0].piece_id) if len(steps) == 1 else redirect("day-sheet")


@member("log")
@require_POST
def verdict(request: WorkshopRequest) -> HttpResponse:
    """The verdict on what is typed so far; nothing is kept."""
    asked = TickedForm(request.POST, workshop=request.workshop).asked()
    form, verdicts = _judged(request, asked)
    shown = _worth_saying(form, verdicts)
    return render(request, "projects/work/log/new.html#verdict", {"verdicts": shown, "worst": worst(shown)})


def _judged(request: WorkshopRequest, asked: AskedEntry) -> tuple[LogForm, list[PieceVerdict]]:
    """The form as it stands, and what it would mean for each piece."""
    now = timezone.now()
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = LogForm(*sent, workshop=request.workshop, asked=asked, now=now)
    then = outlooks(request.workshop, asked.ticked, now, at=form.when)
    return form, [judge(outlook, asked.kind, form.when, form.seen, form.chosen_layer, form.degree) for outlook in then]


def _worth_saying(form: LogForm, verdicts: list[PieceVerdict]) -> list[PieceVerdict]:
    """Work that no sheet speaks of has a verdict only where it cannot be logged."""
    return [verdict for verdict in verdicts if form.entry != Kind.WORKED or verdict.impossible]


def _choose(request: WorkshopRequest) -> HttpResponse:
    """Which pieces; a kind of entry goes on to the form only where it was asked for."""
    pieces = read_states(Piece.objects.of(request.workshop).at_work().in_order())
    kind = request.GET.get("kind", "")
    return render(request, "projects/work/log/choose.html", {"heaps": _heaps(pieces, kind), "kind": kind})


@dataclass(frozen=True)
class Heap:
    """The pieces of one project that are at one stage, and whether they are laid out or folded."""

    project: Project
    stage: Stage
    pieces: list[Piece]
    open: bool
    ticked: bool  # all of them, since the entry that is asked for can only be meant for these
    alike: list[list[Piece]]  # of a long heap: those of a part and place that are in the same state


def _heaps(pieces: Iterable[Piece], kind: str) -> list[Heap]:
    def lies(piece: Piece) -> tuple[str, str, int]:
        return piece.project.name, str(piece.project_id), [*Stage].index(piece.state.stage)

    heaps = [list(heap) for _, heap in groupby(sorted(pieces, key=lies), lies)]
    meant = [all(piece.state.next_kind == kind for piece in heap) for heap in heaps]
    few = len(heaps) == 1 or sum(map(len, heaps)) <= FEW
    return [
        Heap(
            heap[0].project,
            heap[0].state.stage,
            heap,
            few or any(piece.state.next_kind == kind for piece in heap),
            fits and meant.count(True) == 1,
            _alike(heap) if len(heap) > LONG else [],
        )
        for heap, fits in zip(heaps, meant, strict=True)
    ]


def _alike(pieces: Iterable[Piece]) -> list[list[Piece]]:
    groups: dict[tuple[object, ...], list[Piece]] = {}
    for piece in pieces:
        groups.setdefault((piece.part_id, piece.place_id, piece.salt, piece.state), []).append(piece)
    return [*groups.values()]


def _ask_for_reasons(form: LogForm, verdicts: list[PieceVerdict], late: bool) -> None:
    """Outside asks for a reason, unless nobody could be asked; an entry that cannot be is told at the pieces.

    late: it waited in a device for the workshop to answer, and is judged only now, for the moment when it happened.
    """
    for verdict in verdicts:
        if verdict.impossible:
            form.add_error("pieces", f"{verdict.piece.mark}: {verdict.impossible}")
    outside = any(verdict.word == Step.Verdict.OUTSIDE for verdict in verdicts)
    if outside and late and "reason" in form.fields:
        form.cleaned_data["reason"] = form.cleaned_data.get("reason") or LATE
    if outside and "reason" in form.fields and not form.cleaned_data.get("reason"):
        form.add_error("reason", "Outside the sheet: say why it was done all the same. The entry stays marked.")


def _keep(request: WorkshopRequest, form: LogForm, verdicts: list[PieceVerdict], wrong: tuple[Step, ...]) -> list[Step]:
    steps = correct_rack(
        by=request.user,
        wrong=wrong,
        now=form.now,
        key=form.cleaned_data["key"],
        kind=form.entry,
        happened_at=form.cleaned_data["happened_at"],
        pieces=[verdict.piece for verdict in verdicts],
        of_each={verdict.piece.pk: verdict.facts for verdict in verdicts},
        photos=form.cleaned_data.get("photos") or [],
        forecast=next((verdict.forecast for verdict in verdicts if verdict.forecast), None),
        **form.facts,
    )
    say_logged(request, steps, "Corrected" if wrong else "Logged")
    return steps


def say_logged(request: WorkshopRequest, steps: list[Step], done: str = "Logged") -> None:
    """With a tap that takes it back, and one that corrects it: base.html finds the rack in the message's tags."""
    marks = ", ".join(step.piece.mark for step in steps)
    messages.success(request, f"{done}: {Kind(steps[0].kind).label} – {marks}.", extra_tags=str(steps[0].rack))


@member("log")
@cache_control(private=True, max_age=60 * 60)
def yard(request: WorkshopRequest) -> HttpResponse:
    """The form that the script keeps for where there is no signal: entries that need no more than was measured."""
    return render(request, "projects/work/log/yard.html", {"kinds": IN_THE_YARD})


@member("log")
@require_POST
def undo(request: WorkshopRequest, rack: UUID) -> HttpResponse:
    """Take back at once what one form has logged; a second tap changes nothing."""
    logged = Step.objects.of(request.workshop).filter(rack=rack)
    if not logged.exists():
        raise Http404("Nothing was logged by that form.")
    steps = list(Step.objects.of_rack(request.workshop, rack).select_related("piece"))
    void_rack(by=request.user, steps=steps, reason="undone at once", now=timezone.now())
    if steps:
        marks = ", ".join(step.piece.mark for step in steps)
        messages.success(request, f"Taken back: {Kind(steps[0].kind).label} – {marks}. They stay, struck through.")
    return redirect("piece", steps[0].piece_id) if len(steps) == 1 else redirect("day-sheet")


def _page(request: WorkshopRequest, form: LogForm, asked: AskedEntry, verdicts: list[PieceVerdict]) -> HttpResponse:
    query, visit = "&".join(f"piece={piece.pk}" for piece in asked.ticked), asked.visit
    extra = [f"visit={visit.pk}"] if visit else []
    extra += [f"corrects={asked.wrong[0].rack}"] if asked.wrong else []
    other_work = asked.kind == Kind.WORKED
    shown = _worth_saying(form, verdicts)
    context = {
        "form": form,
        "ticked": asked.ticked,
        "kind": asked.kind,
        "usual_kinds": USUAL,
        "other_kinds": [kind for kind in BOXES if kind not in USUAL],
        "first_boxes": form.boxes(
            *(("work", "minutes") if other_work else ()),
            "happened_at",
            "layer",
            "flash_rust",
            "inhibitor_claim",
            "place",
            "back_to",
            "wet_work",
        ),
        "seen_boxes": form.boxes(*SEEN),
        "work_boxes": [] if other_work else form.boxes(*WORK),
        "work_open": visit or any(name in form.errors for name in WORK),
        "last_boxes": form.boxes("batch", "reason", "note", "photos"),
        "verdicts": shown,
        "worst": worst(shown),
        "usual_reasons": USUAL_REASONS,
        "query": "&".join([query, *extra]),
        "visit": visit,
        "wrong": asked.wrong,
    }
    return render(request, "projects/work/log/new.html", context, status=422 if form.errors else 200)


@member("log")
def void(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Take an entry back by a later one, and with it those of the same rack that stay ticked; all stay to be read."""
    step = get_object_or_404(Step.objects.of(request.workshop).select_related("piece"), pk=pk)
    rack = Step.objects.of_rack(request.workshop, step.rack) if step.rack else Step.objects.filter(pk=step.pk)
    form = VoidForm(request.POST or None, step=step, rack=rack.select_related("piece__part").order_by("piece__mark"))
    if request.method == "POST" and form.is_valid():
        chosen = list(form.cleaned_data.get("entries") or [step])
        void_rack(by=request.user, steps=chosen, reason=form.cleaned_data["reason"], now=timezone.now())
        of = f" of {', '.join(each.piece.mark for each in chosen)}" if len(chosen) > 1 else ""
        messages.success(request, f"Voided: {step}{of}. What is voided stays in the log, struck through.")
        return redirect("piece", step.piece_id)
    return render(request, "projects/work/log/void.html", {"form": form, "step": step})
