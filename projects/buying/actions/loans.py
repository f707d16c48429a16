"""Things are lent out, come back, and what was said of a loan is corrected: each time with a line that tells it."""

from datetime import date

from django.db import transaction

from finishing.workshops.models import User
from projects.record.models import Loan, LoanChange

MAY_CHANGE = ("holder", "lent_on", "due_on", "note")
IN_WORDS = {"holder": "at", "lent_on": "out since", "due_on": "due", "note": "note"}


def give_back(loan: Loan, *, by: User, day: date) -> None:
    """Asked for twice, as by a double tap, it is told once."""
    _close(loan, by=by, words="back", back_on=day)


def was_mistaken(loan: Loan, *, by: User, reason: str) -> None:
    """It was never out. The loan stays in the book, struck out."""
    _close(loan, by=by, words=f"entered by mistake: {reason}", mistaken=True)


@transaction.atomic
def _close(loan: Loan, *, by: User, words: str, **closed: date | bool) -> None:
    if Loan.objects.out().filter(pk=loan.pk).update(**closed):
        _tell(loan, by, words)


@transaction.atomic
def take_up_again(loan: Loan, *, by: User) -> bool:
    """Out after all, as long as the thing has not been lent to somebody else meanwhile; whether it is out now."""
    if loan.is_out:
        return True
    others = Loan.objects.out().exclude(pk=loan.pk)
    if any(row and others.filter(**{name: row}).exists() for name, row in (("piece", loan.piece), ("tool", loan.tool))):
        return False
    Loan.objects.filter(pk=loan.pk).update(back_on=None, mistaken=False)
    _tell(loan, by, "not back after all" if loan.back_on else "no mistake after all")
    return True


@transaction.atomic
def correct(loan: Loan, *, before: Loan, by: User) -> None:
    """Keep what was typed, and tell what it was before."""
    told = [
        f"{IN_WORDS[name]} {_said(getattr(loan, name))} instead of {_said(getattr(before, name))}"
        for name in MAY_CHANGE
        if getattr(loan, name) != getattr(before, name)
    ]
    if told:
        loan.save()
        _tell(loan, by, "; ".join(told))


def _said(value: date | str | None) -> str:
    return f"{value:%-d %b %Y}" if isinstance(value, date) else value or "not said"


def _tell(loan: Loan, by: User, words: str) -> None:
    LoanChange.objects.create(workshop_id=loan.workshop_id, loan=loan, by=by, words=words)
