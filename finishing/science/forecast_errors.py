"""How far forecasts were off at a place, hour ahead by hour ahead, and members drawn from such errors.

An error is what was foretold less what was read. At each hour ahead it has a bias, its mean, and a spread, its standard
deviation; from hour to hour it is remembered as a first-order autoregression keeps its last value, AR(1):

    e(l) = bias(l) + spread(l)·z(l),   z(l) = φ·z(l−1) + √(1 − φ²)·ε,   ε drawn from N(0, 1)

An ensemble can be dressed up from that where no service gives one: each member is the forecast less errors so drawn.
Basis: [WILKS] chapters 8 and 9 for scores and autoregression (chapters from memory); how many errors are enough, and
over how many hours ahead they are taken together, is [our judgement].
"""

from dataclasses import dataclass, replace
from math import erf, sqrt

import numpy as np

from .hours import HOUR, Floats, Hours
from .sources import OUR_JUDGEMENT
from .validity import within
from .working import Working

REACH = 16 * 24  # hours ahead of which errors are kept
ENOUGH = 20  # errors at an hour ahead, below which it tells nothing
ENOUGH_IN_ALL = 200
ENOUGH_FORECASTS = 10  # errors of one forecast are much alike: they must be of several
WIDENS = 1 / 4  # of the hours ahead are taken together to either side: the further ahead the less they differ
MOST_LAG = 12  # hours, over which it is asked how long an error lasts
USUAL_MEMORY = 0.95  # from hour to hour, where readings stand too far apart to tell
LEAST_MEMORY, MOST_MEMORY = 0.0, 0.995
SHOWER = 0.5  # mm in an hour in which a member has rain that was not foretold


@dataclass(frozen=True, eq=False)
class RainScore:
    """By hour ahead (n), how often rain was foretold and fell, foretold and stayed away, fell unforetold, or neither.

    >>> told = RainScore(hits=np.array([3.0]), false=np.array([1.0]), missed=np.array([2.0]), dry=np.array([94.0]))
    >>> told.share_foretold.tolist(), told.false_alarms.tolist()
    ([0.6], [0.25])
    """

    hits: Floats
    false: Floats
    missed: Floats
    dry: Floats

    @property
    def share_foretold(self) -> Floats:
        """Of the hours with rain those for which it was foretold (probability of detection); NaN where none had any."""
        return _share(self.hits, self.hits + self.missed)

    @property
    def false_alarms(self) -> Floats:
        """Of the hours for which rain was foretold those that stayed dry (false alarm ratio)."""
        return _share(self.false, self.hits + self.false)

    @property
    def known(self) -> Floats:
        return np.asarray(self.hits + self.false + self.missed + self.dry)


@dataclass(frozen=True, eq=False)
class LeadErrors:
    """Errors by hour ahead, all (n), NaN beyond the last of which enough are known: °C, of air and dew point.

    Between hours ahead that are known they run straight, and before the first they are as there.

    forecasts: how many of them have errors at all · count: errors of air at that hour ahead itself
    memory: φ from hour to hour · together: the correlation of air and dew point errors
    rain: its score, of the hours in which somebody looked.
    """

    forecasts: int
    count: Floats
    air_bias: Floats
    air_spread: Floats
    dew_bias: Floats
    dew_spread: Floats
    memory: float
    together: float
    rain: RainScore

    @property
    def reach(self) -> int:
        """Hours ahead, from the first, of which enough errors are known."""
        known = ~np.isnan(self.air_spread + self.dew_spread)
        return int(np.argmin(known)) if not known.all() else len(known)

    @property
    def enough(self) -> bool:
        """To draw members from: the errors of a day ahead at least, and not of a few evenings alone."""
        return self.reach >= 24 and float(self.count.sum()) >= ENOUGH_IN_ALL and self.forecasts >= ENOUGH_FORECASTS


def lead_errors(air: Floats, dew_point: Floats, rain_foretold: Floats, rain_seen: Floats) -> LeadErrors:
    """What errors (f, n) of f forecasts at n hours ahead come to; NaN where nothing was read.

    rain_foretold, rain_seen: (f, n) 1 or 0, NaN where not known.

    >>> off = np.array([[1.0, 1.0, 2.0], [0.0, 1.0, 0.0]] * 20)
    >>> learned = lead_errors(off, off, off * np.nan, off * np.nan)
    >>> learned.count.tolist(), learned.air_bias.round(2).tolist(), learned.reach
    ([40.0, 40.0, 40.0], [0.75, 0.83, 1.0], 3)
    """
    air_bias, air_spread = _bias_and_spread(air)
    dew_bias, dew_spread = _bias_and_spread(dew_point)
    with np.errstate(invalid="ignore", divide="ignore"):
        off, damp = (air - air_bias) / air_spread, (dew_point - dew_bias) / dew_spread
    counts = [((rain_foretold == told) & (rain_seen == seen)).sum(axis=0).astype(float)
              for told, seen in ((1, 1), (1, 0), (0, 1), (0, 0))]  # fmt: skip
    known = ~np.isnan(air)
    return LeadErrors(
        int(known.any(axis=1).sum()), known.sum(axis=0).astype(float), air_bias, air_spread, dew_bias, dew_spread,
        _memory(off), _together(off, damp), RainScore(*map(taken_together, counts)),
    )  # fmt: skip


def draw_members(forecast: Hours, errors: LeadErrors, count: int, seed: int) -> list[Hours]:
    """An ensemble round a forecast whose first hour is the one that it is now: the forecast less errors as drawn.

    The spread of the furthest hour ahead that is known holds beyond it too. Where somebody looked for rain, a member's
    comes and stays away as often as it did then, in spells as long as the errors last; else it is the forecast's own.
    Raises ValueError where too little is known. The same seed draws the same members.
    """
    within("members", count, 1, 1000, "", OUR_JUDGEMENT)
    if not errors.enough:
        raise ValueError(f"errors are known {errors.reach} h ahead: too few to draw from")
    random, hours = np.random.default_rng(seed), len(forecast)
    own, other, showers = (_remembered(random.standard_normal((count, hours)), errors.memory) for _ in range(3))
    damp = errors.together * own + np.sqrt(1 - errors.together**2) * other
    reach = errors.reach
    air_off = _held_on(errors.air_bias, reach, hours) + _held_on(errors.air_spread, reach, hours) * own
    dew_off = _held_on(errors.dew_bias, reach, hours) + _held_on(errors.dew_spread, reach, hours) * damp
    rain = _rain(forecast.rain, errors.rain, showers)
    return [_member(forecast, *columns) for columns in zip(air_off, dew_off, rain, strict=True)]


def spread_working(spread: float, count: float, ahead: int, what: str) -> Working:
    """The spread of errors at an hour ahead, as a page opens it."""
    to_either_side = 1 + int(ahead * WIDENS)
    inputs = (
        ("hours ahead", str(ahead)),
        ("taken together with it, to either side", f"{to_either_side} h"),
        ("errors known at that hour itself", f"{count:.0f}"),
    )
    return Working(
        f"Spread of {what} {ahead} h ahead", "√( mean of (foretold − read − bias)² )", inputs, f"{spread:.1f} °C",
        "WILKS", "Of the last forecast of each day against what was read here.",
    )  # fmt: skip


# -- learning


def taken_together(counts: Floats) -> Floats:
    """(n) sums over the hours ahead that are taken together.

    >>> taken_together(np.ones(5)).tolist()
    [2.0, 3.0, 3.0, 3.0, 3.0]
    """
    total = np.concatenate([[0.0], np.cumsum(counts)])
    ahead = np.arange(len(counts))
    half = 1 + (ahead * WIDENS).astype(int)
    return np.asarray(total[np.minimum(ahead + half + 1, len(counts))] - total[np.maximum(ahead - half, 0)])


def _bias_and_spread(errors: Floats) -> tuple[Floats, Floats]:
    known = ~np.isnan(errors)
    count = taken_together(known.sum(axis=0).astype(float))
    first = taken_together(np.nansum(errors, axis=0))
    second = taken_together(np.nansum(errors**2, axis=0))
    with np.errstate(invalid="ignore", divide="ignore"):
        bias = np.where(count >= ENOUGH, first / count, np.nan)
        variance = np.where(count >= ENOUGH, second / count - bias**2, np.nan)
    return _filled(bias), _filled(np.sqrt(np.maximum(variance, 0.0)))


def _filled(by_lead: Floats) -> Floats:
    known = np.flatnonzero(~np.isnan(by_lead))
    ahead = np.arange(len(by_lead))
    return np.interp(ahead, known, by_lead[known], right=np.nan) if known.size else by_lead


def _memory(standard: Floats) -> float:
    """φ: what least squares make of the correlations of errors 1 to 12 hours apart, each weighed by its pairs."""
    pairs, alike = [], []
    for lag in range(1, min(MOST_LAG, standard.shape[1] - 1) + 1):
        product = standard[:, lag:] * standard[:, :-lag]
        known = np.isfinite(product)
        pairs.append(known.sum())
        alike.append(product[known].mean() if known.any() else 0.0)
    if sum(pairs) < ENOUGH_IN_ALL:
        return USUAL_MEMORY
    tried = np.arange(LEAST_MEMORY, MOST_MEMORY + 1e-9, 0.005)
    lags = np.arange(1, len(pairs) + 1)
    misfit = (np.array(pairs) * (np.array(alike) - tried[:, None] ** lags) ** 2).sum(axis=1)
    return float(tried[misfit.argmin()])


def _together(air: Floats, dew_point: Floats) -> float:
    product = air * dew_point
    known = np.isfinite(product)
    return float(np.clip(product[known].mean(), -1, 1)) if known.sum() >= ENOUGH_IN_ALL else 0.0


def _share(part: Floats, whole: Floats) -> Floats:
    return np.asarray(np.divide(part, whole, out=np.full(np.shape(whole), np.nan), where=np.asarray(whole) > 0))


# -- drawing


def _remembered(draws: Floats, memory: float) -> Floats:
    """(m, n) AR(1) of variance 1 along the hours, from independent draws."""
    remembered = draws.copy()
    for hour in range(1, draws.shape[1]):
        remembered[:, hour] = memory * remembered[:, hour - 1] + sqrt(1 - memory**2) * draws[:, hour]
    return remembered


def _held_on(by_lead: Floats, reach: int, hours: int) -> Floats:
    return by_lead[np.minimum(np.arange(hours), reach - 1)]


def _rain(foretold: Floats, score: RainScore, draws: Floats) -> Floats:
    """(m, n) mm: by lot, with the chance that rain had after it was foretold, or was not."""
    hours = np.minimum(np.arange(len(foretold)), len(score.hits) - 1)
    fell = _share(score.hits, score.hits + score.false)[hours]
    unforetold = _share(score.missed, score.missed + score.dry)[hours]
    told = foretold > 0
    chance = np.where(told, np.where(np.isnan(fell), 1.0, fell), np.where(np.isnan(unforetold), 0.0, unforetold))
    lots = (1 + np.vectorize(erf)(draws / sqrt(2))) / 2  # even from 0 to 1, and remembered as the errors are
    wet = lots < chance
    return np.where(np.isnan(foretold), np.nan, np.where(wet, np.where(told, foretold, SHOWER), 0.0))


def _member(forecast: Hours, air_off: Floats, dew_off: Floats, rain: Floats) -> Hours:
    temperature = np.clip(forecast.temperature - air_off, -89.0, 59.0)
    columns = {name: getattr(forecast, name) for name in ("wind", "cloud", "sun")}
    drawn = Hours.from_arrays(
        forecast.start, temperature=temperature, dew_point=np.minimum(forecast.dew_point - dew_off, temperature),
        rain=rain, rain_chance=np.where(np.isnan(rain), np.nan, 0.0), **columns,
    )  # fmt: skip
    return replace(drawn, coarse=forecast.coarse)


def hours_ahead(told: Hours, read: Hours, told_at: np.datetime64) -> tuple[Hours, Hours]:
    """Both from the hour in which the forecast was told, REACH hours on, hour beside hour.

    >>> told = Hours.from_arrays(np.datetime64("2025-05-01T06"), temperature=[20, 21, 22], humidity=60)
    >>> read = Hours.from_arrays(np.datetime64("2025-05-01T07"), temperature=[20], humidity=60)
    >>> ahead, then = hours_ahead(told, read, np.datetime64("2025-05-01T06:40"))
    >>> (ahead.temperature - then.temperature)[:3].tolist()
    [nan, 1.0, nan]
    """
    begin = told_at.astype("datetime64[h]")
    return told.between(begin, begin + REACH * HOUR), read.between(begin, begin + REACH * HOUR)
