"""What a plan is allowed: who works and when, where, which visits are on offer; read from a run's settings.

Settings left out are as the workshop says. Every key is optional:

    people         ids of those who work; without it all members but guests
    overtime       hours added to the end of each working day · sunday: worked too · overtime_pay: times the wage
    hold           {place id: °C} held there instead · dry: {place id: % } that a dehumidifier does not let pass
    hold_cost      {place id: money an hour in which work or paint needs it}
    places         ids of places to be used · visits: ids of Visits on offer · shifted: {visit id: date} tried instead
    racks          {piece id: name of the rack that somebody hung it on} · not_before: {piece id: instant it is there}
    waiting        money that a day's later finish is worth
    stands_in      of 10 members of an ensemble, in how many the whole plan shall stand
    pieces         ids of the only ones to be planned · bare_in: {piece id: ids of places where its rack may stand bare}
    holding        id of a paint that goes on bare iron first, as a holding primer
    instead_of     id of the kept plan that is to be repaired
    largest        m² of a rack · split: racks are blasted in halves · seconds: how long is tried
"""

from copy import copy
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from finishing.coatings.models import Coating
from finishing.science.hours import Hours
from finishing.science.units import Quantity
from finishing.workshops.models import Membership, Place, User, Workshop
from projects.record.models.pieces import Piece, PieceQuerySet
from projects.record.models.visits import Visit

SECONDS = 20.0  # how long a plan is improved where nobody says
OVERTIME_PAY = 1.5  # [common practice]
USUAL_HOUR = 25.0  # money, whatever the currency, where no wage is known   [our judgement]
LATEST = time(23, 59)


@dataclass(frozen=True, eq=False)
class Terms:
    """The settings of a run, with the workshop behind them; member: hours of an ensemble, instead of the forecast."""

    workshop: Workshop
    settings: dict[str, Any]
    member: Hours | None = None

    @property
    def patience(self) -> float:
        return float(self.settings.get("seconds") or SECONDS)

    def people_who_work(self) -> list[User]:
        rows = Membership.objects.of(self.workshop).exclude(role=Membership.Role.GUEST).select_related("user")
        asked = self.settings.get("people")
        found = sorted((row.user for row in rows), key=lambda user: user.username)
        return found if asked is None else [user for user in found if str(user.pk) in asked]

    def present(self, times: np.ndarray) -> np.ndarray:
        """By minute: people are at work, overtime counted."""
        return np.asarray(self._longer.working_hours(times, minutes=1))

    def beyond(self, times: np.ndarray) -> np.ndarray:
        """By minute: they are, and it is overtime."""
        return self.present(times) & ~self.workshop.working_hours(times, minutes=1)

    @property
    def _longer(self) -> Workshop:
        longer, hours = copy(self.workshop), float(self.settings.get("overtime") or 0)
        if hours:
            ends = datetime.combine(date.min, self.workshop.work_until) + timedelta(hours=hours)
            longer.work_until = ends.time() if ends.date() == date.min else LATEST
        if self.settings.get("sunday"):
            longer.work_days = "1111111"
        return longer

    @property
    def hour_cents(self) -> int:
        """What an hour of our own costs; nothing where no wage is known."""
        return round(100 * float(self.workshop.wage or 0))

    @property
    def overtime_cents(self) -> int:
        """What an hour of it costs."""
        return round(self.hour_cents * float(self.settings.get("overtime_pay") or OVERTIME_PAY))

    @property
    def hour(self) -> float:
        """What an hour of work is worth, money: the wage, where one is known."""
        return float(self.workshop.wage or USUAL_HOUR)

    @property
    def waiting(self) -> float:
        """Money that a day's later finish is worth."""
        return float(self.settings.get("waiting") or self.hour)

    def places(self) -> list[Place]:
        """The places to be used, held as the run asks."""
        rows, asked = Place.objects.of(self.workshop), self.settings.get("places")
        return [self._held(place) for place in rows if asked is None or str(place.pk) in asked]

    def _held(self, place: Place) -> Place:
        held, dry = ((self.settings.get(name) or {}).get(str(place.pk)) for name in ("hold", "dry"))
        if held is not None:
            place.held_at = Quantity(float(held), "degC")
        if dry is not None:
            place.humidity_ceiling = Quantity(float(dry), "percent")
        return place

    def holding_cents(self, place: Place) -> float:
        """What an hour in which it is used costs."""
        return 100 * float((self.settings.get("hold_cost") or {}).get(str(place.pk)) or 0)

    def visits(self) -> list[Visit]:
        """The visits on offer: those asked for, else all that are open."""
        asked, shifted = self.settings.get("visits"), self.settings.get("shifted") or {}
        rows = list(Visit.objects.of(self.workshop).still_open().select_related("workshop"))
        found = [visit for visit in rows if asked is None or str(visit.pk) in asked]
        for visit in found:
            if str(visit.pk) in shifted:
                visit.date = date.fromisoformat(shifted[str(visit.pk)])
        return found

    def rack_of(self, piece: Piece) -> str:
        return str((self.settings.get("racks") or {}).get(str(piece.pk)) or "")

    def there_from(self, piece: Piece) -> datetime | None:
        """When a piece that is not there yet comes."""
        text = (self.settings.get("not_before") or {}).get(str(piece.pk))
        return datetime.fromisoformat(text) if text else None

    @property
    def stands_in(self) -> float:
        """Share of an ensemble's members in which the whole plan shall stand; 0 where nobody asks."""
        return int(self.settings.get("stands_in") or 0) / 10

    @cached_property
    def holding(self) -> Coating | None:
        asked = self.settings.get("holding")
        return Coating.objects.of(self.workshop).filter(pk=asked).first() if asked else None

    def wanted(self, pieces: PieceQuerySet) -> PieceQuerySet:
        asked = self.settings.get("pieces")
        return pieces if asked is None else pieces.filter(pk__in=asked)

    def bare_in(self, piece: Piece) -> list[str]:
        return list((self.settings.get("bare_in") or {}).get(str(piece.pk)) or ())

    def asks(self, **changed: Any) -> "Terms":
        """The same with something else allowed."""
        return replace(self, settings={**self.settings, **changed})
