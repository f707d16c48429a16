"""Secret addresses: whoever holds one may do what it opens, without signing in."""

from typing import ClassVar, Self

from django.db import models

from finishing.site.models import Row, WorkshopQuerySet, WorkshopRow

from .workshops import new_token


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
