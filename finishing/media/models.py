"""What goes into the blasting pot, as its sheet or the starting library tells it."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from finishing.science import blasting, grit
from finishing.site.fields import QuantityField
from finishing.site.models import LibraryRow


class Medium(LibraryRow):
    """A bag and its sheet. `basis` says for each value where it comes from (a key of science.sources)."""

    class Iron(models.TextChoices):
        FREE = "free", "leaves no iron"
        LEAVES = "leaves", "leaves iron"
        UNKNOWN = "unknown", "not known"

    KINDS = [(kind, kind) for kind in grit.KINDS]
    LEAVES_IRON = {Iron.FREE: False, Iron.LEAVES: True, Iron.UNKNOWN: None}

    name = models.CharField(max_length=100)
    kind = models.CharField(max_length=20, choices=KINDS)
    grain = models.CharField("grain size", max_length=40, blank=True)
    free_silica = QuantityField("free silica, at most", unit="%", minimum=0, maximum=100, null=True, blank=True)
    iron = models.CharField("iron on the metal", max_length=10, choices=Iron, default=Iron.UNKNOWN)
    bulk_density = QuantityField(unit="kg/m³", minimum=100, maximum=8000, null=True, blank=True)
    hardness_low = QuantityField("hardness from", unit="", minimum=0.5, maximum=10, null=True, blank=True)
    hardness_high = QuantityField("hardness to", unit="", minimum=0.5, maximum=10, null=True, blank=True)
    profile_low = QuantityField("profile from", unit="µm", minimum=0, maximum=300, null=True, blank=True)
    profile_high = QuantityField("profile to", unit="µm", minimum=0, maximum=300, null=True, blank=True)
    use = QuantityField("use on plain steel", unit="kg/m²", minimum=1, maximum=200, default=24.4)
    reused = models.BooleanField("can be used again", default=False)
    cycles_low = QuantityField("times thrown, from", unit="", minimum=1, maximum=1000, default=1)
    cycles_high = QuantityField("times thrown, to", unit="", minimum=1, maximum=1000, default=1)
    feed_difference = QuantityField("pot above the hose by", unit="bar", minimum=0, maximum=2, default=0.15)
    bag = QuantityField("a bag holds", unit="kg", minimum=0.1, maximum=2000, null=True, blank=True)
    price = models.DecimalField("price of a bag", max_digits=9, decimal_places=2, null=True, blank=True)
    disposal = models.DecimalField(
        "getting rid of a bag's worth, spent", max_digits=9, decimal_places=2, null=True, blank=True
    )
    basis = models.JSONField(default=dict, blank=True)
    note = models.TextField(blank=True)
    retired = models.BooleanField("no longer used", default=False)

    class Meta(LibraryRow.Meta):
        verbose_name_plural = "media"

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        for name in ("hardness", "profile", "cycles"):
            low, high = getattr(self, f"{name}_low"), getattr(self, f"{name}_high")
            if low is not None and high is not None and low > high:
                raise ValidationError({f"{name}_high": "The upper value lies below the lower one."})

    @property
    def refusal(self) -> str | None:
        """Why it may not be blasted with; None where it may."""
        return grit.refusal(self.kind, self.free_silica)

    @property
    def leaves_iron(self) -> bool | None:
        return self.LEAVES_IRON[self.Iron(self.iron)]

    @property
    def profile(self) -> tuple[Any, Any] | None:
        """What it cuts into iron, from and to; None where the sheet does not say."""
        known = self.profile_low is not None and self.profile_high is not None
        return (self.profile_low, self.profile_high) if known else None

    @property
    def keyless(self) -> bool:
        """Whether paint finds no key on what it leaves."""
        return self.profile is not None and self.profile[1].to("µm").magnitude <= grit.NO_KEY.value

    def fit(self, metal: str, state: str) -> grit.Fit:
        """Whether it suits this metal, for what is to come off; what is refused suits none."""
        if self.refusal:
            return grit.Fit(self.kind, "never", "free silica, or nobody knows how much", "NIOSH-SILICA")
        return grit.fit(self.kind, metal, state, self.leaves_iron)

    def value(self) -> blasting.Abrasive:
        """As science reckons with it."""
        cycles = self.cycles_low.magnitude, self.cycles_high.magnitude
        return blasting.Abrasive(
            self.name,
            self.kind,
            self.bulk_density,
            self.free_silica,
            None if self.use == blasting.USUAL_USE else self.use,  # the usual one means: not known
            cycles,
            self.reused,
            self.bag,
            self.profile,
        )
