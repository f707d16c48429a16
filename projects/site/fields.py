"""Columns for money and for what is counted in hundredths."""

from decimal import Decimal
from pathlib import PurePath
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

currency_code = RegexValidator(r"^[A-Z]{3}$", "Three capital letters, as EUR, GBP or USD.")


def money(label: str, places: int = 2, **options: Any) -> Any:
    """A sum that is not negative; prices of a single piece may have more places than cents."""
    not_below = MinValueValidator(Decimal(0), "Money asked for is not negative.")
    given = {"default": Decimal(0)} if not options.get("null") else {"blank": True}
    return models.DecimalField(
        label, max_digits=10 + places, decimal_places=places, validators=[not_below], **{**given, **options}
    )


def percent(label: str, low: str = "0", high: str = "100", **options: Any) -> Any:
    words = f"Between {low} and {high} %%."  # a validator's words are filled in with %
    limits = [MinValueValidator(Decimal(low), words), MaxValueValidator(Decimal(high), words)]
    return models.DecimalField(label, max_digits=6, decimal_places=2, validators=limits, **options)


def kept_file(instance: models.Model, name: str) -> str:
    """Under the row's own name: what a person calls a file says nothing about where it is kept.

    A file that takes the place of another gets a name beside it, and the earlier one stays on disk on purpose: it may
    have been quoted, ordered or made from, and a backup under way finds every file that its database names.
    """
    return f"papers/{instance.pk}{PurePath(name).suffix.lower()[:10]}"
