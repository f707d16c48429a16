"""What is done with a contractor's visit: prepared, run on the day, settled when it is over."""

import uuid
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from finishing.media.models import Medium
from finishing.science.units import Quantity
from finishing.workshops.models import User
from projects.money.rounding import shared_out
from projects.record.actions.log import log_step, void_step
from projects.record.models import Piece, Step, Visit, VisitPiece, VisitTask
from projects.visits.domain.settlement import pots, settlement
from projects.work.domain.blast_advice import GRADE, proposed

NOTED = Step.Kind.NOTED
Phase = VisitTask.Phase
# What every visit begins with: when, what, minutes and people   [common practice]
USUAL_TASKS = (
    (Phase.NEEDED, "Water within reach", 10, 1),
    (Phase.NEEDED, "Firm standing for rig and compressor", 15, 1),
    (Phase.NEEDED, "Power outdoors", 5, 1),
    (Phase.NEEDED, "Room for the hose, and nobody in its way", 15, 1),
    (Phase.NEEDED, "Neighbours told", 20, 1),
    (Phase.BEFORE, "Move out and block up", 45, 2),
    (Phase.BEFORE, "Plug and mask", 90, 2),
    (Phase.AFTER, "Blow down", 20, 1),
    (Phase.AFTER, "Solvent wipe", 40, 2),
    (Phase.AFTER, "Sweep and bag the spent grit", 60, 2),
    (Phase.AFTER, "Pull every plug", 20, 1),
)


@transaction.atomic
def prepare_visit(visit: Visit) -> Visit:
    """A new visit, with what is usually to be done around it."""
    visit.save()
    VisitTask.objects.bulk_create(
        VisitTask(
            workshop_id=visit.workshop_id,
            visit=visit,
            phase=phase,
            what=what,
            minutes=minutes,
            people=people,
            position=position,
        )
        for position, (phase, what, minutes, people) in enumerate(USUAL_TASKS, start=1)
    )
    return visit


def cancel_visit(visit: Visit, *, now: datetime) -> None:
    visit.cancelled_at = visit.cancelled_at or now
    visit.save(update_fields=["cancelled_at"])


@transaction.atomic
def keep_tasks(visit: Visit, tasks: Iterable[tuple[uuid.UUID | None, VisitTask]]) -> None:
    """The tasks as typed; each comes with the id of the one it was before, so that what is done stays done."""
    standing = {task.pk: task for task in visit.tasks.all()}
    for position, (before, typed) in enumerate(tasks, start=1):
        task = standing.pop(before, None) if before else None
        task = task or VisitTask(workshop_id=visit.workshop_id, visit=visit)
        for name in ("phase", "what", "minutes", "people"):
            setattr(task, name, getattr(typed, name))
        task.position = position
        task.save()
    VisitTask.objects.filter(pk__in=standing).delete()


def tick_task(task: VisitTask, *, done: bool, now: datetime) -> None:
    task.done_at = now if done else None
    task.save(update_fields=["done_at"])


# Which pieces


@transaction.atomic
def choose_pieces(visit: Visit, pieces: Iterable[Piece], *, medium: Medium | None = None, grade: str = GRADE) -> None:
    """These pieces and no others; what was blasted or refused stays on the visit. New ones get what is advised."""
    wanted = {piece.pk: piece for piece in pieces}
    standing = {row.piece_id: row for row in visit.pieces.in_full()}
    for pk, row in standing.items():
        if pk not in wanted and row.state == VisitPiece.State.WAITING:
            row.delete()
    media = list(Medium.objects.of(visit.workshop).filter(retired=False))
    for pk, piece in wanted.items():
        if pk not in standing:
            proposed(visit, piece, media, medium, grade).save()


# The day


@transaction.atomic
def refuse_piece(row: VisitPiece, *, by: User, key: uuid.UUID, reason: str, now: datetime, **seen: Quantity) -> None:
    """Not blasted on this day; its log says why, with what was measured."""
    row.refused_at, row.refused_because = now, reason
    row.save(update_fields=["refused_at", "refused_because"])
    note = f"Not blasted on the visit of {row.visit.contractor}: {reason}"
    log_step(by=by, key=key, kind=NOTED, happened_at=now, pieces=[row.piece], of_each={}, note=note, **seen)


def wait_again(row: VisitPiece) -> None:
    """It may be blasted after all."""
    row.refused_at, row.refused_because = None, ""
    row.save(update_fields=["refused_at", "refused_because"])


# Settling


@transaction.atomic
def settle_visit(
    visit: Visit,
    *,
    by: User,
    hours: Quantity,
    paid: Decimal,
    used: dict[uuid.UUID, Quantity],
    timed: dict[uuid.UUID, Quantity],
    now: datetime,
) -> Visit:
    """Hours, money, kilograms by medium and minutes by VisitPiece as they really were; settled again they are new."""
    visit.hours, visit.paid = hours, paid
    visit.settled_at = visit.settled_at or now
    visit.save(update_fields=["hours", "paid", "settled_at"])
    for row in settlement(visit).blasted:
        _keep_minutes(row, timed.get(row.pk), by=by, now=now)
    whole = settlement(visit)
    for medium, rows in pots(whole.blasted):
        _share_medium(rows, used.get(medium.pk), [whole.minutes[row.pk] for row in rows])
    return visit


def _keep_minutes(row: VisitPiece, minutes: Quantity | None, *, by: User, now: datetime) -> None:
    """Minutes that the day's entry lacks go into the log as an entry of their own; a wrong one is voided."""
    blasted = row.blasted
    if blasted is None or blasted.minutes is not None or minutes == row.timed:
        return
    if row.timed is not None and row.timed_by is not None:
        void_step(by=by, step=row.timed_by, reason="the visit was settled anew", now=now)
    row.timed_by = None
    if minutes is not None:
        (row.timed_by,) = log_step(
            by=by,
            key=uuid.uuid4(),
            kind=NOTED,
            happened_at=blasted.happened_at,
            pieces=[row.piece],
            of_each={},
            minutes=minutes,
            note=f"Blasted by {row.visit.contractor}: time taken from the settled visit.",
        )
    row.save(update_fields=["timed_by"])


def _share_medium(rows: list[VisitPiece], kilograms: Quantity | None, minutes: list[int]) -> None:
    """What went through the pot, by minutes, to ten grams."""
    shares: Sequence[Decimal | None] = [None] * len(rows)
    if kilograms is not None:
        shares = shared_out(Decimal(str(round(kilograms.to("kg").magnitude, 2))), minutes)
    for row, share in zip(rows, shares, strict=True):
        row.used = None if share is None else Quantity(float(share), "kg")
        row.save(update_fields=["used"])
