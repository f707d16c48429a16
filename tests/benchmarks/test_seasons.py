"""Ten years, each hour judged for blasting and three coats, counted by week; against a plain loop over the hours.

A coat may be begun where the gates of its sheet hold until it is touch-dry, and where from there until it bears dew
and rain, which an enamel does when it may be coated again, neither comes and no air is unknown.

The ten years are an open year (Greensboro) and nine that we made of it, a little warmer or colder, damper or drier.
"""

import math

import numpy as np

from finishing.science import seasons
from finishing.science.drying import DryingTable, SheetRow
from finishing.science.hours import Hours
from finishing.science.seasons import SeasonStep, Year
from finishing.science.windows import Gates
from tests.open_years import open_year

from .sixteen_days import timed

LENGTH = 0.006
STORE, SIGMA, KELVIN = 7200 * 460 * LENGTH, 5.670374e-8, 273.15
TOUCH = {10: 10.0, 23: 5.0, 30: 4.0}
DEW_SAFE = {t: 3 * h for t, h in TOUCH.items()}
FLOOR = 5.0
TOUCHING = 1e-6  # °C: what rounding leaves between a dew point and iron that stands on it
TABLE = DryingTable(tuple(SheetRow(t, touch=h, recoat_from=DEW_SAFE[t]) for t, h in TOUCH.items()), floor=FLOOR)
STEPS = [
    SeasonStep(Gates(), 1.0),
    SeasonStep(Gates(temperature_min=5, temperature_max=40), 1.5, TABLE),
    SeasonStep(Gates(temperature_min=5, temperature_max=35), 2.0, TABLE, 1.5),
    SeasonStep(Gates(humidity_max=65, temperature_min=10, temperature_max=30), 1.0, TABLE),
]


def ten_years():
    real, years = open_year("723170TYA.CSV"), []
    damp = real.temperature - real.dew_point
    working = np.isin((np.arange(len(real)) + 1) % 24, np.arange(8, 18))
    week = np.minimum(np.arange(len(real)) // 168, 51)
    for turn in range(10):
        temperature = real.temperature + (turn - 5) / 2
        dew_point = temperature - damp * (1 + (turn % 3 - 1) / 5)
        air = {"wind": real.wind, "cloud": real.cloud, "sun": real.sun, "rain": np.roll(real.rain, 24 * turn)}
        hours = Hours.from_arrays(real.start, temperature=temperature, dew_point=dew_point, **air)
        years.append(Year(hours, working, week))
    return years


def as_arrays(years):
    irons = seasons.iron_through([year.hours for year in years], LENGTH)
    return [seasons.season(years, irons, step) for step in STEPS]


# The same by hand, an hour at a time


def lost(t, dew, cloud):
    clear = 0.711 + 0.0056 * dew + 0.000073 * dew * dew
    hidden = 0.84 * (0.0 if math.isnan(cloud) else cloud)
    return 0.45 * SIGMA * (t + KELVIN) ** 4 * (1 - min(1.0, (1 - hidden) * clear + hidden))


def one_hour(metal, a, b):
    middle, after = (a["t"] + b["t"]) / 2, metal
    gain, gain_after = a["sun"] - a["loss"], a["sun"] - b["loss"]
    for at in (1, 2):
        own = (metal if at == 1 else (metal + after) / 2) + KELVIN
        around = middle + KELVIN
        h = 4 + 4 * (a["wind"] + b["wind"]) / 2 + 0.9 * SIGMA * (own + around) * (own * own + around * around)
        x = h * 3600 / STORE
        left = math.exp(-x)
        lag = (1 - left) / x
        after = metal * left + (b["t"] + gain_after / h) * (1 - lag) + (a["t"] + gain / h) * (lag - left)
    return after


def iron(rows):
    first, metal = rows[0], rows[0]["t"]
    for _ in range(seasons.LEAD):
        metal = one_hour(metal, first, first)
    found = [metal]
    for a, b in zip(rows, rows[1:], strict=False):
        found.append(one_hour(found[-1], a, b))
    return found


def drying_rate(t, times, slower):
    if math.isnan(t) or t <= FLOOR:
        return 0.0
    sheet = sorted(times.items())
    hours = sheet[0][1] if t < sheet[0][0] else sheet[-1][1]
    for (cold, longer), (warm, shorter) in zip(sheet, sheet[1:], strict=False):
        if cold <= t <= warm:
            share = (1 / (t + KELVIN) - 1 / (cold + KELVIN)) / (1 / (warm + KELVIN) - 1 / (cold + KELVIN))
            hours = math.exp(math.log(longer) + (math.log(shorter) - math.log(longer)) * share)
    return 1 / (hours * 2 ** (max(10 - t, 0) / 10) * slower)


def reached(rates, done):
    left, at = 1.0, done
    for hour in range(int(done), len(rates)):
        share = (hour + 1 - at) * rates[hour]
        if share and left - share <= 1e-9:
            return at + left / rates[hour]
        left, at = left - share, hour + 1.0
    return math.inf


def unknown_or_rain(row):
    return any(math.isnan(row[name]) for name in ("t", "dew", "damp", "rain")) or row["rain"] > 0


def fails(row, metal, gates):
    if unknown_or_rain(row) or metal < 0:
        return True
    low, high = gates.temperature_min, gates.temperature_max
    cold = low is not None and (metal < low or row["t"] < low)
    hot = high is not None and (metal > high or row["t"] > high)
    return cold or hot or metal - row["dew"] < gates.margin or row["damp"] > gates.humidity_max


def judged(rows, metal, working, step):
    wrong = [fails(row, t, step.gates) for row, t in zip(rows, metal, strict=True)]
    spoilt = [unknown_or_rain(row) or t - row["dew"] <= TOUCHING for row, t in zip(rows, metal, strict=True)]
    to_touch, to_dew_safe = ([drying_rate(t, times, step.slower) for t in metal] for times in (TOUCH, DEW_SAFE))
    for start in range(len(rows)):
        done = start + step.application_h
        if not all(working[start : math.ceil(done)]) or wrong[start]:
            yield False
            continue
        touch, left = (done, done) if step.table is None else (reached(to_touch, done), reached(to_dew_safe, done))
        yield (
            left <= len(rows) + 1e-6
            and not any(wrong[start : math.ceil(touch - 1e-6)])
            and not any(spoilt[start : math.ceil(left - 1e-6)])
        )


def plain(years):
    counted = np.zeros((len(STEPS), len(years), 52))
    for y, year in enumerate(years):
        air = year.hours
        named = {"t": air.temperature, "dew": air.dew_point, "damp": air.humidity, "rain": air.rain, "wind": air.wind}
        columns = {name: values.tolist() for name, values in named.items()}
        columns["sun"] = (0.15 * np.nan_to_num(air.sun)).tolist()
        columns["loss"] = [lost(*of) for of in zip(columns["t"], columns["dew"], air.cloud.tolist(), strict=True)]
        rows = [dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)]
        metal, working, week = iron(rows), year.working.tolist(), year.week.tolist()
        for s, step in enumerate(STEPS):
            for at, may in zip(week, judged(rows, metal, working, step), strict=True):
                counted[s, y, at] += may
    long = np.bincount(years[0].week)
    return counted * 168 / long


def test_ten_years_of_a_system_by_week():
    years = ten_years()
    found, arrays = timed(lambda: as_arrays(years))
    by_hand, loop = timed(lambda: plain(years))
    for step, answer in enumerate(found):
        assert answer.years.min() == 10
        np.testing.assert_allclose(answer.median, np.median(by_hand[step], axis=0), atol=1e-9)
        np.testing.assert_allclose(answer.high, np.quantile(by_hand[step], 0.9, axis=0), atol=1e-9)
        print(f"\nstep {step}: best weeks {answer.best}, at most {answer.median.max():.0f} h in seven days")
    print(f"\nseasons: {arrays:.2f} s as arrays, {loop:.2f} s in a plain loop")
    print(f"figure seasons.years10_s {arrays:.2f} s")
    print(f"figure science.seasons.speedup {loop / arrays:.1f} x")
    assert loop > arrays
