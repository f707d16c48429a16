"""Who came in and what was done with rights, people and data: kept apart from the log of the work."""

import uuid
from datetime import timedelta
from typing import Self

from django.contrib.sessions.models import Session
from django.db import models
from django.utils import timezone

from .workshops import Membership, User, Workshop

KEPT_FOR = timedelta(days=400)


class AuditQuerySet(models.QuerySet["AuditEntry"]):
    def seen_by(self, workshop: Workshop) -> Self:
        """What was done in a workshop, and the sign-ins of those who are its members."""
        members = Membership.objects.of(workshop).values("user")
        return self.filter(models.Q(workshop=workshop) | models.Q(workshop=None, user__in=members))


class AuditEntry(models.Model):
    """One thing that was done, never changed. The name stays readable when the account is gone."""

    append_only = True
    kept_for = KEPT_FOR

    class What(models.TextChoices):
        SIGNED_IN = "signed in", "signed in"
        REFUSED = "refused", "a wrong password"
        SIGNED_OUT = "signed out", "signed out"
        PASSWORD = "password", "changed a password"  # pragma: allowlist secret
        RESET_LINK = "reset link", "made a link for a new password"
        CODES_ON = "codes on", "switched one-time codes on"
        CODES_OFF = "codes off", "switched one-time codes off"
        SESSION_ENDED = "session ended", "ended a sign-in"
        INVITED = "invited", "made a link to join"
        WITHDRAWN = "withdrawn", "withdrew a link to join"
        JOINED = "joined", "joined"
        ROLE = "role", "changed a role"
        REMOVED = "removed", "took a member out"
        EXPORTED = "exported", "took data away"
        DELETED = "deleted", "deleted"
        PUT_BACK = "put back", "put back what was deleted"
        BROUGHT = "brought", "brought a workshop from elsewhere"
        RESTORED = "restored", "put a backup back"

    at = models.DateTimeField(default=timezone.now)
    workshop = models.ForeignKey(Workshop, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    user = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    name = models.CharField(max_length=150)
    what = models.CharField(max_length=20, choices=What)
    about = models.CharField(max_length=200, blank=True)
    address = models.CharField(max_length=45, blank=True)

    objects = AuditQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["workshop", "-at"]), models.Index(fields=["user", "-at"])]

    def __str__(self) -> str:
        return f"{self.name} {self.get_what_display()} {self.about}".strip()


class SignInQuerySet(models.QuerySet["SignIn"]):
    def still_open(self) -> Self:
        return self.filter(session_key__in=Session.objects.filter(expire_date__gt=timezone.now()).values("session_key"))


class SignIn(models.Model):
    """A device on which somebody is signed in, beside the session that it holds."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    session_key = models.CharField(max_length=40, unique=True)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="sign_ins")
    since = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(default=timezone.now)
    device = models.CharField(max_length=200, blank=True)
    address = models.CharField(max_length=45, blank=True)

    objects = SignInQuerySet.as_manager()

    class Meta:
        ordering = ["-seen_at"]

    def __str__(self) -> str:
        return f"{self.device or 'a device'}, {self.since:%Y-%m-%d %H:%M}"
