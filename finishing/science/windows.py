"""The hours in which a step may be done, and every reason why not in the others.

A step holds its piece from the start of the application until it may be left. Air and metal must be as the sheet asks
until it has set (touch-dry); from then on no dew and no rain may reach it until it bears them; people and calm air are
needed only while it is applied. Each start on a whole hour is judged, or whichever starts are asked about.
Value i of the hours stands for the hour that begins there, and an hour only touched counts whole.
"""

from dataclasses import dataclass
from enum import IntFlag
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .air import sweats
from .constants import Constant
from .drying import RecoatWindow
from .hours import HOUR, Flags, Floats, Hours
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .validity import within
from .working import Working

Reasons = NDArray[np.uint16]

MOMENT = 1e-6  # h: sums of hours meet their edges only so closely


class Reason(IntFlag):
    """Why not in this hour; the words are the template's."""

    MARGIN = 1  # metal too near its dew point
    HUMIDITY = 2
    COLD = 4  # air or metal
    HEAT = 8
    RAIN = 16
    OUTSIDE_WORKING_HOURS = 32
    RUST_BUDGET_SPENT = 64  # bare iron must be blasted again first
    TOO_SOON = 128  # the coat below is not ready
    CLOSED_ZONE = 256  # the coat below would lift
    TOO_LATE = 512  # the coat below must be abraded first
    NOT_KNOWN = 1024  # the air or metal in some hour, or when it may be left
    FROST = 2048  # metal below freezing
    DEW = 4096  # on a coat that has set and does not bear it yet
    WIND = 8192  # too much of it to spray in
    NOT_DRY = 16384  # blasted wet, and not said to be dry
    FLASH_RUST = 32768  # more of it than the sheet of the first coat allows


@dataclass(frozen=True)
class Gates:
    """What a step asks of air and metal: °C above the dew point, % and °C; a gate left out (None) stands open.

    The values of a type are its sheet's; 3 °C and 85 % are [IMO-PSPC].
    rain_chance_max: from which chance of rain (0 to 1) an hour counts as rain: [our judgement].
    wind_max: m/s from which it may not be applied.
    """

    margin: float = 3.0
    humidity_max: float | None = 85.0
    humidity_min: float | None = None
    temperature_min: float | None = None
    temperature_max: float | None = None
    rain_chance_max: float = 0.5
    wind_max: float | None = None

    def __post_init__(self) -> None:
        if self.wind_max is not None:
            within("wind", self.wind_max, 0.0, 120.0, "m/s", OUR_JUDGEMENT)
        within("dew-point margin", self.margin, 0.0, 30.0, "°C", OUR_JUDGEMENT)
        within("chance of rain", self.rain_chance_max, 0.0, 1.0, "of 1", OUR_JUDGEMENT)
        _in_order("humidity", self.humidity_min, self.humidity_max)
        _in_order("temperature", self.temperature_min, self.temperature_max)


def _in_order(name: str, low: float | None, high: float | None) -> None:
    if low is not None and high is not None and low > high:
        raise ValueError(f"the lowest {name}, {low:g}, lies above the highest, {high:g}")


def weather_reasons(hours: Hours, metal: ArrayLike, gates: Gates, hottest: ArrayLike | None = None) -> Reasons:
    """What is wrong with air and metal in each hour by itself: flags of Reason, (p, n) or (n), 0 where nothing is.

    metal: (p, n) or (n) °C. Air and metal must both pass the temperature gates. An hour in which temperature,
    humidity, metal or rain is not known is NOT_KNOWN, beside whatever is known to be wrong.
    hottest: the metal if sun that is not known shone from a clear sky, same shape; only HEAT looks at it. Without it
    the metal is as hot as it is cold.

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[12, 20], humidity=[95, 60], rain=0)
    >>> [[reason.name for reason in explain(hour)] for hour in weather_reasons(hours, hours.temperature, Gates())]
    [['MARGIN', 'HUMIDITY'], []]
    """
    return _flags(_weather(hours, np.asarray(metal, float), gates, hottest))


def _weather(hours: Hours, metal: Floats, gates: Gates, hottest: ArrayLike | None) -> dict[Reason, Flags]:
    sunlit = metal if hottest is None else np.asarray(hottest, float)
    driest, dampest = _open(gates.humidity_min, -np.inf), _open(gates.humidity_max, np.inf)
    cold, hot = _open(gates.temperature_min, -np.inf), _open(gates.temperature_max, np.inf)
    return {
        Reason.MARGIN: metal - hours.dew_point < gates.margin,
        Reason.HUMIDITY: (hours.humidity > dampest) | (hours.humidity < driest),
        Reason.COLD: (metal < cold) | (hours.temperature < cold),
        Reason.HEAT: (sunlit > hot) | (hours.temperature > hot),
        Reason.RAIN: (hours.rain > 0) | (hours.rain_chance >= gates.rain_chance_max),
        Reason.NOT_KNOWN: np.isnan(metal + hours.temperature + hours.humidity + hours.dew_point + hours.rain),
        Reason.FROST: metal < 0,
        Reason.WIND: hours.wind >= _open(gates.wind_max, np.inf),
    }


def refusals(
    hours: Hours,
    metal: ArrayLike,
    gates: Gates,
    *,
    working: ArrayLike,
    application_h: ArrayLike,
    set_at: ArrayLike | None = None,
    left_at: ArrayLike | None = None,
    rust_deadline: ArrayLike | None = None,
    recoat: RecoatWindow | None = None,
    hottest: ArrayLike | None = None,
    starts: ArrayLike | None = None,
) -> Reasons:
    """Why a step may not start in each hour: flags of Reason, (p, n) or (n) for one piece; 0 where it may.

    metal: (p, n) or (n) °C · working: (n) True where people are at work · application_h: hours, a number or (p)
    left_at: when it may be left if started in each hour, (n) or (p, n) hours after the start of the run; without it,
    as soon as it is applied · set_at: the same, for when the gates no longer matter; without it, when it may be left
    rust_deadline: when the application must be over, a number or (p); inf for none
    recoat: the window over the coat below, its values numbers, (p) or (p, 1) · hottest: as in weather_reasons
    starts: (m) hours after the start of the run that are judged instead of the n whole hours; set_at, left_at and the
    answer then have m values for n.

    A start is refused for each gate that is shut in any hour from start to set_at, and for rain, dew and air that is
    not known in any hour from start to left_at; working hours and wind count to the end of the application. What
    reaches beyond the run, or is itself not known (NaN), is NOT_KNOWN.

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20] * 4, humidity=60, rain=[0, 0, 0, 1])
    >>> dry = dict(working=[True, True, True, False], application_h=0.5, left_at=[1.5, 2.5, 3.5, 4.5])
    >>> [[reason.name for reason in explain(hour)] for hour in refusals(hours, hours.temperature, Gates(), **dry)]
    [[], [], ['RAIN'], ['RAIN', 'OUTSIDE_WORKING_HOURS', 'NOT_KNOWN']]
    >>> asked = dict(working=[True] * 4, application_h=0.5, starts=[0.25, 2.25, 2.75])
    >>> [[reason.name for reason in explain(hour)] for hour in refusals(hours, hours.temperature, Gates(), **asked)]
    [[], [], ['RAIN']]
    """
    count, length = len(hours), _each(application_h)
    begin = np.arange(count, dtype=float) if starts is None else np.asarray(starts, float)
    if not np.all(length > 0):
        raise ValueError("an application takes some time: its hours are above 0")
    done = begin + length
    left = done if left_at is None else np.maximum(np.asarray(left_at, float), done)
    hard = left if set_at is None else np.maximum(np.asarray(set_at, float), done)
    # Where nobody knows when it may be left, the hours of the application are judged, and that is said.
    applied, firm, free = (_behind(np.where(np.isnan(end), done, end), count) for end in (done, hard, left))
    first, iron = np.clip(np.floor(begin + MOMENT), 0, count).astype(int), np.asarray(metal, float)
    weather = _weather(hours, iron, gates, hottest)
    until = {Reason.RAIN: free, Reason.NOT_KNOWN: free, Reason.WIND: applied}
    wrong = {
        Reason.OUTSIDE_WORKING_HOURS: _meets(~np.asarray(working, bool), count, first, applied),
        **{reason: _meets(hit, count, first, until.get(reason, firm)) for reason, hit in weather.items()},
    }
    if set_at is not None:
        dew = sweats(iron - hours.dew_point)
        # before it has set, the margin refuses it
        wrong[Reason.DEW] = _meets(dew, count, first, free) & ~_meets(dew, count, first, firm)
    if gates.wind_max is not None:
        wrong[Reason.NOT_KNOWN] = wrong[Reason.NOT_KNOWN] | _meets(np.isnan(hours.wind), count, first, applied)
    wrong[Reason.NOT_KNOWN] = wrong[Reason.NOT_KNOWN] | ~(left <= count + MOMENT)
    refused = _flags(wrong)
    if rust_deadline is not None:
        refused = refused | rust_reasons(rust_deadline, done)
    return refused if recoat is None else refused | recoat_reasons(recoat, begin, done)


def rust_reasons(deadline: ArrayLike, done: ArrayLike) -> Reasons:
    """Why a first coat that is on at `done` (hours after the start of the run) comes too late for bare iron, which must
    have it by the deadline, a number or (p); inf for none.

    >>> [[reason.name for reason in explain(flags)] for flags in rust_reasons(2.0, [1.5, 2.0, 2.5])]
    [[], [], ['RUST_BUDGET_SPENT']]
    """
    last, end = _each(deadline), np.asarray(done, float)
    return _flags({Reason.RUST_BUDGET_SPENT: end > last + MOMENT, Reason.NOT_KNOWN: np.isnan(last)})


def recoat_reasons(recoat: RecoatWindow, start: ArrayLike, done: ArrayLike) -> Reasons:
    """Why a coat applied from start to done (hours after the start of the run) misses the window over the one below.

    The window's values are numbers, (p) or (p, 1); start and done meet them on the axis behind.

    >>> window = RecoatWindow(opens=1.0, closed_from=4.0, closed_until=24.0, closes=48.0)
    >>> [[reason.name for reason in explain(recoat_reasons(window, at, at + 1))] for at in (0, 3, 3.5, 24, 47.5)]
    [['TOO_SOON'], [], ['CLOSED_ZONE'], [], ['TOO_LATE']]
    """
    opens, closed_from, closed_until, closes = (_each(value) for value in vars(recoat).values())
    begin, end = np.asarray(start, float), np.asarray(done, float)
    return _flags(
        {
            Reason.TOO_SOON: begin < opens - MOMENT,
            Reason.CLOSED_ZONE: (end > closed_from + MOMENT) & (begin < closed_until - MOMENT),
            Reason.TOO_LATE: end > closes + MOMENT,
            Reason.NOT_KNOWN: np.isnan(opens),
        }
    )


SPRAY_DRIFTS = Constant("wind from which spray drifts", "v", 7.0, "m/s", COMMON_PRACTICE)
NO_SPRAYING = Constant("wind from which nobody sprays", "v", 10.0, "m/s", COMMON_PRACTICE)
BRUSH_DRAGS = Constant("wind from which a brush drags", "v", 10.0, "m/s", COMMON_PRACTICE)
DUST_FLIES = Constant("wind from which dust settles in wet gloss", "v", 5.0, "m/s", COMMON_PRACTICE)


@dataclass(frozen=True)
class WindWarning:
    """The wind reaches a limit while a coat is put on, or lies wet; fastest in m/s."""

    limit: Constant
    fastest: float

    @property
    def working(self) -> Working:
        return Working(
            name="Fastest wind foretold",
            formula="the fastest wind foretold while it is put on; for wet gloss, until it is touch-dry",
            inputs=((self.limit.name, f"{self.limit.value:g} m/s"),),
            result=f"{self.fastest:.1f} m/s",
            source=self.limit.source,
            note="Moderate wind restricts spraying [UFC-WIND]; the numbers are practice. Gusts are faster than this.",
        )


def wind_warnings(
    hours: Hours, begin: float, done: float, set_at: float, *, sprayed: bool, gloss: bool
) -> list[WindWarning]:
    """What the wind does to a coat put on from begin to done and touch-dry at set_at, positions in the run.

    Dust is asked for only of gloss under the open sky. Wind that is not known warns of nothing; it refuses spraying.

    >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20] * 4, wind=[3, 4, 8, 3])
    >>> [warning.limit.name for warning in wind_warnings(hours, 0, 1, 4, sprayed=True, gloss=True)]
    ['wind from which dust settles in wet gloss']
    """
    asked = [(SPRAY_DRIFTS if sprayed else BRUSH_DRAGS, done)]
    if gloss and hours.under_sky:
        asked.append((DUST_FLIES, min(set_at, len(hours))))
    fastest = [
        (limit, np.nan_to_num(hours.wind[int(begin) : int(np.ceil(until))]).max(initial=0)) for limit, until in asked
    ]
    return [WindWarning(limit, float(wind)) for limit, wind in fastest if wind >= limit.value]


def explain(flags: Any) -> list[Reason]:
    """The single reasons in one hour's flags.

    >>> [reason.name for reason in explain(33)]
    ['MARGIN', 'OUTSIDE_WORKING_HOURS']
    """
    return [reason for reason in Reason if int(flags) & reason]


def spans(refused: ArrayLike, start: np.datetime64) -> list[tuple[np.datetime64, np.datetime64]]:
    """Runs of allowed hours of one piece, from … until, in the time of `start`.

    >>> [[str(end) for end in span] for span in spans([1, 0, 0, 4, 0], np.datetime64("2025-05-01T06"))]
    [['2025-05-01T07', '2025-05-01T09'], ['2025-05-01T10', '2025-05-01T11']]
    """
    allowed = np.concatenate([[False], np.asarray(refused) == 0, [False]])
    edges = np.flatnonzero(allowed[1:] != allowed[:-1])
    return [(start + first * HOUR, start + behind * HOUR) for first, behind in edges.reshape(-1, 2)]


def first_allowed(refused: ArrayLike, after: ArrayLike = 0.0) -> Any:
    """The first allowed hour not before `after`, in hours after the start of the run; inf where there is none.

    refused: (p, n) or (n) · after: a number or (p).

    >>> float(first_allowed([1, 0, 4, 0], after=1.5)), float(first_allowed([1, 1]))
    (3.0, inf)
    """
    flags = np.asarray(refused)
    starts = np.arange(flags.shape[-1], dtype=float)
    return np.min(np.where((flags == 0) & (starts >= _each(after) - MOMENT), starts, np.inf), axis=-1)


def _open(gate: float | None, otherwise: float) -> float:
    return otherwise if gate is None else gate


def _each(values: Any) -> Floats:
    """One number for all, or one a piece made ready to meet the hours."""
    numbers = np.asarray(values, float)
    return numbers[:, None] if numbers.ndim == 1 else numbers


def _behind(until: Floats, count: int) -> Any:
    """The first hour that is no longer touched."""
    return np.minimum(np.ceil(until - MOMENT), count).astype(int)


def _meets(hit: Flags, count: int, first: Any, behind: Any) -> Flags:
    """For each start, whether a hit lies from the first hour that it touches to the hour behind: is the next before?"""
    if not np.any(hit):
        return np.zeros((), bool)
    hit = np.broadcast_to(hit, np.broadcast_shapes(np.shape(hit), (count,)))
    at = np.where(hit, np.arange(count, dtype=np.int32), np.int32(count))
    following = np.minimum.accumulate(at[..., ::-1], axis=-1)[..., ::-1]
    padded = np.concatenate([following, np.full((*hit.shape[:-1], 1), count, np.int32)], axis=-1)
    return np.asarray(padded[..., first] < behind)


def _flags(wrong: dict[Reason, Any]) -> Reasons:
    shape = np.broadcast_shapes(*(np.shape(hit) for hit in wrong.values()))
    flags = np.zeros(shape, np.uint16)
    for reason, hit in wrong.items():
        if np.any(hit):
            flags |= np.where(hit, np.uint16(reason), np.uint16(0))
    return flags
