"""What is in the tin, and the layers that make a system."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import prod

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models

from finishing.science import drying, film, mixing, overcoating, windows, work_time
from finishing.science.units import Quantity
from finishing.site.fields import QuantityField, number
from finishing.site.models import LibraryRow, WorkshopRow

colour_code = RegexValidator(r"^#[0-9a-fA-F]{6}$", "Write the colour as # and six digits, for example #2f5d3a.")


class FlashRust(models.TextChoices):
    """How much of it shows once wet iron has dried, the least first [WET-BLAST-STANDARDS]."""

    NONE = "none", "none"
    LIGHT = "light", "light: yellow-brown, holds fast"
    MEDIUM = "medium", "medium: rubs off a little on a cloth"
    HEAVY = "heavy", "heavy: red-brown, loose"

    def beyond(self, allowed: str) -> bool:
        """More than a sheet allows; one that says nothing allows none."""
        degrees = list(FlashRust)
        return degrees.index(self) > degrees.index(FlashRust(allowed or self.NONE))


class GenericType(models.TextChoices):
    NITROCELLULOSE = "nitrocellulose", "nitrocellulose lacquer"
    CELLULOSE_ENAMEL = "cellulose enamel", "brushing cellulose machinery enamel"
    ALKYD_ENAMEL = "alkyd enamel", "alkyd enamel"
    ALKYD_PRIMER = "alkyd primer", "alkyd primer"
    ZINC_PHOSPHATE_PRIMER = "zinc phosphate primer", "zinc-phosphate alkyd primer"
    EPOXY_PRIMER = "epoxy primer", "two-pack epoxy primer"
    POLYURETHANE = "polyurethane", "two-pack polyurethane"
    WATERBORNE_ACRYLIC = "waterborne acrylic", "waterborne acrylic"
    CHLORINATED_RUBBER = "chlorinated rubber", "chlorinated rubber"
    MACHINERY_ENAMEL = "machinery enamel", "one-coat self-priming machinery enamel"
    SIGN_ENAMEL = "sign enamel", "long-oil sign enamel"


T = GenericType
# What a type asks for, whatever its sheet says; a sheet's own cautions come beside it   [HSE, common practice]
CAUTIONS_OF_TYPE = {
    T.NITROCELLULOSE: ("solvent", "cellulose dust"),
    T.CELLULOSE_ENAMEL: ("solvent", "cellulose dust"),
    T.ALKYD_ENAMEL: ("solvent", "oily rags"),
    T.ALKYD_PRIMER: ("solvent", "oily rags"),
    T.ZINC_PHOSPHATE_PRIMER: ("solvent", "oily rags"),
    T.EPOXY_PRIMER: ("solvent", "epoxy skin"),
    T.POLYURETHANE: ("solvent", "isocyanate"),
    T.WATERBORNE_ACRYLIC: ("flash rust below",),
    T.CHLORINATED_RUBBER: ("solvent", "hot work"),
    T.MACHINERY_ENAMEL: ("solvent", "oily rags"),
    T.SIGN_ENAMEL: ("solvent", "oily rags"),
}
A_HAIR = 0.01  # °C: at its coldest row a sheet says that the paint dries, whatever it is put on at


class Coating(LibraryRow):
    """A tin and its data sheet. `basis` says for each value where it comes from (a key of science.sources)."""

    name = models.CharField(max_length=100)
    generic_type = models.CharField("type", max_length=30, choices=GenericType)
    colour = models.CharField(max_length=7, blank=True, validators=[colour_code])
    colour_name = models.CharField("colour's name", max_length=40, blank=True)
    is_primer = models.BooleanField("is a primer", default=False)
    self_priming = models.BooleanField("self-priming", default=False)
    two_pack = models.BooleanField("two-pack", default=False)
    oxidising = models.BooleanField("dries by oxidation", default=False)
    needs_dry_air = models.BooleanField("damp air slows it", default=False)
    volume_solids = QuantityField(unit="%", minimum=1, maximum=100)
    dry_film = QuantityField("dry film of a coat", unit="µm", minimum=1, maximum=1000)
    density = QuantityField(unit="kg/L", minimum=0.5, maximum=4, null=True, blank=True)
    thinning = QuantityField("thinner for this method", unit="%", minimum=0, maximum=200, default=0)
    thinning_max = QuantityField("most thinner", unit="%", minimum=0, maximum=200, null=True, blank=True)
    thinner = models.CharField("thinner's name", max_length=60, blank=True)
    mix_base = models.FloatField("parts of base", null=True, blank=True)
    mix_hardener = models.FloatField("parts of hardener", null=True, blank=True)
    pot_life = models.JSONField("pot life", default=list, blank=True, help_text="Pairs of °C and minutes.")
    induction = QuantityField("stands after mixing", unit="min", minimum=0, maximum=240, null=True, blank=True)
    temperature_min = QuantityField("not colder than", unit="°C", minimum=-20, maximum=40)
    temperature_max = QuantityField("not hotter than", unit="°C", minimum=0, maximum=60)
    flash_rust_allowed = models.CharField(
        "flash rust allowed below it",
        max_length=10,
        choices=FlashRust,
        blank=True,
        help_text="After wet blasting, as its sheet says; where it says nothing, none.",
    )
    humidity_max = QuantityField("not damper than", unit="%", minimum=20, maximum=100)
    humidity_min = QuantityField("not drier than", unit="%", minimum=0, maximum=90, null=True, blank=True)
    margin = QuantityField("margin above dew point", unit="delta°C", minimum=0, maximum=20, default=3)
    sheet_humidity = QuantityField("humidity of the sheet's times", unit="%", minimum=0, maximum=95, default=50)
    letters_after = QuantityField(
        "wait before lettering by brush", unit="h", minimum=0, maximum=2000, null=True, blank=True
    )
    tape_after = QuantityField("wait before masking tape", unit="h", minimum=0, maximum=2000, null=True, blank=True)
    keeps_opened = QuantityField("an opened tin keeps", unit="d", minimum=1, maximum=3650, null=True, blank=True)
    basis = models.JSONField(default=dict, blank=True)
    cautions = models.JSONField(default=list, blank=True)
    poisonous_pigment = models.BooleanField(
        "holds chromate or lead",
        default=False,
        help_text="Zinc, strontium or lead chromate, red lead: its safety data sheet says so.",
    )
    note = models.TextField(blank=True)
    retired = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        low, high = self.temperature_min, self.temperature_max
        if low is not None and high is not None and low >= high:
            raise ValidationError({"temperature_max": "The highest temperature lies below the lowest."})
        if self.two_pack and not (self.mix_base and self.mix_hardener):
            raise ValidationError({"mix_base": "A two-pack needs its parts of base and of hardener."})

    @property
    def triggers(self) -> list[str]:
        """What its type and its sheet ask to be told of, as `science.cautions` knows it."""
        pigment = ["chromate"] if self.poisonous_pigment else []
        return [*CAUTIONS_OF_TYPE[GenericType(self.generic_type)], *self.cautions, *pigment]

    def drying_table(self, points: "Iterable[DryingPoint] | None" = None) -> drying.DryingTable | None:
        """The sheet's table, or these points of it; None where there is no row yet: then no time is known."""
        return self._own_table if points is None else self._table(points)

    @cached_property
    def _own_table(self) -> drying.DryingTable | None:
        return self._table(self.drying_points.all())

    def _table(self, points: "Iterable[DryingPoint]") -> drying.DryingTable | None:
        rows = tuple(point.value(self.basis) for point in points)
        if not rows:
            return None
        below_sheet = rows[0].temperature - A_HAIR
        return drying.DryingTable(
            points=rows,
            floor=min(known(self, "temperature_min"), below_sheet),
            sheet_humidity=known(self, "sheet_humidity"),
            sheet_film=known(self, "dry_film"),
            needs_dry_air=self.needs_dry_air,
            generic_type=self.generic_type,
        )

    def slower(self, dry_film: Quantity | None = None, additives: "Iterable[Additive]" = ()) -> float:
        """By how much a film (as the sheet says where none is given) and these additives lengthen drying."""
        table = self.drying_table()
        stirred_in = prod(additive.slower for additive in additives)
        film = None if dry_film is None else float(dry_film.to("µm").magnitude)
        return stirred_in if table is None else float(drying.slowing(table, film, stirred_in))

    def lettering_share(self, table: drying.DryingTable) -> float:
        """How far on the way to its recoat time it must be before a brush may letter over it."""
        return drying.lettering_share(table, number(self, "letters_after"))

    def tape_share(self, table: drying.DryingTable) -> float | None:
        """The same before masking tape bears on it; None where nothing says."""
        wait = number(self, "tape_after")
        return None if wait is None else drying.lettering_share(table, wait)

    def gates(self, additives: "Iterable[Additive]" = ()) -> windows.Gates:
        """Between which temperatures and humidities, and how far above the dew point, it may be put on.

        An additive stirred in that has a limit of its own sets it in place of the sheet's; of several the strictest.
        """
        stirred_in = list(additives)
        damp = [most for additive in stirred_in if (most := number(additive, "humidity_max")) is not None]
        hot = [most for additive in stirred_in if (most := number(additive, "temperature_max")) is not None]
        return windows.Gates(
            margin=known(self, "margin"),
            humidity_max=min(damp, default=number(self, "humidity_max")),
            humidity_min=number(self, "humidity_min"),
            temperature_min=number(self, "temperature_min"),
            temperature_max=min(hot, default=number(self, "temperature_max")),
        )

    @property
    def induction_minutes(self) -> float:
        """How long a fresh mix stands before the first stroke; 0 where its sheet asks for nothing."""
        return number(self, "induction") or 0.0

    def pot_life_points(self) -> list[mixing.PotLifePoint]:
        return [mixing.PotLifePoint(temperature, minutes / 60) for temperature, minutes in self.pot_life]


def known(row: models.Model, column: str) -> float:
    """The number in a column that is never empty."""
    kept = number(row, column)
    assert kept is not None
    return kept


class DryingPoint(WorkshopRow):
    """One row of the data sheet's drying table: hours at a temperature."""

    coating = models.ForeignKey(Coating, on_delete=models.CASCADE, related_name="drying_points")
    temperature = QuantityField("at", unit="°C", minimum=-10, maximum=60)
    touch = QuantityField("touch-dry", unit="h", minimum=0.01, maximum=2000)
    handle = QuantityField("may be handled", unit="h", minimum=0.01, maximum=2000, null=True, blank=True)
    dew_safe = QuantityField("bears dew and rain", unit="h", minimum=0.01, maximum=2000, null=True, blank=True)
    recoat_from = QuantityField("next coat from", unit="h", minimum=0.01, maximum=5000)
    recoat_until = QuantityField("next coat until", unit="h", minimum=0.01, maximum=50000, null=True, blank=True)
    closed_from = QuantityField("closed from", unit="h", minimum=0.01, maximum=5000, null=True, blank=True)
    closed_until = QuantityField("closed until", unit="h", minimum=0.01, maximum=5000, null=True, blank=True)
    basis = models.JSONField(default=dict, blank=True, editable=False)  # by stage, where the column's does not hold

    class Meta:
        ordering = ["coating", "temperature"]
        constraints = [
            models.UniqueConstraint(fields=["coating", "temperature"], name="one_drying_point_a_temperature")
        ]

    def __str__(self) -> str:
        return f"{self.coating} at {self.temperature}"

    def value(self, columns: Mapping[str, str] | None = None) -> drying.SheetRow:
        """columns: by stage, where the times of a whole column come from; the row's own basis goes before."""
        hours = {str(stage): number(self, stage) for stage in drying.DryingStage}
        basis = {**(columns or {}), **self.basis}
        return drying.SheetRow(temperature=known(self, "temperature"), **hours, basis=basis)


class TinSize(WorkshopRow):
    coating = models.ForeignKey(Coating, on_delete=models.CASCADE, related_name="tin_sizes")
    litres = QuantityField("holds", unit="L", minimum=0.01, maximum=250)
    price = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)

    class Meta:
        ordering = ["coating", "litres"]
        constraints = [models.UniqueConstraint(fields=["coating", "litres"], name="one_tin_of_a_size")]

    def __str__(self) -> str:
        return f"{self.litres} of {self.coating}"


class Additive(WorkshopRow):
    """What may be stirred in for brushing: it has a dose, and it makes the paint slower. A layer says that it is."""

    coating = models.ForeignKey(Coating, on_delete=models.CASCADE, related_name="additives")
    name = models.CharField(max_length=60)
    dose = QuantityField(unit="%", minimum=0.1, maximum=50)
    slower = models.FloatField(
        "drying times longer by", default=1.5, help_text="1.5 where the sheet says nothing (common practice)."
    )
    humidity_max = QuantityField("not damper than", unit="%", minimum=20, maximum=100, null=True, blank=True)
    temperature_max = QuantityField("not hotter than", unit="°C", minimum=0, maximum=60, null=True, blank=True)
    price = models.DecimalField("price of a litre", max_digits=9, decimal_places=2, null=True, blank=True)

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if self.slower is not None and not 1 <= self.slower <= 10:
            raise ValidationError({"slower": "An additive makes times longer: from 1 to 10."})


class System(LibraryRow):
    """Ordered layers and preparations from clean metal to the last coat."""

    name = models.CharField(max_length=100)
    note = models.TextField(blank=True)
    retired = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name

    @property
    def coats(self) -> list["Layer"]:
        return [layer for layer in self.layers.all() if layer.is_coat]

    @property
    def first_coat(self) -> "Layer | None":
        return next(iter(self.coats), None)

    @property
    def overcoats(self) -> list["Overcoat"]:
        """Each coat with the one that it covers, and what the science says of the pair."""
        layers = list(self.layers.all())
        return [pair for place, layer in enumerate(layers) if (pair := _over_what(layer, layers[:place]))]

    @property
    def begins_on_metal(self) -> bool:
        """Whether its first coat is made for bare metal."""
        first = self.first_coat
        return bool(first and first.coating and (first.coating.is_primer or first.coating.self_priming))


@dataclass(frozen=True)
class Overcoat:
    """One coat over another; `rubbed` where it is rubbed down between."""

    above: "Layer"
    below: "Layer"
    rubbed: bool
    verdict: overcoating.Verdict


def _over_what(above: "Layer", before: "list[Layer]") -> Overcoat | None:
    """The last coat before this one that lies on the same side, and whether it is rubbed down before this one."""
    if not (above.is_coat and above.coating):
        return None
    rubbed = False
    for below in reversed(before):
        if not above.meets(below):
            continue
        rubbed = rubbed or below.kind == Layer.Kind.RUB_DOWN
        if below.is_coat and below.coating:
            types = above.coating.generic_type, below.coating.generic_type
            return Overcoat(above, below, rubbed, overcoating.verdict(*types, aged=False))
    return None


class Layer(WorkshopRow):
    class Kind(models.TextChoices):
        DEGREASE = "degrease", "degrease"
        FILL = "fill", "fill"
        RUB_DOWN = "rub down", "rub down"
        WIPE = "wipe", "wipe"
        TACK_OFF = "tack off", "tack off"
        COAT = "coat", "coat"

    class Side(models.TextChoices):
        ALL = "all", "all round"
        FIRST = "first", "first side"
        SECOND = "second", "second side, after turning"

    class Method(models.TextChoices):
        BRUSH = "brush", "brush"
        ROLLER = "roller", "roller"
        AIRLESS = "airless", "airless"
        AIR_ASSISTED = "air-assisted airless", "air-assisted airless"
        HVLP = "HVLP", "HVLP"
        CONVENTIONAL = "conventional", "air gun"

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="layers")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=Kind)
    coating = models.ForeignKey(Coating, on_delete=models.PROTECT, null=True, blank=True, related_name="layers")
    side = models.CharField(max_length=10, choices=Side, default=Side.ALL)
    dry_film = QuantityField(
        unit="µm",
        minimum=1,
        maximum=1000,
        null=True,
        blank=True,
        help_text="Empty: as the coating's sheet says.",
    )
    thinning = QuantityField(
        unit="%",
        minimum=0,
        maximum=200,
        null=True,
        blank=True,
        help_text="Empty: as the coating's sheet says.",
    )
    additives = models.ManyToManyField(
        Additive, blank=True, related_name="layers", verbose_name="stirred in", help_text="As its coating offers them."
    )
    method = models.CharField(max_length=30, choices=Method, default=Method.BRUSH)
    minutes = QuantityField("time", unit="min/m²", minimum=0, maximum=600, default=20)
    wait = QuantityField("wait afterwards", unit="min", minimum=0, maximum=100000, default=0)

    class Meta:
        ordering = ["system", "position"]
        constraints = [models.UniqueConstraint(fields=["system", "position"], name="one_layer_a_position")]

    def __str__(self) -> str:
        return f"{self.position}. {self.label}"

    @property
    def is_coat(self) -> bool:
        return self.kind == self.Kind.COAT

    @property
    def label(self) -> str:
        name = f"coat of {self.coating}" if self.is_coat and self.coating else self.get_kind_display()
        return name if self.side == self.Side.ALL else f"{name}, {self.get_side_display()}"

    def meets(self, other: "Layer") -> bool:
        """Whether the two lie on one another."""
        return self.lies_on(other.side)

    def lies_on(self, side: str) -> bool:
        """Whether it covers this side, or some of it."""
        return self.side == side or self.Side.ALL in (self.side, side)

    @property
    def covers(self) -> float:
        """The share of a part's area that it covers."""
        return work_time.share_covered(self.side)

    def minutes_on(self, area: float) -> float:
        """Minutes for it on parts of this area (m²), mixing and cleaning up apart."""
        return work_time.layer_minutes(area, known(self, "minutes"), self.side)

    def minutes_after(self, preparations: "Iterable[Layer]", area: float) -> float:
        """Minutes on this area from the first of these preparations to its last stroke; its mix stands meanwhile."""
        before = sum(layer.minutes_on(area) for layer in preparations)
        return max(before, self.coating.induction_minutes if self.coating else 0.0) + self.minutes_on(area)

    @property
    def sprayed(self) -> bool:
        return self.method not in (self.Method.BRUSH, self.Method.ROLLER)

    def gates(self) -> windows.Gates:
        """Its coating's with what is stirred in, and how windy it may be where it is sprayed."""
        gates = self.coating.gates(self.additives.all()) if self.coating else windows.Gates()
        return replace(gates, wind_max=windows.NO_SPRAYING.value) if self.sprayed else gates

    @property
    def dry_film_used(self) -> Quantity | None:
        """The layer's own dry film, else the coating's; None for a preparation."""
        return self.dry_film if self.dry_film is not None or not self.coating else self.coating.dry_film

    @property
    def thinning_used(self) -> Quantity | None:
        """The layer's own thinning, else the coating's; None for a preparation."""
        return self.thinning if self.thinning is not None or not self.coating else self.coating.thinning

    @property
    def wet_film_used(self) -> Quantity | None:
        """What the comb should read for this layer."""
        if not self.coating:
            return None
        return film.wet_film_from_dry_film(self.dry_film_used, self.coating.volume_solids, self.thinning_used)

    @property
    def slower(self) -> float:
        """By how much this layer's film and its additives lengthen drying."""
        return self.slower_at(self.dry_film_used)

    def slower_at(self, dry_film: Quantity | None) -> float:
        """The same for the film that was put on."""
        return self.coating.slower(dry_film, self.additives.all()) if self.coating else 1.0

    def clean(self) -> None:
        super().clean()
        if self.is_coat and not self.coating_id:
            raise ValidationError({"coating": "A coat needs its coating."})


def turned_for(layers: Iterable[Layer], above: Layer | None = None) -> list[Layer]:
    """Coats before which a piece is turned over: they do not lie on the side of the coat before; `above` is on."""
    turned = []
    for coat in (layer for layer in layers if layer.is_coat):
        if above is not None and not coat.meets(above):
            turned.append(coat)
        above = coat
    return turned
