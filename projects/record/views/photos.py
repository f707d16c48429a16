"""Photos, served only to the workshop's members and to whoever follows the project."""

from uuid import UUID

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404

from finishing.workshops.access import VisitorRequest, WorkshopRequest, by_address, member
from projects.record.images import tile
from projects.record.models import Follower, Photo

KEPT_BY_BROWSERS = "private, max-age=31536000, immutable"  # a photo never changes; a proxy keeps none
KEPT_NOWHERE = "private, no-store"  # an address that is closed opens nothing from that moment on


@member("look")
def photo(request: WorkshopRequest, pk: UUID) -> FileResponse:
    return _sent(get_object_or_404(Photo.objects.of(request.workshop), pk=pk).image)


@member("look")
def thumbnail(request: WorkshopRequest, pk: UUID) -> FileResponse:
    return _sent(get_object_or_404(Photo.objects.of(request.workshop), pk=pk).thumbnail)


@member("look")
def photo_tile(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    """One of many on a page."""
    row = get_object_or_404(Photo.objects.of(request.workshop), pk=pk)
    try:
        with row.thumbnail.open("rb") as kept:
            content = tile(kept.read())
    except FileNotFoundError:
        raise Http404("The photo's file is not there.") from None
    headers = {"Cache-Control": KEPT_BY_BROWSERS, "X-Content-Type-Options": "nosniff"}
    return HttpResponse(content, content_type="image/webp", headers=headers)


@by_address(Follower)
def followed_photo(request: VisitorRequest, row: Follower, pk: UUID) -> FileResponse:
    return _sent(_followed(row, pk).image, KEPT_NOWHERE)


@by_address(Follower)
def followed_thumbnail(request: VisitorRequest, row: Follower, pk: UUID) -> FileResponse:
    return _sent(_followed(row, pk).thumbnail, KEPT_NOWHERE)


def _followed(row: Follower, pk: UUID) -> Photo:
    """Of that project only, and what its customer may see."""
    return get_object_or_404(Photo.objects.for_customers().filter(project=row.project_id), pk=pk)


def _sent(kept: FieldFile, caching: str = KEPT_BY_BROWSERS) -> FileResponse:
    """Always as the JPEG that it was made into."""
    try:
        response = FileResponse(kept.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404("The photo's file is not there.") from None
    response["Content-Disposition"] = "inline"
    response["Cache-Control"] = caching
    response["X-Content-Type-Options"] = "nosniff"
    return response
