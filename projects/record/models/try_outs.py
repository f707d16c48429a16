"""Colours tried out on a photo of a piece, before a brush is wetted; and what the customer says of them."""

from django.db import models

from finishing.coatings.models import colour_code
from finishing.site.models import WorkshopRow
from finishing.workshops.models.addresses import SecretAddress


class TryOut(WorkshopRow):
    """A photo on which letters and body are marked. An empty mask is the whole photo."""

    goes_with = "photo"

    class LettersAre(models.TextChoices):
        LIGHTER = "lighter", "lighter than the body"
        DARKER = "darker", "darker than the body"
        BRUSHED = "brushed", "just as I brush them"

    part = models.ForeignKey("projects.Part", on_delete=models.CASCADE, related_name="try_outs")
    photo = models.ForeignKey("projects.Photo", on_delete=models.CASCADE, related_name="try_outs")
    mask = models.TextField(blank=True, editable=False)  # a small PNG in base64: 0 nothing, 1 body, 2 letters
    letters_are = models.CharField("letters in the photo are", max_length=10, choices=LettersAre, default="lighter")
    split = models.FloatField(null=True, blank=True)  # lightness between letters and body, 0 to 1; None: found
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"colours of {self.part}"


class Candidate(WorkshopRow):
    """Two colours that might be chosen; without a body colour the body stays as it is in the photo."""

    goes_with = "try_out"

    try_out = models.ForeignKey(TryOut, on_delete=models.CASCADE, related_name="candidates")
    name = models.CharField("called", max_length=60)
    letters = models.CharField("letters' colour", max_length=7, validators=[colour_code])
    letters_coating = models.ForeignKey(
        "finishing.Coating", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    body = models.CharField("body colour", max_length=7, blank=True, validators=[colour_code])
    chosen = models.BooleanField(default=False, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return self.name


class SheetAddress(SecretAddress):
    """Where a customer sees the candidates and says which one it should be."""

    goes_with = "try_out"

    try_out = models.ForeignKey(TryOut, on_delete=models.CASCADE, related_name="addresses")

    def __str__(self) -> str:
        return f"sheet of {self.try_out}"


class ColourReply(WorkshopRow):
    """What somebody said of the candidates, by the sheet's address or by word of mouth."""

    goes_with = "try_out"

    try_out = models.ForeignKey(TryOut, on_delete=models.CASCADE, related_name="replies")
    candidate = models.ForeignKey(Candidate, on_delete=models.SET_NULL, null=True, blank=True, related_name="replies")
    name = models.CharField("who", max_length=60)
    words = models.TextField("what was said", max_length=500, blank=True)
    given_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-given_at"]

    def __str__(self) -> str:
        return f"{self.name}: {self.candidate or self.words}"
