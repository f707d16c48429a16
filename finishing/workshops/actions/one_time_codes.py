"""One-time codes by RFC 6238 (TOTP): SHA-1, 30 seconds, six digits, as every authenticator app reads them."""

import secrets
from datetime import datetime, timedelta
from hmac import compare_digest

import pyotp
from django.db import transaction
from django.utils.crypto import salted_hmac

from finishing.workshops.models import OneTimeCodes, User
from finishing.workshops.models.sign_ins import OF_A_KNOWN_DEVICE, OF_OLD_PASSWORD, digest

from .sign_ins import forget_failed, try_noted

STEP = 30  # seconds
EITHER_WAY = 1  # steps by which a phone's clock may differ; the RFC advises no more (5.2)
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another  # pragma: allowlist secret
RECOVERY_CODES = 10


def new_secret() -> str:
    return pyotp.random_base32()


def address_for_app(user: User, secret: str) -> str:
    """What the picture says to an authenticator app."""
    return pyotp.TOTP(secret).provisioning_uri(name=user.get_username(), issuer_name="Fettlebook")


def step_of(secret: str, code: str, now: datetime, after: int = 0) -> int | None:
    """The step after `after` whose code this is; None where it is no code of about now.

    >>> from datetime import UTC
    >>> step_of("GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ", "287082", datetime.fromtimestamp(59, UTC))
    1
    """
    middle = int(now.timestamp()) // STEP
    totp = pyotp.TOTP(secret)
    for step in range(middle - EITHER_WAY, middle + EITHER_WAY + 1):
        if step > after and compare_digest(totp.at(step * STEP).encode(), code.encode()):
            return step
    return None


def begin_codes(user: User, secret: str, code: str, now: datetime) -> list[str]:
    """Switch them on where the phone's first code is right; the recovery codes, which are shown once. Else none."""
    step = step_of(secret, code, now)
    if step is None:
        return []
    recovery = ["".join(secrets.choice(LETTERS) for _ in range(10)) for _ in range(RECOVERY_CODES)]
    OneTimeCodes.objects.update_or_create(
        user=user, defaults={"secret": secret, "last_step": step, "recovery": [_digest(code) for code in recovery]}
    )
    return recovery


def end_codes(user: User) -> None:
    OneTimeCodes.objects.filter(user=user).delete()


def try_code(user: User, typed: str, device: str, now: datetime) -> timedelta | None:
    """None where the code is right, and used up with that; else how long to wait for another try, mostly not at all.

    Whoever gets here knew the password. A device of the account's own has tries of its own.
    """
    name = digest(f"one-time code of {user.pk}")
    if wait := try_noted(name, device, OF_A_KNOWN_DEVICE if device else OF_OLD_PASSWORD, now):
        return wait
    if not _use_up(user, "".join(typed.split()).lower(), now):
        return timedelta()
    forget_failed(name, device)
    return None


@transaction.atomic
def _use_up(user: User, code: str, now: datetime) -> bool:
    """The row is held, so that of two who type the same code at once only one is let in."""
    codes = OneTimeCodes.objects.select_for_update().filter(user=user).first()
    if codes is None:
        return False
    step = step_of(codes.secret, code, now, after=codes.last_step)
    if step is not None:
        return bool(OneTimeCodes.objects.filter(pk=user.pk, last_step__lt=step).update(last_step=step))
    if _digest(code) in codes.recovery:
        codes.recovery.remove(_digest(code))
        codes.save(update_fields=["recovery"])
        return True
    return False


def _digest(code: str) -> str:
    return salted_hmac("recovery code", code, algorithm="sha256").hexdigest()
