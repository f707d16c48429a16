"""Plans asked for, made, offered, accepted and refused. Nothing moves without being accepted."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import partial
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from finishing.media.models import Medium
from finishing.workshops.models import User, Workshop
from projects.record.models import Piece, Plan, PlanRun, Project, Slot, VisitPiece
from projects.work.domain.blast_advice import proposed

from .making import offer_first_plan
from .tasks import make

State = PlanRun.State
HEAD_START = timedelta(seconds=2)  # of a page that makes the first plan itself, before its run
ASKED, OFFERED = 0, -1  # turns in the queue: what a person asked for goes before what is offered unasked


def ask_plan(
    workshop: Workshop,
    projects: Iterable[Project],
    *,
    by: User | None,
    now: datetime,
    settings: dict[str, Any] | None = None,
    aims: Iterable[str] = (),
    seed: int = 0,
    key: UUID | str | None = None,
    priority: int = ASKED,
    at_once: bool = False,
) -> PlanRun:
    """A run that waits for its turn; the same form (key) sent twice is one run.

    A key that another workshop's run has is not told to anybody: the new run has its own.
    at_once: a first plan is offered before this is over, and the run goes on from there.
    """
    made = PlanRun.objects.filter(pk=key).first() if key else None
    if made and made.workshop == workshop:
        return made
    own_id = {"id": key} if key and not made else {}
    turn = make.using(priority=priority, run_after=timezone.now() + HEAD_START if at_once else None)
    with transaction.atomic():
        run = PlanRun.objects.create(
            workshop=workshop, asked_by=by, asked_at=now, settings=settings or {}, aims=list(aims), seed=seed, **own_id
        )
        run.projects.set(projects)
        transaction.on_commit(partial(turn.enqueue, str(run.pk)))
    if at_once:
        offer_first_plan(run, now)
    return run


def stop_plan(run: PlanRun) -> None:
    """The best so far is kept as the offer."""
    PlanRun.objects.filter(pk=run.pk, state__in=(State.WAITING, State.RUNNING)).update(stop_wanted=True)


@transaction.atomic
def accept_plan(plan: Plan, *, by: User, now: datetime) -> Plan:
    """Keep it; what was kept for any of its projects is replaced, and its visits have the pieces that it blasts."""
    projects = list(plan.run.projects.all())
    before = Plan.objects.of(plan.workshop).kept().filter(run__projects__in=projects).exclude(pk=plan.pk)
    Plan.objects.filter(pk__in=list(before.values_list("pk", flat=True))).update(state=Plan.State.REPLACED)
    _put_on_visits(plan)
    return _decide(plan, Plan.State.KEPT, by, now)


def _put_on_visits(plan: Plan) -> None:
    media = list(Medium.objects.of(plan.workshop).filter(retired=False))
    for slot in plan.slots.filter(kind=Slot.Kind.BLAST).select_related("visit__workshop"):
        if slot.visit is None:  # in a cabinet of our own
            continue
        there = VisitPiece.objects.of(plan.workshop).filter(visit=slot.visit).values("piece")
        for piece in Piece.objects.of(plan.workshop).filter(slots=slot).exclude(pk__in=there).with_log():
            proposed(slot.visit, piece, media).save()


def refuse_plan(plan: Plan, *, by: User, now: datetime) -> Plan:
    return _decide(plan, Plan.State.REFUSED, by, now)


def _decide(plan: Plan, state: Plan.State, by: User, now: datetime) -> Plan:
    plan.state, plan.decided_by, plan.decided_at = state, by, now
    plan.save(update_fields=["state", "decided_by", "decided_at"])
    return plan
