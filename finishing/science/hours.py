"""Hours: a run of hourly outside air; what every forecast, file and indoor place becomes.

Time is UTC, hour by hour without a break in the index; what is not known is NaN, and NaN is never good.
Value i is the air at the instant `start + i`, and between two instants air runs straight; sun, rain and the
chance of rain belong to the whole hour that begins there.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from . import air
from .sources import OUR_JUDGEMENT
from .validity import within

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

HOUR = np.timedelta64(1, "h")

# What can be air on this earth, column by column. A forgotten factor (cloud in %, wind in km/h) ends here.
PLAUSIBLE = {
    "temperature": (-90.0, 60.0, "°C"),
    "humidity": (0.0, 100.0, "%"),
    "dew_point": (-100.0, 60.0, "°C"),
    "wind": (0.0, 120.0, "m/s"),
    "cloud": (0.0, 1.0, "of the sky"),
    "sun": (0.0, 1600.0, "W/m²"),
    "rain": (0.0, 500.0, "mm"),
    "rain_chance": (0.0, 1.0, "of 1"),
}
COLUMNS = tuple(PLAUSIBLE)
RUNS_STRAIGHT = ("temperature", "dew_point", "wind", "cloud")


class Origin(IntEnum):
    """Who tells the air of an hour; the words are the template's."""

    FORETOLD = 0
    READ = 1
    SAID = 2  # somebody said that it stays like this for a while
    KEPT = 3  # not known: as if it stayed as it was last known


# What is known about an hour beside its air, with what an hour has of which nothing is said.
MARKS: dict[str, Any] = {"coarse": False, "lasts": 0.0, "origin": int(Origin.FORETOLD), "breaks": False}
SLACK = 1e-9  # sums of tenths and eighths of an hour's budget must still meet their whole


@dataclass(frozen=True)
class Air:
    """The air at one instant, or at each of many: same names and units as in Hours."""

    temperature: Any
    humidity: Any
    dew_point: Any
    wind: Any
    cloud: Any
    sun: Any
    rain: Any
    rain_chance: Any


@dataclass(frozen=True, eq=False)
class Hours:
    """Hourly air as bare arrays of one length, in the units named here.

    temperature °C · humidity % (0–100) · dew_point °C · wind m/s · cloud 0–1 · sun W/m² (global horizontal)
    rain mm in the hour · rain_chance 0–1 · coarse: True where a six-hourly block was spread over its hours
    lasts: where the next instant is not known, the share of the hour for which this one still stands
    origin: of class Origin · breaks: True where the next hour is another place's, so that nothing runs straight to it
    under_sky: False below a roof, where neither sun nor cold sky reach the metal.
    """

    start: np.datetime64  # UTC, whole hour
    temperature: Floats
    humidity: Floats
    dew_point: Floats
    wind: Floats
    cloud: Floats
    sun: Floats
    rain: Floats
    rain_chance: Floats
    coarse: Flags
    lasts: Floats
    origin: NDArray[np.int_]
    breaks: Flags
    under_sky: bool = True

    def __post_init__(self) -> None:
        if self.start.astype("datetime64[h]") != self.start:
            raise ValueError(f"hours begin on a whole hour, not at {self.start}")
        lengths = {np.shape(getattr(self, name)) for name in (*COLUMNS, *MARKS)}
        if len(lengths) != 1 or len(shape := lengths.pop()) != 1 or shape[0] == 0:
            raise ValueError("hours need columns of one length, at least one hour long")
        for name, (low, high, unit) in PLAUSIBLE.items():
            within(name.replace("_", " "), getattr(self, name), low, high, unit, OUR_JUDGEMENT)

    @classmethod
    def from_arrays(cls, start: Any, *, temperature: ArrayLike, **columns: ArrayLike) -> "Hours":
        """Hours from whatever columns there are; the others are not known.

        Humidity and dew point follow from each other where one is missing. Where the formula does not reach
        (air outside −40 to 50 °C) both stay not known. Raises OutsideValidity for what cannot be air.

        >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21], humidity=[60, 55])
        >>> hours.dew_point.round(1).tolist(), hours.rain.tolist()
        ([12.0, 11.6], [nan, nan])
        """
        begin = utc(start)
        count = np.shape(temperature)
        marks: dict[str, Any] = {
            name: np.broadcast_to(np.asarray(columns.pop(name, usual), type(usual)), count).copy()
            for name, usual in MARKS.items()
        }
        known: dict[str, Any] = {name: np.full(count, np.nan) for name in COLUMNS}
        for name, values in {"temperature": temperature, **columns}.items():
            if name not in known:
                raise TypeError(f"hours have no column {name!r}")
            known[name] = np.array(np.broadcast_to(np.asarray(values, float), count))
        _complete(known)
        hour = begin.astype("datetime64[h]") if begin.astype("datetime64[h]") == begin else begin
        return cls(start=hour, **marks, **known)

    def __len__(self) -> int:
        return len(self.temperature)

    @property
    def times(self) -> NDArray[np.datetime64]:
        """The instant of each value, datetime64[h], UTC."""
        return self.start + np.arange(len(self)) * HOUR

    @property
    def end(self) -> np.datetime64:
        """The instant at which the last hour is over."""
        return np.datetime64(self.start + len(self) * HOUR)

    @property
    def known(self) -> Flags:
        """True where both temperature and dew point are known."""
        return ~np.isnan(self.temperature + self.dew_point)

    def position(self, when: Any) -> Any:
        """Hours from the start of the run to an instant or to each of an array of instants.

        >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21])
        >>> float(hours.position(np.datetime64("2025-05-01T06:45")))
        0.75
        """
        return (utc(when) - self.start) / HOUR

    def at(self, when: Any) -> Air:
        """The air at an instant (or an array of instants); not known outside the run and beside a gap.

        >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21], humidity=[60, 60])
        >>> float(hours.at(np.datetime64("2025-05-01T06:30")).temperature)
        20.5
        """
        position = np.asarray(self.position(when), float)
        values = {name: self._read(name, position) for name in COLUMNS}
        damp = 100 * air.humidity_at_surface.__wrapped__(values["temperature"], values["dew_point"])
        return Air(**{**values, "humidity": np.where(position % 1 == 0, values["humidity"], damp)[()]})

    def between(self, start: Any, stop: Any) -> "Hours":
        """The hours that touch start … stop; those outside the run are not known.

        >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21])
        >>> hours.between(np.datetime64("2025-05-01T05:20"), np.datetime64("2025-05-01T07")).temperature.tolist()
        [nan, 20.0]
        """
        first = int(np.floor(self.position(start)))
        last = int(np.ceil(self.position(stop)))
        wanted = np.arange(first, last)
        inside = (wanted >= 0) & (wanted < len(self))
        source = np.clip(wanted, 0, len(self) - 1)
        missing = dict.fromkeys(COLUMNS, np.nan) | MARKS
        columns: Any = {name: np.where(inside, getattr(self, name)[source], none) for name, none in missing.items()}
        return replace(self, start=self.start + first * HOUR, **columns)

    def then(self, forecast: "Hours") -> "Hours":
        """Readings joined to a forecast: what was read stands, the forecast fills the rest.

        Humidity is worked out again from the joined temperature and dew point, so that the three agree.

        >>> read = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20], humidity=[60])
        >>> told = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[18, 19], humidity=[70, 70])
        >>> read.then(told).temperature.tolist()
        [20.0, 19.0]
        """
        if self.under_sky != forecast.under_sky:
            raise ValueError("hours under the sky and under a roof do not join")
        start, stop = min(self.start, forecast.start), max(self.end, forecast.end)
        ours, theirs = self.between(start, stop), forecast.between(start, stop)
        columns = {n: _first_known(getattr(ours, n), getattr(theirs, n)) for n in COLUMNS if n != "humidity"}
        filled = np.any([np.isnan(getattr(ours, name)) for name in columns], axis=0)
        marks = {
            "coarse": ours.coarse | (theirs.coarse & filled),
            "lasts": np.maximum(ours.lasts, theirs.lasts),
            "origin": np.where(ours.known, ours.origin, theirs.origin),
            "breaks": ours.breaks | (theirs.breaks & ~ours.known),
        }
        joined = Hours.from_arrays(start, **columns, **marks)
        return replace(joined, under_sky=self.under_sky)

    def at_the_end(self, values: Floats) -> Floats:
        """A value by instant, (n) or (p, n), at the end of each hour: that of the next instant.

        As it began, where the next one is not known, another place's, or behind the run.

        >>> hours = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21, np.nan])
        >>> hours.at_the_end(hours.temperature).tolist()
        [21.0, 21.0, nan]
        """
        following = np.concatenate([values[..., 1:], values[..., -1:]], axis=-1)
        return np.where(np.isnan(following) | self.breaks, values, following)

    def kept_on(self) -> "Hours":
        """As if the air stayed as it was last known, and dry wherever it is not known to rain: no promise.

        >>> kept = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, np.nan], humidity=60).kept_on()
        >>> kept.temperature.tolist(), kept.rain.tolist()
        ([20.0, 20.0], [0.0, 0.0])
        """
        last = np.maximum.accumulate(np.where(self.known, np.arange(len(self)), -1))
        filled = ~self.known & (last >= 0)
        columns = {
            name: np.where(filled, getattr(self, name)[last], getattr(self, name))
            for name in ("temperature", "humidity", "dew_point", "wind")
        }
        origin = np.where(filled, int(Origin.KEPT), self.origin)
        return replace(self, rain=np.nan_to_num(self.rain), rain_chance=np.zeros(len(self)), origin=origin, **columns)

    def in_yard(self) -> "Hours":
        """The air as it is outside; what went below a roof does not come back."""
        if not self.under_sky:
            raise ValueError("these hours are already under a roof")
        return self

    def under_roof(self) -> "Hours":
        """The same air below a roof with open sides: wind and damp come in, rain, sun and cold sky do not."""
        none, unknown = np.zeros(len(self)), np.full(len(self), np.nan)
        return replace(self, sun=none, rain=none, rain_chance=none, cloud=unknown, under_sky=False)

    def in_shop(self, temperature: float | None, humidity_ceiling: float = 100.0) -> "Hours":
        """The air of a closed shop: outdoor moisture carried in, held at a temperature (°C) by heating.

        A heater only heats: on a warmer day the shop is as warm as outside (walls that keep it cooler are not
        counted, and would make it damper). None is an unheated shop. The dew point is the outdoor one; a
        dehumidifier's ceiling (% relative humidity) lowers it. Water given off inside (breath, wet floors,
        unflued heaters) is not counted: a hygrometer in the shop knows better.  Basis: [our judgement].

        >>> hours = Hours.from_arrays(np.datetime64("2025-01-10T08"), temperature=[8], humidity=[85])
        >>> f"{hours.in_shop(18).humidity[0]:.1f} %"
        '44.2 %'
        """
        held = self.temperature if temperature is None else np.maximum(temperature, self.temperature)
        if temperature is not None:
            within("temperature of the shop", temperature, air.LOWEST, air.HIGHEST, "°C", "AE1996")
        within("humidity ceiling", humidity_ceiling, 100 * air.DRIEST, 100.0, "%", OUR_JUDGEMENT)
        dew = np.minimum(
            self.dew_point, air.dew_point.__wrapped__(np.clip(held, air.LOWEST, air.HIGHEST), humidity_ceiling / 100)
        )
        damp = 100 * air.humidity_at_surface.__wrapped__(held, dew)
        still = np.zeros(len(self))
        return replace(self.under_roof(), temperature=held, humidity=damp, dew_point=dew, wind=still)

    def _read(self, name: str, position: Floats) -> Any:
        column = np.append(getattr(self, name), np.nan)
        within_run = np.where((position >= 0) & (position < len(self)), position, len(self))
        hour = np.floor(within_run).astype(int)
        if name not in RUNS_STRAIGHT:
            return column[hour]
        part = within_run - hour
        following = column[np.minimum(hour + 1, len(self))]
        return np.where(part == 0, column[hour], column[hour] * (1 - part) + following * part)[()]


def utc(when: Any) -> Any:
    """An instant or an array of instants as datetime64 in UTC; a datetime must carry its zone.

    >>> utc(datetime(2025, 5, 1, 8, 30, tzinfo=UTC))
    np.datetime64('2025-05-01T08:30:00.000000')
    """
    if isinstance(when, datetime):
        if when.tzinfo is None:
            raise ValueError(f"{when} does not say its time zone")
        return np.datetime64(when.astimezone(UTC).replace(tzinfo=None))
    return np.asarray(when, "datetime64")[()]


def reaches(rate: ArrayLike, target: ArrayLike, begin: ArrayLike = 0.0) -> Any:
    """When a sum that grows at these rates has grown by the target: hours after the start of the run.

    ∫ rate dt, from begin to the answer, = target

    rate is (…, n), not negative, constant in each hour. With a single begin the answer is (…), one for each
    row. An array of begins asks for many starts at once: its last axis is the starts, its other axes meet the
    rows, and the answer is (…, m); one own begin for each row is therefore (…, 1). The target meets the shape of
    the answer. inf where the run ends first; NaN where begin is not known. Raises ValueError for a rate that is not
    known: what that means, only the caller can say.

    >>> float(reaches([0.5, 0.25, 0.25], 0.75)), float(reaches([0.5, 0.25], 1.0))
    (2.0, inf)
    >>> reaches([0.5, 0.25, 0.25], 0.5, begin=[0, 0.5, 1, 2]).tolist()
    [1.0, 2.0, 3.0, inf]
    """
    rates, begins, wanted = np.asarray(rate, float), np.asarray(begin, float), np.asarray(target, float)
    if not np.all(np.isfinite(rates)) or np.any(rates < 0):
        raise ValueError("a rate must be known, finite and not negative in every hour")
    if np.any(begins < 0):
        raise ValueError("a sum cannot begin before the first hour of the run")
    if begins.ndim == 0:
        return reaches(rates, wanted[..., None], begins[None])[..., 0]
    rows = np.broadcast_shapes(rates.shape[:-1], begins.shape[:-1], wanted.shape[:-1])
    shape = np.broadcast_shapes((*rows, begins.shape[-1]), wanted.shape)
    flat = np.broadcast_to(rates, (*rows, rates.shape[-1])).reshape(-1, rates.shape[-1])
    starts = np.broadcast_to(begins, shape).reshape(len(flat), -1)
    targets = np.broadcast_to(wanted, shape).reshape(len(flat), -1)
    answers = [_row_reaches(*row) for row in zip(flat, targets, starts, strict=True)]
    return np.array(answers).reshape(shape)


def total_between(rate: Floats, begin: Floats, until: Floats) -> Floats:
    """What a rate (n), constant in each hour, adds up to between two positions (hours after the start of the run).

    ∫ rate dt from begin to until; before and after the run nothing is added.

    >>> total_between(np.array([0.5, 0.25, 0.25]), np.array([0.0, 0.5]), np.array([2.0, 9.0])).tolist()
    [0.75, 0.75]
    """
    sums, edges = np.append(0.0, np.cumsum(rate)), np.arange(len(rate) + 1)
    return np.asarray(np.interp(until, edges, sums) - np.interp(begin, edges, sums))


def _row_reaches(rate: Floats, target: Floats, begin: Floats) -> Floats:
    ends = np.cumsum(rate)
    sums = np.append(0.0, ends)
    asked = np.isfinite(begin) & (begin <= len(rate))
    first = np.where(asked, begin, 0.0)
    goal = np.interp(first, np.arange(len(sums)), sums) + target
    hour = np.searchsorted(ends, goal - SLACK * np.maximum(1.0, target))
    inside = np.minimum(hour, len(rate) - 1)
    speed = rate[inside]
    part = np.divide(goal - sums[inside], speed, out=np.zeros_like(goal), where=speed > 0)
    reached = np.maximum(first, inside + np.minimum(part, 1.0))
    answer = np.where(target <= 0, first, np.where(hour < len(rate), reached, np.inf))
    return np.where(asked, answer, np.where(np.isnan(begin), np.nan, np.inf))


def _complete(known: dict[str, Floats]) -> None:
    t, damp, dew = known["temperature"], known["humidity"], known["dew_point"]
    reach = (t >= air.LOWEST) & (t <= air.HIGHEST)
    usable = reach & (damp >= 100 * air.DRIEST) & (damp <= 100)
    derived = air.dew_point.__wrapped__(np.where(usable, t, np.nan), np.where(usable, damp / 100, np.nan))
    known["dew_point"] = _first_known(dew, derived)
    usable = reach & (dew <= air.HIGHEST)
    # A file's rounded dew point may stand a little above its own air: that air is saturated.
    derived = air.humidity_at_surface.__wrapped__(np.where(usable, t, np.nan), np.where(usable, dew, np.nan))
    known["humidity"] = _first_known(damp, 100 * derived)


def _first_known(first: Floats, second: Floats) -> Floats:
    return np.where(np.isnan(first), second, first)
