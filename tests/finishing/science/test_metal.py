"""The metal's own temperature against textbook examples, small steps, and what must hold through any year."""

import math

import numpy as np
import pytest

from finishing.science import air, metal, sky
from finishing.science.heat import follow
from finishing.science.hours import Hours
from finishing.science.metal import metal_temperature
from finishing.science.sources import SOURCES
from finishing.science.units import Quantity

from .published import rows

START = np.datetime64("2025-04-01T06")
SIGMA = 5.670374e-8
KELVIN = 273.15

time_constant = metal.time_constant.__wrapped__
time_to_reach = metal.time_to_reach.__wrapped__
temperature_after = metal.temperature_after.__wrapped__


def steady(count=240, **columns):
    return Hours.from_arrays(START, **{name: np.full(count, float(value)) for name, value in columns.items()})


def fast_swings(count=96):
    """Four days of ±8 °C under sun and clear nights."""
    turn = np.sin(np.arange(count) * 2 * np.pi / 24)
    return Hours.from_arrays(
        START,
        temperature=12 + 8 * turn,
        dew_point=np.full(count, 4.0),
        wind=1.5,
        cloud=0,
        sun=np.maximum(0, 800 * turn),
    )


def lag(length_m, exchange=8.0):
    """Hours that grey iron lags."""
    return time_constant(length_m, exchange, 7200, 460) / 3600


# --- textbooks --------------------------------------------------------------------------------------------------

JUNCTION = 8500 * 400 * 7.06e-4 / 6  # J/(m²·K): a bead of 0.706 mm


def test_thermocouple_bead_that_answers_in_a_second():
    """Incropera & DeWitt ex. 5.1: h 400, ρ 8500, c 400, τ 1 s → 0.706 mm; 25 → 199 in gas of 200 °C takes 5.2 s."""
    assert time_constant(7.06e-4 / 6, 400, 8500, 400) == pytest.approx(1.0, abs=0.001)
    assert time_to_reach(25, 200, 199, 1.0) == pytest.approx(5.2, abs=0.05)


def test_the_same_bead_between_hot_walls():
    """Ex. 5.2: ε 0.9, walls at 400 °C → settles at 218.7 °C; 217.7 °C after 4.9 s (book), 4.98 s (companion)."""
    from_walls = 0.9 * SIGMA * ((400 + KELVIN) ** 4 - (200 + KELVIN) ** 4)
    bead, seconds, passed = 25.0, 0.0, None
    while seconds < 30:
        bead, _ = follow(bead, 200.0, 200.0, 0.005, store=JUNCTION, convection=400.0, emissivity=0.9, gain=from_walls)
        seconds += 0.005
        passed = passed or (bead >= 217.7 and seconds)
    assert bead == pytest.approx(218.7, abs=0.1)
    assert passed == pytest.approx(4.98, abs=0.05)


def test_aluminium_panel_cured_and_cooled():
    """Ex. 5.3: 3 mm panel, oven 175 °C (h 40, ε 0.8), 25 → 150 in 123 s, on to 300 s of cure, cooled at 25 °C (h 10)
    to 37 °C: 987 s in all (companion; it settles on 174.8 °C before cooling)."""
    store = 2770 * 875 * 0.0015
    panel, seconds, reached = 25.0, 0, None
    while reached is None or seconds < reached + 300:
        panel, _ = follow(panel, 175.0, 175.0, 1.0, store=store, convection=40.0, emissivity=0.8)
        seconds += 1
        reached = reached or (seconds if panel >= 150 else None)
    assert reached == pytest.approx(123, abs=1)
    assert panel == pytest.approx(174.8, abs=0.2)
    while panel > 37:
        panel, _ = follow(panel, 25.0, 25.0, 1.0, store=store, convection=10.0, emissivity=0.8)
        seconds += 1
    assert seconds == pytest.approx(987, abs=2)


def test_thermocouple_of_a_millimetre():
    """Çengel ex. 4-1: 1 mm, ρ 8500, c 320, h 210 → 0.462 1/s, 99 % after 10 s, Biot number 0.001 with k 35."""
    tau = time_constant(0.001 / 6, 210, 8500, 320)
    assert 1 / tau == pytest.approx(0.462, abs=0.002)
    assert time_to_reach(0, 100, 99, tau) == pytest.approx(10, abs=0.1)
    assert metal.biot_number.__wrapped__(210, 0.001 / 6, 35) == pytest.approx(0.001, rel=0.01)


# --- castings, worked by hand from the same laws ----------------------------------------------------------------


@pytest.mark.parametrize(("plate_mm", "hours", "biot"), [(25, 1.44, 0.0022), (50, 2.875, 0.0043), (100, 5.75, 0.0087)])
def test_a_plate_lags_by_its_half_thickness(plate_mm, hours, biot):
    half = plate_mm / 2000
    assert lag(half) == pytest.approx(hours, abs=0.005)
    assert metal.biot_number.__wrapped__(8, half, 46) == pytest.approx(biot, abs=5e-5)


def test_a_sixty_kilogram_part_lags_under_an_hour():
    """60 kg of 1.1 m²: volume by area 7.58 mm."""
    assert lag(60 / 7200 / 1.1) == pytest.approx(0.871, abs=0.001)


def test_a_cold_casting_carried_in_is_wet_and_then_not_yet_paintable():
    """5 °C into 18 °C and 50 % (dew point 7.42 °C), L 20 mm: dry after 0.47 h, 3 °C above after 1.24 h."""
    dew = air.dew_point.__wrapped__(18, 0.5)
    assert dew == pytest.approx(7.42, abs=0.01)
    assert air.humidity_at_surface.__wrapped__(5, dew) == 1.0
    assert time_to_reach(5, 18, dew, lag(0.020)) == pytest.approx(0.47, abs=0.005)
    assert time_to_reach(5, 18, dew + 3, lag(0.020)) == pytest.approx(1.24, abs=0.005)


def test_a_cold_casting_sweats_on_a_warming_morning_although_the_air_looks_fine():
    table = rows("warming_morning")
    morning = {key: np.array([float(row[key]) for row in table]) for key in table[0]}
    hours = Hours.from_arrays(START, temperature=morning["air_C"], humidity=morning["humidity_percent"])
    casting = metal_temperature(hours, 0.025, shelter="still indoor")
    margin = casting - hours.dew_point
    assert casting == pytest.approx(morning["metal_C"], abs=0.006)
    assert margin == pytest.approx(morning["margin_C"], abs=0.006)
    assert (hours.temperature - hours.dew_point > 1).all()
    assert (margin[2:6] < 0).all()


@pytest.mark.parametrize("row", rows("clear_night"), ids=lambda r: f"{r['wind_m_s']}-{r['cloud']}-{r['sky_view']}")
def test_metal_under_the_night_sky_settles_below_the_air(row):
    hours = steady(temperature=10, dew_point=7, wind=row["wind_m_s"], cloud=row["cloud"])
    casting = metal_temperature(hours, 0.005, start_temperature=10, sky=True, sky_view=float(row["sky_view"]))
    assert casting[-1] == pytest.approx(float(row["metal_C"]), abs=0.01)


@pytest.mark.parametrize("row", rows("sunlit_metal"), ids=lambda r: f"{r['absorptivity']}-{r['sun_W_m2']}")
def test_metal_in_the_sun_settles_above_the_air(row):
    sun, exchange = float(row["absorptivity"]) * float(row["sun_W_m2"]) * 0.25, float(row["exchange_W_m2K"])
    settled, _ = follow(20.0, 20.0, 20.0, 1e6, store=1e4, convection=exchange, gain=sun)
    assert settled - 20 == pytest.approx(float(row["warmer_C"]), abs=0.05)


def test_the_whole_model_in_the_sun_is_a_little_cooler_than_the_rule_of_thumb():
    """The rule holds the coupling at 13 W/(m²·K); the warmer metal also radiates more."""
    hours = steady(temperature=15, dew_point=7, wind=1, sun=700)
    casting = metal_temperature(hours, 0.005, sky=True, sky_view=0, absorptivity=0.9)
    assert 11.5 < casting[-1] - 15 < 12.1


# --- the exact hour against small steps -------------------------------------------------------------------------


def small_steps(hours, lengths, start, seconds=30):
    """The full law with fourth powers, by midpoint steps: no linearising, sun and sky included."""
    at = np.arange(0, len(hours) - 1, seconds / 7200)  # every half step
    whole = np.arange(len(hours))
    warm, dew, cloud = (np.interp(at, whole, column) for column in (hours.temperature, hours.dew_point, hours.cloud))
    overhead = (sky.sky_temperature.__wrapped__(warm, dew, cloud) + KELVIN) ** 4
    around = (warm + KELVIN) ** 4
    wind = ((hours.wind[:-1] + hours.wind[1:]) / 2)[at.astype(int)]
    sun = 0.6 * 0.25 * hours.sun[at.astype(int)]

    def speed(now, i):
        own = (now + KELVIN) ** 4
        radiation = 0.9 * SIGMA * (0.5 * (overhead[i] - own) + 0.5 * (around[i] - own))
        return ((4 + 4 * wind[i]) * (warm[i] - now) + radiation + sun[i]) / (7200 * 460 * lengths)

    now, pieces = np.full(len(lengths), float(start)), []
    for i in range(0, len(at), 2):
        if at[i] % 1 == 0:
            pieces.append(now)
        now = now + seconds * speed(now + seconds / 2 * speed(now, i), i + 1)
    return np.array([*pieces, now]).T


LENGTHS = np.array([0.002, 0.005, 0.0125, 0.025, 0.05])


def apart_from_small_steps(hours, start):
    exact = metal_temperature(hours, LENGTHS, start, sky=True)
    return np.abs(exact - small_steps(hours, LENGTHS, start))


def test_an_exact_hour_differs_little_from_small_steps():
    """Four days of sun and clear nights: 0.013 °C for sheet of 4 mm, less for all that is heavier."""
    assert apart_from_small_steps(fast_swings(), 12.0).max() < 0.02


def test_an_exact_hour_differs_little_from_small_steps_in_real_weather(open_years):
    """Three July days inland, three January days on the coast: 0.016 °C for a plate of 25 mm.

    Sheet of 4 mm is 0.14 °C off in the one hour in which the sky closes at once.
    """
    for name, first in {"inland": 4700, "cold coast": 300}.items():
        year = open_years[name]
        hours = year.between(year.times[first], year.times[first + 72])
        apart = apart_from_small_steps(hours, hours.temperature[0])
        assert apart.max() < 0.2
        assert apart[2:].max() < 0.02


def test_metal_hot_from_the_torch_cools_as_small_steps_say():
    """120 °C, far from where radiation is linear: half a degree in the first hours, nothing after."""
    apart = apart_from_small_steps(fast_swings(24), 120.0)
    assert apart.max() < 0.5
    assert apart[:, 8:].max() < 0.02


def test_indoors_the_hour_is_exact_however_thin_the_piece():
    """A ramp of 2 °C an hour: the metal trails it by b·τ once the start is forgotten."""
    hours = Hours.from_arrays(START, temperature=np.arange(0, 40, 2.0))
    thin, thick = metal_temperature(hours, [0.0005, 0.010], shelter="still indoor")
    assert hours.temperature[-1] - thin[-1] == pytest.approx(2 * lag(0.0005), abs=1e-9)
    assert hours.temperature[-1] - thick[-1] == pytest.approx(2 * lag(0.010), rel=1e-5)


# --- what must hold anyway --------------------------------------------------------------------------------------


@pytest.mark.parametrize("shelter", metal.SHELTERS)
def test_metal_in_steady_air_stays_at_its_temperature(shelter):
    assert metal_temperature(steady(temperature=12), 0.02, shelter=shelter) == pytest.approx(12)


def test_metal_comes_to_the_air_in_the_end_and_never_past_it():
    casting = metal_temperature(steady(temperature=12), 0.02, -5.0)
    assert (np.diff(casting) >= 0).all()
    assert casting.max() <= 12
    assert casting[-1] == pytest.approx(12, abs=1e-6)


def test_many_pieces_at_once_are_one_by_one():
    hours, starts = fast_swings(), [3.0, np.nan, 9.0]
    together = metal_temperature(hours, [0.004, 0.02, 0.05], starts, sky=True)
    for row, length, start in zip(together, [0.004, 0.02, 0.05], starts, strict=True):
        alone = metal_temperature(hours, length, None if math.isnan(start) else start, sky=True)
        assert row == pytest.approx(alone, abs=1e-12)
    assert together.shape == (3, 96)
    assert metal_temperature(hours, 0.02).shape == (96,)


def test_heavier_metal_swings_less():
    swing = np.ptp(metal_temperature(fast_swings(), [0.004, 0.01, 0.025, 0.05])[:, 24:], axis=1)
    assert (np.diff(swing) < 0).all()


def test_wind_and_a_fan_couple_the_metal_more():
    def after_an_hour(shelter, **columns):
        return metal_temperature(steady(temperature=20, **columns), 0.02, 5.0, shelter)[1]

    assert after_an_hour("still indoor") < after_an_hour("indoor fan")
    assert after_an_hour("outdoor", wind=0) < after_an_hour("outdoor", wind=3)
    assert after_an_hour("outdoor") == after_an_hour("outdoor", wind=0)  # unknown wind counts as still


def test_light_metals_follow_sooner_than_iron():
    hours = steady(temperature=20)
    iron, light = metal.GREY_IRON, metal.MATERIALS["aluminium"]
    iron, light = (metal_temperature(hours, 0.02, 5.0, material=material)[1] for material in (iron, light))
    assert light > iron


def test_a_roof_and_a_shop_keep_the_cold_sky_away():
    night = steady(temperature=10, dew_point=7, wind=1, cloud=0, sun=0)
    open_yard = metal_temperature(night, 0.02, sky=True)
    assert open_yard[-1] == pytest.approx(6.78, abs=0.01)
    for place in (night.under_roof(), night.in_shop(None)):
        assert metal_temperature(place, 0.02, sky=True) == pytest.approx(10)
    assert metal_temperature(night, 0.02, shelter="still indoor", sky=True) == pytest.approx(10)
    assert metal_temperature(night, 0.02) == pytest.approx(10)  # only who asks for the sky gets it


def test_a_piece_in_the_yard_begins_in_balance_with_the_sky_but_not_with_the_sun():
    """What stood in the sun for long is not known; the colder start errs safely."""
    day = steady(temperature=10, dew_point=7, wind=1, cloud=0, sun=600)
    casting = metal_temperature(day, 0.02, sky=True)
    assert casting[0] == pytest.approx(6.78, abs=0.01)
    assert casting[-1] > 10


# --- bad input --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda h: metal_temperature(h, 0.0), "volume by area 0 mm"),
        (lambda h: metal_temperature(h, [0.02, -0.01]), "volume by area -10 mm"),
        (lambda h: metal_temperature(h, 0.9, shelter="still indoor"), "Biot number"),
        (lambda h: metal_temperature(h, 0.02, shelter="cave"), "no shelter is called 'cave'; there are still indoor"),
        (lambda h: metal_temperature(h, 0.02, sky=True, sky_view=1.5), "sky view 1.5"),
        (lambda h: metal_temperature(h, 0.02, absorptivity=-0.1), "absorptivity -0.1"),
        (lambda h: metal_temperature(h, 0.02, -300.0), "temperature of the metal -300 °C"),
        (lambda h: metal_temperature(h, 0.02, pinned={300: 10.0}), "hour of a measured surface 300 h"),
        (lambda h: time_to_reach(5, 18, 20, 3600), "target temperature 20 °C is outside 5 to 18 °C"),
        (lambda h: time_to_reach(5, 18, 18, 3600), "target temperature 18 °C"),  # never quite
    ],
)
def test_what_cannot_be_is_refused_by_name(ask, said):
    with pytest.raises(ValueError, match=said):
        ask(steady(24, temperature=18))


def test_being_there_already_takes_no_time():
    assert time_to_reach(18, 18, 18, 3600) == 0


def test_the_working_tells_the_lag_and_a_known_source():
    told = metal.time_constant_working(Quantity(25, "mm"), "still indoor")
    assert told.result == "2.9 h"
    assert told.source in SOURCES


def test_a_quantity_in_inches_lags_as_one_in_millimetres():
    coupling = Quantity(8, "W/m^2/K"), Quantity(7200, "kg/m^3"), Quantity(460, "J/kg/K")
    inches, metric = (metal.time_constant(Quantity(*length), *coupling) for length in ((1, "inch"), (25.4, "mm")))
    assert inches.to("hour").magnitude == pytest.approx(metric.to("hour").magnitude)
