"""The one-time codes of an account: what its phone and this installation both know."""

from django.db import models

from .workshops import User


class OneTimeCodes(models.Model):
    """Asked for at each sign-in once a first code proved right; without the phone at hand a recovery code is used up.

    last_step: of 30 seconds since 1970, the one whose code was used last: no code is taken twice
    recovery: digests of the codes not used yet
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, primary_key=True, related_name="one_time_codes")
    secret = models.CharField(max_length=40)
    last_step = models.BigIntegerField(default=0)
    recovery = models.JSONField(default=list)
    since = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"one-time codes of {self.user}"
