"""The secret address under which a workshop's kept plan is read by a calendar."""

from django.db import models

from finishing.site.models import WorkshopRow
from finishing.workshops.models.workshops import new_token


class CalendarAddress(WorkshopRow):
    """Renewed by closing it and making another."""

    token = models.CharField(max_length=40, unique=True, default=new_token)
    closed = models.BooleanField(default=False)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"calendar address of {self.made_at:%Y-%m-%d}"
