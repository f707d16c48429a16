"""What is done with the parts of a design."""

from django.db import transaction
from django.db.models import ProtectedError

from projects.record.models import Part, Quote


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
