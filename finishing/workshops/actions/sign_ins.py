"""Passwords cannot be tried out at speed, and nobody can be shut out by somebody else who tries theirs."""

from datetime import datetime, timedelta

from finishing.workshops.models import FailedSignIn
from finishing.workshops.models.sign_ins import (
    COUNTS_FOR,
    LONGEST_ADDRESS,
    OF_A_KNOWN_DEVICE,
    OF_A_STRANGER,
    OF_OLD_PASSWORD,
    Allowance,
    digest,
)


def try_sign_in(name: str, address: str, device: str, now: datetime) -> timedelta:
    """Note a try, which counts as wrong until it proves right; or say how long it has to wait, and note nothing.

    `device`: the mark of one on which this name has signed in before, else "": it has an allowance of its own,
    whatever others have tried from elsewhere.
    """
    return try_noted(digest(name), device or address, OF_A_KNOWN_DEVICE if device else OF_A_STRANGER, now)


def forget_failed_sign_ins(name: str, address: str, device: str) -> None:
    """The password proved right here; what is tried elsewhere goes on counting."""
    forget_failed(digest(name), device or address)


def try_old_password(name: str, now: datetime) -> timedelta:
    """As at the door, for who is signed in already and says an old password to change it."""
    return try_noted(digest(f"old password of {name}"), "", OF_OLD_PASSWORD, now)


def forget_failed_old_passwords(name: str) -> None:
    forget_failed(digest(f"old password of {name}"), "")


def forget_failed(name: str, address: str) -> None:
    FailedSignIn.objects.filter(name=name, address=address[:LONGEST_ADDRESS]).delete()


def try_noted(name: str, address: str, allowance: Allowance, now: datetime) -> timedelta:
    """It is noted before it is judged, so that tries at the same moment in several workers count one another."""
    FailedSignIn.objects.filter(at__lte=now - COUNTS_FOR).delete()
    own = FailedSignIn.objects.create(name=name, address=address[:LONGEST_ADDRESS], at=now)
    wait = max(_wait(own, by, most) for by, most in allowance)
    if wait:
        own.delete()
    return wait


def _wait(own: FailedSignIn, by: tuple[str, ...], most: int) -> timedelta:
    """Until so few of those that are the same `by` these still count that another may be tried."""
    same = FailedSignIn.objects.filter(**{name: getattr(own, name) for name in by}).exclude(pk=own.pk)
    last = same.filter(at__gt=own.at - COUNTS_FOR).order_by("-at")[most - 1 : most].first()
    return last.at + COUNTS_FOR - own.at if last else timedelta()
