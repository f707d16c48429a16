"""What is done to prove a design: a revision opened with its cost, a piece fitted into its place; and a list of parts
and pieces taken in."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import transaction

from finishing.science.units import Quantity
from projects.proving.domain.parts_list import ListChanges
from projects.record.actions.changes import note_change
from projects.record.actions.pieces import make_pieces
from projects.record.actions.states import keep_states_of
from projects.record.models import Expense, Fitting, Machine, Part, Piece, Revision

AT_ONCE = 500  # rows in one statement


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


@transaction.atomic
def take_in_list(changes: ListChanges) -> None:
    """What a list makes and changes, all of it or nothing."""
    Part.objects.bulk_create(changes.parts, batch_size=AT_ONCE)
    Machine.objects.bulk_create(changes.machines)
    change_parts([change.row for change in changes.changed_parts if isinstance(change.row, Part)])
    pieces = [change.row for change in changes.changed_pieces if isinstance(change.row, Piece)]
    Piece.objects.bulk_update(pieces, ["machine", "place", "old_paint", "salt"], batch_size=AT_ONCE)
    make_pieces(changes.pieces)


@transaction.atomic
def change_parts(parts: Sequence[Part]) -> None:
    """Save parts that a person changed together; what the logs of their pieces mean is read anew."""
    if not parts:
        return
    names = [field.name for field in Part._meta.concrete_fields if not field.primary_key]
    Part.objects.bulk_update(parts, names, batch_size=100)
    keep_states_of(Part.objects.filter(pk__in=[part.pk for part in parts]))
    note_change(parts[0].workshop_id)
