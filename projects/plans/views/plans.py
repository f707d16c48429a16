"""The plan: asked for, watched while it improves, offered, accepted; each step and why it stands there."""

import uuid
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Case, When
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRefresh

from finishing.air.actions.ensembles import last_trouble
from finishing.air.domain.freshness import freshness
from finishing.air.models import Ensemble
from finishing.workshops.access import WorkshopRequest, member
from finishing.workshops.forms.base import as_uuid
from projects.plans import words as plan_words
from projects.plans.actions import plans as actions
from projects.plans.domain.bare_racks import finish_by
from projects.plans.domain.terms import Terms
from projects.plans.forms import PlanSettingsForm, shown_pieces
from projects.plans.pictures import (
    DayOfTasks,
    DrawnTask,
    by_day,
    day_strip,
    days_shown,
    drawn_days,
    known_before,
    log_query,
    plan_picture,
)
from projects.record.domain.kept_plans import KeptPlans
from projects.record.models import Piece, Plan, PlanRun, Project, Slot
from projects.record.models.plans import read_in_short
from projects.work.domain.kept_air import run_since
from projects.work.domain.paint_sessions import PaintMix, hottest_in, may_share_a_mix, paint_sessions, pieces_planned

A_PAGE = 50  # pieces to be hung on racks; the rest comes when it is scrolled to


@member("look")
def plan(request: WorkshopRequest, pk: UUID | None = None) -> HttpResponse:
    """What is offered, else what is kept; the newest of all, or of those that one project is in."""
    project = get_object_or_404(Project.objects.of(request.workshop), pk=pk) if pk else None
    plans, runs = Plan.objects.of(request.workshop), PlanRun.objects.of(request.workshop)
    if project:
        plans, runs = plans.filter(run__projects=project), runs.filter(projects=project)
    run, newest = runs.first(), plans.select_related("run").first()
    kept = newest if newest and newest.kept else plans.kept().select_related("run").first()
    # While a run goes on only its own offer is shown; one that a later run has outdated is no offer any more.
    best = run.best if run and run.open else newest
    offered = best if best and best.state == Plan.State.OFFERED and not _outdated(best, run) else None
    for row in filter(None, (kept, offered)):
        row.workshop = request.workshop
        read_in_short(row)
    shown = kept if offered is None or (kept and "kept" in request.GET) else offered
    now = timezone.now()
    context = {
        "project": project,
        "open_projects": Project.objects.of(request.workshop).filter(closed=False),
        "kept": kept,
        "offered": offered,
        "moves": plan_words.moved(offered) if offered else [],
        "plan": shown,
        "key": uuid.uuid4(),
        "freshness": freshness(request.workshop, now),
        **_run(run),
        **(_shown(shown, kept, now, request.GET.get("from", "")) if shown else {}),
    }
    return render(request, "projects/plans/plan.html", context)


def _day_asked(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:  # the 31st of a short month
        return None


def _outdated(plan: Plan, run: PlanRun | None) -> bool:
    """Since it was made it was found that there is no plan any more."""
    if run is None or run.state != PlanRun.State.FAILED or run.asked_at <= plan.made_at:
        return False
    return run.projects.filter(pk__in=plan.run.projects.values("pk")).exists()


def _run(run: PlanRun | None) -> dict[str, Any]:
    if run is None:
        return {"run": None}
    return {
        "run": run,
        "running": plan_words.running(run),
        "left_out": plan_words.left_out(run),
        "forbidden": plan_words.forbidden(run),
        "ways_out": plan_words.ways_out(run),
    }


def _shown(shown: Plan, kept: Plan | None, now: datetime, asked: str) -> dict[str, Any]:
    """A large plan from the day that is asked for; where it would replace `kept`, with where its tasks stood."""
    workshop, day = shown.workshop, _day_asked(asked)
    alone = KeptPlans([shown])
    of_days = by_day(shown.slots.all(), workshop.zone, now)
    asked_for = days_shown(of_days, now, workshop.at(day, time.min) if day else None)
    run = run_since(workshop, known_before(asked_for.tasks, now), now)
    near = may_share_a_mix(shown.slots.all(), asked_for.tasks)
    pieces = pieces_planned(near)
    bare = finish_by(workshop, alone, now, run, pieces) if shown.kept else {}
    days = drawn_days(asked_for, alone.logged, kept if kept and kept != shown else None)
    sessions = paint_sessions(workshop, near, pieces, hottest_in(run.air))
    return {
        "picture": plan_picture(shown, days.tasks, now, run, Terms(workshop, shown.run.settings).visits(), bare),
        "stretch": days,
        "strips": [(each, day_strip(each), _begun_on(each, sessions)) for each in days.days],
        "best": plan_words.best(shown),
        "share": plan_words.ensemble_share(shown),
        "own_work": plan_words.own_work(shown),
        "cost_working": plan_words.cost_working(shown),
        "expected": plan_words.expected(shown),
        "ensemble": Ensemble.objects.told_to(shown.workshop, now),
        "ensemble_trouble": last_trouble(shown.workshop),
        "counts_on": plan_words.counts_on(shown),
        "late": timedelta(minutes=shown.late_minutes),
    }


def _begun_on(day: DayOfTasks[DrawnTask], sessions: list[PaintMix]) -> list[PaintMix]:
    own = {task.key for task in day.tasks}
    return [session for session in sessions if session.slots[0].pk in own]


@require_POST
@member("plan")
def run(request: WorkshopRequest) -> HttpResponse:
    """With the aims and terms of the last time, or with a change that was tried; one project, or all that are open."""
    runs = PlanRun.objects.of(request.workshop)
    asked = as_uuid(request.POST.get("run"))
    last = get_object_or_404(runs, pk=asked) if asked else runs.first()
    project = as_uuid(request.POST.get("project"))
    projects = Project.objects.of(request.workshop).filter(closed=False)
    if asked:
        projects = projects.filter(plan_runs=last)
    elif project:
        projects = projects.filter(pk=project)
    if not projects:
        messages.error(request, "There is no open project to plan.")
        return redirect("plan")
    asked_for = {name: value for name, value in (last.settings if last else {}).items() if name != "instead_of"}
    terms = {**asked_for, **_change(last, request.POST.get("change"))}
    _ask(request, projects, last.aims if last else [], terms)
    return redirect("project-plan", project) if project else redirect("plan")


def _change(run: PlanRun | None, number: str | None) -> dict[str, Any]:
    """The terms of a change that was tried when no plan was possible."""
    chosen = [change["settings"] for n, change in enumerate(run.changes if run else []) if str(n) == number]
    return chosen[0] if chosen else {}


def _ask(request: WorkshopRequest, projects: Iterable[Project], aims: list[str], terms: dict[str, Any]) -> None:
    key = as_uuid(request.POST.get("key"))
    actions.ask_plan(
        request.workshop, projects, by=request.user, now=timezone.now(), aims=aims, settings=terms, key=key,
        at_once=True,
    )  # fmt: skip


@member("plan")
def settings(request: WorkshopRequest) -> HttpResponse:
    """What a plan may use; with that it is planned at once."""
    last = PlanRun.objects.of(request.workshop).first()
    was = _was(last)
    said_before = When(pk__in=[*(was.get("racks") or ()), *(was.get("not_before") or ())], then=0)
    pieces = Piece.objects.of(request.workshop).at_work().select_related("part", "project")
    pieces = pieces.order_by(Case(said_before, default=1), "project__name", "part__name", "mark")
    if request.method == "POST":
        page, shown = None, list(pieces.filter(pk__in=shown_pieces(request.POST)))
    else:
        page = Paginator(pieces, A_PAGE).get_page(request.GET.get("page"))
        shown = list(page)
    newest = Plan.objects.of(request.workshop).first()
    slots = newest.slots.all() if newest else Slot.objects.none()
    hung_on = dict(slots.filter(pieces__in=shown).values_list("pieces", "rack"))
    form = PlanSettingsForm(request.POST or None, workshop=request.workshop, pieces=shown, hung_on=hung_on, was=was)
    if request.method == "POST" and form.is_valid():
        _ask(request, form.cleaned_data["projects"], form.aims, form.settings)
        return redirect("plan")
    context = {
        "form": form,
        "page": page,
        "many": pieces.count(),
        "rack_names": sorted(set(slots.values_list("rack", flat=True))),
        "key": uuid.uuid4(),
    }
    template = "projects/plans/settings.html" + ("#pieces" if request.htmx else "")
    return render(request, template, context, status=422 if form.errors else 200)


def _was(last: PlanRun | None) -> dict[str, Any]:
    if last is None:
        return {}
    projects = [str(pk) for pk in last.projects.values_list("pk", flat=True)]
    return {**last.settings, "aims": last.aims, "projects": projects}


@member("look")
def progress(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """How far a run is: the page asks again and again, and shows itself anew with each plan that is offered.

    Without script it is a page of its own.
    """
    row = get_object_or_404(PlanRun.objects.of(request.workshop), pk=pk)
    if not row.open:
        return HttpResponseClientRefresh() if request.htmx else redirect("plan")
    best = row.best
    if request.htmx and best and best.pk != as_uuid(request.GET.get("offered")):
        return HttpResponseClientRefresh()
    context = {**_run(row), "offered": best}
    return render(request, "projects/plans/progress.html" + ("#progress" if request.htmx else ""), context)


@require_POST
@member("plan")
def stop(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    actions.stop_plan(get_object_or_404(PlanRun.objects.of(request.workshop), pk=pk))
    return redirect("plan")


@require_POST
@member("plan")
def accept(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = get_object_or_404(Plan.objects.of(request.workshop), pk=pk)
    if row.state != Plan.State.OFFERED:
        messages.warning(request, f"That plan is not offered any more: it is {row.get_state_display()}.")
        return redirect("plan")
    actions.accept_plan(row, by=request.user, now=timezone.now())
    messages.success(request, "Accepted: this plan is kept. Visits, day sheet and calendar follow it.")
    return redirect("day-sheet" if "day" in request.POST else "plan")


@require_POST
@member("plan")
def refuse(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    row = get_object_or_404(Plan.objects.of(request.workshop), pk=pk)
    if row.state == Plan.State.OFFERED:
        actions.refuse_plan(row, by=request.user, now=timezone.now())
        messages.success(request, "Refused: nothing moves.")
    return redirect("plan")


@member("look")
def slot(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One step of a plan: what, where, who, and why it stands there."""
    rows = Slot.objects.of(request.workshop).select_related(
        "plan", "workshop", "place__workshop", "origin", "visit__workshop", "layer__coating"
    )
    row = get_object_or_404(rows.prefetch_related("people", "pieces__part__design", "pieces__workshop"), pk=pk)
    now = timezone.now()
    air = run_since(request.workshop, known_before([row], now), now).air
    coats = row.plan.slots.filter(kind=Slot.Kind.COAT).in_short() if row.kind == Slot.Kind.COAT else []
    near = may_share_a_mix(coats, [row])
    mixes = [
        session
        for session in paint_sessions(request.workshop, near, pieces_planned(near), hottest_in(air))
        if row.pk in {slot.pk for slot in session.slots}
    ]
    context = {
        "slot": row,
        "mixes": mixes,
        "why": plan_words.step_bounds(row),
        "workings": plan_words.workings(row, now),
        "query": log_query(row) if row.plan.kept else "",
    }
    return render(request, "projects/plans/slot.html", context)
