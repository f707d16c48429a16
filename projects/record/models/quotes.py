"""What suppliers were asked, and what they offered: prices by quantity, tooling, set-up, and until when they stand."""

from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import ClassVar, Self

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from finishing.science.working import day_told
from finishing.site.models import WorkshopQuerySet, WorkshopRow
from projects.site.fields import kept_file, money

AT_LEAST_ONE = MinValueValidator(1, "At least one.")
MOST_PIECES = 1_000_000
MOST_DAYS, TOO_LONG = 3650, "Ten years are the most."
MOST_MACHINES, MOST_SIZES = 1000, 12


def sizes_in(text: str) -> list[int]:
    """Batch sizes as typed, by commas; smallest first.

    >>> sizes_in("10, 1; 5")
    [1, 5, 10]
    """
    words = [word.strip() for word in text.replace(";", ",").split(",") if word.strip()]
    if not words:
        raise ValidationError("How many machines? For example 1, 5, 10.")
    for word in words:
        if not (word.isascii() and word.isdecimal() and len(word) < 6 and 1 <= int(word) <= MOST_MACHINES):
            raise ValidationError(f"“{word[:20]}” is not a number of machines, from 1 to {MOST_MACHINES}.")
    sizes = sorted({int(word) for word in words})
    if len(sizes) > MOST_SIZES:
        raise ValidationError(f"At most {MOST_SIZES} different sizes.")
    return sizes


class QuoteRequestQuerySet(WorkshopQuerySet["QuoteRequest"]):
    def in_full(self) -> Self:
        return self.select_related("supplier__workshop", "design")


class QuoteRequest(WorkshopRow):
    """Parts of a design for which one supplier is asked to name prices at several quantities."""

    design = models.ForeignKey("projects.Design", on_delete=models.CASCADE, related_name="quote_requests")
    supplier = models.ForeignKey("projects.Supplier", on_delete=models.PROTECT, related_name="requests")
    quantities = models.CharField(max_length=100, default="1, 5, 10, 20", help_text="Of machines, by commas.")
    answer_by = models.DateField("answer wanted by", null=True, blank=True)
    note = models.TextField("what they should know", blank=True)
    reason = models.CharField("why more than one of an unproved revision", max_length=300, blank=True)
    asked_on = models.DateField()

    objects: ClassVar = QuoteRequestQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_on"]

    def __str__(self) -> str:
        return f"{self.supplier}, {day_told(self.asked_on)}"

    @property
    def sizes(self) -> list[int]:
        return sizes_in(self.quantities)

    @cached_property
    def lines_in_full(self) -> list["RequestLine"]:
        """By part, then what is for the machine as a whole; with what the supplier must know of each."""
        lines = self.lines.select_related("operation__part", "revision")
        return sorted(lines, key=lambda line: (line.operation.part is None, str(line.operation.part or "")))


class RequestLine(WorkshopRow):
    request = models.ForeignKey(QuoteRequest, on_delete=models.CASCADE, related_name="lines")
    operation = models.ForeignKey("projects.Operation", on_delete=models.CASCADE, related_name="request_lines")
    revision = models.ForeignKey("projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["operation__part__name", "operation__position"]
        constraints = [models.UniqueConstraint(fields=["request", "operation"], name="asked_once_in_a_request")]

    def __str__(self) -> str:
        return str(self.operation)

    @property
    def pieces(self) -> dict[int, int]:
        """How many of it each batch size takes."""
        return {size: self.operation.pieces_for(size) for size in self.request.sizes}


class QuoteQuerySet(WorkshopQuerySet["Quote"]):
    def standing(self, day: date) -> Self:
        """Those that may be ordered from on a day."""
        begun = Q(valid_from=None) | Q(valid_from__lte=day)
        return self.filter(begun, Q(valid_until=None) | Q(valid_until__gte=day), withdrawn=False)

    def with_prices(self) -> Self:
        return self.select_related("supplier__workshop", "operation__part", "revision").prefetch_related("breaks")


class Quote(WorkshopRow):
    binds_currency = True

    class Counting(models.TextChoices):  # the names of projects.money.breaks.Counting
        ALL_UNITS = "all units", "the whole order at the price reached"
        INCREMENTAL = "incremental", "each band at its own price"

    class PriceBy(models.TextChoices):
        PIECE = "piece", "each"
        KILOGRAM = "kilogram", "per kg"

    supplier = models.ForeignKey("projects.Supplier", on_delete=models.PROTECT, related_name="quotes")
    operation = models.ForeignKey("projects.Operation", on_delete=models.CASCADE, related_name="quotes")
    revision = models.ForeignKey(
        "projects.Revision", on_delete=models.PROTECT, null=True, blank=True, related_name="quotes"
    )
    request = models.ForeignKey(QuoteRequest, on_delete=models.SET_NULL, null=True, blank=True, related_name="quotes")
    number = models.CharField("their number", max_length=60, blank=True)
    quoted_on = models.DateField()
    valid_from = models.DateField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    counting = models.CharField("breaks count for", max_length=12, choices=Counting, default=Counting.ALL_UNITS)
    price_by = models.CharField("prices are", max_length=10, choices=PriceBy, default=PriceBy.PIECE)
    minimum_quantity = models.PositiveIntegerField("least quantity", default=1, validators=[AT_LEAST_ONE])
    tooling = money("tooling", help_text="Once, with the first order.")
    setup = money("set-up", help_text="With each order.")
    lead_days = models.PositiveSmallIntegerField("takes", null=True, blank=True, help_text="Days. Empty: as usual.")
    file = models.FileField("their letter", upload_to=kept_file, blank=True)
    file_name = models.CharField(max_length=200, blank=True, editable=False)
    remark = models.CharField(max_length=300, blank=True)
    withdrawn = models.BooleanField(default=False)

    objects: ClassVar = QuoteQuerySet.as_manager()

    class Meta:
        ordering = ["operation", "supplier", "-quoted_on"]

    def __str__(self) -> str:
        return f"{self.supplier}, {day_told(self.quoted_on)}"

    def stands_on(self, day: date) -> bool:
        begun = self.valid_from is None or self.valid_from <= day
        return begun and (self.valid_until is None or day <= self.valid_until) and not self.withdrawn

    @property
    def days(self) -> int:
        return self.supplier.lead_days if self.lead_days is None else self.lead_days

    def clean(self) -> None:
        super().clean()
        begins = self.valid_from or self.quoted_on
        if begins and self.valid_until and self.valid_until < begins:
            raise ValidationError({"valid_until": "This quote ends before it starts."})
        by_weight = self.price_by == self.PriceBy.KILOGRAM and self.operation_id
        if by_weight and (self.operation.part is None or self.operation.part.mass is None):
            raise ValidationError({"price_by": "The part has no weight yet; enter it at the part first."})


class QuoteBreak(WorkshopRow):
    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="breaks")
    from_quantity = models.PositiveIntegerField("from", validators=[AT_LEAST_ONE])
    price = money("price", 4)

    class Meta:
        ordering = ["from_quantity"]
        constraints = [models.UniqueConstraint(fields=["quote", "from_quantity"], name="one_price_from_a_quantity")]

    def __str__(self) -> str:
        return f"from {self.from_quantity}: {self.price}"

    @property
    def shown_price(self) -> Decimal:
        """In cents, or as finely as it was quoted."""
        cents = self.price.quantize(Decimal("0.01"))
        return cents if cents == self.price else self.price.normalize()
