"""Coat-before of a thousand pieces for every hour at which they might be blasted, against a plain loop.

The loop follows the rule as DEVELOPERS and the docstrings say it: metal and dew point run straight from hour to hour,
each five minutes spend by the humidity in their middle, the iron is wet from the minute it comes to its dew point or
from the hour of rain, and the promise ends where an hour lacks its air at either end, at the latest with the run.
"""

from math import exp, inf, isnan

import numpy as np

from finishing.science import rust

from .sixteen_days import COUNT, PIECES, metal, report, timed, weather

BANDS = ((40, 0), (50, 1 / 24), (60, 1 / 8), (70, 1 / 4), (80, 1 / 2), (85, 1), (1e9, 2))
SHIFT, CHORDS, CAP = 10.0, 12, 72.0
TOUCHING = 1e-6  # °C: what rounding leaves between a dew point and iron that stands on it


def pressure(t):
    return 6.1094 * exp(17.625 * t / (243.04 + t))


def spend(surface, dew_point):
    """Share of the budget that an hour of this takes."""
    damp = round(min(100.0, 100 * pressure(dew_point) / pressure(surface)), 1) + SHIFT
    return next(share for below, share in BANDS if damp < below)


def hour_bare(metal_now, metal_next, dew_now, dew_next):
    """What the chords of an hour spend, and after which part of it the iron is wet (inf: never); None: not known."""
    if any(map(isnan, (metal_now, metal_next, dew_now, dew_next))):
        return None
    first, last = metal_now - dew_now - TOUCHING, metal_next - dew_next - TOUCHING
    wet = 0.0 if first <= 0 else first / (first - last) if last < 0 else inf
    parts = [(chord + 0.5) / CHORDS for chord in range(CHORDS)]
    straight = [(metal_now + part * (metal_next - metal_now), dew_now + part * (dew_next - dew_now)) for part in parts]
    return [spend(*of) for of in straight], wet


def until(by_hour, rain, start):
    """Chord after chord until the budget is gone, the iron wet, the air not known or three days over."""
    budget, cap = 1.0, start + CAP
    for hour in range(start, COUNT - 1):
        if by_hour[hour] is None or rain[hour] > 0 or hour >= cap:
            return min(float(hour), cap)
        shares, wet = by_hour[hour]
        for chord, share in enumerate(shares):
            gone = hour + chord / CHORDS + (budget / share if share else inf)
            budget -= share / CHORDS
            if budget <= 1e-9:
                return min(gone, hour + wet, cap)
        if wet < inf:
            return min(hour + wet, cap)
    return min(float(COUNT - 1), cap)  # the last hour has no air at its end


def plain(hours, surfaces):
    dew, rain = hours.dew_point.tolist(), hours.rain.tolist()
    answers = []
    for surface in surfaces.tolist():
        ends = zip(surface, surface[1:], dew, dew[1:], strict=False)
        by_hour = [hour_bare(*of) for of in ends]
        answers.append([until(by_hour, rain, start) for start in range(COUNT)])
    return np.array(answers)


def test_coat_before_of_a_thousand_pieces():
    hours = weather()
    surfaces = metal(hours)
    starts = np.arange(COUNT, dtype=float)
    window, arrays = timed(lambda: rust.coat_before(hours, surfaces, begin=starts))
    by_hand, loop = timed(lambda: plain(hours, surfaces))
    assert window.coat_before.shape == (PIECES, COUNT)
    np.testing.assert_allclose(window.coat_before, by_hand, atol=1e-6)
    report("rust", arrays, loop)
