"""Photos, served only to the workshop's members and to whoever follows the project."""

from uuid import UUID

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404

from finishing.workshops.access import VisitorRequest, WorkshopRequest, member
from projects.record.access import by_address
from projects.record.models import Follower, Photo


@member("look")
def photo(request: WorkshopRequest, pk: UUID) -> FileResponse:
    return _sent(get_object_or_404(Photo.objects.of(request.workshop), pk=pk).image)


@member("look")
def thumbnail(request: WorkshopRequest, pk: UUID) -> FileResponse:
    return _sent(get_object_or_404(Photo.objects.of(request.workshop), pk=pk).thumbnail)


@by_address(Follower)
def followed_photo(request: VisitorRequest, row: Follower, pk: UUID) -> FileResponse:
    return _sent(_followed(row, pk).image)


@by_address(Follower)
def followed_thumbnail(request: VisitorRequest, row: Follower, pk: UUID) -> FileResponse:
    return _sent(_followed(row, pk).thumbnail)


def _followed(row: Follower, pk: UUID) -> Photo:
    """Of that project only, and not of an entry that was taken back."""
    rows = Photo.objects.filter(step__piece__project=row.project_id, step__voided_by=None)
    return get_object_or_404(rows, pk=pk)


def _sent(kept: FieldFile) -> FileResponse:
    """Always as the JPEG that it was made into; a photo never changes, so a browser may keep it, a proxy not."""
    try:
        response = FileResponse(kept.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404("The photo's file is not there.") from None
    response["Content-Disposition"] = "inline"
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    return response
