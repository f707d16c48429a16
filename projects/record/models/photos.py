"""Photos as they were taken, turned upright and without what a camera adds."""

from django.db import models

from finishing.site.models import WorkshopRow


class Photo(WorkshopRow):
    goes_with = "step"

    step = models.ForeignKey("projects.Step", on_delete=models.PROTECT, related_name="photos")
    image = models.FileField(upload_to="photos/")
    thumbnail = models.FileField(upload_to="thumbnails/")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["added_at"]

    def __str__(self) -> str:
        return f"photo of {self.step}"
