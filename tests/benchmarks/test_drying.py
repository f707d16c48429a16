"""Recoat windows of a thousand pieces for every hour at which they might be coated, against a plain loop."""

from math import exp, inf, isnan, log

import numpy as np

from finishing.science import drying
from finishing.science.drying import DryingTable, SheetRow

from .sixteen_days import COUNT, PIECES, metal, report, timed, weather

OPENS, CLOSES = {10: 24.0, 20: 16.0, 30: 10.0}, {20: 168.0, 30: 72.0}
FLOOR = 5.0
TABLE = DryingTable(
    tuple(SheetRow(t, recoat_from=hours, recoat_until=CLOSES.get(t)) for t, hours in OPENS.items()), floor=FLOOR
)


def between(sheet, t):
    rows = sorted(sheet.items())
    for (cold, longer), (warm, shorter) in zip(rows, rows[1:], strict=False):
        if cold <= t <= warm:
            share = (1 / (t + 273.15) - 1 / (cold + 273.15)) / (1 / (warm + 273.15) - 1 / (cold + 273.15))
            return exp(log(longer) + (log(shorter) - log(longer)) * share)
    return rows[0][1] if t < rows[0][0] else rows[-1][1]


def opening(t):
    if isnan(t) or t <= FLOOR:
        return 0.0
    return 1 / (between(OPENS, t) * 2 ** (max(10 - t, 0) / 10))


def closing(t):
    if isnan(t):
        return 1 / 72
    return 1 / (between(CLOSES, t) * 2 ** (min(30 - t, 0) / 10))


def done(rates, start):
    left = 1.0
    for hour in range(start, COUNT):
        if rates[hour] and left - rates[hour] <= 1e-9:
            return hour + left / rates[hour]
        left -= rates[hour]
    return inf


def plain(surfaces):
    answers = []
    for surface in surfaces.tolist():
        for speed in (opening, closing):
            rates = [speed(t) for t in surface]
            answers.append([done(rates, start) for start in range(COUNT)])
    return np.array(answers).reshape(PIECES, 2, COUNT)


def test_recoat_windows_of_a_thousand_pieces():
    hours = weather()
    surfaces = metal(hours)
    starts = np.arange(COUNT, dtype=float)
    window, arrays = timed(lambda: drying.recoat_window(TABLE, surfaces, hours.humidity, starts))
    by_hand, loop = timed(lambda: plain(surfaces))
    np.testing.assert_allclose(window.opens, by_hand[:, 0], atol=1e-6)
    np.testing.assert_allclose(window.closes, by_hand[:, 1], atol=1e-6)
    assert np.isfinite(window.opens).any()
    report("drying", arrays, loop)
