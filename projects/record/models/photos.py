"""Photos as they were taken, turned upright and without what a camera adds; and the pages of a machine's story."""

from collections.abc import Iterable
from typing import ClassVar, Self
from uuid import UUID

from django.db import models

from finishing.site.models import WorkshopQuerySet, WorkshopRow

from .pieces import Piece


class Chapter(models.TextChoices):
    """When in the life of a restored machine something is seen."""

    FOUND = "found", "as it came"
    APART = "apart", "taken apart"
    REPAIRED = "repaired", "repaired"
    BLASTED = "blasted", "blasted"
    PRIMED = "primed", "primed"
    COATED = "coated", "in its colour"
    LETTERED = "lettered", "lettered"
    TOGETHER = "together", "put together"


class PhotoQuerySet(WorkshopQuerySet["Photo"]):
    def latest_of(self, pieces: Iterable[Piece]) -> dict[UUID, UUID]:
        """By the piece's id the newest photo of an entry that still stands; pieces without one are left out."""
        rows = self.filter(step__piece__in=[piece.pk for piece in pieces], step__voided_by=None)
        return dict(rows.order_by("step__happened_at", "added_at").values_list("step__piece", "pk"))

    def standing(self) -> Self:
        """Not of an entry that was taken back; the newest first."""
        rows = self.filter(models.Q(step=None) | models.Q(step__voided_by=None))
        return rows.order_by("-taken_at", "-added_at", "pk")

    def for_customers(self) -> Self:
        """Nor of a piece set aside, nor kept back."""
        sound = models.Q(step=None) | models.Q(step__piece__set_aside=False)
        return self.standing().filter(sound, kept_back=False)


def each_once(photos: "Iterable[Photo]") -> "list[Photo]":
    """A photo of a rack stands with the entry of every piece on it; here once."""
    once: dict[str, Photo] = {}
    for photo in photos:
        once.setdefault(str(photo.image.name), photo)
    return list(once.values())


class Photo(WorkshopRow):
    """Of an entry, or of a project or one of its machines without one."""

    goes_with = "project"

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="photos")
    machine = models.ForeignKey(
        "projects.Machine", on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    step = models.ForeignKey("projects.Step", on_delete=models.PROTECT, null=True, blank=True, related_name="photos")
    image = models.FileField(upload_to="photos/")
    thumbnail = models.FileField(upload_to="thumbnails/")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_at = models.DateTimeField(auto_now_add=True)
    taken_at = models.DateTimeField("taken")
    stage = models.CharField("shows it", max_length=10, choices=Chapter)
    caption = models.CharField(max_length=300, blank=True)
    kept_back = models.BooleanField("not for the customer", default=False)

    objects: ClassVar = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["added_at"]
        indexes = [models.Index(fields=["project", "taken_at"], name="projects_ph_project_taken")]

    def __str__(self) -> str:
        return self.caption or (f"photo of {self.step}" if self.step_id else f"photo of {self.project}")

    @property
    def shows(self) -> str:
        """What is on it, in words, for who cannot see it."""
        of = self.step.piece if self.step else self.machine or self.project
        return f"{of}, {self.get_stage_display()}"


class StoryPage(WorkshopRow):
    """What is told of one stage of a project's machines, and whether the customer reads it."""

    goes_with = "project"

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="story_pages")
    stage = models.CharField(max_length=10, choices=Chapter)
    words = models.TextField("in words", max_length=3000, blank=True)
    shared = models.BooleanField("the customer may read it", default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "stage"], name="one_story_page_of_a_stage")]

    def __str__(self) -> str:
        return f"{self.project}, {self.get_stage_display()}"
