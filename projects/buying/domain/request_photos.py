"""What a supplier may see of a part that has no drawing: the latest photo of one."""

from collections.abc import Iterable
from uuid import UUID

from projects.record.models.photos import Photo


def latest_photos(parts: Iterable[UUID]) -> dict[UUID, Photo]:
    """By part; photos of an entry that was voided show something else."""
    rows = Photo.objects.filter(step__piece__part__in=parts, step__voided_by=None).order_by("added_at")
    return {photo.step.piece.part_id: photo for photo in rows.select_related("step__piece")}
