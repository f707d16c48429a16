"""A page of the site as a PDF, with the photos that it shows."""

from collections.abc import Callable, Iterable
from functools import wraps
from io import BytesIO
from typing import Concatenate, ParamSpec
from urllib.parse import urlsplit

from django.http import HttpResponseBase
from django.http.response import HttpResponse
from django.urls import Resolver404, resolve
from django.utils import timezone
from django.utils.text import slugify
from PIL import Image

from finishing.workshops.access import VisitorRequest
from finishing.workshops.models import Workshop
from projects.record.models import Photo
from projects.site.paper import PaperHead, heading_of, page_pdf, picture_addresses, read_page
from projects.site.views import sent

P = ParamSpec("P")
LONGEST = 1000  # px: two photos beside each other on A4 are sharp by it


def on_paper(
    view: Callable[Concatenate[VisitorRequest, P], HttpResponseBase],
) -> Callable[Concatenate[VisitorRequest, P], HttpResponseBase]:
    """The view's page as a PDF: to whom it is shown, and what of it, is the page's own matter."""

    @wraps(view)
    def as_pdf(request: VisitorRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        page = view(request, *args, **kwargs)
        if page.status_code != 200 or not isinstance(page, HttpResponse) or request.workshop is None:
            return page
        main = read_page(page.content.decode())
        title = heading_of(main)
        about = main.attributes.get("data-about", "") or title
        head = PaperHead(about, str(request.workshop), f"{timezone.localdate():%-d %B %Y}")
        pdf = page_pdf(main, head, photos_at(request.workshop, picture_addresses(main)))
        return sent(pdf, f"{slugify(title)[:60] or 'paper'}.pdf")

    return as_pdf


def photos_at(workshop: Workshop, addresses: Iterable[str]) -> dict[str, bytes]:
    """The workshop's photos that stand behind these addresses; no other picture."""
    asked = {}
    for address in addresses:
        try:
            match = resolve(urlsplit(address).path)
        except Resolver404:
            continue
        if match.url_name in ("photo", "photo-thumbnail"):
            asked[address] = match.kwargs["pk"]
    rows = Photo.objects.of(workshop).in_bulk(set(asked.values()))
    return {address: jpeg for address, pk in asked.items() if pk in rows and (jpeg := for_paper(rows[pk]))}


def for_paper(photo: Photo) -> bytes:
    """No larger than paper shows it; b"" where its file is gone."""
    try:
        with photo.image.open("rb") as file, Image.open(file) as picture:
            picture.draft("RGB", (LONGEST, LONGEST))
            picture.thumbnail((LONGEST, LONGEST))
            written = BytesIO()
            picture.convert("RGB").save(written, "JPEG", quality=82)
            return written.getvalue()
    except (FileNotFoundError, OSError):
        return b""
