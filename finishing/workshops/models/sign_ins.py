"""Tries to sign in that did not prove right, kept for as long as they count."""

from datetime import timedelta

from django.db import models
from django.utils.crypto import salted_hmac

COUNTS_FOR = timedelta(minutes=10)
MOST = {"name": 5, "address": 30}  # our judgement: a workshop's phones may share one address
LONGEST_ADDRESS = 45  # IPv6 with IPv4 in it


class FailedSignIn(models.Model):
    """One try. Names are kept as a digest: some people type a password into the wrong box."""

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
