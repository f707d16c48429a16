"""A film gauge's readings: noted, and taken back by entries of their own."""

from finishing.workshops.models import User
from projects.record.models import FilmReading

FACTS = "workshop_id", "piece_id", "photo_id", "spot", "across", "down", "reading", "correction", "asked"


def void_reading(reading: FilmReading, *, by: User) -> FilmReading:
    """Asked for twice it is one."""
    own = {name: getattr(reading, name) for name in FACTS}
    voided, _ = FilmReading.objects.get_or_create(voids=reading, defaults={**own, "by": by})
    return voided
