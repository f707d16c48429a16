"""Where a customer follows a project, and a calendar the plan."""

from django.db import models

from finishing.workshops.models.addresses import SecretAddress


class Follower(SecretAddress):
    """Where a customer follows one project."""

    goes_with = "project"

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="followers")
    name = models.CharField(max_length=100, blank=True)

    def __str__(self) -> str:
        return self.name or "follower"


class CalendarAddress(SecretAddress):
    """Where a calendar reads the workshop's kept plan."""

    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"calendar address of {self.made_at:%Y-%m-%d}"
