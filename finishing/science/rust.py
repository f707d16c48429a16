"""Flash rust: how long bare blasted iron may wait for its first coat.

Each hour bare spends part of a budget of 1, and an hour that is damp at the metal spends more; the first coat goes
on before the budget is gone. What counts is the humidity of the air that touches the iron, made worse by salts in it.
Temperature and sulphur dioxide are left out on purpose: the one is small and disputed, the other rare by now.
"""

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from . import air, constants
from .constants import Constant
from .hours import Flags, Floats, Hours, reaches
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import Quantity, units
from .validity import within
from .working import Working

# A page that shows a time from this room shows these with it.
CAUTIONS = (
    "This is a planning estimate by a model of our own, not a tested value; no standard gives these hours.",
    "Eyes win over it: look at the iron before you coat, whatever the clock says.",
    "Any bloom, orange tint or rust dust means blast again; the budget begins anew then, not before.",
)

HARD_CAP = Constant("longest that iron stays bare, whatever the air", "t_cap", 72.0, "h", OUR_JUDGEMENT)
LOOK_EVERY = Constant("longest between two looks at bare iron", "t_look", 24.0, "h", OUR_JUDGEMENT)
AMBER = Constant("budget from which it is urgent", "B_amber", 0.75, "", OUR_JUDGEMENT)
WET_WORK = Constant("budget gone after wet blasting or washing", "B_wet", 0.5, "", OUR_JUDGEMENT)
FORCED_DRY = Constant("within which wet work is blown dry", "t_dry", 0.5, "h", OUR_JUDGEMENT)
IN_HAND = Constant("kept in hand between the last stroke and coat-before", "t_hand", 0.25, "h", OUR_JUDGEMENT)
SALTS_PROVEN = Constant("salts, as NaCl, from which iron is read as coastal", "c", 20.0, "mg/m²", "NORSOK-M501")
SALTS_LIMIT = Constant("most salts, as NaCl, that may be painted over", "c_max", 50.0, "mg/m²", "IMO-SALTS")


@dataclass(frozen=True)
class Band:
    """A range of humidity at the metal, its upper edge left out, and the hours allowed bare in it."""

    below: float  # %
    hours_allowed: float
    basis: str
    source: str
    why: str

    @property
    def spend(self) -> float:
        """Share of the budget that an hour takes."""
        return 1 / self.hours_allowed


BANDS = (
    Band(40, np.inf, "published", "TR-3", "dry enough to hold a blast; look every day, at most 72 h"),
    Band(50, 24, "published", "BLAST-SPECIFICATION", "primed preferably within 24 hours"),
    Band(60, 8, COMMON_PRACTICE, "BLAST-PRACTICE", "one shift"),
    Band(70, 4, "published", "CRITICAL-HUMIDITY", "iron's critical humidity, 60 %; four hours is common practice"),
    Band(80, 2, OUR_JUDGEMENT, OUR_JUDGEMENT, "half of the band below"),
    Band(85, 1, OUR_JUDGEMENT, "ISO-9223-1992", "counted as wet from 80 % on; the hour is our judgement"),
    Band(np.inf, 0.5, OUR_JUDGEMENT, OUR_JUDGEMENT, "painting is barred as well"),
)
_EDGES = np.array([band.below for band in BANDS[:-1]])
_SPEND = np.array([band.spend for band in BANDS])


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
    wet_work: wet blasted or washed · inhibitor_claim: hours that the inhibitor's supplier allows
    tightening: a workshop's own caution, 0 < k ≤ 1, by which the hours allowed and the hard cap are multiplied.
    """

    salt_shift: ArrayLike = UNKNOWN.shift
    spent: ArrayLike = 0.0
    bare_for: ArrayLike = 0.0
    wet_work: ArrayLike = False
    inhibitor_claim: ArrayLike = np.inf
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
        """Hours from the beginning to the hard cap, or to what an inhibitor's supplier claims."""
        capped = np.minimum(self.tightening * HARD_CAP.value, self.inhibitor_claim) - np.asarray(self.bare_for)
        return np.asarray(np.maximum(capped, 0.0))


class Because(IntEnum):
    """What ends the time bare; the words are the template's."""

    SPENT = 1
    WET = 2  # rain, or the metal at its dew point
    CAP = 3
    SALTS = 4  # too salty to be painted at all
    NOT_KNOWN = 5  # spent by hours, or beyond the run, where the air is not known


@dataclass(frozen=True, eq=False)
class RustWindow:
    """The answer for each piece and beginning: all times in hours after the start of the run.

    spend: (p, n + 1) share of the budget that each hour takes; one not known takes the worst, and the last column,
    for all that comes after the run, does so too.
    """

    spend: Floats
    begin: Floats
    coat_before: Floats
    because: Any  # numbers of Because
    not_known: Flags  # some hour from begin to coat_before was not known
    spent_at_begin: Floats

    @property
    def finish_by(self) -> Floats:
        """When the last stroke should be done, a quarter of an hour in hand."""
        return self.coat_before - IN_HAND.value

    def start_by(self, application: ArrayLike) -> Floats:
        """When to begin coating that takes so many hours."""
        return np.asarray(self.finish_by - np.asarray(application, float))

    @property
    def amber_from(self) -> Floats:
        """When three quarters of the budget are gone, or coat-before where that comes first."""
        starts, spent, until = (self._by_start(x) for x in (self.begin, self.spent_at_begin, self.coat_before))
        amber = _reach(self.spend, np.maximum(AMBER.value - spent, 0.0), starts)
        return np.minimum(amber, until).reshape(self.begin.shape)

    def spent_by(self, now: float) -> Floats:
        """Budget gone by an instant, in hours after the start of the run; 1 from coat-before on."""
        starts = self._by_start(self.begin)
        used = _used(self.spend, np.maximum(starts, now)) - _used(self.spend, starts)
        spent = np.minimum(self.spent_at_begin + used.reshape(self.begin.shape), 1.0)
        return np.asarray(np.where(now >= self.coat_before, 1.0, spent))

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
    Valid from 0 to 100 %.  Basis: BANDS, each with its own; the whole is [our judgement].

    >>> spend_per_hour([38, 55, 70.7, float("nan")]).tolist()
    [0.0, 0.125, 0.5, 2.0]
    """
    r = np.round(np.asarray(surface_humidity, float), 1) + np.asarray(salt_shift)
    band = np.searchsorted(_EDGES, r, side="right")  # NaN sorts behind every edge: the worst band
    return np.asarray(_SPEND[band] / tightening)


def coat_before(hours: Hours, metal: ArrayLike, exposure: Exposure | None = None, begin: ArrayLike = 0.0) -> RustWindow:
    """When the first coat must be on, for iron bare from `begin` on (hours after the start of the run).

    Σ spend · Δt = 1 − spent, or the first wet hour, or the hard cap: whichever comes first.
    metal: (p, n) or (n) °C at each hour. begin as in hours.reaches: one number, or an array whose last axis is
    starts, (m) or (p, 1). Each value of `exposure` is one number or (p). Answers are (p) or (p, m).
    An hour not known, and all after the run, spend as the worst band.  Basis: [our judgement].

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T08"), temperature=[20.0] * 24, humidity=55, rain=0)
    >>> round(float(coat_before(hours, hours.temperature, Exposure(salt_shift=0)).coat_before), 2)
    8.0
    """
    exposure, starts = exposure or Exposure(), np.atleast_1d(np.asarray(begin, float))
    surface = _rows(np.asarray(metal, float), exposure)
    known, wet = _known_and_wet(hours, surface)
    shift, spent, longest = (_column(x) for x in (exposure.salt_shift, exposure.spent_at_begin, exposure.longest))
    spend = _spend(hours, surface, known, shift, exposure.tightening)
    gone, wet_at = _reach(spend, 1.0 - spent, starts), _first(wet, starts)
    until = np.where(np.isinf(shift), starts, np.minimum(np.minimum(gone, wet_at), starts + longest))
    blind = _any_between(~known, starts, until)
    because = np.select(
        [np.isinf(shift), until == wet_at, ((until == gone) & blind) | np.isnan(until), until == gone],
        [Because.SALTS, Because.WET, Because.NOT_KNOWN, Because.SPENT],
        Because.CAP,
    )
    answers = np.broadcast_arrays(starts, until, because, blind, spent)
    return RustWindow(spend, *(a[..., 0] if np.ndim(begin) == 0 else a for a in answers))


def _rows(surface: Floats, exposure: Exposure) -> Floats:
    """The metal, one row a piece where any value of the exposure is one a piece."""
    each = np.broadcast_shapes(*(np.shape(v) for v in vars(exposure).values()), surface.shape[:-1])
    return np.broadcast_to(surface, (*each, surface.shape[-1]))


def _column(values: ArrayLike) -> Floats:
    return np.asarray(values, float)[..., None]


def _known_and_wet(hours: Hours, surface: Floats) -> tuple[Flags, Flags]:
    known = ~np.isnan(surface + hours.dew_point + hours.rain)
    return known, air.sweats(surface - hours.dew_point) | (hours.rain > 0)


def _spend(hours: Hours, surface: Floats, known: Flags, shift: Floats, tightening: float) -> Floats:
    damp = np.where(known, 100 * air.humidity_at_surface.__wrapped__(surface, hours.dew_point), np.nan)
    after_the_run = np.full((*damp.shape[:-1], 1), np.nan)
    return spend_per_hour(np.concatenate([damp, after_the_run], axis=-1), shift, tightening)


def _reach(spend: Floats, room: Floats, starts: Floats) -> Floats:
    """When the budget's room is used; a start after the run finds only hours not known."""
    late = starts >= spend.shape[-1] - 1
    return np.where(late, starts + room / spend[..., -1:], reaches(spend, room, starts))


def _hour(starts: Floats, last: int) -> Any:
    return np.clip(np.floor(np.nan_to_num(starts)), 0, last).astype(int)


def _pick(table: Any, index: Any) -> Any:
    """table (…, n) read at index (…, m), the axes before the last meeting each other."""
    rows = np.broadcast_shapes(table.shape[:-1], index.shape[:-1])
    wide, where = (np.broadcast_to(a, (*rows, a.shape[-1])) for a in (table, index))
    return np.take_along_axis(wide, where, axis=-1)


def _first(flags: Flags, starts: Floats) -> Floats:
    """When the first flagged hour from each start on begins, or the start itself within one; inf where none does."""
    count = flags.shape[-1]
    at = np.where(flags, np.arange(count, dtype=float), np.inf)
    following = np.minimum.accumulate(at[..., ::-1], axis=-1)[..., ::-1]
    none = np.full((*flags.shape[:-1], 1), np.inf)
    return np.asarray(np.maximum(starts, _pick(np.concatenate([following, none], axis=-1), _hour(starts, count))))


def _any_between(flags: Flags, starts: Floats, until: Floats) -> Flags:
    """Whether any hour touched from start to end is flagged; the time after the run counts as flagged."""
    counted = np.concatenate([flags, np.ones((*flags.shape[:-1], 1), bool)], axis=-1)
    sums = _sums(counted)
    last = flags.shape[-1]
    first, behind = _hour(starts, last), _hour(np.ceil(until - 1e-6), last + 1)
    return np.asarray(_pick(sums, np.maximum(behind, first)) > _pick(sums, first))


def _sums(values: Any) -> Floats:
    return np.concatenate([np.zeros((*values.shape[:-1], 1)), np.cumsum(values, axis=-1)], axis=-1)


def _used(spend: Floats, until: Floats) -> Floats:
    """Budget that the hours from the start of the run to an instant take."""
    hour = _hour(until, spend.shape[-1] - 1)
    return np.asarray(_pick(_sums(spend), hour) + (until - hour) * _pick(spend, hour))


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


def hours_allowed_working(surface: Any, dew_point: Any, level: SaltLevel = UNKNOWN, tightening: float = 1.0) -> Working:
    """What a page opens behind the hours that one state of the air allows; quantities in.

    >>> hours_allowed_working(Quantity(16, "degC"), Quantity(10.69, "degC"), CLEAN).result
    '2 h'
    """
    damp = 100 * float(air.humidity_at_surface(surface, dew_point).magnitude)
    band = BANDS[int(np.searchsorted(_EDGES, round(damp, 1) + level.shift, side="right"))]
    refused = "none: wash, blast and test again"
    allowed = tightening * min(band.hours_allowed, HARD_CAP.value)
    return Working(
        name="Freshly blasted, iron may stay bare in this air",
        formula="hours = k · band(RH_s + shift),  RH_s = e_s(t_d) / e_s(t_s)",
        inputs=(
            ("metal", f"{Quantity(surface).to('degC'):.1f~P}"),
            ("dew point", f"{Quantity(dew_point).to('degC'):.1f~P}"),
            ("humidity at the metal, RH_s", f"{damp:.1f} %"),
            (f"shift for salts: {level.name}", f"{level.shift:g} %"),
            ("the workshop's own caution, k", f"{tightening:g}"),
        ),
        result=refused if np.isinf(level.shift) else f"{allowed:g} h",
        source=band.source,
        note=" ".join((f"{band.why.capitalize()} ({band.basis}).", *CAUTIONS)),
    )
