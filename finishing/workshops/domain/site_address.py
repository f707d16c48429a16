"""Where this site is reached, as a tag or a mail gives it."""

from django.conf import settings

from finishing.workshops.models import Workshop


def site_address(workshop: Workshop, otherwise: str = "") -> str:
    """Without a stroke at its end. `otherwise`: where neither workshop nor installation says one."""
    return (workshop.site_address or settings.SITE_ADDRESS or otherwise).rstrip("/")
