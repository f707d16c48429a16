"""What a supplier may see of a part that has no drawing: the latest photo of one."""

from collections.abc import Collection
from uuid import UUID

from projects.record.models.photos import Photo
from projects.record.models.quotes import RequestLine


def with_photos(lines: Collection[RequestLine]) -> list[tuple[RequestLine, Photo | None]]:
    """Each line, with the latest photo of its part where there is no drawing; photos of an entry that was voided show
    something else."""
    undrawn = [line.operation.part_id for line in lines if not (line.revision and line.revision.drawing)]
    photos = Photo.objects.filter(step__piece__part__in=[part for part in undrawn if part], step__voided_by=None)
    latest: dict[UUID | None, Photo] = {
        photo.step.piece.part_id: photo
        for photo in photos.order_by("added_at").select_related("step__piece")
        if photo.step
    }
    return [(line, latest.get(line.operation.part_id)) for line in lines]
