"""The workshop's projects, and one project with its pieces by stage."""

from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member, unless_unchanged
from projects.keeping.actions import trials
from projects.record.actions import projects as actions
from projects.record.domain.kept_plans import KeptPlans
from projects.record.domain.states import read_states, stages_of_projects
from projects.record.forms.projects import AddressForm, MachineNumbersForm, ProjectEditForm, ProjectForm
from projects.record.models import Photo, Project
from projects.record.models.stages import Stage
from projects.work.domain.outlook import Outlook, pieces_of, shared_outlooks
from projects.work.words import by_plan, next_step, when_next

TAKEN_IN = 100  # pieces of a project that are laid out each; of more, those that are alike together


@member("look")
@unless_unchanged
def projects(request: WorkshopRequest) -> HttpResponse:
    rows = Project.objects.of(request.workshop)
    stages = stages_of_projects(request.workshop)
    context = {
        "open": [
            (project, [(stage, stages[project.pk][stage]) for stage in Stage if stages[project.pk][stage]])
            for project in rows.filter(closed=False)
        ],
        "closed": rows.filter(closed=True),
    }
    return render(request, "projects/work/projects/projects.html", context)


@member("plan")
def new(request: WorkshopRequest) -> HttpResponse:
    form = ProjectForm(request.POST or None, workshop=request.workshop, initial={"design": request.GET.get("design")})
    if form.repeated:
        return redirect("project", form.repeated.pk)
    if request.method == "POST" and form.is_valid():
        project = actions.start_project(form.instance, form.cleaned_data["machines"])
        return redirect("project", project.pk)
    return render(request, "projects/work/projects/new.html", {"form": form})


@member("look")
@unless_unchanged
def detail(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    return _page(request, project, MachineNumbersForm(workshop=request.workshop))


def _page(
    request: WorkshopRequest, project: Project, numbers_form: MachineNumbersForm, status: int = 200
) -> HttpResponse:
    pieces = read_states(project.pieces.order_by("part__name", "mark"))
    machine = request.GET.get("machine", "")
    shown = [piece for piece in pieces if not machine or str(piece.machine_id) == machine]
    ahead = shared_outlooks(request.workshop, [piece for piece in shown if not piece.set_aside], timezone.now())
    follower = project.followers.in_use().first()
    kept = KeptPlans.in_short(request.workshop, project.pieces.all()) if not project.closed else None
    ticks = "log" in request.may and not project.closed
    opened = next((outlook for outlook in ahead if str(outlook.piece.pk) == request.GET.get("alike")), None)
    if request.htmx and opened:
        return HttpResponse(_inside(opened, ticks))
    here = f"?{urlencode({'machine': machine})}&" if machine else "?"
    photos = Photo.objects.latest_of(outlook.piece for outlook in ahead) if len(shown) > TAKEN_IN else None

    def heap(outlook: Outlook) -> AlikeCard:
        piece = outlook.piece
        slot = kept.coming(piece)[:1] if kept else []
        return AlikeCard(
            key=str(piece.pk),
            mark=piece.mark,
            part=piece.part.name,
            count=len(outlook.pieces),
            bare=outlook.state.is_bare,
            photo=photos.get(piece.pk) if photos else None,
            next=next_step(outlook),
            when=tuple(filter(None, [when_next(outlook) if kept else "", *(by_plan(each, outlook) for each in slot)])),
            ticks=ticks,
            here=here,
            inside=_inside(outlook, ticks) if outlook is opened else "",
        )

    columns = []
    for stage in Stage.on_the_way({outlook.state.stage for outlook in ahead}):
        own = [outlook for outlook in ahead if outlook.state.stage == stage]
        columns.append(Column(stage, own, [*map(heap, own)] if photos is not None else []))
    context = {
        "project": project,
        "kept": kept,
        "columns": columns,
        "ticks": ticks,
        "pieces": pieces,
        "aside": [piece for piece in shown if piece.set_aside],
        "machines": project.machines.all(),
        "machine": machine,
        "unmade": project.design.parts.exclude(pk__in={piece.part_id for piece in pieces}),
        "parts": project.design.parts.all(),
        "machines_form": numbers_form,
        "address_form": AddressForm(workshop=request.workshop),
        "address": follower and request.build_absolute_uri(reverse("follow", args=[follower.token])),
        "follower": follower,
    }
    return render(request, "projects/work/projects/detail.html", context, status=status)


@dataclass(frozen=True)
class AlikeCard:
    """What is shown of pieces that are alike, by the first of them; `here` is the page's own address."""

    key: str
    mark: str
    part: str
    count: int
    bare: bool
    photo: UUID | None
    next: str
    when: tuple[str, ...]
    ticks: bool
    here: str
    inside: str


@dataclass(frozen=True)
class Column:
    """The pieces of a project at one stage; of a long one those that are alike as heaps, else laid out each."""

    stage: Stage
    outlooks: list[Outlook]
    heaps: list[AlikeCard]

    @property
    def count(self) -> int:
        return len(pieces_of(self.outlooks))


def _inside(outlook: Outlook, ticks: bool) -> str:
    """Pieces that are alike, one by one."""
    return render_to_string("projects/work/projects/detail.html#alike", {"outlook": outlook, "ticks": ticks})


@member("plan")
def edit(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    form = ProjectEditForm(request.POST or None, workshop=request.workshop, instance=project)
    if request.method == "POST" and form.is_valid():
        actions.change_project(form.instance)
        return redirect("project", project.pk)
    return render(request, "projects/work/projects/edit.html", {"form": form, "project": project})


@member("plan")
@require_POST
def add_machines(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    form = MachineNumbersForm(request.POST, workshop=request.workshop)
    if not form.is_valid():
        return _page(request, project, form, status=422)
    actions.add_machines(project, form.cleaned_data["numbers"])
    return redirect("project", project.pk)


@member("plan")
@require_POST
def throw_away(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """A trial, with all that was logged on it."""
    project = get_object_or_404(Project.objects.of(request.workshop).select_related("design"), pk=pk)
    try:
        trials.throw_away(project)
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
        return redirect("project", project.pk)
    messages.success(request, f"{project} is thrown away.")
    return redirect("projects")


@member("plan")
@require_POST
def keep_for_good(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    trials.keep_for_good(project)
    messages.success(request, f"{project} is no trial any more: its log stays.")
    return redirect("project", project.pk)


@member("plan")
@require_POST
def renew_address(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    form = AddressForm(request.POST, workshop=request.workshop)
    if form.is_valid():
        actions.renew_address(project, form.cleaned_data["name"])
        messages.success(request, "A new address to follow this project is made. An older one opens nothing any more.")
    return redirect(f"{reverse('project', args=[project.pk])}#follow")


@member("plan")
@require_POST
def close_address(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk)
    actions.close_addresses(project)
    messages.success(request, "The address is closed.")
    return redirect(f"{reverse('project', args=[project.pk])}#follow")
