"""What is done to prove a design: revisions with their reason and cost, checks, pieces fitted and tried."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction

from projects.record.models import Check, Expense, Fitting, Piece, Revision, Trial


@transaction.atomic
def open_revision(revision: Revision, *, day: date, cost: Decimal, minutes: Any, drawing_name: str = "") -> Revision:
    """A revision, and what the change cost where it cost anything."""
    keep_revision(revision, drawing_name)
    if cost or minutes.magnitude:
        Expense.objects.create(
            workshop_id=revision.workshop_id,
            design_id=revision.part.design_id,
            revision=revision,
            what=revision.reason or f"{revision.part}: revision {revision.label}",
            amount=cost,
            minutes=minutes,
            spent_on=revision.made_on or day,
        )
    return revision


def keep_revision(revision: Revision, drawing_name: str = "") -> Revision:
    revision.drawing_name = drawing_name or revision.drawing_name
    revision.save()
    return revision


def keep_check(check: Check) -> Check:
    check.save()
    return check


def keep_expense(expense: Expense) -> Expense:
    expense.save()
    return expense


def remove_expense(expense: Expense) -> None:
    expense.delete()


@transaction.atomic
def fit(fitting: Fitting, *, out_of: Fitting | None = None) -> Fitting:
    """Put a piece into its place, out of the one where it sat; from now on it belongs to this machine."""
    if out_of is not None:
        Fitting.objects.create(
            workshop_id=fitting.workshop_id,
            machine_id=out_of.machine_id,
            part_id=out_of.part_id,
            position=out_of.position,
            piece=None,
            note=f"moved to {fitting.machine}",
            fitted_at=fitting.fitted_at,
            by=fitting.by,
        )
    fitting.save()
    if fitting.piece_id:
        Piece.objects.filter(pk=fitting.piece_id).update(machine=fitting.machine_id)
    return fitting


def do_check(trial: Trial) -> Trial:
    trial.save()
    return trial
