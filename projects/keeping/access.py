"""A backup holds every workshop of an installation, so it is only for whoever owns them all."""

from finishing.workshops.access import WorkshopRequest
from finishing.workshops.models import Membership, Workshop


def owns_all(request: WorkshopRequest) -> bool:
    owned = Membership.objects.filter(user=request.user, role=Membership.Role.OWNER).values("workshop")
    return not Workshop.objects.exclude(pk__in=owned).exists()
