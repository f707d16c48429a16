"""What a contractor's day costs. Money is rounded once, to the cent."""

from dataclasses import dataclass
from decimal import Decimal

from finishing.science.sources import COMMON_PRACTICE
from finishing.science.working import Working

from .rounding import cents

NOTHING = Decimal(0)


@dataclass(frozen=True)
class DayTerms:
    """What a contractor asks for a day: for coming, and for his work by the hour.

    day: for the whole day, in place of the hours · fixed: in place of all else, however long it takes
    least: a day for less is charged as this
    """

    call_out: Decimal
    travel: Decimal
    rate: Decimal
    day: Decimal | None = None
    fixed: Decimal | None = None
    least: Decimal = NOTHING

    def cost(self, minutes: int, days: int = 1) -> Decimal:
        """For so many minutes on so many days, nothing where there is nothing to blast.

        days · fixed, else max(days · (call-out + travel) + work, days · least),  work = days · day, else rate · t
        Source: agreement.

        >>> DayTerms(Decimal(60), Decimal("35.50"), Decimal(85)).cost(200)
        Decimal('378.83')
        >>> DayTerms(Decimal(60), Decimal("35.50"), Decimal(85), least=Decimal(400)).cost(200)
        Decimal('400.00')
        """
        if not minutes:
            return cents(NOTHING)
        if self.fixed is not None:
            return cents(days * self.fixed)
        work = self.rate * minutes / 60 if self.day is None else days * self.day
        return cents(max(days * (self.call_out + self.travel) + work, days * self.least))

    def coming(self, minutes: int) -> Decimal:
        """What a day costs apart from hours that cost the same on any other: what a plan saves with a day fewer.

        cost(t) − rate · t, where he is paid by the hour, else cost(t)

        >>> DayTerms(Decimal(60), Decimal("35.50"), Decimal(85)).coming(200)
        Decimal('95.50')
        >>> DayTerms(Decimal(60), Decimal("35.50"), Decimal(85), least=Decimal(400)).coming(120)
        Decimal('230.00')
        """
        by_hour = self.day is None and self.fixed is None
        return self.cost(minutes) - (cents(self.rate * minutes / 60) if by_hour and minutes else NOTHING)

    def working(self, minutes: int, currency: str) -> Working:
        """How the cost of one day came about."""
        hours = ("hours", f"{minutes // 60} h {minutes % 60:02d} min")
        coming = (("call-out", f"{self.call_out} {currency}"), ("travel", f"{self.travel} {currency}"))
        inputs: tuple[tuple[str, str], ...]
        if self.fixed is not None:
            formula, inputs = "fixed price", (("fixed price", f"{self.fixed} {currency}"), hours)
        elif self.day is not None:
            formula, inputs = (
                "call-out + travel + price of a day",
                (*coming, ("a day", f"{self.day} {currency}"), hours),
            )
        else:
            formula = "call-out + travel + rate · hours"
            inputs = (*coming, ("rate", f"{self.rate} {currency}/h"), hours)
        if self.least and self.fixed is None:
            formula, inputs = f"max({formula}, least charge)", (*inputs, ("least charge", f"{self.least} {currency}"))
        return Working(
            "cost of the day",
            formula,
            inputs,
            f"{self.cost(minutes)} {currency}",
            COMMON_PRACTICE,
            "Rounded once. Each piece bears its part by its minutes; cents left over go to those of whom most was cut"
            " off.",
        )


def cancellation(cost: Decimal, percent: Decimal) -> Decimal:
    """What is owed for a day cancelled too late: a share of what it would have cost.

    >>> cancellation(Decimal("378.83"), Decimal(50))
    Decimal('189.42')
    """
    return cents(cost * percent / 100)
