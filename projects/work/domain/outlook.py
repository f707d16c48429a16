"""What a piece may look forward to: coat before when, next coat from when until when, and in which hours.

Derived for a moment `now` from the log and the workshop's air; what of it rests on both alone is kept (`kept_air`).
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from typing import TypeVar, cast
from uuid import UUID

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.air.models import Forecast
from finishing.coatings.models import Coating, FlashRust, Layer, known
from finishing.science import rust
from finishing.science.air import sweats
from finishing.science.drying import (
    DRYING_LEDGER,
    DryingStage,
    DryingTable,
    RecoatWindow,
    dried,
    drying_ledger,
    drying_working,
    recoat_window,
)
from finishing.science.hours import Flags, Floats, Hours, Origin
from finishing.science.units import Quantity
from finishing.science.windows import (
    Gates,
    Reason,
    Reasons,
    WindWarning,
    recoat_reasons,
    refusals,
    rust_reasons,
    wind_warnings,
)
from finishing.science.work_time import application_hours, lettering_minutes
from finishing.science.working import Ledger, LedgerRow, Working
from finishing.workshops.models import Workshop
from projects.record.models.pieces import Piece
from projects.record.models.stages import LayerDone, Next, PieceState

from .kept_air import AlikePieces, Run, reckoned, reckoned_now, run_for
from .paths import Path

SKY_MATTERS = 0.1  # °C by which sun and sky that are not known may warm the metal, to be said
ORIGINS = {
    Origin.FORETOLD: "forecast",
    Origin.READ: "reading",
    Origin.SAID: "said to stay so",
    Origin.KEPT: "as last known",
}
AREA_ASSUMED = 1.0  # m² for the time a step takes, where a part does not say
Answer = TypeVar("Answer")


@dataclass(frozen=True, eq=False)
class CoatOn:
    """A coat that is on, with its sheet's times and the air that it dries in. Positions are hours of the run."""

    done: LayerDone
    coating: Coating
    table: DryingTable
    path: Path
    begin: float

    @property
    def slower(self) -> float:
        """By how much its film and additives lengthen its drying."""
        layer = self.done.layer
        film = None if self.done.dry_film is None else Quantity(self.done.dry_film, "µm")
        as_planned = layer is not None and layer.coating_id == self.coating.pk  # not another tin than the system's
        return self.coating.slower(film, layer.additives.all() if layer and as_planned else ())

    @property
    def letters_share(self) -> float:
        """How far on the way to its recoat time it must be before a brush may letter over it."""
        return self.coating.lettering_share(self.table)

    @property
    def tape_share(self) -> float | None:
        """The same before masking tape; None where its sheet does not say."""
        return self.coating.tape_share(self.table)

    def lies_under(self, layer: Layer) -> bool:
        """Whether the layer goes on top of it; a coat of which nobody said the layer is everywhere."""
        return self.done.layer is None or layer.meets(self.done.layer)

    def reaches(self, stage: DryingStage, share: float = 1.0) -> float:
        """Position at which it is at this stage, or a share of the way there; inf where that is not within the run."""
        air = self.path.metal, self.path.hours.humidity
        return float(dried(self.table, stage, *air, self.begin, self.slower, share))

    @property
    def window(self) -> RecoatWindow:
        return recoat_window(self.table, self.path.metal, self.path.hours.humidity, self.begin, self.slower)

    @property
    def turned_from(self) -> float:
        """Position from which it bears to be turned over on."""
        return self.reaches(DryingStage.HANDLE if self.table.gives(DryingStage.HANDLE) else DryingStage.RECOAT_FROM)


@dataclass(eq=False)
class Outlook:
    """One piece at one moment, or all of `pieces`, which are alike. Positions are hours since the start of the run.

    What does not depend on the moment is `reckoned`: once for all pieces that are alike, in `kept`. What does is
    `reckoned_now`, in `kept_now`, of those that are looked at together.
    """

    piece: Piece
    state: PieceState
    path: Path
    now: datetime
    working: Flags  # by hour: people are at work
    air: WorkshopAir
    alike: AlikePieces | None = None
    kept: dict[str, object] = field(default_factory=dict)
    kept_now: dict[str, object] = field(default_factory=dict)
    pieces: tuple[Piece, ...] = ()

    def __post_init__(self) -> None:
        self.pieces = self.pieces or (self.piece,)

    @property
    def names(self) -> str:
        """Of all its pieces."""
        return ", ".join(piece.mark for piece in self.pieces)

    @property
    def one_a_project(self) -> list[Piece]:
        """Of each project its first piece, for a form that takes one with all of its project that are like it."""
        return [*{piece.project_id: piece for piece in reversed(self.pieces)}.values()]

    @property
    def forecast(self) -> Forecast | None:
        """The newest one behind the hours ahead."""
        return self.air.forecast

    @reckoned_now
    def at(self) -> float:
        """The position of now."""
        return float(self.path.hours.position(self.now))

    @reckoned_now
    def hour(self) -> int:
        return int(self.at)

    def moment(self, position: float | None) -> datetime | None:
        """A position as an instant; None where it is not within reach of the run, or does not exist."""
        return None if position is None or not np.isfinite(position) else self.instant(position)

    def instant(self, position: float) -> datetime:
        """A position that is known to be within the run as an instant."""
        start: datetime = self.path.hours.start.astype("datetime64[s]").item()
        return start.replace(tzinfo=UTC) + timedelta(hours=float(position))

    def _position(self, when: datetime) -> float:
        return max(0.0, float(self.path.hours.position(when)))

    # -- the metal now

    @property
    def metal_now(self) -> float:
        """The estimate, gone on from what was measured in this hour."""
        return self._now(self.path.metal)

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
        begin, first, last = float(self.hour), by_hour[self.hour], self.path.hours.at_the_end(by_hour)[self.hour]
        if by_hour is self.path.metal or by_hour is self.path.hottest:
            just = [reading for reading in self.path.measured if begin < reading[0] <= self.at]
            begin, first = just[-1] if just else (begin, first)
        last = first if np.isnan(last) or self.hour + 1 >= len(by_hour) else last
        return float(first + (self.at - begin) / (self.hour + 1 - begin) * (last - first))

    @reckoned_now
    def sweats(self) -> bool:
        """The metal is at its dew point, however warm it may be: wet, whatever the air alone looks like."""
        return bool(sweats(self._now(self.path.hottest) - self.dew_point_now))

    # -- bare iron

    @reckoned
    def salt(self) -> rust.SaltLevel:
        return rust.SALT_LEVELS[self.piece.salt or self.piece.workshop.salt]

    @reckoned
    def rust_window(self) -> rust.RustWindow | None:
        """The time this piece may stay bare; None where it is not bare."""
        state = self.state
        if state.bare_since is None:
            return None
        since = float(self.path.hours.position(state.bare_since))
        exposure = rust.Exposure(
            salt_shift=self.salt.shift,
            bare_for=max(0.0, -since),
            wet_work=state.wet_work,
            inhibitor_claim=state.inhibitor_claim,
            looked=float(self.path.hours.position(state.looked_at)) if state.looked_at else -np.inf,
            tightening=self.piece.workshop.rust_tightening,
        )
        return rust.coat_before(self.path.hours, self.path.metal, exposure, max(0.0, since), self.path.hottest)

    @reckoned
    def coat_before(self) -> float | None:
        """Position by which bare iron must have its first coat, or from which on nobody knows; None: it is not bare.

        An entry that it got wet ends it there, and wet blasting before it has begun.
        """
        if self.rust_window is None:
            return None
        if self.state.wet_until_dry:
            return float(self.rust_window.begin)
        wet = [self._position(self.state.wet_at)] if self.state.wet_at else []
        return min(float(self.rust_window.coat_before), *wet, np.inf)

    @property
    def rust_spent(self) -> float:
        """Share of the budget gone, 0 to 1."""
        if self.rust_window is None:
            return 0.0
        return 1.0 if self.overdue else float(self.rust_window.spent_by(self.at))

    @property
    def rust_spent_percent(self) -> int:
        return round(100 * self.rust_spent)

    @reckoned
    def rust_because(self) -> rust.Because | None:
        if self.rust_window is None or self.coat_before is None:
            return None
        wet_first = self.state.wet_at and self._position(self.state.wet_at) <= self.coat_before
        return rust.Because.WET if wet_first else rust.Because(int(self.rust_window.because))

    @property
    def doubtful(self) -> bool:
        """What it is promised ends because nobody knows how it goes on, not because it rusts then."""
        return self.rust_because in rust.DOUBTS and not self.state.wet_until_dry

    @property
    def bare_left(self) -> float:
        """Hours until coat-before, inf where it is not bare; below zero when it has passed."""
        return np.inf if self.coat_before is None else self.coat_before - self.at

    @property
    def in_doubt(self) -> bool:
        """Nobody knows any more how it is with the bare iron: it is to be measured, or looked at."""
        return self.doubtful and self.bare_left <= 0

    @property
    def overdue(self) -> bool:
        """Bare for too long, or wet: as known, not as feared."""
        return self.bare_left <= 0 and not self.doubtful and not self.state.wet_until_dry

    @cached_property
    def staying(self) -> "Outlook | None":
        """What it may look forward to while the air stays as it is last known; None where that adds nothing.

        It is no promise, and nothing is planned by it.
        """
        if not self.doubtful or self.alike is None:
            return None
        apart = cast(dict[str, object], self.kept.setdefault("staying", {}))
        other = replace(self, path=self.alike.staying, alike=None, kept=apart, kept_now={})
        return other if (other.coat_before or 0) > (self.coat_before or 0) else None

    @property
    def last_known(self) -> datetime | None:
        """When the air was last known that stays in `staying`."""
        known = np.flatnonzero(self.path.hours.known[: self.hour + 1])
        return self.instant(known[-1]) if len(known) else None

    @property
    def flash_rust_refused(self) -> bool:
        """After wet blasting: more of it than the first coat's sheet allows."""
        if not (self.state.is_bare and self.state.flash_rust and self.next_coating):
            return False
        return FlashRust(self.state.flash_rust).beyond(self.next_coating.flash_rust_allowed)

    # -- the next step

    @property
    def next_coating(self) -> Coating | None:
        if self.state.next == Next.LETTER:
            return self.piece.part.lettering_coating
        return self.state.next_coat.coating if self.state.next_coat else None

    @reckoned
    def gates(self) -> Gates:
        if self.state.next_coat and self.state.next != Next.LETTER:
            return self.state.next_coat.gates()
        return self.next_coating.gates() if self.next_coating else Gates()

    @reckoned
    def application_h(self) -> float:
        """Hours from the first preparation to the last stroke."""
        if self.state.next == Next.LETTER:
            return application_hours(lettering_minutes(1))
        area = self.piece.part.square_metres or AREA_ASSUMED
        coat = self.state.next_coat
        return application_hours(coat.minutes_after(self.state.preparations, area) if coat else 0.0)

    @reckoned
    def next_table(self) -> DryingTable | None:
        """The sheet's times of what comes next; None where there is none."""
        return self.next_coating.drying_table() if self.next_coating else None

    @reckoned
    def set_at(self) -> Floats | None:
        """When the next coat no longer asks for its sheet's air, for a start in each hour."""
        return self._next_reaches(self.next_table.set_stage) if self.next_table else None

    @reckoned
    def left_at(self) -> Floats | None:
        """When the next coat bears dew and rain, for a start in each hour."""
        return self._next_reaches(self.next_table.dew_safe_stage) if self.next_table else None

    def _next_reaches(self, stage: DryingStage) -> Floats:
        assert self.next_coating is not None  # asked only where a sheet gives times
        assert self.next_table is not None
        done = np.arange(len(self.path.hours)) + self.application_h
        coat = self.state.next_coat
        slower = coat.slower if coat and self.state.next != Next.LETTER else self.next_coating.slower()
        reached: Floats = dried(self.next_table, stage, self.path.metal, self.path.hours.humidity, done, slower)
        return reached

    # -- the coats that are on

    def _coat_on(self, done: LayerDone) -> CoatOn | None:
        """None where no sheet gives its times."""
        table = done.coating.drying_table() if done.coating else None
        if done.coating is None or table is None:
            return None
        return CoatOn(done, done.coating, table, self.path, self._position(done.happened_at))

    @reckoned
    def last_on(self) -> CoatOn | None:
        """The last coat; None where there is none, or no sheet gives its times."""
        return self._coat_on(self.state.last_coat) if self.state.last_coat else None

    @reckoned
    def on_top(self) -> list[CoatOn]:
        """The last coat of each side, where a sheet gives its times, the newest first."""
        found, open_sides = [], {Layer.Side.FIRST, Layer.Side.SECOND}
        for done in reversed(self.state.coats):
            one_side = done.layer is not None and done.layer.side != Layer.Side.ALL
            covered = open_sides & {done.layer.side} if done.layer and one_side else set(open_sides)
            if covered and (coat := self._coat_on(done)):
                found.append(coat)
            open_sides -= covered
        return found

    @reckoned
    def recoat(self) -> RecoatWindow | None:
        """The window over the coats below for what comes next; None where none is below it, or no sheet says."""
        if self.state.next == Next.LETTER:
            windows = [] if self.brush_from is None else [RecoatWindow.from_then_on(self.brush_from)]
        else:
            windows = list(self._windows_below()) if self.state.next in (Next.COAT, Next.PREPARE) else []
        return RecoatWindow.narrowest(windows).not_before(self._waited) if windows else None

    @reckoned
    def brush_from(self) -> float | None:
        """Position from which a brush may letter over the coats that are on; None where none is, or no sheet says."""
        return max((coat.reaches(DryingStage.RECOAT_FROM, coat.letters_share) for coat in self.on_top), default=None)

    @reckoned
    def tape_from(self) -> float | None:
        """Position from which they bear masking tape; None where none is on, or one of their sheets does not say."""
        shares = [coat.tape_share for coat in self.on_top]
        if not shares or None in shares:
            return None
        return max(coat.reaches(DryingStage.RECOAT_FROM, coat.tape_share or 0.0) for coat in self.on_top)

    def _windows_below(self) -> Iterator[RecoatWindow]:
        """Of each coat on top: for the coat that goes over it, for what is prepared on it, or for its being turned."""
        above = self.state.next_coat
        for coat in self.on_top:
            if above is None or coat.lies_under(above):
                yield coat.window
            elif any(coat.lies_under(layer) for layer in self.state.preparations):
                yield RecoatWindow.from_then_on(coat.reaches(DryingStage.RECOAT_FROM))
            elif coat.done == self.state.last_coat:
                yield RecoatWindow.from_then_on(coat.turned_from)

    def window_over(self, layer: Layer) -> RecoatWindow | None:
        """The window for a layer to come over the coats that are on now, as if nothing came before it."""
        windows = [coat.window for coat in self.on_top if coat.lies_under(layer)]
        return RecoatWindow.narrowest(windows) if windows else None

    @property
    def _waited(self) -> float:
        """Position from which the wait that the system asks for after the last layer is over."""
        last = self.state.last_step
        if not (last and last.layer):
            return 0.0
        return self._position(last.happened_at) + known(last.layer, "wait") / 60

    # -- in which hours

    @reckoned
    def refused(self) -> Reasons:
        """Why the next step may not begin, for each hour of the run: flags of science.windows.Reason."""
        begin = np.arange(len(self.path.hours))
        done, refused = begin + self.application_h, self.weather_refused
        if self.recoat:
            refused = refused | recoat_reasons(self.recoat, begin, done)
        if self.coat_before is None:
            return refused
        late = np.where(rust_reasons(self.coat_before, done), np.uint16(self._too_late), np.uint16(0))
        return refused | late | np.uint16(Reason.FLASH_RUST if self.flash_rust_refused else 0)

    @reckoned
    def weather_refused(self) -> Reasons:
        """The same without what only this piece's log refuses: when this paint may go on here at all."""
        return refusals(
            self.path.hours,
            self.path.metal,
            self.gates,
            working=self.working,
            application_h=self.application_h,
            set_at=self.set_at,
            left_at=self.left_at,
            hottest=self.path.hottest,
        )

    @property
    def _too_late(self) -> Reason:
        """Why bare iron may not be coated after its coat-before."""
        if self.state.wet_until_dry:
            return Reason.NOT_DRY
        return Reason.NOT_KNOWN if self.doubtful else Reason.RUST_BUDGET_SPENT

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

    @reckoned_now
    def reasons_now(self) -> Reason:
        """Why the next step may not begin at this moment: the hours are judged from their beginning, this is not."""
        flags = Reason(int(self.weather_refused[self.hour]))
        done = self.at + self.application_h
        if self.coat_before is not None and done > self.coat_before:
            flags |= self._too_late
        if self.flash_rust_refused:
            flags |= Reason.FLASH_RUST
        if self.recoat:
            flags |= Reason(int(recoat_reasons(self.recoat, [self.at], [done])[0]))
        return flags

    @property
    def allowed_now(self) -> bool:
        return not self.reasons_now

    @reckoned_now
    def next_span(self) -> tuple[datetime, datetime] | None:
        """The first run of hours from now on in which the next step may begin."""
        refused = self.refused[self.hour :] != 0
        refused[0] = not self.allowed_now
        if refused.all():
            return None
        first = int(np.argmin(refused))
        length = int(np.argmax(np.append(refused[first:], True)))
        return max(self.now, self.instant(self.hour + first)), self.instant(self.hour + first + length)

    @reckoned_now
    def wind_warnings(self) -> list[WindWarning]:
        """What the wind would do to the next coat, begun as soon as it may be."""
        if self.next_span is None or self.next_coating is None:
            return []
        begin = float(self.path.hours.position(self.next_span[0]))
        set_at = begin + self.application_h if self.set_at is None else float(self.set_at[int(begin)])
        layer = None if self.state.next == Next.LETTER else self.state.next_coat
        return wind_warnings(
            self.path.hours,
            begin,
            begin + self.application_h,
            set_at,
            sprayed=bool(layer and layer.sprayed),
            gloss=not self.next_coating.is_primer,
        )

    @reckoned_now
    def may_wait(self) -> bool:
        """As far as is known, the next step may still be done tomorrow or later: nothing spoils by leaving it today."""
        shop = self.piece.workshop
        midnight = self._position(shop.at(shop.day_of(self.now) + timedelta(days=1), time.min))
        return bool((self.refused[int(np.ceil(midnight)) :] == 0).any())

    @reckoned
    def dew_safe(self) -> float | None:
        """Position from which the last coat bears dew and rain where it stands; None where there is none, or no sheet
        says."""
        return self.last_on.reaches(self.last_on.table.dew_safe_stage) if self.last_on else None

    @property
    def dew_safe_at(self) -> datetime | None:
        return self.moment(self.dew_safe)

    @property
    def bears_dew(self) -> bool:
        return self.dew_safe is None or self.dew_safe <= self.at

    @property
    def opens(self) -> datetime | None:
        return self.moment(self.recoat.opens) if self.recoat else None

    @property
    def brush_from_at(self) -> datetime | None:
        return self.moment(self.brush_from)

    @property
    def tape_from_at(self) -> datetime | None:
        return self.moment(self.tape_from)

    @property
    def closes(self) -> datetime | None:
        return self.moment(self.recoat.closes) if self.recoat else None

    @property
    def closed_zone(self) -> tuple[datetime, datetime | None] | None:
        """From when until when the last coat would lift; the end may lie beyond what is known."""
        if self.recoat is None:
            return None
        begin = self.moment(self.recoat.closed_from)
        return (begin, self.moment(self.recoat.closed_until)) if begin else None

    @property
    def in_closed_zone(self) -> bool:
        return bool(self.recoat and self.recoat.closed_from <= self.at < self.recoat.closed_until)

    @property
    def too_late(self) -> bool:
        return bool(self.recoat and self.at > self.recoat.closes)

    @reckoned_now
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
        """How the rust budget went, and what this hour allows; or how the last coat dries, and until when dew and rain
        spoil it; and the wind, where it warns."""
        winds = [warning.working for warning in self.wind_warnings]
        known_now = not np.isnan(self.metal_now + self.margin_now)
        here = Quantity(self.metal_now, "degC")
        if self.state.is_bare:
            dew, caution = Quantity(self.dew_point_now, "degC"), self.piece.workshop.rust_tightening
            asked = known_now and not self.state.wet_until_dry  # what is wet has no hours
            this_hour = [rust.hours_allowed_working(here, dew, self.salt, caution)] if asked else []
            return [*self._budget, *this_hour, *winds]
        if self.last_on is None or not known_now:
            return winds
        damp, last = Quantity(float(self._now(self.path.hours.humidity)), "percent"), self.last_on
        stages = [DryingStage.RECOAT_FROM] if self.bears_dew else [DryingStage.RECOAT_FROM, last.table.dew_safe_stage]
        dryings = [
            replace(drying_working(last.table, stage, here, damp, last.slower), ledger=self._drying(last, stage))
            for stage in dict.fromkeys(stages)
        ]
        return [*dryings, *winds]

    @property
    def _budget(self) -> list[Working]:
        if self.rust_window is None or self.coat_before is None or self.state.wet_until_dry:
            return []
        told = rust.ledger(self.rust_window, self.marks, self.coat_before, cuts=[self.at])
        rows = (LedgerRow(self.instant(row.begin), self.instant(row.end), row.cells, row.mark) for row in told)
        working = rust.budget_working(self.rust_window, self.salt, self.piece.workshop.rust_tightening, self.rust_spent)
        return [replace(working, ledger=Ledger(rust.LEDGER, tuple(rows)))]

    def _drying(self, coat: CoatOn, stage: DryingStage) -> Ledger:
        air = self.path.metal, self.path.hours.humidity
        told = drying_ledger(coat.table, stage, *air, coat.begin, coat.slower)
        rows = (
            LedgerRow(self.instant(row.begin), self.instant(row.end), row.cells, self.marks[row.hour]) for row in told
        )
        return Ledger(DRYING_LEDGER, tuple(rows))

    @reckoned
    def marks(self) -> list[str]:
        """By hour of the run, who tells its air and metal."""
        words = np.array([ORIGINS[Origin(each)] for each in self.path.hours.origin], dtype=object)
        words[self.path.hottest - self.path.metal > SKY_MATTERS] += ", sun and sky assumed"
        words[[int(position) for position, _ in self.path.measured]] += ", metal measured"
        words[np.isnan(self.path.metal + self.path.hours.dew_point)] = "not known: as the damper beside it"
        return list(words)


def outlooks(
    workshop: Workshop,
    pieces: list[Piece],
    now: datetime,
    at: datetime | None = None,
    member: Hours | None = None,
    run: Run | None = None,
) -> list[Outlook]:
    """The outlook of each piece (read with_log(), or with its state), all over the same air.

    With `at`, a moment gone by: what the pieces looked forward to then, by the entries up to then, with the air as it
    is known now. With a member of an ensemble, what they look forward to by its hours. `run`: of this workshop up to
    now, where it was asked for already; it reaches back to the first entry that still counts of any piece at work.
    """
    if not pieces:
        return []
    moment = now if at is None else at
    run = run or run_for(workshop, pieces, min(now, moment), now, member)
    return _outlooks(
        run, [(own, (piece,)) for piece, own in zip(pieces, run.alike(pieces, moment), strict=True)], moment
    )


def shared_outlooks(workshop: Workshop, pieces: list[Piece], now: datetime) -> list[Outlook]:
    """One outlook for all pieces that are of one part and alike in all that it rests on, whichever project they are
    for, in the order of their first; as good for each of them as its own."""
    if not pieces:
        return []
    run = run_for(workshop, pieces, now, now)
    groups: dict[tuple[int, UUID], tuple[AlikePieces, list[Piece]]] = {}
    for piece, own in zip(pieces, run.alike(pieces, now), strict=True):
        groups.setdefault((id(own), piece.part_id), (own, []))[1].append(piece)
    return _outlooks(run, [(own, tuple(group)) for own, group in groups.values()], now)


def asked_once(outlooks: Iterable[Outlook], ask: Callable[[Outlook], Answer]) -> Iterator[tuple[Outlook, Answer]]:
    """Each with its answer; of those that are alike and looked at together only the first is asked."""
    told: dict[int, Answer] = {}
    for outlook in outlooks:
        key = id(outlook.kept_now)
        if key not in told:
            told[key] = ask(outlook)
        yield outlook, told[key]


def pieces_of(outlooks: Iterable[Outlook]) -> list[Piece]:
    return [piece for outlook in outlooks for piece in outlook.pieces]


def _outlooks(run: Run, groups: Iterable[tuple[AlikePieces, tuple[Piece, ...]]], moment: datetime) -> list[Outlook]:
    """One for each group of pieces; those that are alike keep what they reckon together."""
    found, now = [], defaultdict[int, dict[str, object]](dict)
    for own, pieces in groups:
        state = pieces[0].state_at(moment)
        told = run.working, run.air, own, own.kept, now[id(own)]
        found.append(Outlook(pieces[0], state, own.path, moment, *told, pieces))
    return found
