"""A machine taken apart: one part after another, by a phone in the yard."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from finishing.science.cautions import cautions_for
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.record.actions.projects import add_machines
from projects.record.models import Machine, Piece, Project, Removal, Step
from projects.strip_down import actions
from projects.strip_down.domain import next_tag, still_on
from projects.strip_down.forms import TakeOffForm

FIRST_MACHINE = "1"
USUAL_FIXINGS = ("hexagon bolts", "set screws", "studs and nuts", "taper pins", "keys", "split pins", "springs")


@member("look")
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """Which machine of a project; one that has none yet gets its first."""
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    if request.method == "POST" and "log" in request.may:
        add_machines(project, [FIRST_MACHINE])
    machines = list(project.machines.all())
    if len(machines) == 1:
        return redirect("strip-down", machines[0].pk)
    return render(request, "projects/strip_down/stripping/choose.html", {"project": project, "machines": machines})


@member("look")
@require_http_methods(["GET", "HEAD", "POST"])
def strip_down(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    rows = Machine.objects.of(request.workshop).select_related("project__design", "workshop")
    machine = get_object_or_404(rows, pk=pk)
    if request.method == "POST":
        return _take_off(request, machine)
    return _page(request, machine, _form(request, machine))


def _wrong(request: WorkshopRequest, machine: Machine) -> Removal | None:
    """The entry that is to be corrected, where the address names one that still stands."""
    asked = as_uuid(request.POST.get("corrects") or request.GET.get("corrects"))
    standing = Removal.objects.standing().filter(machine=machine)
    return standing.filter(step=asked).first() if asked else None


def _form(request: WorkshopRequest, machine: Machine) -> TakeOffForm:
    old = _wrong(request, machine)
    off = [row for row in Removal.objects.off_now(machine) if old is None or row.pk != old.pk]
    on = [piece.pk for piece in still_on(machine, off)] + ([old.piece.pk] if old else [])
    asked = request.GET.get("piece", "")
    first = {"piece": asked} if as_uuid(asked) else {}
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    return TakeOffForm(
        *sent,
        workshop=request.workshop,
        on=Piece.objects.filter(pk__in=on).select_related("part").order_by("part__name", "mark"),
        tags=[row.tag for row in off],
        next_tag=next_tag(off),
        now=timezone.now(),
        old=old,
        initial=first,
    )


def _take_off(request: WorkshopRequest, machine: Machine) -> HttpResponse:
    if "log" not in request.may:
        return redirect("strip-down", machine.pk)
    key = as_uuid(request.POST.get("key"))
    if key and Step.objects.of(request.workshop).filter(rack=key).exists():  # sent again, since no answer came
        return redirect("strip-down", machine.pk)
    form, old = _form(request, machine), _wrong(request, machine)
    if not form.is_valid():
        return _page(request, machine, form, status=422)
    given = form.cleaned_data
    piece = given["piece"] or actions.name_part(machine, given["name"], given["tag"], given["key"])
    removal = actions.take_off(
        by=request.user,
        key=given["key"],
        machine=machine,
        piece=piece,
        removal=form.removal,
        fixings=form.fixings,
        happened_at=given["happened_at"],
        now=form.now,
        repair=form.chosen_repair,
        photos=given["photos"],
        note=given["note"],
        minutes=given["minutes"],
        wrong=[old.step] if old else [],
    )
    messages.success(request, f"Off, tag {removal.tag}: {piece.part}.", extra_tags=str(removal.step.rack))
    return redirect("strip-down", machine.pk)


def _page(request: WorkshopRequest, machine: Machine, form: TakeOffForm, status: int = 200) -> HttpResponse:
    off = Removal.objects.off_now(machine)
    context = {
        "machine": machine,
        "project": machine.project,
        "form": form,
        "off": list(reversed(off)),
        "on": still_on(machine, off),
        "parts": machine.project.design.parts.all(),
        "usual_fixings": USUAL_FIXINGS,
        "old": _wrong(request, machine),
        "cautions": cautions_for(["heavy", "old paint"]),
    }
    return render(request, "projects/strip_down/stripping/strip_down.html", context, status=status)


@member("log")
def correct(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """An entry of stripping down or of a repair, put right where it was made."""
    step = get_object_or_404(Step.objects.of(request.workshop), pk=pk, voided_by=None)
    removal = Removal.objects.of(request.workshop).filter(step=step).first()
    if removal is None:
        return redirect("step-void", step.pk)
    response = redirect("strip-down", removal.machine_id)
    response["Location"] += f"?corrects={step.pk}"
    return response
