"""The address that a tag on a piece leads to."""

from django.urls import reverse

from finishing.workshops.domain.site_address import site_address
from projects.record.models import Tag


def tag_address(tag: Tag, otherwise: str) -> str:
    """The whole address; `otherwise` is where the page is read that shows it, for a site that names no address."""
    return f"{site_address(tag.workshop, otherwise)}{reverse('tag', args=[tag.code])}"
