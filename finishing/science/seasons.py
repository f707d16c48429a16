"""Which weeks of the year are workable: a coat judged in every hour of past years, counted by week, with its spread.

An hour counts where the coat may be begun in it: people are at work until the last stroke, and air and iron stay
right until it may be left. Each coat is judged by itself; what the coat below still needs is the planner's matter.
It looks back and foretells nothing: so many hours there were, year by year, in that week.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from .drying import DryingTable, dried, words
from .heat import follow
from .hours import Flags, Floats, Hours
from .metal import GREY_IRON, SHELTERS, Material
from .sky import lost_to_sky
from .sources import OUR_JUDGEMENT
from .validity import within
from .windows import Gates, refusals
from .working import Working

WEEKS = 52
DAY, WEEK = 24, 168  # hours
LEAD = 72  # hours before each week of iron, in which what it was before is forgotten: six time constants at 0.1 m
THICKEST = 0.1  # m of volume by area
DOUBT_ALLOWED = 0.05  # share of a temperature that may come from air nobody knows, as in metal
KNOWN_WEEK = 0.9  # share of a week's working hours that must be known for the year to speak of it
RAIN_TOLD = 0.5  # share of a year's hours: below it a file's rain is taken for not told at all
SPREAD = (0.1, 0.5, 0.9)
GOOD = 0.8  # of what the best weeks have: what is called a good week
SOME = 0.5  # hours: less is no week to work in
NEIGHBOURS = 2  # weeks on either side, so that one lucky week makes no season

# A piece in the open, of iron bare or primed, as metal.metal_temperature has it by default.
EMISSIVITY, SKY_VIEW, ABSORPTIVITY, SUNLIT = 0.9, 0.5, 0.6, 0.25


@dataclass(frozen=True)
class SeasonStep:
    """What a coat (or blasting) asks: its gates, its hours of application, and how it dries until it may be left."""

    gates: Gates
    application_h: float
    table: DryingTable | None = None
    slower: float = 1.0


@dataclass(frozen=True, eq=False)
class Year:
    """A year at the place of work. working: (n) people are there · week: (n) 0 to 51, by the clock people live by."""

    hours: Hours
    working: Flags
    week: NDArray[np.int_]


@dataclass(frozen=True, eq=False)
class Season:
    """Workable hours in seven days, week by week (52); NaN where no year knows the week. years: how many know it."""

    low: Floats
    median: Floats
    high: Floats
    years: NDArray[np.int_]

    @property
    def best(self) -> list[tuple[int, int]]:
        """Runs of good weeks, from … to, both counted: weeks that with their four neighbours have at least 80 % of what
        the best such weeks have, and those beside them that have it by themselves.  [our judgement]"""
        known = np.nan_to_num(self.median)
        beside = np.mean(sliding_window_view(np.pad(known, NEIGHBOURS, mode="edge"), 2 * NEIGHBOURS + 1), axis=-1)
        enough = max(GOOD * float(beside.max()), SOME)
        good = np.pad((beside >= enough) & ~np.isnan(self.median), 1)
        for _ in range(NEIGHBOURS):
            good[1:-1] |= (known >= enough) & (good[:-2] | good[2:])
        edges = np.flatnonzero(good[1:] != good[:-1])
        return [(int(first), int(behind) - 1) for first, behind in edges.reshape(-1, 2)]


def iron_through(
    years: Sequence[Hours], length_m: float, shelter: str = "outdoor", material: Material = GREY_IRON
) -> list[Floats]:
    """metal.metal_temperature through whole years, °C (n) for each: the same exchange, reckoned in weeks side by side.

    Each week begins three days early, so that nothing of its beginning is left; length_m up to 0.1.
    Sky and sun take part outdoors, in hours that are under the sky.  Source: [INCROPERA] ch. 5; [our judgement].

    >>> steady = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=[12.0] * 400, humidity=60)
    >>> iron_through([steady], 0.01, "still indoor")[0].round(6).tolist() == [12.0] * 400
    True
    """
    within("volume by area", 1000 * length_m, 0.1, 1000 * THICKEST, "mm", OUR_JUDGEMENT)
    if not years:
        return []
    met = [_met(hours, shelter) for hours in years]
    cuts = [_cuts(len(hours)) for hours in years]
    air, loss, sun, wind, unknown = (
        np.concatenate([row[cut] for row, cut in zip(rows, cuts, strict=True)]) for rows in zip(*met, strict=True)
    )
    place, store = SHELTERS[shelter], material.density * material.heat_capacity * length_m
    iron = _march(air, loss, sun, place.exchange(wind), unknown > 0, store, EMISSIVITY if place.emits else 0.0)
    weeks = np.split(iron, np.cumsum([len(cut) for cut in cuts])[:-1])
    return [_known(of_year.reshape(-1)[: len(hours)], hours) for of_year, hours in zip(weeks, years, strict=True)]


def season(years: Sequence[Year], irons: Sequence[Floats], step: SeasonStep) -> Season:
    """Workable hours of a step by week, from past years. irons: the metal's temperature in each, from iron_through.

    Quantiles 10, 50 and 90 % over the years that know the week; one year alone has no spread.

    >>> fine = Hours.from_arrays(np.datetime64("2025-01-01T00"), temperature=[20.0] * 8760, humidity=50, rain=0)
    >>> year = Year(fine, np.arange(8760) % 24 < 10, np.minimum(np.arange(8760) // 168, 51))
    >>> answer = season([year], [fine.temperature], SeasonStep(Gates(), application_h=1.0))
    >>> answer.median[:2].tolist(), answer.best
    ([70.0, 70.0], [(0, 51)])
    """
    table = np.array([by_week(year, iron, step) for year, iron in zip(years, irons, strict=True)]).reshape(-1, WEEKS)
    known = (~np.isnan(table)).sum(axis=0)
    low, median, high = (np.full(WEEKS, np.nan) for _ in SPREAD)
    told = known > 0
    if told.any():
        low[told], median[told], high[told] = np.nanquantile(table[:, told], SPREAD, axis=0)
    return Season(low, median, high, known)


def least(answers: Sequence[Season]) -> Season:
    """Of several steps the one that has fewest hours, week by week: what the whole of them is held to."""
    low, median, high = (np.min([getattr(of, name) for of in answers], axis=0) for name in ("low", "median", "high"))
    return Season(low, median, high, np.min([of.years for of in answers], axis=0))


def by_week(year: Year, iron: Floats, step: SeasonStep) -> Floats:
    """Workable hours in seven days of one year, (52); NaN for a week of which less than 90 % is known.

    The last week has eight days, in leap years nine: its hours are brought to seven days.
    """
    count = np.bincount(year.week[workable(year, iron, step)], minlength=WEEKS)
    hours = year.hours
    known = ~np.isnan(iron + hours.temperature + hours.humidity + hours.dew_point + hours.rain)
    long = np.bincount(year.week, minlength=WEEKS)
    asked, told = (np.bincount(year.week[year.working & which], minlength=WEEKS) for which in (True, known))
    enough = (told >= KNOWN_WEEK * asked) & (long > 0)
    return np.where(enough, count * WEEK / np.maximum(long, 1), np.nan)


def workable(year: Year, iron: Floats, step: SeasonStep) -> Flags:
    """Whether the step may be begun in each hour (n)."""
    hours, options = year.hours, {}
    if step.table is not None:
        done = np.arange(len(hours)) + step.application_h
        stages = {"set_at": step.table.set_stage, "left_at": step.table.dew_safe_stage}
        options = {
            name: dried(step.table, stage, iron, hours.humidity, done, step.slower) for name, stage in stages.items()
        }
    options |= {"working": year.working, "application_h": step.application_h}
    return np.asarray(refusals(hours, iron, step.gates, **options) == 0)


def tells_rain(hours: Hours) -> bool:
    """Whether a year's rain is known well enough to be reckoned with; many typical years leave it out."""
    return bool(np.mean(~np.isnan(hours.rain)) >= RAIN_TOLD)


def apart_from_rain(hours: Hours) -> Hours:
    """The same air as if it never rained: only for an answer that says so."""
    none = np.zeros(len(hours))
    return replace(hours, rain=none, rain_chance=none)


def weekly_working(step: SeasonStep, answer: Season, years: str) -> Working:
    """What a page opens behind the hours of the best week.

    >>> flat = np.full(52, 40.0)
    >>> weekly_working(SeasonStep(Gates(), 1.0), Season(flat, flat, flat, np.full(52, 10)), "2016 to 2025").result
    '40 h in seven days'
    """
    gates = step.gates
    asked = (
        ("metal above the dew point", f"{gates.margin:g} °C"),
        ("humidity", _between(gates.humidity_min, gates.humidity_max, "%")),
        ("air and metal", _between(gates.temperature_min, gates.temperature_max, "°C")),
        ("from first preparation to last stroke", f"{step.application_h:.2g} h of working time"),
        ("until it may be left", "as soon as it is done" if step.table is None else _left(step.table)),
        ("years", years),
    )
    best = np.max(answer.median, initial=0.0, where=~np.isnan(answer.median))
    return Working(
        name="Workable hours in the best week",
        formula="hours of a week in which the step may be begun; the middle of the years",
        inputs=asked,
        result=f"{best:.0f} h in seven days",
        source=OUR_JUDGEMENT,
        note="The gates are the sheet's own. A look back at past years, no forecast of the next one.",
    )


def _left(table: DryingTable) -> str:
    return f"these until {words(table.set_stage)}, no dew and no rain until {words(table.dew_safe_stage)}"


def _between(low: float | None, high: float | None, unit: str) -> str:
    ends = [f"from {low:g} {unit}"] if low is not None else []
    ends += [f"up to {high:g} {unit}"] if high is not None else []
    return " ".join(ends) or "any"


def _met(hours: Hours, shelter: str) -> tuple[Floats, ...]:
    """What the iron meets by hour: air, heat lost to the sky, heat of the sun, wind, and where all this is a guess."""
    loss, sun = np.zeros(len(hours)), np.zeros(len(hours))
    if SHELTERS[shelter].emits and hours.under_sky:
        loss = EMISSIVITY * SKY_VIEW * lost_to_sky(hours.temperature, hours.dew_point, hours.cloud)
        sun = ABSORPTIVITY * SUNLIT * np.nan_to_num(hours.sun)
    guessed = np.isnan(hours.temperature + loss)
    known = np.flatnonzero(~np.isnan(hours.temperature))
    air = np.interp(np.arange(len(hours)), known, hours.temperature[known]) if len(known) else np.zeros(len(hours))
    return air, np.nan_to_num(loss), sun, np.nan_to_num(hours.wind), guessed.astype(float)


def _cuts(count: int) -> NDArray[np.int_]:
    """Hours of each week with its lead, a row each; before the run its first hour stands still, behind it its last."""
    begins = np.arange(0, count, WEEK)
    return np.asarray(np.clip(begins[:, None] + np.arange(-LEAD, WEEK), 0, count - 1))


def _march(
    air: Floats, loss: Floats, sun: Floats, convection: Floats, unknown: Flags, store: float, emissivity: float
) -> Floats:
    """Iron at each hour of each row's week, NaN where too much of it is a guess."""
    iron, doubt = air[:, 0], unknown[:, 0].astype(float)
    found = np.empty((len(air), WEEK))
    for hour in range(LEAD + WEEK):
        if hour:
            i, j = hour - 1, hour
            through = (convection[:, i] + convection[:, j]) / 2
            gain, after = sun[:, i] - loss[:, i], sun[:, i] - loss[:, j]
            ends: Any = {"store": store, "convection": through, "emissivity": emissivity}
            iron, left = follow(iron, air[:, i], air[:, j], 3600.0, gain=gain, gain_after=after, **ends)
            doubt = left * doubt + (1 - left) * (unknown[:, i] | unknown[:, j])
        if hour >= LEAD:
            found[:, hour - LEAD] = np.where(doubt < DOUBT_ALLOWED, iron, np.nan)
    return found


def _known(iron: Floats, hours: Hours) -> Floats:
    return np.where(np.isnan(hours.temperature), np.nan, iron)
