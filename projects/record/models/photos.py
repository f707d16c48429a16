"""Photos as they were taken, turned upright and without what a camera adds."""

from collections.abc import Iterable
from typing import ClassVar
from uuid import UUID

from django.db import models

from finishing.site.models import WorkshopQuerySet, WorkshopRow

from .pieces import Piece


class PhotoQuerySet(WorkshopQuerySet["Photo"]):
    def latest_of(self, pieces: Iterable[Piece]) -> dict[UUID, UUID]:
        """By the piece's id the newest photo of an entry that still stands; pieces without one are left out."""
        rows = self.filter(step__piece__in=[piece.pk for piece in pieces], step__voided_by=None)
        return dict(rows.order_by("step__happened_at", "added_at").values_list("step__piece", "pk"))


class Photo(WorkshopRow):
    goes_with = "step"

    step = models.ForeignKey("projects.Step", on_delete=models.PROTECT, related_name="photos")
    image = models.FileField(upload_to="photos/")
    thumbnail = models.FileField(upload_to="thumbnails/")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["added_at"]

    def __str__(self) -> str:
        return f"photo of {self.step}"
