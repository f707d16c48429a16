"""What is done with buyers: noted, changed; their stages agreed, paid, taken out."""

from datetime import date

from projects.record.models import Buyer, StagePayment


def save_buyer(buyer: Buyer) -> Buyer:
    buyer.save()
    return buyer


def agree_stage(stage: StagePayment) -> StagePayment:
    stage.save()
    return stage


def note_paid(stage: StagePayment, day: date | None) -> StagePayment:
    """Paid on a day; None where it was not paid after all."""
    stage.paid_on = day
    stage.save(update_fields=["paid_on"])
    return stage


class IsPaid(ValueError):
    """Money that has come in does not vanish from the book."""


def remove_stage(stage: StagePayment) -> None:
    if stage.paid_on:
        raise IsPaid(f"{stage.what.capitalize()} is paid. Take the payment back first, if it is wrong.")
    stage.delete()
