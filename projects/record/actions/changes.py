"""A change is noted for whoever keeps plans: the planner's worker reads it in its turn."""

import uuid

from projects.record.models import Change, Plan


def note_change(workshop_id: uuid.UUID) -> None:
    """In the transaction of the change itself, so that neither is kept without the other."""
    if Plan.objects.kept().filter(workshop_id=workshop_id).exists():
        Change.objects.create(workshop_id=workshop_id)
