"""A machine as it is made: its parts and their revisions."""

from decimal import Decimal
from functools import cached_property, lru_cache
from typing import ClassVar, Self

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from finishing.coatings.models import colour_code
from finishing.science import surface
from finishing.science.letters import MOST_LETTERS, letters_in
from finishing.science.metal import MATERIALS, Body
from finishing.science.units import Quantity
from finishing.site.fields import QuantityField, number
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.site.fields import kept_file

ASSUMED_WALL = 25.0  # mm; a heavy one, which lags longer: what is not known is never treated as good


class Design(WorkshopRow):
    name = models.CharField(max_length=100)
    hidden = models.BooleanField(default=False, help_text="Made with a project of restoration; not listed by itself.")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Part(WorkshopRow):
    class Material(models.TextChoices):
        GREY_IRON = "grey iron", "grey cast iron"
        DUCTILE_IRON = "ductile iron", "ductile iron"
        STEEL = "steel", "steel"
        BRASS = "brass", "brass"
        BRONZE = "bronze", "bronze"
        ALUMINIUM = "aluminium", "aluminium"

    class Blasted(models.TextChoices):
        CONTRACTOR = "contractor", "by a contractor on his visit"
        HERE = "here", "here, with our own grit"
        CLEAN = "clean", "not at all: it is bought clean"

    design = models.ForeignKey(Design, on_delete=models.CASCADE, related_name="parts")
    name = models.CharField(max_length=100)
    number = models.CharField("drawing or pattern number", max_length=40, blank=True)
    quantity = models.PositiveSmallIntegerField("per machine", default=1)
    material = models.CharField(max_length=20, choices=Material, default=Material.GREY_IRON)
    mass = QuantityField(unit="kg", minimum=0.001, maximum=20000, null=True, blank=True)
    wall = QuantityField("mean wall", unit="mm", minimum=0.5, maximum=500, null=True, blank=True)
    area = QuantityField("painted area", unit="m²", minimum=0.0001, maximum=200, null=True, blank=True)
    area_basis = models.CharField(max_length=200, blank=True, editable=False)
    mask = models.CharField("faces to mask", max_length=300, blank=True)
    blasted = models.CharField(
        "blasted",
        max_length=10,
        choices=Blasted,
        blank=True,
        help_text="Empty: here where a place of ours has a blasting cabinet, else by a contractor.",
    )
    profile = QuantityField("blast profile", unit="µm", minimum=0, maximum=300, null=True, blank=True)
    stays_bare = models.BooleanField(
        "stays bare", default=False, help_text="Machined faces, brass, bearings: never blasted and never painted."
    )
    system = models.ForeignKey("finishing.System", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    colour = models.CharField("body colour", max_length=7, blank=True, validators=[colour_code])
    lettering = models.CharField(
        "raised letters", max_length=100, blank=True, help_text="As cast; empty where there are none."
    )
    lettering_coating = models.ForeignKey(
        "finishing.Coating", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lettering_colour = models.CharField(max_length=7, blank=True, validators=[colour_code])
    letter_height = QuantityField("height of a capital", unit="mm", minimum=5, maximum=500, null=True, blank=True)
    letter_relief = QuantityField("relief", unit="mm", minimum=0.1, maximum=50, null=True, blank=True)
    letter_stroke = QuantityField("width of a stroke", unit="mm", minimum=0.2, maximum=200, null=True, blank=True)
    letter_count = models.PositiveSmallIntegerField(
        "how many letters", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MOST_LETTERS)]
    )
    nameplate = models.BooleanField(
        "a nameplate", default=False, help_text="Its wording has versions; one is chosen before it is cast."
    )
    wording = models.ForeignKey(
        "projects.Wording", on_delete=models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["design", "name"], name="one_part_of_a_name")]

    def __str__(self) -> str:
        return self.name

    def blasted_by(self, cabinet: bool) -> "Part.Blasted":
        """By whom it comes clean; where nobody has said, here if a place of the workshop has a `cabinet`."""
        return self.Blasted(self.blasted or (self.Blasted.HERE if cabinet else self.Blasted.CONTRACTOR))

    @property
    def kilograms(self) -> Decimal | None:
        """What one weighs, to be multiplied with money; None where nobody has said so."""
        return None if self.mass is None else Decimal(str(self.mass.to("kg").magnitude))

    @property
    def square_metres(self) -> float | None:
        """Its painted area as a number; None where nobody has said it."""
        return number(self, "area")

    @property
    def letters(self) -> int:
        """How many are cast on it: as somebody counted them, else by its words."""
        return self.letter_count or letters_in(self.lettering)

    @property
    def has_letters(self) -> bool:
        return bool(self.lettering)

    @property
    def metal(self) -> str:
        """The part by its name in science.grit.ADVICE; thin iron and thin steel are others than thick."""
        thick = BLASTED_AS[self.Material(self.material)]
        below, thin = THIN.get(thick, (0.0, thick))
        return thin if self.wall is not None and self.wall.to("mm").magnitude < below else thick

    @cached_property
    def body(self) -> Body:
        return _body(self.material, *(number(self, column) for column in ("mass", "area", "wall")))

    def clean(self) -> None:
        super().clean()
        if self.quantity is not None and self.quantity < 1:
            raise ValidationError({"quantity": "A part is there at least once."})
        if self.stays_bare and (self.system_id or self.lettering):
            raise ValidationError({"stays_bare": "What stays bare has no coating system and no letters to be painted."})
        height, stroke = number(self, "letter_height"), number(self, "letter_stroke")
        if height is not None and stroke is not None and stroke > height / 2:
            raise ValidationError({"letter_stroke": "A stroke is no wider than half the height of its letter."})
        if self.wording and self.nameplate and self.lettering != self.wording.on_one_line:
            raise ValidationError({"lettering": "A nameplate says what its chosen wording says; choose another there."})


@lru_cache(2**12)
def _body(material: str, kilograms: float | None, square_metres: float | None, wall: float | None) -> Body:
    """`wall` in mm; each None where nobody has said it."""
    metal = MATERIALS[material]
    if kilograms is not None and square_metres is not None:
        mass, area = Quantity(kilograms, "kg"), Quantity(square_metres, "m²")
        length = surface.characteristic_length(mass, surface.density_of(material), area)
        return Body.of(length.to("meter").magnitude, metal)
    return Body.of((ASSUMED_WALL if wall is None else wall) / 2000, metal, assumed=wall is None)


BLASTED_AS = {
    Part.Material.GREY_IRON: "grey iron",
    Part.Material.DUCTILE_IRON: "ductile iron",
    Part.Material.STEEL: "steel plate",
    Part.Material.BRASS: "brass and bronze",
    Part.Material.BRONZE: "brass and bronze",
    Part.Material.ALUMINIUM: "aluminium",
}
THIN = {"grey iron": (5.0, "thin or cracked iron"), "steel plate": (1.5, "steel sheet")}  # mm   [common practice]


class WordingQuerySet(WorkshopQuerySet["Wording"]):
    def newest_first(self) -> Self:
        return self.select_related("by").order_by("-made_at", "-pk")


class Wording(WorkshopRow):
    """What a nameplate might say. None is changed: who wants other words proposes another version."""

    append_only = True

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="wordings")
    words = models.CharField("words, line by line", max_length=Part._meta.get_field("lettering").max_length)
    note = models.CharField("why, or who asked for it", max_length=200, blank=True)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey("finishing.User", on_delete=models.PROTECT, related_name="+", editable=False)

    objects: ClassVar = WordingQuerySet.as_manager()

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return self.on_one_line

    @property
    def on_one_line(self) -> str:
        return " / ".join(line.strip() for line in self.words.splitlines() if line.strip())


class Revision(WorkshopRow):
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="revisions")
    label = models.CharField(max_length=20)
    reason = models.CharField(max_length=200, blank=True)
    made_on = models.DateField(null=True, blank=True)
    drawing = models.FileField("drawing or model", upload_to=kept_file, blank=True)
    drawing_name = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        ordering = ["part", "label"]
        constraints = [models.UniqueConstraint(fields=["part", "label"], name="one_revision_of_a_label")]

    def __str__(self) -> str:
        return f"{self.part} {self.label}"
