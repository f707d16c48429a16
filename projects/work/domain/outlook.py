"""What a piece may look forward to: coat before when, next coat from when until when, and in which hours.

Derived for a moment `now` from the log and the workshop's air; nothing is stored.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science import rust
from finishing.science.drying import RecoatWindow, Stage, dried, drying_working, hours_at, rate, recoat_window
from finishing.science.hours import Floats, reaches
from finishing.science.units import Quantity
from finishing.science.windows import Gates, Reason, recoat_reasons, refusals
from finishing.science.work_time import application_hours, lettering_minutes
from finishing.science.working import Working
from projects.record.models.pieces import Piece
from projects.record.models.stages import Next, PieceState

from .paths import Path, paths

LOOK_BACK = timedelta(days=30)
BEFORE = timedelta(days=2)  # air before the first entry, so that heavy metal is in balance when it counts
AREA_ASSUMED = 1.0  # m² for the time a step takes, where a part does not say
REFERENCE = 20.0  # °C of a coating's wait before lettering


@dataclass(eq=False)
class Outlook:
    """One piece at one moment. Positions are hours since the start of its run of hours."""

    piece: Piece
    state: PieceState
    path: Path
    now: datetime
    working: Any  # by hour: people are at work
    air: WorkshopAir

    @property
    def forecast(self) -> Any:
        """The newest Forecast behind the hours ahead, or None."""
        return self.air.forecast

    @cached_property
    def at(self) -> float:
        """The position of now."""
        return float(self.path.hours.position(self.now))

    @cached_property
    def hour(self) -> int:
        return int(self.at)

    def moment(self, position: Any) -> datetime | None:
        """A position as an instant; None where it is not within reach of the run, or does not exist."""
        if position is None or not np.isfinite(position):
            return None
        start = self.path.hours.start.astype("datetime64[s]").item().replace(tzinfo=UTC)
        return start + timedelta(hours=float(position))

    def _position(self, when: datetime) -> float:
        return max(0.0, float(self.path.hours.position(when)))

    # -- the metal now

    @property
    def metal_now(self) -> float:
        """What was measured on it in this hour, else the estimate."""
        just = [surface for when, surface in self.state.measured if self.hour < self._position(when) <= self.at]
        return just[-1] if just else self._now(self.path.metal)

    @property
    def dew_point_now(self) -> float:
        return self._now(self.path.hours.dew_point)

    @property
    def margin_now(self) -> float:
        return self.metal_now - self.dew_point_now

    @property
    def air_now(self) -> float:
        return self._now(self.path.hours.temperature)

    def _now(self, by_hour: Floats) -> float:
        """Along the chord to the next hour; where that one is not known, as the hour began."""
        first, last = by_hour[self.hour : self.hour + 2]
        return float(first if np.isnan(last) else first + (self.at - self.hour) * (last - first))

    @property
    def sweats(self) -> bool:
        """The metal is at its dew point: wet, whatever the air alone looks like."""
        return self.margin_now <= 0

    # -- bare iron

    @cached_property
    def salt(self) -> rust.SaltLevel:
        return rust.SALT_LEVELS[self.piece.salt or self.piece.workshop.salt]

    @cached_property
    def rust_window(self) -> rust.RustWindow | None:
        """The time this piece may stay bare; None where it is not bare."""
        state = self.state
        if not state.is_bare:
            return None
        since = float(self.path.hours.position(state.bare_since))
        exposure = rust.Exposure(
            salt_shift=self.salt.shift,
            bare_for=max(0.0, -since),
            wet_work=state.wet_work,
            tightening=self.piece.workshop.rust_tightening,
        )
        return rust.coat_before(self.path.hours, self.path.metal, exposure, max(0.0, since))

    @cached_property
    def coat_before(self) -> float | None:
        """Position by which bare iron must have its first coat; an entry that it got wet ends it there."""
        if self.rust_window is None:
            return None
        wet = [self._position(self.state.wet_at)] if self.state.wet_at else []
        return min(float(self.rust_window.coat_before), *wet, np.inf)

    @property
    def rust_spent(self) -> float:
        """Share of the budget gone, 0 to 1."""
        if self.rust_window is None:
            return 0.0
        return 1.0 if self.at >= self.coat_before else float(self.rust_window.spent_by(self.at))

    @property
    def rust_spent_percent(self) -> int:
        return round(100 * self.rust_spent)

    @property
    def rust_because(self) -> rust.Because | None:
        if self.rust_window is None:
            return None
        wet_first = self.state.wet_at and self._position(self.state.wet_at) <= self.coat_before
        return rust.Because.WET if wet_first else rust.Because(int(self.rust_window.because))

    @property
    def bare_left(self) -> float:
        """Hours until coat-before; below zero when it has passed."""
        return self.coat_before - self.at

    @property
    def overdue(self) -> bool:
        return self.coat_before is not None and self.bare_left <= 0

    # -- the next step

    @property
    def next_coating(self) -> Any:
        if self.state.next == Next.LETTER:
            return self.piece.part.lettering_coating
        return self.state.next_coat.coating if self.state.next_coat else None

    @cached_property
    def gates(self) -> Gates:
        return self.next_coating.gates() if self.next_coating else Gates()

    @cached_property
    def application_h(self) -> float:
        """Hours from the first preparation to the last stroke."""
        if self.state.next == Next.LETTER:
            return application_hours(lettering_minutes(1))
        area = self.piece.part.square_metres or AREA_ASSUMED
        layers = [*self.state.preparations, self.state.next_coat] if self.state.next_coat else []
        return application_hours(sum(layer.minutes_on(area) for layer in layers))

    @cached_property
    def left_at(self) -> Floats | None:
        """When the next coat is touch-dry, for a start in each hour."""
        table = self.next_coating.drying_table() if self.next_coating else None
        if table is None or not table.gives(Stage.TOUCH):
            return None
        done = np.arange(len(self.path.hours)) + self.application_h
        slower = self.next_coating.slower(self.state.next_coat.dry_film if self.state.next_coat else None)
        return dried(table, Stage.TOUCH, self.path.metal, self.path.hours.humidity, done, slower)

    @cached_property
    def recoat(self) -> RecoatWindow | None:
        """The window over the last coat for what comes next; None where no coat is below it."""
        last = self.state.last_coat
        table = last.coating.drying_table() if last and last.coating else None
        if table is None or self.state.next not in (Next.COAT, Next.PREPARE, Next.LETTER):
            return None
        begin = self._position(last.happened_at)
        slower = last.coating.slower(last.dry_film)
        if self.state.next == Next.LETTER:
            return self._after(self._letters_from(table, begin, slower))
        if self._other_side:
            stage = Stage.HANDLE if table.gives(Stage.HANDLE) else Stage.RECOAT_FROM
            return self._after(dried(table, stage, self.path.metal, self.path.hours.humidity, begin, slower))
        window = recoat_window(table, self.path.metal, self.path.hours.humidity, begin, slower)
        opens = np.maximum(window.opens, self._waited)
        return RecoatWindow(opens, window.closed_from, window.closed_until, window.closes)

    def _after(self, opens: Any) -> RecoatWindow:
        return RecoatWindow(np.maximum(opens, self._waited), np.nan, np.nan, np.nan)

    @property
    def _other_side(self) -> bool:
        """The next coat goes on the side that the last one left: it waits until the piece may be turned."""
        last = self.state.last_coat
        return bool(
            last.layer and last.layer.side == "first" and self.state.next_coat and self.state.next_coat.side == "second"
        )

    @property
    def _waited(self) -> float:
        """Position from which the wait that the system asks for after the last layer is over."""
        last = self.state.last_step
        if not (last and last.layer):
            return 0.0
        return self._position(last.happened_at) + last.layer.wait.to("hour").magnitude

    def _letters_from(self, table: Any, begin: float, slower: float) -> Any:
        """The coating's own wait before lettering, at 20 °C, stretched as its recoat time stretches."""
        wait = self.state.last_coat.coating.letters_after
        if wait is None:
            return dried(table, Stage.RECOAT_FROM, self.path.metal, self.path.hours.humidity, begin, slower)
        progress = rate(table, Stage.RECOAT_FROM, self.path.metal, self.path.hours.humidity, slower)
        share = wait.to("hour").magnitude / float(hours_at(table, Stage.RECOAT_FROM, REFERENCE))
        return reaches(progress, share, begin)

    @cached_property
    def refused(self) -> Any:
        """Why the next step may not begin, for each hour of the run: flags of science.windows.Reason."""
        return self._refusals(rust_deadline=self.coat_before, recoat=self.recoat)

    @cached_property
    def weather_refused(self) -> Any:
        """The same without what only this piece's log refuses: when this paint may go on here at all."""
        return self._refusals()

    def _refusals(self, **own: Any) -> Any:
        return refusals(
            self.path.hours,
            self.path.metal,
            self.gates,
            working=self.working,
            application_h=self.application_h,
            left_at=self.left_at,
            hottest=self.path.hottest,
            **own,
        )

    @property
    def rust_amber(self) -> bool:
        return self.rust_spent >= rust.AMBER.value

    @property
    def finish_by(self) -> datetime | None:
        """When the last stroke of the first coat should be done."""
        return self.moment(self.coat_before - rust.IN_HAND.value) if self.coat_before is not None else None

    @property
    def coat_before_at(self) -> datetime | None:
        return self.moment(self.coat_before)

    @cached_property
    def reasons_now(self) -> Reason:
        """Why the next step may not begin at this moment: the hours are judged from their beginning, this is not."""
        flags = Reason(int(self.weather_refused[self.hour]))
        done = self.at + self.application_h
        if self.coat_before is not None and done > self.coat_before:
            flags |= Reason.RUST_BUDGET_SPENT
        if self.recoat:
            flags |= Reason(int(recoat_reasons(self.recoat, [self.at], [done])[0]))
        return flags

    @property
    def allowed_now(self) -> bool:
        return not self.reasons_now

    @cached_property
    def next_span(self) -> tuple[datetime, datetime] | None:
        """The first run of hours from now on in which the next step may begin."""
        refused = self.refused[self.hour :] != 0
        refused[0] = not self.allowed_now
        if refused.all():
            return None
        first = int(np.argmin(refused))
        length = int(np.argmax(np.append(refused[first:], True)))
        return max(self.now, self.moment(self.hour + first)), self.moment(self.hour + first + length)

    @cached_property
    def may_wait(self) -> bool:
        """As far as is known, the next step may still be done tomorrow or later: nothing spoils by leaving it today."""
        tomorrow = self.now.astimezone(self.piece.workshop.zone) + timedelta(days=1)
        midnight = self._position(tomorrow.replace(hour=0, minute=0, second=0, microsecond=0))
        return bool((self.refused[int(np.ceil(midnight)) :] == 0).any())

    @cached_property
    def touch_dry(self) -> float | None:
        """Position at which the last coat is touch-dry where it stands; None where there is none, or no sheet says."""
        last = self.state.last_coat
        table = last.coating.drying_table() if last and last.coating else None
        if table is None or not table.gives(Stage.TOUCH):
            return None
        begin, slower = self._position(last.happened_at), last.coating.slower(last.dry_film)
        return float(dried(table, Stage.TOUCH, self.path.metal, self.path.hours.humidity, begin, slower))

    @property
    def opens(self) -> datetime | None:
        return self.moment(self.recoat.opens) if self.recoat else None

    @property
    def closes(self) -> datetime | None:
        return self.moment(self.recoat.closes) if self.recoat else None

    @property
    def closed_zone(self) -> tuple[datetime, datetime | None] | None:
        """From when until when the last coat would lift; the end may lie beyond what is known."""
        begin = self.moment(self.recoat.closed_from) if self.recoat else None
        return (begin, self.moment(self.recoat.closed_until)) if begin else None

    @property
    def in_closed_zone(self) -> bool:
        return bool(self.recoat and self.recoat.closed_from <= self.at < self.recoat.closed_until)

    @property
    def too_late(self) -> bool:
        return bool(self.recoat and self.at > self.recoat.closes)

    @property
    def air_not_known(self) -> bool:
        """Some hour since the last entry that counts has no known air, so times can only be later than said."""
        since = self.state.bare_since or (self.state.last_coat and self.state.last_coat.happened_at)
        if not since:
            return False
        begin = int(self._position(since))
        return bool(np.isnan(self.path.metal[begin : self.hour + 1]).any())

    # -- how the numbers were made

    @cached_property
    def workings(self) -> list[Working]:
        """The working of the rust budget in this hour, or of the recoat time at this temperature."""
        if np.isnan(self.metal_now) or np.isnan(self.margin_now):
            return []
        here = Quantity(self.metal_now, "degC")
        if self.state.is_bare:
            dew = Quantity(self.dew_point_now, "degC")
            return [rust.hours_allowed_working(here, dew, self.salt, self.piece.workshop.rust_tightening)]
        last = self.state.last_coat
        table = last.coating.drying_table() if last and last.coating else None
        if table is None:
            return []
        damp = Quantity(float(self.path.hours.humidity[self.hour]), "percent")
        return [drying_working(table, Stage.RECOAT_FROM, here, damp, last.coating.slower(last.dry_film))]


def outlooks(
    workshop: Any, pieces: list[Piece], now: datetime, at: datetime | None = None, member: Any = None
) -> list[Outlook]:
    """The outlook of each piece (read with_log()), all over the same air.

    With `at`, a moment gone by: what the pieces looked forward to then, by the entries up to then, with the air as it
    is known now. With a member of an ensemble, what they look forward to by its hours.
    """
    if not pieces:
        return []
    air = air_for(workshop, pieces, now if at is None else min(now, at), now, member)
    trails = paths(pieces, air)
    working = workshop.working_hours(air.outdoor.times)
    moment = now if at is None else at
    return [Outlook(p, p.state_at(moment), trails[p.id], moment, working, air) for p in pieces]


def air_for(workshop: Any, pieces: list[Piece], moment: datetime, now: datetime, member: Any = None) -> WorkshopAir:
    """Air from a little before the first entry that still counts, at most a month back."""
    counting = [state.bare_since or _last(state) for state in (piece.state_at(moment) for piece in pieces)]
    first = min([when for when in counting if when], default=moment)
    begin = max(first - BEFORE, moment - LOOK_BACK)
    return WorkshopAir(workshop, begin.replace(minute=0, second=0, microsecond=0), now, member)


def _last(state: PieceState) -> datetime | None:
    return state.last_coat.happened_at if state.last_coat and not state.finished else None
