"""Coat-before of a thousand pieces for every hour at which they might be blasted, against a plain loop."""

from math import ceil, exp, isnan

import numpy as np

from finishing.science import rust

from .sixteen_days import COUNT, PIECES, metal, report, timed, weather

BANDS = ((40, 0), (50, 1 / 24), (60, 1 / 8), (70, 1 / 4), (80, 1 / 2), (85, 1), (1e9, 2))
SHIFT = 10.0


def pressure(t):
    return 6.1094 * exp(17.625 * t / (243.04 + t))


def spend(surface, dew_point):
    """Share an hour; None where the metal is wet."""
    if isnan(surface) or isnan(dew_point):
        return 2
    if surface <= dew_point:
        return None
    damp = round(min(100.0, 100 * pressure(dew_point) / pressure(surface)), 1) + SHIFT
    return next(share for below, share in BANDS if damp < below)


def until(shares, rain, start):
    """Hour after hour until the budget is gone, the iron wet or three days over."""
    budget, at, cap = 1.0, float(start), start + 72.0
    for hour in range(start, ceil(cap)):
        share = shares[hour] if hour < COUNT else 2
        if share is None or (hour < COUNT and rain[hour] > 0):
            return at
        if share and budget - share <= 1e-9:
            return min(at + budget / share, cap)
        budget, at = budget - share, hour + 1.0
    return cap


def plain(hours, surfaces):
    dew, rain = hours.dew_point.tolist(), hours.rain.tolist()
    answers = []
    for surface in surfaces.tolist():
        shares = [spend(t, td) for t, td in zip(surface, dew, strict=True)]
        answers.append([until(shares, rain, start) for start in range(COUNT)])
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
