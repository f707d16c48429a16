"""What every row has: an id that a client may make, and a workshop it stays under."""

import uuid
from typing import ClassVar, Self, TypeVar

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


class Edition(models.Model):
    """A mark of what all pages of this server show; it is another one after every change: see site.editions."""

    mark = models.UUIDField(default=uuid.uuid4)

    def __str__(self) -> str:
        return str(self.mark)


class LibraryQuerySet(WorkshopQuerySet[Row]):
    def own_in_use(self) -> Self:
        return self.filter(from_library=False, retired=False)

    def shelves(self) -> dict[str, Self]:
        """As a page lists them: the workshop's own, those of them no longer used, and the starting library."""
        return {
            "own": self.own_in_use(),
            "retired": self.filter(from_library=False, retired=True),
            "library": self.filter(from_library=True),
        }


class LibraryRow(WorkshopRow):
    """A row that a workshop has from the starting library, or of its own; one no longer used is `retired`."""

    from_library = models.BooleanField(default=False, editable=False)
    library_key = models.CharField(max_length=40, blank=True, editable=False)

    objects: ClassVar = LibraryQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["-from_library", "name"]
