"""A tin is opened today, by one tap."""

from datetime import date

from django.db import transaction

from finishing.coatings.models import Coating
from finishing.workshops.models import User, Workshop
from projects.record.models import OpenedTin


@transaction.atomic
def open_tin_today(coating: Coating, *, workshop: Workshop, by: User, day: date) -> tuple[OpenedTin, bool]:
    """The tin, and whether it was noted by this; one opened today that still has paint in it is taken for it."""
    Workshop.objects.select_for_update().get(pk=workshop.pk)  # two taps wait for one another
    noted = OpenedTin.objects.of(workshop).standing().filter(coating=coating, opened_on=day).first()
    if noted:
        return noted, False
    return OpenedTin.objects.create(workshop=workshop, coating=coating, opened_on=day, by=by), True
