"""What is done with a design, its parts and their revisions."""

from typing import Any

from django.db import transaction
from django.db.models import ProtectedError

from projects.record.models import Design, Part, Quote


def save_design(design: Design) -> Design:
    design.save()
    return design


@transaction.atomic
def save_part(part: Part, **size: Any) -> Part:
    """Save a part with its weight and painted area."""
    for column, value in size.items():
        setattr(part, column, value)
    part.save()
    return part


def remove_part(part: Part) -> bool:
    """Only a part that no piece was made of and nobody named a price for goes; a piece's log needs its part."""
    if Quote.objects.filter(operation__part=part).exists():
        return False
    try:
        with transaction.atomic():
            part.delete()
    except ProtectedError:
        return False
    return True
