"""What every row has: an id that a client may make, and a workshop it stays under; and what was deleted, which waits
out of sight until it goes for good."""

import uuid
from collections.abc import Collection
from copy import copy
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import signals

from finishing.site.calendar import GRACE

Row = TypeVar("Row", bound=models.Model)


def index_of_deleted(name: str) -> models.Index:
    """By which the few deleted rows are found among those of all workshops."""
    return models.Index(fields=["deleted_at"], name=name, condition=models.Q(deleted_at__isnull=False))


class DeletableQuerySet(models.QuerySet[Row]):
    def deleted(self) -> Self:
        return self.exclude(deleted_at=None)

    def over(self, now: datetime) -> Self:
        """Deleted for so long that it goes for good."""
        return self.filter(deleted_at__lte=now - GRACE)


class Deletable(models.Model):
    """What a person may delete: it is out of sight at once, may be put back, and goes for good in the end.

    `objects` knows only what was not deleted; `with_deleted` knows all.
    """

    deleted_at = models.DateTimeField(null=True, editable=False)

    with_deleted = DeletableQuerySet.as_manager()

    class Meta:
        abstract = True

    @property
    def goes_at(self) -> datetime | None:
        return self.deleted_at and self.deleted_at + GRACE


def in_sight(manager: models.Manager[Row]) -> models.QuerySet[Row]:
    """No row that was deleted, or that stands under one that was."""
    rows, model = models.Manager.get_queryset(manager), manager.model
    above = model.above() if issubclass(model, WorkshopRow) else None
    if above is not None and isinstance(getattr(manager, "instance", None), above):  # which is in sight itself
        return rows.filter(deleted_at=None) if issubclass(model, Deletable) else rows
    all_rows = all_in_sight(type(rows), model)
    return all_rows.using(manager._db) if manager._db else all_rows.all()


@cache
def all_in_sight(kind: type[models.QuerySet[Row]], model: type[Row]) -> models.QuerySet[Row]:
    """What every question about the rows of a model begins with: put together once, and gone on from each time."""
    rows = kind(model)
    if issubclass(model, Deletable):
        rows = rows.filter(deleted_at=None)
    if issubclass(model, WorkshopRow) and model.above() is not None:
        rows = rows.exclude(model.out_of_sight())
    return rows


class InSight(models.Manager[Row]):
    get_queryset = in_sight


def all_deleted(through: type[models.Model], holder: str, held: str, model: type[models.Model]) -> models.Q:
    """Holders of rows of a model, by a table between the two, of which every row held is out of sight."""
    gone = models.Q(**{f"{held}__in": deleted_rows(model)})
    between = through._base_manager.all()
    some, others = (between.filter(which).values(holder) for which in (gone, ~gone))
    return models.Q(pk__in=some) & ~models.Q(pk__in=others)


def deleted_rows(model: type[models.Model]) -> models.QuerySet[Any]:
    """The rows of a model that were deleted or stand under one that was, by their keys."""
    rows = model._base_manager.all()
    if issubclass(model, Deletable):
        return rows.exclude(deleted_at=None).values("pk")
    assert issubclass(model, WorkshopRow)
    return rows.filter(model.out_of_sight()).values("pk")


class WorkshopQuerySet(models.QuerySet[Row]):
    if not TYPE_CHECKING:  # it knows the managers that Django makes, by their names

        @classmethod
        def as_manager(cls) -> models.Manager[Row]:
            manager = super().as_manager()
            type(manager).get_queryset = in_sight
            return manager

    def of(self, workshop: models.Model | uuid.UUID) -> Self:
        """The rows of one workshop: the only way a page finds rows."""
        return self.filter(workshop=workshop)


class WorkshopRow(models.Model):
    """A row of one workshop. A client may send the id, so that a repeated form is one row.

    append_only: it is a log: rows are added and none is changed; triggers in the database see to it.
    binds_currency: its sums are in the workshop's currency, which stays as long as such a row stands.
    goes_with: the field that leads to the row with which it is deleted, where that is less than the workshop.
    """

    append_only = False
    binds_currency = False
    goes_with: ClassVar[str] = ""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    workshop = models.ForeignKey("finishing.Workshop", on_delete=models.CASCADE, related_name="+")

    objects = WorkshopQuerySet.as_manager()

    class Meta:
        abstract = True

    @classmethod
    def from_db(cls, db: str | None, field_names: Collection[str], values: Collection[Any], **how: Any) -> Self:
        """As Django makes a row of what a query brings, but without going by each column's attribute and two signals:
        all that those would do is put the value here. A page reads thousands of rows."""
        if how or signals.pre_init.has_listeners(cls) or signals.post_init.has_listeners(cls):
            return super().from_db(db, field_names, values, **how)
        row = cls.__new__(cls)
        row._state = models.base.ModelState()
        row._state.adding, row._state.db = False, db
        row.__dict__.update(zip(field_names, values, strict=True))
        return row

    def once_more(self, **other: object) -> Self:
        """The same row under a new key, not yet saved; `other`: what is not the same in it."""
        row = copy(self)
        row._state = models.base.ModelState()
        row.pk = uuid.uuid4()
        for name, value in other.items():
            setattr(row, name, value)
        return row

    @classmethod
    def above(cls) -> type[models.Model] | None:
        return cls._meta.get_field(cls.goes_with).related_model if cls.goes_with else None

    @classmethod
    def out_of_sight(cls) -> models.Q:
        """Which of its rows stand under one that was deleted."""
        above = cls.above()
        assert above is not None
        return models.Q(**{f"{cls.goes_with}__in": deleted_rows(above)})

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
