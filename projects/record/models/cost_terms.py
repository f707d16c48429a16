"""How a design's costs are reckoned and its price is set: chosen once, read by every sheet of it."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from finishing.site.models import WorkshopRow
from projects.site.fields import money, percent

from .designs import Design
from .quotes import sizes_in

AS_RECKONED = Decimal(100)  # percent
OUTSIDE = "A range holds what is reckoned with, 100 %: it begins there or below, and ends there or above."


class CostTerms(WorkshopRow):
    class Reading(models.TextChoices):  # the names of projects.money.learning.Reading
        CRAWFORD = "unit", "of each unit (Crawford)"
        WRIGHT = "cumulative average", "of the average so far (Wright)"

    design = models.OneToOneField("projects.Design", on_delete=models.CASCADE, related_name="cost_terms")
    wage = money("rate per hour", null=True, help_text="Empty: the workshop's.")
    overhead = percent("overhead", "0", "1000", default=Decimal(0), help_text="On hours of our own.")
    chance = percent(
        "chance of enough good ones", "50", "99.9", default=Decimal(90), help_text="Sets how many are started."
    )
    spread_tools = models.BooleanField(
        "tools by wear", default=False, help_text="Each piece bears a share of a tool's life; else this batch pays it."
    )
    reading = models.CharField("learning curve", max_length=20, choices=Reading, default=Reading.CRAWFORD)
    made_before = models.PositiveSmallIntegerField(
        "machines made before",
        default=0,
        help_text="Not kept here: what a learning curve goes on from, beside those of finished projects.",
    )
    sizes = models.CharField("batch sizes", max_length=100, default="1, 5, 10, 20")
    spares = models.PositiveSmallIntegerField("spare sets", default=0)
    recover_over = models.PositiveIntegerField(
        "development recovered over", default=20, validators=[MinValueValidator(1, "At least one.")]
    )
    price = money("price asked", null=True, help_text="For one machine, without tax. Empty: by the margin.")
    margin = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal(30),
        validators=[MinValueValidator(Decimal(0), "Not below nothing.")],
        help_text="Share of the price that is left after costs.",
    )
    tax = percent("tax on sales", default=Decimal(0))
    sold_a_month = models.DecimalField(
        "sold in a month",
        max_digits=6,
        decimal_places=2,
        default=Decimal(1),
        validators=[MinValueValidator(Decimal("0.01"), "More than none.")],
    )
    opening_cash = models.DecimalField(
        "cash to begin with",
        max_digits=12,
        decimal_places=2,
        default=Decimal(0),
        help_text="Before anything is paid or comes in. Below nothing: what is owed.",
    )
    deposit = percent("deposit", default=Decimal(0), help_text="Of the price, when it is ordered.")

    def __str__(self) -> str:
        return f"costs of {self.design}"

    @property
    def hourly(self) -> Decimal | None:
        """An hour of our own hands, as chosen here, else as the workshop has it; None where nobody has said."""
        return self.workshop.wage if self.wage is None else self.wage

    def clean(self) -> None:
        super().clean()
        if self.margin is not None and self.margin >= 100:
            raise ValidationError({"margin": "A margin is a share of the price, and lies below 100 %."})
        try:
            sizes_in(self.sizes)
        except ValidationError as wrong:
            raise ValidationError({"sizes": wrong.messages}) from None


def terms_of(design: Design) -> CostTerms:
    """As they were chosen; else the usual ones, not yet kept."""
    chosen = CostTerms.objects.filter(design=design).select_related("workshop").prefetch_related("ranges").first()
    return chosen or CostTerms(workshop=design.workshop, design=design)


class CostRange(WorkshopRow):
    """How far one of the inputs may honestly lie from what is reckoned with, as shares of it."""

    class Input(models.TextChoices):
        CASTING = "casting", "prices of castings"
        MACHINING = "machining", "prices of machining"
        BOUGHT_IN = "bought in", "prices of bought-in parts"
        TOOLS = "tools", "patterns and tools"
        MINUTES = "minutes", "minutes of our own hands"
        WAGE = "wage", "rate per hour"
        SCRAP = "scrap", "share that comes out bad"
        SOLD = "sold", "machines sold"
        PRICE = "price", "price reached"

    terms = models.ForeignKey(CostTerms, on_delete=models.CASCADE, related_name="ranges")
    input = models.CharField(max_length=10, choices=Input)
    low = percent("from", "0", "1000", default=Decimal(90))
    high = percent("to", "0", "1000", default=Decimal(110))

    class Meta:
        ordering = ["input"]
        constraints = [models.UniqueConstraint(fields=["terms", "input"], name="one_range_of_an_input")]

    def __str__(self) -> str:
        return f"{self.get_input_display()}: {self.low} to {self.high} %"

    def clean(self) -> None:
        super().clean()
        if self.low is not None and self.high is not None and self.high < self.low:
            raise ValidationError({"high": "This range ends below where it begins."})
        if self.low is not None and self.low > AS_RECKONED:
            raise ValidationError({"low": OUTSIDE})
        if self.high is not None and self.high < AS_RECKONED:
            raise ValidationError({"high": OUTSIDE})


Input = CostRange.Input
# How far each input lies from what is reckoned with, where nobody has said so   [our judgement]
USUAL_RANGES = {
    Input.CASTING: (Decimal(90), Decimal(120)),
    Input.MACHINING: (Decimal(90), Decimal(125)),
    Input.BOUGHT_IN: (Decimal(95), Decimal(110)),
    Input.TOOLS: (Decimal(80), Decimal(140)),
    Input.MINUTES: (Decimal(80), Decimal(140)),
    Input.WAGE: (Decimal(90), Decimal(110)),
    Input.SCRAP: (Decimal(50), Decimal(200)),
    Input.SOLD: (Decimal(60), Decimal(100)),
    Input.PRICE: (Decimal(90), Decimal(105)),
}
