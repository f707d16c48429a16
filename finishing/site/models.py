"""What every row has: an id that a client may make, and a workshop it stays under."""

import uuid
from typing import Self, TypeVar

from django.core.exceptions import ValidationError
from django.db import models

Row = TypeVar("Row", bound=models.Model)


class WorkshopQuerySet(models.QuerySet[Row]):
    def of(self, workshop: models.Model | uuid.UUID) -> Self:
        """The rows of one workshop: the only way a page finds rows."""
        return self.filter(workshop=workshop)


class WorkshopRow(models.Model):
    """A row of one workshop. A client may send the id, so that a repeated form is one row.

    binds_currency: its sums are in the workshop's currency, which stays as long as such a row stands.
    """

    binds_currency = False

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    workshop = models.ForeignKey("finishing.Workshop", on_delete=models.CASCADE, related_name="+")

    objects = WorkshopQuerySet.as_manager()

    class Meta:
        abstract = True

    def clean(self) -> None:
        """No row points at a row of another workshop."""
        super().clean()
        for field in self._meta.concrete_fields:
            other = getattr(self, field.name, None) if field.is_relation else None
            if isinstance(other, WorkshopRow) and other.workshop_id != self.workshop_id:
                raise ValidationError({field.name: "This belongs to another workshop."})
