"""What is done with the stages of a buyer's price: paid, taken out."""

from datetime import date

from projects.record.models import StagePayment


def note_paid(stage: StagePayment, day: date | None) -> None:
    """Paid on a day; None where it was not paid after all."""
    stage.paid_on = day
    stage.save(update_fields=["paid_on"])


class IsPaid(ValueError):
    """Money that has come in does not vanish from the book."""


def remove_stage(stage: StagePayment) -> None:
    if stage.paid_on:
        raise IsPaid(f"{stage.what.capitalize()} is paid. Take the payment back first, if it is wrong.")
    stage.delete()
