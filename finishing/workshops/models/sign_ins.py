"""Tries to sign in that did not prove right, kept for as long as they count."""

from datetime import timedelta

from django.db import models
from django.utils.crypto import salted_hmac

COUNTS_FOR = timedelta(minutes=10)
# How many tries that are the same by these count before the next waits. Our judgement: a workshop's phones may share
# one address, and a name that is tried from many is being guessed.
Allowance = tuple[tuple[tuple[str, ...], int], ...]
OF_A_STRANGER: Allowance = ((("name", "address"), 5), (("address",), 30), (("name",), 30))
OF_A_KNOWN_DEVICE: Allowance = ((("name", "address"), 5),)  # its mark stands for the address
OF_OLD_PASSWORD: Allowance = ((("name",), 5),)
LONGEST_ADDRESS = 45  # IPv6 with IPv4 in it


class FailedSignIn(models.Model):
    """One try. Names are kept as a digest: some people type a password into the wrong box.

    address: where it came from, or the mark of a device on which the name has signed in before
    """

    name = models.CharField(max_length=64)
    address = models.CharField(max_length=LONGEST_ADDRESS)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at"]
        indexes = [models.Index(fields=["name", "at"]), models.Index(fields=["address", "at"])]

    def __str__(self) -> str:
        return f"{self.address}, {self.at:%Y-%m-%d %H:%M}"


def digest(name: str) -> str:
    return salted_hmac("sign-in", name, algorithm="sha256").hexdigest()
