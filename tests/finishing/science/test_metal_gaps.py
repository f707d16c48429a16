"""Metal whose air was not known for a while, metal that was measured, and both through whole open years."""

import math

import numpy as np
import pytest

from finishing.science import air, metal
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature

START = np.datetime64("2025-04-01T06")

temperature_after = metal.temperature_after.__wrapped__


def steady(temperature, count=48):
    return Hours.from_arrays(START, temperature=np.full(count, float(temperature)))


def lag(length_m):
    """Hours that grey iron lags in a still shop."""
    return metal.time_constant.__wrapped__(length_m, 8.0, 7200, 460) / 3600


def with_gap(first, last, filling=np.nan, count=96):
    temperature = 12 + 8 * np.sin(np.arange(count) * 2 * np.pi / 24)
    temperature[first:last] = filling
    return Hours.from_arrays(START, temperature=temperature, humidity=60)


def test_a_gap_is_unknown_and_stays_so_until_it_is_forgotten():
    """After a long gap the air of the gap must have faded to 5 %: three time constants."""
    hours = with_gap(10, 60)
    casting = metal_temperature(hours, 0.010, shelter="still indoor")
    again = 60 + math.ceil(-lag(0.010) * math.log(0.05))
    assert np.isnan(casting).nonzero()[0].tolist() == list(range(10, again))


def test_what_comes_back_after_a_gap_hardly_depends_on_it():
    """Had it been 10 °C warmer in the gap, the metal that is called known would be under 0.5 °C warmer."""
    lengths = [0.003, 0.010, 0.030]
    for first, last in ((10, 12), (10, 30), (0, 20)):
        told = metal_temperature(with_gap(first, last), lengths, 12.0, "still indoor")
        cold, warm = (metal_temperature(with_gap(first, last, t), lengths, 12.0, "still indoor") for t in (7.0, 17.0))
        assert (np.abs(warm - cold)[~np.isnan(told)] < 0.55).all()
        assert (np.abs(told - (warm + cold) / 2)[~np.isnan(told)] < 0.5).all()


def test_heavy_metal_remembers_across_one_missing_hour():
    """One hour weighs little in a bed of 120 mm, and the piece need not be unknown for three of its long lags."""
    heavy = metal_temperature(with_gap(10, 11), 0.060, shelter="still indoor")
    assert np.isnan(heavy[10])
    assert np.isnan(heavy).sum() < 3 * lag(0.060)


def test_before_the_first_known_air_nothing_is_known():
    casting = metal_temperature(with_gap(0, 5), 0.02)
    assert np.isnan(casting[:5]).all()
    assert casting[5] == pytest.approx(12 + 8 * math.sin(5 * 2 * math.pi / 24))


def test_air_nobody_knows_gives_metal_nobody_knows():
    casting = metal_temperature(Hours.from_arrays(START, temperature=np.full(5, np.nan)), [0.02, 0.03])
    assert np.isnan(casting).all()
    assert casting.shape == (2, 5)


def test_under_the_sky_an_unknown_dew_point_is_an_unknown_sky():
    hours = Hours.from_arrays(START, temperature=np.full(40, 10.0), humidity=np.where(np.arange(40) < 20, 60, np.nan))
    casting = metal_temperature(hours, 0.010, sky=True)
    assert not np.isnan(casting[:20]).any()
    assert np.isnan(casting[21:]).all()
    assert not np.isnan(metal_temperature(hours, 0.010)).any()


def test_a_measured_surface_takes_over():
    hours = steady(18)
    casting = metal_temperature(hours, 0.02, 18.0, "still indoor", pinned={10: 5.0})
    assert casting[:10] == pytest.approx(18)
    assert casting[10] == 5
    assert casting[13] == pytest.approx(temperature_after(5, 18, 3, lag(0.02)))


def test_a_surface_measured_between_two_hours_counts_from_that_minute():
    casting = metal_temperature(steady(18), 0.02, 18.0, "still indoor", pinned={10.25: 5.0})
    assert casting[10] == pytest.approx(18)
    assert casting[11] == pytest.approx(temperature_after(5, 18, 0.75, lag(0.02)))


def test_only_the_piece_that_was_measured_is_corrected():
    hours = with_gap(0, 0)
    plain = metal_temperature(hours, [0.02, 0.02])
    read = metal_temperature(hours, [0.02, 0.02], pinned={10: [np.nan, 3.0]})
    assert read[0].tolist() == plain[0].tolist()
    assert read[1, 10] == 3


def test_a_surface_measured_in_a_gap_is_known_there_and_ends_the_doubt_sooner():
    hours = with_gap(10, 20)
    plain = metal_temperature(hours, 0.030, shelter="still indoor")
    read = metal_temperature(hours, 0.030, shelter="still indoor", pinned={19: 14.0})
    assert read[19] == 14
    assert np.isnan(read[10:19]).all()
    assert np.isnan(read).sum() < np.isnan(plain).sum()


def test_a_start_stands_even_where_the_first_air_is_not_known():
    casting = metal_temperature(with_gap(0, 1), 0.060, 9.0, "still indoor")
    assert casting[0] == 9


# --- whole open years -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("year", ["inland", "cold coast"])
@pytest.mark.parametrize("sky_too", [False, True])
def test_no_hour_of_a_real_year_fails(open_years, year, sky_too):
    """Metal stays within the air of the year, but for what sky can take (10 °C) and sun can give (25 °C)."""
    hours = open_years[year]
    pieces = metal_temperature(hours, [0.003, 0.0125, 0.05], sky=sky_too)
    assert not np.isnan(pieces).any()
    below, above = (10, 25) if sky_too else (1e-9, 1e-9)
    assert pieces.min() >= hours.temperature.min() - below
    assert pieces.max() <= hours.temperature.max() + above


@pytest.mark.parametrize("year", ["inland", "cold coast"])
def test_metal_that_began_colder_never_has_the_larger_margin(open_years, year):
    hours = open_years[year]
    cold, warm = metal_temperature(hours, [0.03, 0.03], [hours.temperature[0] - 10, hours.temperature[0]], sky=True)
    assert (cold - hours.dew_point <= warm - hours.dew_point + 1e-9).all()
    at_cold, at_warm = (air.humidity_at_surface.__wrapped__(piece, hours.dew_point) for piece in (cold, warm))
    assert (at_cold >= at_warm - 1e-12).all()


@pytest.mark.parametrize("year", ["inland", "cold coast"])
def test_a_gap_in_a_real_year_stays_unknown(open_years, year):
    hours = open_years[year]
    torn = np.where((np.arange(len(hours)) // 100) % 7 == 3, np.nan, hours.temperature)
    gappy = Hours.from_arrays(hours.start, temperature=torn, humidity=hours.humidity, wind=hours.wind)
    pieces = metal_temperature(gappy, [0.003, 0.0125, 0.05])
    assert np.isnan(pieces[:, np.isnan(torn)]).all()
    whole = metal_temperature(hours, [0.003, 0.0125, 0.05])
    apart = np.abs(pieces - whole)
    assert np.nanmax(apart) < 0.05 * np.ptp(hours.temperature)


def test_castings_sweat_on_real_mornings_that_look_dry(open_years):
    """Inland, a heavy casting below a roof is wetter than the air tells in some hours of every month of the year."""
    hours = open_years["inland"].under_roof()
    bed = metal_temperature(hours, 0.04)
    dewed = (bed <= hours.dew_point) & (hours.temperature > hours.dew_point)
    months = hours.times.astype("datetime64[M]").astype(int) % 12
    assert len(set(months[dewed])) >= 10
