"""What a tag on a piece says: a short code by which its log form is opened."""

import secrets
from typing import ClassVar

from django.db import models

from finishing.site.models import WorkshopQuerySet, WorkshopRow

LETTERS = "BCDFGHJKLMNPQRSTVWXZ"  # no vowel, so no word; no digit, so that none is taken for a letter
LENGTH = 8  # ten thousand codes on each of two installations clash once in 250 times that they are put together


def new_code() -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(LENGTH))


class TagQuerySet(WorkshopQuerySet["Tag"]):
    def with_code(self, typed: str) -> "TagQuerySet":
        """As it may be typed by hand: in small letters, with blanks or hyphens between."""
        return self.filter(code="".join(letter for letter in typed.upper() if letter in LETTERS)[: LENGTH + 1])


class Tag(WorkshopRow):
    """The newest of a piece is the one in use; the others still open it, since iron may carry them."""

    goes_with = "piece"

    piece = models.ForeignKey("projects.Piece", on_delete=models.CASCADE, related_name="tags")
    code = models.CharField(max_length=LENGTH, unique=True, default=new_code)
    made_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar = TagQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"{self.code[:4]} {self.code[4:]}"
