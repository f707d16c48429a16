"""Allowed hours of a thousand pieces with all their reasons, against a plain loop."""

from math import ceil, isnan

import numpy as np

from finishing.science import windows
from finishing.science.windows import Gates, Reason

from .sixteen_days import COUNT, PIECES, metal, report, timed, weather

GATES = Gates(humidity_max=85, temperature_min=5, temperature_max=25)
WORKING = np.isin(np.arange(COUNT) % 24, np.arange(8, 17))
APPLICATION = 1.5


def wrong_in(hour, surface, air):
    """The flags of one hour."""
    temperature, humidity, dew_point, rain = (column[hour] for column in air)
    t, flags = surface[hour], 0
    if t - dew_point < 3:
        flags |= Reason.MARGIN
    if humidity > 85:
        flags |= Reason.HUMIDITY
    if t < 5 or temperature < 5:
        flags |= Reason.COLD
    if t > 25 or temperature > 25:
        flags |= Reason.HEAT
    if rain > 0:
        flags |= Reason.RAIN
    if any(isnan(value) for value in (t, temperature, humidity, dew_point, rain)):
        flags |= Reason.NOT_KNOWN
    if t < 0:
        flags |= Reason.FROST
    return int(flags)


def judge(start, by_hour, working, left_at, deadline):
    done = start + APPLICATION
    flags = int(Reason.RUST_BUDGET_SPENT) if done > deadline else 0
    if not all(working[start : ceil(done)]):
        flags |= int(Reason.OUTSIDE_WORKING_HOURS)
    for hour in range(start, min(ceil(left_at), COUNT)):
        flags |= by_hour[hour]
    return flags | (int(Reason.NOT_KNOWN) if left_at > COUNT else 0)


def plain(hours, surfaces, left_at, deadlines):
    air = [column.tolist() for column in (hours.temperature, hours.humidity, hours.dew_point, hours.rain)]
    working, answers = WORKING.tolist(), []
    for surface, left, deadline in zip(surfaces.tolist(), left_at.tolist(), deadlines.tolist(), strict=True):
        by_hour = [wrong_in(hour, surface, air) for hour in range(COUNT)]
        answers.append([judge(start, by_hour, working, left[start], deadline) for start in range(COUNT)])
    return np.array(answers)


def test_allowed_hours_of_a_thousand_pieces():
    hours = weather()
    surfaces = metal(hours)
    draw = np.random.default_rng(4)
    left_at = np.arange(COUNT) + draw.uniform(2, 9, (PIECES, COUNT))
    deadlines = draw.uniform(0, COUNT, PIECES)
    options = {"working": WORKING, "application_h": APPLICATION, "left_at": left_at, "rust_deadline": deadlines}
    refused, arrays = timed(lambda: windows.refusals(hours, surfaces, GATES, **options))
    by_hand, loop = timed(lambda: plain(hours, surfaces, left_at, deadlines))
    assert np.array_equal(refused, by_hand)
    assert 0 < np.mean(refused == 0) < 0.5
    report("windows", arrays, loop)
