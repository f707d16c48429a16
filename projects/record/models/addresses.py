"""Secret addresses: whoever holds one may read what it opens, without signing in."""

from typing import ClassVar, Self

from django.db import models

from finishing.site.models import Row, WorkshopQuerySet, WorkshopRow
from finishing.workshops.models.workshops import new_token


class AddressQuerySet(WorkshopQuerySet[Row]):
    def in_use(self) -> Self:
        return self.filter(closed=False)

    def with_token(self, token: str) -> Self:
        # PostgreSQL refuses a NUL with an error of its own
        return self.filter(token=token) if token.isprintable() else self.none()


class SecretAddress(WorkshopRow):
    """Renewed by closing it and making another."""

    token = models.CharField(max_length=40, unique=True, default=new_token)
    closed = models.BooleanField(default=False)

    objects: ClassVar = AddressQuerySet.as_manager()

    class Meta:
        abstract = True


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
