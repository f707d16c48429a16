"""What is done with the address at which calendars read the plan."""

from django.db import transaction

from finishing.workshops.models import Workshop
from projects.record.models import CalendarAddress


@transaction.atomic
def renew_calendar(workshop: Workshop) -> CalendarAddress:
    """A new address; those before it open nothing any more."""
    close_calendar(workshop)
    return CalendarAddress.objects.create(workshop=workshop)


def close_calendar(workshop: Workshop) -> None:
    CalendarAddress.objects.of(workshop).in_use().update(closed=True)
