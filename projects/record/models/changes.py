"""What plans rest on has changed: noted with the change itself, taken away once the plans were held against it."""

from django.db import models

from finishing.site.models import WorkshopRow


class Change(WorkshopRow):
    goes_with = "workshop"

    noted_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["noted_at"]

    def __str__(self) -> str:
        return f"{self.workshop}, {self.noted_at:%H:%M:%S}"
