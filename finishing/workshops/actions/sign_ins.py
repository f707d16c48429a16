"""Passwords cannot be tried out at speed: after some wrong ones a name, or the address they came from, has to wait."""

from datetime import datetime, timedelta

from finishing.workshops.models import FailedSignIn
from finishing.workshops.models.sign_ins import COUNTS_FOR, LONGEST_ADDRESS, MOST, digest


def try_sign_in(name: str, address: str, now: datetime) -> timedelta:
    """Note a try, which counts as wrong until it proves right; or say how long it has to wait, and note nothing.

    It is noted before it is judged, so that tries at the same moment in several workers count one another.
    """
    FailedSignIn.objects.filter(at__lte=now - COUNTS_FOR).delete()
    own = FailedSignIn.objects.create(name=digest(name), address=address[:LONGEST_ADDRESS], at=now)
    wait = max(_wait(own, by) for by in MOST)
    if wait:
        own.delete()
    return wait


def _wait(own: FailedSignIn, by: str) -> timedelta:
    """Until so many of the same name, or address, no longer count that another may be tried."""
    same = FailedSignIn.objects.filter(**{by: getattr(own, by)}).exclude(pk=own.pk)
    counting = same.filter(at__gt=own.at - COUNTS_FOR).order_by("-at")
    last = counting[MOST[by] - 1 : MOST[by]].first()
    return last.at + COUNTS_FOR - own.at if last else timedelta()


def forget_failed_sign_ins(name: str) -> None:
    """The password proved right."""
    FailedSignIn.objects.filter(name=digest(name)).delete()
