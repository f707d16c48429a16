"""Who works, for which workshop, and where."""

import secrets
import uuid
import zoneinfo
from datetime import date, datetime, time, timedelta
from functools import cache
from urllib.parse import urlsplit

import numpy as np
from django.apps import apps
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from finishing.science import sky
from finishing.science.hours import Hours
from finishing.science.work_time import Rates
from finishing.site.calendar import on_clock
from finishing.site.fields import QuantityField
from finishing.site.models import Deletable, InSight, WorkshopRow, index_of_deleted

COMMA_BETWEEN_THOUSANDS = ("USD", "GBP", "AUD", "NZD")  # whose people write 1,250 for a thousand and a quarter


class User(AbstractUser):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)

    def __str__(self) -> str:
        return self.get_full_name() or self.username


@cache
def time_zones() -> list[str]:
    """The zones that a person may choose: places, and UTC."""
    return sorted(name for name in zoneinfo.available_timezones() if "/" in name or name == "UTC")


def known_time_zone(name: str) -> None:
    if name not in time_zones():
        raise ValidationError("This is not a time zone known here, for example Europe/London.")


def address_of_a_site(text: str) -> None:
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.path.strip("/") or parts.query:
        raise ValidationError("As https://workshop.local:8000, with http:// or https:// and no page after it.")


class Workshop(Deletable):
    class Units(models.TextChoices):
        METRIC = "metric", "metric (µm, m², litres, °C)"
        US = "us", "US (mil, ft², US gallons, °F)"
        IMPERIAL = "imperial", "imperial (thou, ft², imperial gallons, °C)"

    class WeatherService(models.TextChoices):
        MET_NORWAY = "met norway", "MET Norway"
        OPEN_METEO = "open-meteo", "Open-Meteo (without a key for non-commercial use only)"
        INVENTED = "invented", "invented weather (demonstration)"
        NONE = "none", "no service, readings only"

    class WeatherEnsemble(models.TextChoices):  # Open-Meteo's names
        GFS = "gfs_seamless", "31 members, worldwide, 16 days (GFS)"
        ECMWF = "ecmwf_ifs025", "51 members, worldwide, 15 days (ECMWF)"
        ICON = "icon_seamless", "40 members, best in Europe, 7 days (ICON)"
        NONE = "", "none"

    class Salt(models.TextChoices):  # the names of science.rust.SALT_LEVELS
        CLEAN = "clean", "clean: new casting, clean grit, inland"
        UNKNOWN = "not known", "not known: never tested, old or handled iron"
        COAST = "coast", "coast, winter road, or 20–50 mg/m² proven"
        TOO_SALTY = "too salty", "over 50 mg/m²: wash, blast again, test again"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=100)
    placed = models.BooleanField(default=True, editable=False, help_text="Somebody has said where it stands.")
    latitude = models.FloatField(default=0, validators=[MinValueValidator(-90), MaxValueValidator(90)])
    longitude = models.FloatField(default=0, validators=[MinValueValidator(-180), MaxValueValidator(180)])
    altitude = QuantityField(
        unit="m",
        minimum=-430,
        maximum=6000,
        null=True,
        blank=True,
        help_text="Sharpens the forecast's temperature.",
    )
    time_zone = models.CharField(max_length=60, default="UTC", validators=[known_time_zone])
    units = models.CharField(max_length=10, choices=Units, default=Units.METRIC)
    currency = models.CharField(max_length=3, default="EUR", help_text="Three letters, as EUR, GBP or USD.")
    work_from = models.TimeField("work begins", default=time(8))
    work_until = models.TimeField("work ends", default=time(18))
    work_days = models.CharField("days worked", max_length=7, default="1111110", help_text="Monday to Sunday.")
    wage = models.DecimalField("rate per hour", max_digits=8, decimal_places=2, null=True, blank=True)
    brush_minutes = QuantityField(
        "brushing",
        unit="min/m²",
        default=25,
        minimum=0.1,
        maximum=600,
        help_text="Minutes for a square metre of casting.",
    )
    mixing_minutes = QuantityField(
        "opening, mixing and straining",
        unit="min",
        default=15,
        minimum=0,
        maximum=240,
        help_text="Before every coat, whatever the size of the rack.",
    )
    film_floor = QuantityField(
        "no reading below",
        unit="%",
        default=80,
        minimum=50,
        maximum=100,
        help_text="Of the dry film that is asked (ISO 19840, from memory).",
    )
    film_thin_share = QuantityField(
        "readings below what is asked, at most",
        unit="%",
        default=20,
        minimum=0,
        maximum=100,
        help_text="Of all readings, while their mean reaches it (ISO 19840, from memory).",
    )
    cleaning_minutes = QuantityField(
        "cleaning up", unit="min", default=15, minimum=0, maximum=240, help_text="After every coat."
    )
    masking_minutes = QuantityField(
        "masking and plugging", unit="min/m²", default=10, minimum=0, maximum=600, help_text="Before blasting."
    )
    blasting_minutes = QuantityField(
        "blasting",
        unit="min/m²",
        default=15,
        minimum=0.1,
        maximum=600,
        help_text="For plans, as long as no visit has timed it.",
    )
    moving_minutes = QuantityField(
        "moving a rack", unit="min", default=30, minimum=0, maximum=600, help_text="Two people, from place to place."
    )
    settling_minutes = QuantityField(
        "sweeping, and dust settling",
        unit="min",
        default=60,
        minimum=0,
        maximum=1440,
        help_text="After blasting, before anything is painted or lies wet there.",
    )
    rust_tightening = models.FloatField(
        "share of the bare hours used",
        default=1,
        validators=[MinValueValidator(0.05), MaxValueValidator(1)],
        help_text="1 keeps the hours of the table; 0.5 halves every time allowed bare.",
    )
    salt = models.CharField("salt on the iron", max_length=10, choices=Salt, default=Salt.UNKNOWN)
    weather_service = models.CharField(max_length=20, choices=WeatherService, default=WeatherService.MET_NORWAY)
    weather_key = models.CharField(
        "Open-Meteo key",
        max_length=100,
        blank=True,
        validators=[RegexValidator(r"^[\w.-]+$", "A key is one word of letters and digits, without blanks.")],
        help_text="Open-Meteo is free without a key for non-commercial use only; a business subscribes and puts its key"
        " here. It is used for forecasts, where Open-Meteo is chosen, and for past years.",
    )
    weather_ensemble = models.CharField(
        "Open-Meteo ensemble",
        max_length=40,
        choices=WeatherEnsemble,
        default=WeatherEnsemble.GFS,
        blank=True,
        help_text="Fetched beside the forecast where Open-Meteo is chosen; a plan is held against every member of it.",
    )
    reading_age_minutes = models.PositiveIntegerField("a reading is fresh for", default=90, help_text="Minutes.")

    site_address = models.CharField(
        "address of this site",
        max_length=200,
        blank=True,
        validators=[address_of_a_site],
        help_text="What tags on pieces and mails lead to, as http://workshop.local:8000. Empty: as the server says.",
    )

    objects = InSight()

    class Meta:
        indexes = [index_of_deleted("deleted_workshops")]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.work_from and self.work_until and self.work_from >= self.work_until:
            raise ValidationError({"work_until": "Work must end after it begins."})
        self._keep_the_currency_of_sums()

    def _keep_the_currency_of_sums(self) -> None:
        """A sum is kept as a number: in another currency it would be another sum."""
        kept = Workshop.objects.filter(pk=self.pk).exclude(currency=self.currency).first()
        if kept and (bound := kept.bound_to_its_currency):
            words = f"It stays {kept.currency}: {' and '.join(bound)} are kept in it, and would mean something else."
            raise ValidationError({"currency": words})

    @property
    def bound_to_its_currency(self) -> list[str]:
        """Kinds of rows, in the words for many of them."""
        kinds = [kind for kind in apps.get_models() if issubclass(kind, WorkshopRow) and kind.binds_currency]
        return [
            str(kind._meta.verbose_name_plural) for kind in kinds if kind._base_manager.filter(workshop=self).exists()
        ]

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @property
    def position(self) -> tuple[float, float, float | None]:
        """Latitude and longitude in degrees, to the four decimals that services are asked for, and metres above the
        sea; None where nobody said."""
        altitude = self.altitude.magnitude if self.altitude is not None else None
        return round(self.latitude, 4), round(self.longitude, 4), altitude

    def day_of(self, moment: datetime) -> date:
        """The date that its own clock shows at a moment: the day to which what happens then belongs."""
        return moment.astimezone(self.zone).date()

    def at(self, day: date, clock: time) -> datetime:
        """The moment at which its own clock shows this time on this day."""
        return datetime.combine(day, clock, tzinfo=self.zone)

    def usually_works(self, day: date) -> bool:
        """Whether it is a weekday of work, days off apart."""
        return self.work_days[day.weekday()] == "1"

    @property
    def has_cabinet(self) -> bool:
        """Whether one of its places is for blasting."""
        return Place.objects.of(self).filter(cabinet=True).exists()

    @property
    def rates(self) -> Rates:
        """How long its own hands take, as its settings say."""
        return Rates(
            masking=self.masking_minutes.magnitude,
            blasting=self.blasting_minutes.magnitude,
            mixing=self.mixing_minutes.magnitude,
            cleaning=self.cleaning_minutes.magnitude,
            moving=self.moving_minutes.magnitude,
            day=_minutes(self.work_until) - _minutes(self.work_from),
        )

    @property
    def comma_is_point(self) -> bool | None:
        """Whether 1,250 is read with a decimal comma; None where its units and money do not say it."""
        return False if self.units != self.Units.METRIC or self.currency in COMMA_BETWEEN_THOUSANDS else None

    @property
    def days_off(self) -> list[tuple[date, date]]:
        return list(DayOff.objects.of(self).values_list("first", "last"))

    def working_hours(self, times: np.ndarray, minutes: int = 60) -> np.ndarray:
        """Which of these UTC hours lie wholly inside working time on this workshop's clock, days off left out.

        minutes: how long a stretch begins at each of the times, where it is not an hour."""
        days = on_clock(times, self.zone).astype("datetime64[D]")
        off = [(days >= np.datetime64(first)) & (days <= np.datetime64(last)) for first, last in self.days_off]
        return self.usual_hours(times, minutes) & ~np.any([np.zeros(len(times), bool), *off], axis=0)

    @property
    def hours_a_week(self) -> int:
        """Whole hours of work in a week without days off."""
        return (_minutes(self.work_until) - _minutes(self.work_from)) // 60 * self.work_days.count("1")

    def usual_hours(self, times: np.ndarray, minutes: int = 60) -> np.ndarray:
        """The same as if there were no days off: what is asked of years that are over."""
        shown = on_clock(times, self.zone)
        days = shown.astype("datetime64[D]")
        clock = (shown - days).astype(int)
        inside = (clock >= _minutes(self.work_from)) & (clock + minutes <= _minutes(self.work_until))
        weekday = (days.astype(int) + THURSDAY) % 7
        return inside & np.array([mark == "1" for mark in self.work_days])[weekday]


THURSDAY = 3  # the weekday of 1 January 1970, counted from Monday


def _minutes(clock: time) -> int:
    return clock.hour * 60 + clock.minute


class Membership(WorkshopRow, Deletable):
    goes_with = "workshop"

    class Role(models.TextChoices):
        OWNER = "owner", "owner: everything, members and settings too"
        RESTORER = "restorer", "restorer: projects, pieces, coatings and the log"
        HELPER = "helper", "helper: the log and readings"
        GUEST = "guest", "guest: looks on"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role, default=Role.HELPER)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["workshop", "user"], name="one_membership_each")]
        indexes = [index_of_deleted("deleted_memberships")]

    def __str__(self) -> str:
        return f"{self.user}, {self.role}"


LINK_LASTS = timedelta(days=14)


def new_token() -> str:
    return secrets.token_urlsafe(24)


class InvitationQuerySet(models.QuerySet["Invitation"]):
    def usable(self, now: datetime) -> "InvitationQuerySet":
        return self.filter(used_at=None, made_at__gt=now - LINK_LASTS, workshop__deleted_at=None)


class Invitation(models.Model):
    """A one-time link: without a workshop, its user makes the first one; with one, the user joins it."""

    token = models.CharField(max_length=40, primary_key=True, default=new_token)
    workshop = models.ForeignKey(Workshop, on_delete=models.CASCADE, null=True, blank=True, related_name="invitations")
    role = models.CharField(max_length=10, choices=Membership.Role, default=Membership.Role.OWNER)
    made_at = models.DateTimeField(auto_now_add=True)
    used_at = models.DateTimeField(null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    def __str__(self) -> str:
        return f"link for a {self.role}"


class Place(WorkshopRow):
    """Where work is done, and what its air is."""

    class Kind(models.TextChoices):
        YARD = "yard", "yard, under the open sky"
        ROOF = "roof", "under a roof, open at the sides"
        SHOP = "shop", "shop, indoors"

    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.YARD)
    held_at = QuantityField(
        "heated to",
        unit="°C",
        null=True,
        blank=True,
        minimum=-10,
        maximum=40,
        help_text="Leave empty where there is no heating: the shop then follows the air outside.",
    )
    humidity_ceiling = QuantityField(
        "dehumidifier holds",
        unit="%",
        null=True,
        blank=True,
        minimum=20,
        maximum=95,
        help_text="Relative humidity that the dehumidifier does not let pass.",
    )
    sun_from = models.TimeField(
        "sun from", null=True, blank=True, help_text="When the sun reaches what stands in the yard; empty: never."
    )
    sun_until = models.TimeField("sun until", null=True, blank=True)
    air_of = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="has the air of",
        help_text="Readings taken there count here too, as a yard's in the lean-to beside it.",
    )
    stirred = models.BooleanField("fan or open doors", default=False)
    painted_in = models.BooleanField("painting is done here", default=True)
    blasted_in = models.BooleanField("a visit may blast here", default=True)
    cabinet = models.BooleanField(
        "blasting room of our own", default=False, help_text="Then nobody waits for a contractor."
    )
    wet_room = QuantityField(
        "room for wet work",
        unit="m²",
        null=True,
        blank=True,
        minimum=0.1,
        maximum=5000,
        help_text="Painted area that may lie wet here at once. Leave empty where there is room enough.",
    )

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["workshop", "name"], name="one_place_of_a_name")]

    def __str__(self) -> str:
        return self.name

    @property
    def outdoors(self) -> bool:
        return self.kind != self.Kind.SHOP

    @property
    def shelter(self) -> str:
        """How it couples metal to its air, by the names of science.metal.SHELTERS."""
        if self.outdoors:
            return "outdoor"
        return "indoor fan" if self.stirred else "still indoor"

    def reckoned(self, outdoor: Hours) -> Hours:
        """Its air, as it follows from the air outside; in the yard with the sun and the sky that it can count on."""
        if self.kind == self.Kind.YARD:
            sunny = self.sunny(outdoor.times)
            return sky.careful(outdoor.in_yard(), self.workshop.latitude, self.workshop.longitude, sunny)
        if self.kind == self.Kind.ROOF:
            return outdoor.under_roof()
        ceiling = self.humidity_ceiling.magnitude if self.humidity_ceiling is not None else 100.0
        return outdoor.in_shop(self.held_at.magnitude if self.held_at is not None else None, ceiling)

    def reckoned_warmest(self, outdoor: Hours) -> Hours:
        """The same with all the warmth that sun and sky may bring."""
        if self.kind != self.Kind.YARD:
            return self.reckoned(outdoor)
        return sky.warmest(outdoor.in_yard(), self.workshop.latitude, self.workshop.longitude)

    def sunny(self, times: np.ndarray) -> np.ndarray:
        """In which of these UTC hours the sun reaches what stands here, by the workshop's clock."""
        if self.kind != self.Kind.YARD or self.sun_from is None or self.sun_until is None:
            return np.zeros(len(times), bool)
        shown = on_clock(times, self.workshop.zone)
        minutes = (shown - shown.astype("datetime64[D]")).astype(int)
        return (minutes >= _minutes(self.sun_from)) & (minutes + 60 <= _minutes(self.sun_until))


class DayOff(WorkshopRow):
    first = models.DateField()
    last = models.DateField()
    reason = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["first"]

    def __str__(self) -> str:
        return self.reason or str(self.first)

    def clean(self) -> None:
        super().clean()
        if self.first and self.last and self.last < self.first:
            raise ValidationError({"last": "The last day off comes before the first."})
