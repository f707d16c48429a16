"""Sixteen days for a thousand pieces: arrays against a plain loop over pieces and hours, both in this run."""

import math
import time

import numpy as np
import pytest

from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.sky import lost_to_sky

PIECES, COUNT = 1000, 384
SIGMA, KELVIN = 5.670374e-8, 273.15
STORE_BY_METRE = 7200 * 460


def sixteen_days():
    rng = np.random.default_rng(16)
    turn = np.sin(np.arange(COUNT) * 2 * np.pi / 24)
    return Hours.from_arrays(
        np.datetime64("2025-05-01T00"),
        temperature=12 + 7 * turn + rng.normal(0, 1, COUNT),
        dew_point=4 + rng.normal(0, 0.5, COUNT),
        wind=rng.uniform(0, 6, COUNT),
        cloud=rng.uniform(0, 1, COUNT),
        sun=np.maximum(0, 700 * turn),
    )


def one_hour(metal, air, air_after, wind, gain, gain_after, store):
    """The same exact hour, a piece at a time."""
    middle, after = (air + air_after) / 2, metal
    for at in (1, 2):
        own = (metal if at == 1 else (metal + after) / 2) + KELVIN
        around = middle + KELVIN
        h = 4 + 4 * wind + 0.9 * SIGMA * (own + around) * (own * own + around * around)
        x = h * 3600 / store
        left = math.exp(-x)
        lag = (1 - left) / x
        after = metal * left + (air_after + gain_after / h) * (1 - lag) + (air + gain / h) * (lag - left)
    return after


def hour_by_hour(hours, lengths, start):
    losses = (0.9 * 0.5 * lost_to_sky(hours.temperature, hours.dew_point, hours.cloud)).tolist()
    air, wind, sun = hours.temperature.tolist(), hours.wind.tolist(), (0.6 * 0.25 * hours.sun).tolist()
    table = []
    for length in lengths.tolist():
        row = [start]
        for i in range(len(air) - 1):
            gain, gain_after = sun[i] - losses[i], sun[i] - losses[i + 1]
            blown = (wind[i] + wind[i + 1]) / 2
            row.append(one_hour(row[-1], air[i], air[i + 1], blown, gain, gain_after, STORE_BY_METRE * length))
        table.append(row)
    return np.array(table)


def seconds(ask, runs):
    """The quickest of some runs: what else this machine does is not counted."""
    spent = []
    for _ in range(runs):
        began = time.perf_counter()
        answer = ask()
        spent.append(time.perf_counter() - began)
    return min(spent), answer


def test_a_thousand_pieces_through_sixteen_days():
    hours, lengths = sixteen_days(), np.linspace(0.003, 0.05, PIECES)
    ours, table = seconds(lambda: metal_temperature(hours, lengths, 5.0, sky=True), runs=10)
    loop, plain = seconds(lambda: hour_by_hour(hours, lengths, 5.0), runs=3)
    assert table.shape == (PIECES, COUNT)
    assert table == pytest.approx(plain, abs=1e-8)
    print(f"\nfigure science.metal.speedup {loop / ours:.1f} x")
    print(f"figure science.metal.seconds {ours:.3f} s")
    assert loop > ours
