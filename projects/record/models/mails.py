"""By whose server a workshop sends mail, who is told of what, and what was told already."""

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from finishing.site.models import WorkshopQuerySet, WorkshopRow


class MailServer(WorkshopRow):
    """One a workshop. `password` is kept sealed: see telling.actions."""

    class Security(models.TextChoices):
        STARTTLS = "starttls", "STARTTLS, usually port 587"
        TLS = "tls", "TLS from the first byte, usually port 465"
        NONE = "none", "none, inside the house only"

    on = models.BooleanField("send mail", default=False)
    host = models.CharField("server", max_length=200, help_text="As your mail provider names it: smtp.example.org.")
    port = models.PositiveIntegerField(default=587, validators=[MinValueValidator(1), MaxValueValidator(65535)])
    security = models.CharField(max_length=10, choices=Security, default=Security.STARTTLS)
    user = models.CharField("signs in as", max_length=200, blank=True)
    password = models.TextField(blank=True, editable=False)
    sender = models.EmailField("mails come from", max_length=200)
    trouble = models.CharField(max_length=300, blank=True, editable=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop"], name="one_mail_server_each")]

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


class MailReader(WorkshopRow):
    class About(models.TextChoices):
        BARE = "bare", "bare iron half way to its deadline"
        WINDOW = "window", "a recoat window that closes within a day"
        PLAN = "plan", "a kept plan that no longer holds"
        FROST = "frost", "frost coming on waterborne paint in store"
        TIN = "tin", "an opened tin past its keeping time"

    address = models.EmailField("mail address", max_length=200)
    about = models.JSONField("is told of", default=list)

    class Meta:
        ordering = ["address"]
        constraints = [models.UniqueConstraint(fields=["workshop", "address"], name="one_mail_reader_each")]

    def __str__(self) -> str:
        return self.address

    @property
    def about_words(self) -> list[str]:
        return [str(self.About(kind).label) for kind in self.about]


class MailSent(WorkshopRow):
    """What somebody was told of, so that nobody is told twice."""

    key = models.CharField(max_length=200)
    at = models.DateTimeField()

    objects: ClassVar = WorkshopQuerySet["MailSent"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "key"], name="told_once")]

    def __str__(self) -> str:
        return self.key
