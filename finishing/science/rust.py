"""Flash rust: how long bare blasted iron may wait for its first coat.

Each hour bare spends part of a budget of 1, and an hour that is damp at the metal spends more; the first coat goes
on before the budget is gone. What counts is the humidity of the air that touches the iron, made worse by salts in it.
Temperature and sulphur dioxide are left out on purpose: the one is small and disputed, the other rare by now.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import air, constants
from .constants import Constant
from .hours import Flags, Floats, Hours, reaches, total_between
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT, SOURCES
from .units import Quantity, units
from .validity import within
from .working import Working, decimals_to_reckon

# A page that shows a time from this room shows these with it.
CAUTIONS = (
    "This is a planning estimate by a model of our own, not a tested value; no standard gives these hours.",
    "Eyes win over it: look at the iron before you coat, whatever the clock says.",
    "Any bloom, orange tint or rust dust means blast again; the budget begins anew then, not before.",
)

HARD_CAP = Constant("longest that iron stays bare, whatever the air", "t_cap", 72.0, "h", OUR_JUDGEMENT)
LOOK_EVERY = Constant("longest between two looks at bare iron", "t_look", 24.0, "h", OUR_JUDGEMENT)
AMBER = Constant("budget from which it is urgent", "B_amber", 0.75, "", OUR_JUDGEMENT)
MAY_RAIN = Constant("chance from which it may rain on bare iron", "p_rain", 0.5, "of 1", COMMON_PRACTICE)
WET_WORK = Constant("budget gone after wet blasting or washing", "B_wet", 0.5, "", OUR_JUDGEMENT)
FORCED_DRY = Constant("within which wet work is blown dry", "t_dry", 0.5, "h", OUR_JUDGEMENT)
IN_HAND = Constant("kept in hand between the last stroke and coat-before", "t_hand", 0.25, "h", OUR_JUDGEMENT)
SALTS_PROVEN = Constant("salts, as NaCl, from which iron is read as coastal", "c", 20.0, "mg/m²", "NORSOK-M501")
SALTS_LIMIT = Constant("most salts, as NaCl, that may be painted over", "c_max", 50.0, "mg/m²", "IMO-SALTS")


@dataclass(frozen=True)
class Band:
    """A range of humidity at the metal, its upper edge left out, and the hours allowed bare in it: our judgement,
    inside the limits that `source` publishes for bare iron as such; none of them ties its hours to such a range."""

    below: float  # %
    hours_allowed: float
    source: str
    why: str

    @property
    def spend(self) -> float:
        """Share of the budget that an hour takes."""
        return 1 / self.hours_allowed


BANDS = (
    Band(40, np.inf, "TR-3", "dry enough to hold a blast; look every day, at most 72 h"),
    Band(50, 24, "BLAST-SPECIFICATION", "the day within which a specification has it primed, whatever the air"),
    Band(60, 8, "BLAST-PRACTICE", "one shift"),
    Band(70, 4, "CRITICAL-HUMIDITY", "iron's critical humidity is 60 %; four hours is common practice"),
    Band(80, 2, OUR_JUDGEMENT, "half of the band below"),
    Band(85, 1, "ISO-9223-1992", "iron counts as wet from 80 % on"),
    Band(np.inf, 0.5, OUR_JUDGEMENT, "painting is barred as well"),
)
_EDGES = np.array([band.below for band in BANDS[:-1]])
_SPEND = np.array([band.spend for band in BANDS])
STEPS = 12  # of five minutes, in which an hour's spending is told
MOMENT = 1e-6  # h: edges of steps meet only so closely


@dataclass(frozen=True)
class SaltLevel:
    """How much earlier iron rusts for the salts in it, in per cent of humidity."""

    name: str
    shift: float
    example: str
    source: str = OUR_JUDGEMENT


CLEAN = SaltLevel("clean", 0.0, "new casting, clean grit, inland")
UNKNOWN = SaltLevel("not known", 10.0, "old, porous or pitted iron; handled with bare hands; never tested")
COAST = SaltLevel("coast", 20.0, "near the sea, winter road, or 20 to 50 mg/m² proven")
TOO_SALTY = SaltLevel("too salty", np.inf, "more than 50 mg/m²: wash, blast and test again", "IMO-SALTS")
SALT_LEVELS = {level.name: level for level in (CLEAN, UNKNOWN, COAST, TOO_SALTY)}


def salts_measured(salts: float, otherwise: SaltLevel = UNKNOWN) -> SaltLevel:
    """The level that a salt test (mg/m² as NaCl) proves; a low reading never makes iron better than it looks.

    >>> salts_measured(12).name, salts_measured(30).name, salts_measured(51).name
    ('not known', 'coast', 'too salty')
    """
    if not salts >= 0:
        raise ValueError("salts are measured in mg/m² and are not negative")
    if salts > SALTS_LIMIT.value:
        return TOO_SALTY
    proven = COAST if salts >= SALTS_PROVEN.value else CLEAN
    return max(proven, otherwise, key=lambda level: level.shift)


@dataclass(frozen=True, eq=False)
class Exposure:
    """What else decides how long iron keeps: a number each, or one a piece.

    salt_shift: % of humidity, of a SaltLevel · spent: budget gone at the beginning · bare_for: hours bare before it
    wet_work: wet blasted or washed, and dry since the beginning · inhibitor_claim: hours that its supplier allows
    looked: position (hours after the start of the run) at which somebody last looked, and it was dry without rust
    tightening: a workshop's own caution, 0 < k ≤ 1, by which the hours allowed and the hard cap are multiplied.
    """

    salt_shift: ArrayLike = UNKNOWN.shift
    spent: ArrayLike = 0.0
    bare_for: ArrayLike = 0.0
    wet_work: ArrayLike = False
    inhibitor_claim: ArrayLike = np.inf
    looked: ArrayLike = -np.inf
    tightening: float = 1.0

    def __post_init__(self) -> None:
        if not 0 < self.tightening <= 1:
            raise ValueError("tightening lies above 0 and is at most 1: it shortens the hours, never lengthens them")
        if not np.all((np.asarray(self.spent) >= 0) & (np.asarray(self.spent) <= 1)):
            raise ValueError("the budget spent lies between 0 and 1")
        if not np.all(np.asarray(self.salt_shift) >= 0):
            raise ValueError("salts never make iron safer: the shift is 0 or more")
        if not (np.all(np.asarray(self.bare_for) >= 0) and np.all(np.asarray(self.inhibitor_claim) >= 0)):
            raise ValueError("hours bare and hours claimed are not negative")

    @property
    def spent_at_begin(self) -> Floats:
        """Budget gone at the beginning, wet work counted."""
        return np.asarray(np.maximum(self.spent, np.where(self.wet_work, WET_WORK.value, 0.0)))

    @property
    def longest(self) -> Floats:
        """Hours from the beginning to the hard cap, or to what an inhibitor's supplier claims.

        The cap is a budget too: of wet work's half is left.
        """
        cap = self.tightening * HARD_CAP.value * np.where(self.wet_work, 1 - WET_WORK.value, 1.0)
        return np.asarray(np.maximum(np.minimum(cap, self.inhibitor_claim) - np.asarray(self.bare_for), 0.0))


class Because(IntEnum):
    """What ends the time bare; the words are the template's."""

    SPENT = 1
    WET = 2  # rain, or the metal at its dew point: as known, never as assumed
    CAP = 3
    SALTS = 4  # too salty to be painted at all
    NOT_KNOWN = 5  # from here on its air is not known, or whether it sweats: measure, or look
    MAY_RAIN = 6  # rain is as likely as not: wheel it in, or cover it


DOUBTS = (Because.NOT_KNOWN, Because.MAY_RAIN)  # the promise ends, the budget does not: it goes on from a look


@dataclass(frozen=True, eq=False)
class RustWindow:
    """The answer for each piece and beginning: all times in hours after the start of the run.

    spend: (p, STEPS·n + 1) share of the budget that each step of five minutes takes, per hour; one not known takes
    the worst, and the last column, for all that comes after the run, does so too · damp: humidity at the metal in the
    middle of each step, %, NaN where it is not known; same shape.
    """

    spend: Floats
    damp: Floats
    begin: Floats
    coat_before: Floats
    because: Any  # numbers of Because
    spent_at_begin: Floats

    @property
    def finish_by(self) -> Floats:
        """When the last stroke should be done, a quarter of an hour in hand."""
        return self.coat_before - IN_HAND.value

    def start_by(self, application: ArrayLike) -> Floats:
        """When to begin coating that takes so many hours."""
        return np.asarray(self.finish_by - np.asarray(application, float))

    @property
    def doubtful(self) -> Flags:
        """It ends because nobody knows how it goes on."""
        return np.isin(self.because, DOUBTS)

    @property
    def amber_from(self) -> Floats:
        """When three quarters of the budget are gone, or coat-before where that comes first."""
        starts, spent, until = (self._by_start(x) for x in (self.begin, self.spent_at_begin, self.coat_before))
        amber = used_up(self.spend, np.maximum(AMBER.value - spent, 0.0), starts)
        return np.minimum(amber, until).reshape(self.begin.shape)

    def spent_by(self, now: float) -> Floats:
        """Budget gone by an instant, in hours after the start of the run.

        1 from coat-before on, but where that only ends what is known: there it is what was known to be spent.
        """
        starts, until = self._by_start(self.begin), self._by_start(np.minimum(self.coat_before, now))
        used = _used(self.spend, np.maximum(starts, until)) - _used(self.spend, starts)
        spent = np.minimum(self.spent_at_begin + used.reshape(self.begin.shape), 1.0)
        return np.asarray(np.where((now >= self.coat_before) & ~self.doubtful, 1.0, spent))

    def _by_start(self, answers: Floats) -> Floats:
        """Answers with the axis of starts behind the pieces, also where there was a single start."""
        return answers if answers.ndim == self.spend.ndim else answers[..., None]

    def next_look(self, now: float) -> Floats:
        """When to look at the iron next: a whole number of days after it began, and not after coat-before.

        Where coat-before has passed there is nothing to wait for: now.
        """
        days = np.floor(np.maximum(now - self.begin, 0.0) / LOOK_EVERY.value) + 1
        return np.asarray(np.maximum(np.minimum(self.begin + days * LOOK_EVERY.value, self.coat_before), now))


def spend_per_hour(surface_humidity: ArrayLike, salt_shift: ArrayLike = 0.0, tightening: float = 1.0) -> Floats:
    """Share of the budget that an hour takes, per hour; an unknown humidity (NaN) takes the worst.

    r = RH_s + shift, RH_s in % rounded to 0.1;  spend = 1 / (k · hours allowed in r's band)
    Valid from 0 to 100 %.  Basis: BANDS, [our judgement].

    >>> spend_per_hour([38, 55, 70.7, float("nan")]).tolist()
    [0.0, 0.125, 0.5, 2.0]
    """
    r = np.round(np.asarray(surface_humidity, float), 1) + np.asarray(salt_shift)
    band = np.searchsorted(_EDGES, r, side="right")  # NaN sorts behind every edge: the worst band
    return np.asarray(_SPEND[band] / tightening)


def humidity_through(metal: Floats, metal_after: Floats, dew: Floats, dew_after: Floats) -> Floats:
    """Humidity at the metal, %, in the middle of each of the STEPS that an hour is cut into: (…, STEPS).

    Metal and dew point, °C, run straight from the beginning of the hour to its end.
    """
    part = (np.arange(STEPS) + 0.5) / STEPS
    warmth, wet_below = (
        first[..., None] + (last - first)[..., None] * part
        for first, last in (np.broadcast_arrays(metal, metal_after), np.broadcast_arrays(dew, dew_after))
    )
    return np.asarray(100 * air.humidity_at_surface.__wrapped__(warmth, wet_below))


def coat_before(
    hours: Hours,
    metal: ArrayLike,
    exposure: Exposure | None = None,
    begin: ArrayLike = 0.0,
    warmest: ArrayLike | None = None,
) -> RustWindow:
    """When the first coat must be on, for iron bare from `begin` on (hours after the start of the run).

    ∫ spend dt = 1 − spent, or the first wet moment, the first doubtful one, or the hard cap: whichever comes first.
    metal: (p, n) or (n) °C at each hour. begin as in hours.reaches: one number, or an array whose last axis is
    starts, (m) or (p, 1). Each value of `exposure` is one number or (p). Answers are (p) or (p, m).
    warmest: the metal as warm as it may be, same shape, where sky or sun are not known; without it `metal` is known.

    Between two hours metal and dew point run straight; spending is told in steps of five minutes. It is wet in known
    rain, and where the metal is at its dew point however warm it may be. It is doubtful, and the promise ends, where
    air, metal or rain is not known, where only what is assumed of the sky would wet it, where rain is as likely as
    not, and behind the run. What was doubtful before a look (`exposure.looked`) spends as the damper of the known
    hours on its two sides.  Basis: [our judgement].

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T08"), temperature=[20.0] * 24, humidity=55, rain=0)
    >>> round(float(coat_before(hours, hours.temperature, Exposure(salt_shift=0)).coat_before), 2)
    8.0
    """
    return BareCourse(hours, metal, exposure or Exposure(), warmest).coat_before(begin)


class BareCourse:
    """What the air of a run does to bare iron, before anybody says when it became bare: asked again for other starts.

    Arguments as of `coat_before`.
    """

    def __init__(self, hours: Hours, metal: ArrayLike, exposure: Exposure, warmest: ArrayLike | None = None) -> None:
        self.exposure = exposure
        surface = _rows(np.asarray(metal, float), exposure)
        warm = surface if warmest is None else _rows(np.asarray(warmest, float), exposure)
        self._shift, self._spent, self._longest, self._looked = (
            _column(x) for x in (exposure.salt_shift, exposure.spent_at_begin, exposure.longest, exposure.looked)
        )
        self.damp = _damp(hours, surface, self._looked)
        self.spend = spend_per_hour(self.damp, self._shift, exposure.tightening)
        self._count = surface.shape[-1]
        self._sweats, self._rains = _sweating(hours, warm), _Spells(*_whole(hours.rain > 0))
        self._unknown, self._doubtful = _unknown(hours, surface), _sweating(hours, surface)
        self._may_rain = _Spells(*_whole((hours.rain_chance >= MAY_RAIN.value) & ~(hours.rain > 0)))

    def coat_before(self, begin: ArrayLike) -> RustWindow:
        """The answer for iron that is bare from then on."""
        starts = np.atleast_1d(np.asarray(begin, float))
        unsure = np.maximum(starts, self._looked)
        not_known = np.minimum(self._unknown.first(unsure), np.maximum(unsure, self._count))
        ends = {
            Because.SALTS: np.where(np.isinf(self._shift), starts, np.inf),
            Because.WET: np.minimum(self._sweats.first(starts), self._rains.first(starts)),
            Because.NOT_KNOWN: np.minimum(not_known, self._doubtful.first(unsure)),
            Because.MAY_RAIN: self._may_rain.first(unsure),
            Because.SPENT: used_up(self.spend, 1.0 - self._spent, starts),
            Because.CAP: starts + self._longest,
        }
        until = np.min(np.broadcast_arrays(*ends.values()), axis=0)
        until = np.where(np.isnan(starts), np.nan, until)
        because = np.select([np.isnan(until), *(until == end for end in ends.values())], [Because.NOT_KNOWN, *ends])
        answers = np.broadcast_arrays(starts, until, because, self._spent)
        return RustWindow(self.spend, self.damp, *(a[..., 0] if np.ndim(begin) == 0 else a for a in answers))


@dataclass(frozen=True)
class BudgetStretch:
    """A time in which the budget was spent evenly: positions in the run, humidity at the metal in %, shares of 1."""

    begin: float
    end: float
    driest: float
    dampest: float
    rate: float  # per hour
    so_far: float  # at its end
    mark: str

    @property
    def spent(self) -> float:
        return (self.end - self.begin) * self.rate

    @property
    def cells(self) -> tuple[str, ...]:
        """As LEDGER heads them; hours to 0.01 and shares to 0.001, so that they can be summed by hand."""
        damp = (
            f"{self.driest:.1f}–{self.dampest:.1f} %" if self.dampest - self.driest >= 0.05 else f"{self.driest:.1f} %"
        )
        allowed = f"{1 / self.rate:g} h" if self.rate else "hold"
        hours = self.end - self.begin
        return damp.replace("nan", "?"), allowed, f"{hours:.2f} h", f"{self.spent:.3f}", f"{self.so_far:.3f}"


LEDGER = ("RH_s", "allowed", "hours", "spent", "so far")


def ledger(window: RustWindow, marks: Sequence[str], until: float, cuts: Sequence[float] = ()) -> list[BudgetStretch]:
    """How the budget of one piece went, from its beginning until a position: Σ spent of the stretches.

    window: of one piece and one begin · marks: a word for each hour of the run · cuts: positions at which a stretch
    ends in any case. Stretches of one rate and one word are told as one.

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T08"), temperature=[20.0] * 6, humidity=55, rain=0)
    >>> window = coat_before(hours, hours.temperature, Exposure(salt_shift=0))
    >>> [(each.begin, each.end, each.rate, each.so_far) for each in ledger(window, ["foretold"] * 6, 5.0, cuts=[2.0])]
    [(0.0, 2.0, 0.125, 0.25), (2.0, 5.0, 0.125, 0.625)]
    """
    begin, count = float(window.begin), window.spend.shape[-1] - 1
    steps = np.arange(int(begin * STEPS), max(int(begin * STEPS) + 1, int(np.ceil(until * STEPS - MOMENT))))
    inside = np.minimum(steps, count)
    words = np.array([*marks, ""])[inside // STEPS]
    changed = (window.spend[inside][1:] != window.spend[inside][:-1]) | (words[1:] != words[:-1])
    edges = sorted({begin, until, *(steps[1:][changed] / STEPS), *(cut for cut in cuts if begin < cut < until)})
    so_far, told = float(window.spent_at_begin), []
    for first, last in pairwise(edges):
        step = min(int(first * STEPS + MOMENT), count)
        damp = window.damp[step : max(step + 1, int(np.ceil(last * STEPS - MOMENT)))]
        rate = float(window.spend[step])
        so_far += (last - first) * rate
        told.append(
            BudgetStretch(first, last, float(damp.min()), float(damp.max()), rate, so_far, str(words[step - steps[0]]))
        )
    return told


def used_up(spend: Floats, room: Floats, starts: Floats) -> Floats:
    """When the budget's room is used, of a RustWindow's spend; a start after the run finds only steps not known."""
    late = starts >= (spend.shape[-1] - 1) / STEPS
    within_run = reaches(spend / STEPS, room, starts * STEPS) / STEPS
    return np.where(late, starts + room / spend[..., -1:], within_run)


def used_between(spend: Floats, begin: Floats, until: Floats) -> Floats:
    """Budget that one body's steps take between two positions of the run, in hours; behind it nothing is added."""
    return total_between(spend[:-1] / STEPS, begin * STEPS, until * STEPS)


def _rows(surface: Floats, exposure: Exposure) -> Floats:
    """The metal, one row a piece where any value of the exposure is one a piece."""
    each = np.broadcast_shapes(*(np.shape(v) for v in vars(exposure).values()), surface.shape[:-1])
    return np.broadcast_to(surface, (*each, surface.shape[-1]))


def _column(values: ArrayLike) -> Floats:
    return np.asarray(values, float)[..., None]


def _damp(hours: Hours, surface: Floats, looked: Floats) -> Floats:
    dew = np.where(np.isnan(hours.rain), np.nan, hours.dew_point)
    damp = humidity_through(surface, hours.at_the_end(surface), dew, hours.at_the_end(hours.dew_point))
    damp = damp.reshape(*surface.shape[:-1], -1)
    seen = np.arange(damp.shape[-1]) / STEPS < looked
    damp = np.where(seen & np.isnan(damp), _damper_beside(damp), damp)
    after_the_run = np.full((*damp.shape[:-1], 1), np.nan)
    return np.concatenate([damp, after_the_run], axis=-1)


def _damper_beside(damp: Floats) -> Floats:
    """Where not known, the damper of the last known value before and the first one after; NaN where neither is."""
    steps = np.arange(damp.shape[-1])
    told = ~np.isnan(damp)
    before = np.maximum.accumulate(np.where(told, steps, -1), axis=-1)
    after = np.minimum.accumulate(np.where(told, steps, len(steps))[..., ::-1], axis=-1)[..., ::-1]
    padded = np.concatenate([damp, np.full((*damp.shape[:-1], 1), np.nan)], axis=-1)  # index −1 and n find it
    return np.asarray(np.fmax(*(np.take_along_axis(padded, side, axis=-1) for side in (before, after))))


def _sweating(hours: Hours, surface: Floats) -> "_Spells":
    """When the metal is at its dew point."""
    above = surface - hours.dew_point - air.TOUCHING
    return _Spells(*_below_nothing(above, hours.at_the_end(above)))


def _unknown(hours: Hours, surface: Floats) -> "_Spells":
    """When something is not known: an hour is known where both its ends are, and its rain is."""
    instant = ~np.isnan(surface + hours.dew_point)
    followed = np.concatenate([instant[..., 1:], np.zeros((*instant.shape[:-1], 1), bool)], axis=-1)
    hour = np.arange(instant.shape[-1], dtype=float)
    part = np.where(instant & ~np.isnan(hours.rain), np.where(followed, np.inf, hours.lasts), 0.0)
    return _Spells(hour + part, np.where(np.isinf(part), -np.inf, hour + 1))


def _below_nothing(first: Floats, last: Floats) -> tuple[Floats, Floats]:
    """From when until when in each hour a value that runs straight lies at or below 0; inf and −inf where never."""
    hour = np.arange(first.shape[-1], dtype=float)
    fall = first - last
    crossing = hour + np.clip(np.divide(first, fall, out=np.zeros_like(first), where=fall != 0), 0, 1)
    some = ~np.isnan(first) & ((first <= 0) | (last < 0))
    begins = np.where(some, np.where(first <= 0, hour, crossing), np.inf)
    return begins, np.where(some, np.where(last <= 0, hour + 1, crossing), -np.inf)


def _whole(flags: Flags) -> tuple[Floats, Floats]:
    """From when until when in each hour a flag holds that holds for the whole hour."""
    hour = np.arange(flags.shape[-1], dtype=float)
    return np.where(flags, hour, np.inf), np.where(flags, hour + 1, -np.inf)


class _Spells:
    """Stretches of time, each hour (…, n) with one at most, from … until."""

    def __init__(self, begins: Floats, ends: Floats) -> None:
        self.count = begins.shape[-1]
        following = np.minimum.accumulate(begins[..., ::-1], axis=-1)[..., ::-1]
        none = np.full((*begins.shape[:-1], 1), np.inf)
        self.begins, self.ends = (np.concatenate([spell, none], axis=-1) for spell in (begins, ends))
        self.following = np.concatenate([following, none], axis=-1)[..., 1:]

    def first(self, starts: Floats) -> Floats:
        """The first moment from each start on that lies in a spell, perhaps the start itself; inf: none comes."""
        hour = _hour(starts, self.count)
        ahead = _pick(self.following, np.minimum(hour, self.count - 1))
        here, until = _pick(self.begins, hour), _pick(self.ends, hour)
        inside = np.maximum(here, starts)
        within_run = hour < self.count
        return np.asarray(np.where((inside < until) & within_run, inside, np.where(within_run, ahead, np.inf)))


def _hour(starts: Floats, last: int) -> Any:
    return np.fmin(np.fmax(np.floor(starts), 0), last).astype(int)  # what is not known counts as 0


def _pick(table: Any, index: Any) -> Any:
    """table (…, n) read at index (…, m), the axes before the last meeting each other."""
    if index.ndim == 1 or table.ndim == 1:  # mostly; and three times as fast
        return np.take(table, index, axis=-1)
    rows = np.broadcast_shapes(table.shape[:-1], index.shape[:-1])
    wide, where = (np.broadcast_to(a, (*rows, a.shape[-1])) for a in (table, index))
    return np.take_along_axis(wide, where, axis=-1)


def _used(spend: Floats, until: Floats) -> Floats:
    """Budget that the steps from the start of the run to an instant take."""
    at = until * STEPS
    step = _hour(at, spend.shape[-1] - 1)
    sums = np.concatenate([np.zeros((*spend.shape[:-1], 1)), np.cumsum(spend, axis=-1)], axis=-1)
    return np.asarray(_pick(sums, step) + (at - step) * _pick(spend, step)) / STEPS


@units.wraps("degC", ("degC", ""))
def warm_iron_to(dew_point: Any, humidity: Any) -> Any:
    """Temperature to which iron must be warmed so that the air touching it is no damper than asked.

    t_s = b·γ / (a − γ),   γ = a·t_d / (b + t_d) − ln(RH_s)      e_s(t_s) = e_s(t_d) / RH_s, Magnus form
    Valid for dew points from −40 to 50 °C and humidity from 0.1 to 100 %.  Source: [AE1996].

    >>> f"{warm_iron_to(Quantity(10, 'degC'), Quantity(50, 'percent')):.1f~P}"
    '20.8 °C'
    """
    within("dew point", dew_point, air.LOWEST, air.HIGHEST, "°C", "AE1996")
    within("humidity", 100 * np.asarray(humidity), 100 * air.DRIEST, 100.0, "%", OUR_JUDGEMENT)
    a, b = constants.MAGNUS_SLOPE.value, constants.MAGNUS_OFFSET.value
    gamma = a * np.asarray(dew_point) / (b + np.asarray(dew_point)) - np.log(humidity)
    return b * gamma / (a - gamma)


def budget_working(window: RustWindow, level: SaltLevel, tightening: float, spent: float) -> Working:
    """What a page opens behind "93 % spent"; its hours, which the page puts under it, are those of `ledger`."""
    return Working(
        name="Rust budget",
        formula="B = B_0 + Σ hours / allowed,  allowed = k · band(RH_s + shift)",
        inputs=(
            ("B_0, spent as it began", f"{float(window.spent_at_begin):.2f}"),
            (f"shift for salts: {level.name}", f"{level.shift:g} %"),
            ("the workshop's own caution, k", f"{tightening:g}"),
        ),
        result=f"{100 * spent:.0f} % spent",
        source=OUR_JUDGEMENT,
        note=f"RH_s is the humidity at the metal, which runs straight between two hours. {CAUTIONS[0]}",
    )


def hours_allowed_working(surface: Any, dew_point: Any, level: SaltLevel = UNKNOWN, tightening: float = 1.0) -> Working:
    """What a page opens behind the hours that one state of the air allows; quantities in.

    >>> hours_allowed_working(Quantity(16, "degC"), Quantity(10.69, "degC"), CLEAN).result
    '2 h'
    """
    damp = 100 * float(air.humidity_at_surface(surface, dew_point).magnitude)
    band = BANDS[int(np.searchsorted(_EDGES, round(damp, 1) + level.shift, side="right"))]
    refused = "none: wash, blast and test again"
    met = tuple(float(Quantity(value).to("degC").magnitude) for value in (surface, dew_point))
    decimals = decimals_to_reckon(met, lambda t, d: 100 * float(air.humidity_at_surface.__wrapped__(t, d)), shown=1)
    limit = () if band.source == OUR_JUDGEMENT else (("what is published", str(SOURCES[band.source])),)
    allowed = tightening * min(band.hours_allowed, HARD_CAP.value)
    return Working(
        name="Freshly blasted, iron may stay bare in this air",
        formula="hours = k · band(RH_s + shift),  RH_s = e_s(t_d) / e_s(t_s)",
        inputs=(
            ("metal", f"{met[0]:.{decimals}f} °C"),
            ("dew point", f"{met[1]:.{decimals}f} °C"),
            ("humidity at the metal, RH_s", f"{damp:.1f} %"),
            (f"shift for salts: {level.name}", f"{level.shift:g} %"),
            ("the workshop's own caution, k", f"{tightening:g}"),
            *limit,
        ),
        result=refused if np.isinf(level.shift) else f"{allowed:g} h",
        source=OUR_JUDGEMENT,
        note=" ".join((f"{band.why.capitalize()}.", *CAUTIONS)),
    )
