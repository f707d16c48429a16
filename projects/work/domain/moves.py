"""How long a piece keeps dry where it stands, and when it may be moved to another place without sweating there."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from functools import cached_property
from typing import TypeVar, cast

import numpy as np

from finishing.science import moving
from finishing.science.air import margin, margin_working
from finishing.science.hours import HOUR, Floats, Hours, Origin
from finishing.science.metal import biot_number, metal_temperature, still_exchange, time_constant_working
from finishing.science.rust import MAY_RAIN
from finishing.science.units import Quantity
from finishing.science.working import Ledger, LedgerRow, Working, decimals_to_reckon
from finishing.workshops.models import Place

from .outlook import ORIGINS, Outlook

AHEAD = 36  # hours that are told
SOON = 0.25  # h: settled so soon after a move, nobody need be told
SETTLING = 24  # further hours in which heavy iron may still settle

Kept = TypeVar("Kept")


class DryEnd(StrEnum):
    """What ends a good time; the words are the template's."""

    DEW = "dew"
    RAIN = "rain"
    MAY_RAIN = "may rain"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Times:
    """From now on: good until when and why no longer, or not good and why; then good again from when."""

    good: bool
    until: datetime | None  # None: through all that is told, or not good now
    because: DryEnd | None
    again: datetime | None
    read_off: "Prospect"
    level: float
    edges: tuple[float, ...]  # where it passes the level

    @cached_property
    def workings(self) -> list[Working]:
        return [working for edge in self.edges for working in self.read_off.crossing(edge, self.level)]


@dataclass(frozen=True, eq=False)
class Prospect:
    """A margin in °C, and the same at most, by what is not known of sun and sky; with the hours of the place it is
    in; all by hour from the present hour of an outlook on."""

    outlook: Outlook
    margin: Floats
    at_most: Floats
    there: Hours

    def times(self, level: float) -> Times:
        """When it is dry and more than `level` above its dew point."""
        now = self.outlook.at - self.outlook.hour
        ahead = self.spans(level)
        good = bool(ahead) and ahead[0][0] <= now
        until = ahead.pop(0)[1] if good else now
        if good and until >= AHEAD:
            return Times(True, None, None, None, self, level, ())
        again = ahead[0][0] if ahead else None
        edges = tuple(edge for edge in (until if good else None, again) if edge is not None)
        because = self._because(until, level)
        return Times(good, self._moment(until) if good else None, because, self._moment(again), self, level, edges)

    def spans(self, level: float) -> list[tuple[float, float]]:
        """From … until it is dry and more than `level` above its dew point, in hours after the present full hour."""
        dry = (self.there.rain == 0) & ~(self.there.rain_chance >= MAY_RAIN.value)
        found = moving.stretches(self.margin[: AHEAD + 1] - level, dry[: AHEAD + 1])
        return [(begin, end) for begin, end in found if end > self.outlook.at - self.outlook.hour]

    def _because(self, position: float, level: float) -> DryEnd:
        """Why it is not good from this position on; what only an assumed sky would do is not known."""
        hour = int(position + 1e-6)
        rain = self.there.rain[hour]
        if np.isnan(self.margin[hour : hour + 2].sum() + rain):
            return DryEnd.NOT_KNOWN
        if rain > 0:
            return DryEnd.RAIN
        if self.there.rain_chance[hour] >= MAY_RAIN.value:
            return DryEnd.MAY_RAIN
        return DryEnd.NOT_KNOWN if self.at_most[hour : hour + 2].min() > level else DryEnd.DEW

    def crossing(self, position: float, level: float) -> list[Working]:
        """How a time was read off the margin; nothing where rain or a gap set it, on a full hour."""
        first, last = self.margin[int(position) : int(position) + 2]
        if position % 1 == 0:
            return []
        told = moving.stretch_working(*(_apart(value) for value in (first, last, level)))
        return [replace(told, ledger=self.behind(position))]

    def behind(self, position: float) -> Ledger:
        """The hours from which a time was read: from the present one until behind it."""
        known = np.flatnonzero(~np.isnan(self.margin))
        return self.rows(int(known[0]) if len(known) else 0, int(position) + 1)

    def rows(self, first: int, last: int) -> Ledger:
        """Its margin at each full hour from … to, both counted."""
        told = []
        for at in range(first, min(last, len(self.margin) - 1) + 1):
            air, dew, above = self.there.temperature[at], float(self.there.dew_point[at]), float(self.margin[at])
            decimals = decimals_to_reckon((dew + above, dew), lambda t_s, t_d: t_s - t_d, shown=1)
            metal = f"{dew + above:.{decimals}f} °C"
            cells = (f"{air:.1f} °C", f"{dew:.{decimals}f} °C", metal, f"{above:.1f} °C")
            mark = ORIGINS[Origin(self.there.origin[at])]
            told.append(LedgerRow(self.outlook.instant(self.outlook.hour + at), None, cells, mark))
        return Ledger(("air", "dew point", "metal", "margin"), tuple(told))

    def _moment(self, position: float | None) -> datetime | None:
        return None if position is None else self.outlook.moment(self.outlook.hour + position)


@dataclass(frozen=True, eq=False)
class Standing(Prospect):
    """A piece that stays where it is."""

    @cached_property
    def holds(self) -> Times:
        return self.times(moving.MARGIN)

    @cached_property
    def dry(self) -> Times:
        return self.times(0.0)

    @property
    def workings(self) -> list[Working]:
        """The margin of this moment, and how the times were read off it."""
        dew, metal = self.outlook.dew_point_now, self.outlook.metal_now
        now = [] if np.isnan(metal + dew) else [margin_working(_degrees(metal), _degrees(dew))]
        return [*now, *self.holds.workings, *self.dry.workings]

    @property
    def biot(self) -> float:
        """Whether one temperature is fair for it, in still air here."""
        body, exchange = self.outlook.piece.part.body, still_exchange(self.outlook.path.place.shelter)
        return float(biot_number.__wrapped__(exchange, body.length_m, body.material.conductivity))

    @property
    def lag(self) -> Working:
        """How far the metal lags behind the air here."""
        body = self.outlook.piece.part.body
        return time_constant_working(_thick(body.length_m), self.outlook.path.place.shelter, body.material)


@dataclass(frozen=True)
class Worst:
    """The move of which the metal comes most under the dew point."""

    hour: int  # after the present one
    when: datetime
    under: float  # °C


@dataclass(frozen=True, eq=False)
class Move(Prospect):
    """A piece moved to another place: its margin is the least on its way to settle there, by the hour of the move."""

    place: Place
    settles_now: float  # hours until it is 3 °C above the dew point, moved now
    spent_now: float  # share of the rust budget that takes

    @property
    def any_time(self) -> bool:
        """It may be moved in any of the hours that are told, and moved now it stays dry."""
        return all(times.good and times.until is None for times in (self.dry, self.stays_dry))

    @property
    def slow(self) -> bool:
        """Moved now it takes a while until it is settled, and does settle."""
        return SOON < self.settles_now < np.inf

    @property
    def spent_percent(self) -> int:
        return round(100 * self.spent_now)

    @cached_property
    def dry(self) -> Times:
        return self.times(0.0)

    @cached_property
    def stays_dry(self) -> Times:
        """Moved now."""
        return self.moved_in(0).times(0.0)

    def moved_in(self, hour: int) -> Prospect:
        """How it would stand there, moved in this hour; before it nothing is known."""
        body, left = self.outlook.piece.part.body, self.there.between(self.there.times[hour], self.there.end)
        leaves, how = self.outlook.path.metal[self.outlook.hour + hour], self.place.shelter

        def warms() -> Floats:
            metal = metal_temperature(left, body.length_m, leaves, how, material=body.material, sky=True)
            return np.concatenate([np.full(hour, np.nan), margin.__wrapped__(metal, left.dew_point)])

        above = kept_with_air(self.outlook, self.place, f"moved at {self.there.times[hour]}", warms)
        return Prospect(self.outlook, above, _at_most(above, self.outlook, self.place, self.there), self.there)

    @property
    def workings(self) -> list[Working]:
        """Moved now, moved in the worst hour, and how the times were read off the margin: each with its hours."""
        hours = [0, *([self.worst.hour] if self.worst and self.worst.hour else [])]
        tried = [self.tried_in(hour) for hour in hours if not np.isnan(self.margin[hour])]
        return [*tried, *self.dry.workings, *self.stays_dry.workings]

    def tried_in(self, hour: int) -> Working:
        """Its least margin, moved in this hour."""
        leaves, length = self.outlook.path.metal[self.outlook.hour + hour], self.outlook.piece.part.body.length_m
        air, dew = _degrees(self.there.temperature[hour]), _degrees(self.there.dew_point[hour])
        told = moving.move_working(_degrees(leaves), air, dew, _apart(self.margin[hour]), _thick(length))
        return replace(told, ledger=self.behind(hour))

    def behind(self, position: float) -> Ledger:
        """Its way to settle there, moved in this hour: at each full hour, until the margin asked is there."""
        hour, there = int(position), self.moved_in(int(position))
        settled = np.flatnonzero(there.margin[hour:] >= moving.MARGIN)
        return there.rows(hour, hour + (int(settled[0]) if len(settled) else SETTLING))

    @cached_property
    def worst(self) -> Worst | None:
        least = self.margin[: AHEAD + 1]
        if np.isnan(least).all() or np.nanmin(least) > 0:
            return None
        hour = int(np.nanargmin(least))
        return Worst(hour, self.outlook.instant(self.outlook.hour + hour), -float(least[hour]))


def standing(outlook: Outlook) -> Standing:
    path, hour = outlook.path, outlook.hour
    ahead = path.hours.between(path.hours.times[hour], path.hours.end)
    return Standing(outlook, path.margin[hour:], path.margin_at_most[hour:], ahead)


def move(outlook: Outlook, place: Place) -> Move:
    """What becomes of the piece if it is moved to `place` in any of the hours ahead."""
    body, how = outlook.piece.part.body, place.shelter
    leaving = outlook.path.metal[outlook.hour :][: AHEAD + SETTLING]
    begin, shift = outlook.path.hours.times[outlook.hour], outlook.salt.shift
    there = outlook.air.of(place).between(begin, begin + len(leaving) * HOUR)

    def moves() -> moving.Moves:
        return moving.moves(leaving, there, body.length_m, how, material=body.material, salt_shift=shift, sky=True)

    moved = kept_with_air(outlook, place, f"moves from {begin} on", moves)
    now = float(moved.settles[0]), float(moved.rust_spent[0])
    return Move(outlook, moved.coldest, _at_most(moved.coldest, outlook, place, there), there, place, *now)


def kept_with_air(outlook: Outlook, place: Place, name: str, reckon: Callable[[], Kept]) -> Kept:
    """What becomes of pieces that are alike in another place: reckoned once while the air there is the same."""
    air, kept_as = outlook.air.of(place), f"{name}, {place.pk}"
    rests_on, value = cast(tuple[Hours | None, Kept | None], outlook.kept.get(kept_as, (None, None)))
    if value is None or rests_on is not air:
        value = reckon()
        outlook.kept[kept_as] = air, value
    return value


def _at_most(margin: Floats, outlook: Outlook, place: Place, there: Hours) -> Floats:
    """A margin in a place, without end where only an assumed sky keeps it down."""
    whole = outlook.air.in_full_sun(place)
    assumed = whole.under_sky & np.isnan(whole.between(there.start, there.end).cloud)
    return np.where(assumed, np.inf, margin)


def _thick(length_m: float) -> Quantity:
    return Quantity(1000 * length_m, "mm")


def _degrees(value: float) -> Quantity:
    return Quantity(float(value), "degC")


def _apart(value: float) -> Quantity:
    return Quantity(float(value), "delta_degC")
