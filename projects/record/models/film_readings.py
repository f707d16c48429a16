"""What a film gauge read on a piece, and where."""

from typing import ClassVar, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from finishing.site.fields import QuantityField
from finishing.site.models import WorkshopQuerySet, WorkshopRow

ON_PHOTO = [MinValueValidator(0, "From 0 to 100 %%."), MaxValueValidator(100, "From 0 to 100 %%.")]


class FilmReadingQuerySet(WorkshopQuerySet["FilmReading"]):
    def standing(self) -> Self:
        """That no later one took back."""
        return self.filter(voids=None, voided_by=None)


class FilmReading(WorkshopRow):
    """Never changed; one that was wrong is voided by another. `correction` is what the profile adds to the reading."""

    append_only = True
    goes_with = "piece"

    piece = models.ForeignKey("projects.Piece", on_delete=models.PROTECT, related_name="film_readings")
    photo = models.ForeignKey(
        "projects.Photo", on_delete=models.PROTECT, null=True, blank=True, related_name="film_readings"
    )
    spot = models.CharField("spot", max_length=60, blank=True)
    across = models.FloatField(null=True, blank=True, validators=ON_PHOTO)  # % of the photo's width, from the left
    down = models.FloatField(null=True, blank=True, validators=ON_PHOTO)  # % of its height, from the top
    reading = QuantityField("the gauge reads", unit="µm", minimum=0, maximum=5000)
    correction = QuantityField(unit="µm", minimum=0, maximum=200, default=0)
    asked = QuantityField("asked when it was read", unit="µm", minimum=1, maximum=5000)
    read_at = models.DateTimeField(default=timezone.now)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+")
    voids = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="voided_by")

    objects: ClassVar = FilmReadingQuerySet.as_manager()

    class Meta:
        ordering = ["read_at", "id"]

    def __str__(self) -> str:
        return f"{self.spot or 'film'} of {self.piece}"

    @property
    def film(self) -> float:
        """µm over the peaks; a reading on bare metal may lie below the correction."""
        return max(0.0, float(self.reading.magnitude - self.correction.magnitude))
