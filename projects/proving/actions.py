"""What is done to prove a design: a revision opened with its cost, a piece fitted into its place."""

from datetime import date
from decimal import Decimal

from django.db import transaction

from finishing.science.units import Quantity
from projects.record.models import Expense, Fitting, Piece, Revision


@transaction.atomic
def open_revision(revision: Revision, *, day: date, cost: Decimal, minutes: Quantity) -> Revision:
    """A revision, and what the change cost where it cost anything."""
    revision.save()
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
