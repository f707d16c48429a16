"""Runs of hours: what is not known stays so through every slice, join and place; and the one integral."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science import air
from finishing.science.hours import COLUMNS, Hours, reaches, utc
from finishing.science.validity import OutsideValidity

START = np.datetime64("2025-05-01T06")
RATES = st.lists(st.floats(0, 3), min_size=1, max_size=12)


def after(hours):
    return START + np.timedelta64(round(hours * 60), "m")


@pytest.fixture
def morning():
    """Four hours; at the third nobody read the instrument."""
    return Hours.from_arrays(
        START, temperature=[10, 12, np.nan, 16], humidity=[80, 75, np.nan, 60], rain=[0, 1.5, np.nan, 0], sun=100
    )


def same(one, other):
    return all(np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True) for name in COLUMNS)


def test_columns_nobody_gave_are_not_known(morning):
    assert np.isnan(morning.wind).all()
    assert np.isnan(morning.cloud).all()
    assert not morning.coarse.any()


def test_humidity_and_dew_point_follow_from_each_other(morning):
    again = Hours.from_arrays(START, temperature=morning.temperature, dew_point=morning.dew_point)
    assert again.humidity == pytest.approx(morning.humidity, rel=1e-9, nan_ok=True)


def test_a_rounded_dew_point_above_its_own_air_is_saturated_air():
    assert Hours.from_arrays(START, temperature=[9.7], dew_point=[10.0]).humidity.tolist() == [100.0]


def test_air_beyond_the_formula_has_no_known_dew_point():
    frost = Hours.from_arrays(START, temperature=[-45, -20], humidity=[70, 70])
    assert np.isnan(frost.dew_point).tolist() == [True, False]
    assert frost.known.tolist() == [False, True]


@pytest.mark.parametrize(
    ("columns", "named"),
    [
        ({"temperature": [20, 200]}, "temperature 200 °C"),
        ({"temperature": [20], "humidity": [140]}, "humidity 140 %"),
        ({"temperature": [20], "humidity": [-3]}, "humidity -3 %"),
        ({"temperature": [20], "cloud": [75]}, "cloud 75 of the sky"),  # percent where a share was meant
        ({"temperature": [20], "wind": [-1]}, "wind -1 m/s"),
        ({"temperature": [20], "rain_chance": [60]}, "rain chance 60"),
        ({"temperature": [20], "rain": [-9900]}, "rain -9900 mm"),  # a file's code for "missing"
    ],
)
def test_what_cannot_be_air_is_refused_by_its_column(columns, named):
    with pytest.raises(OutsideValidity, match=named):
        Hours.from_arrays(START, **columns)


@pytest.mark.parametrize(
    ("build", "said"),
    [
        (lambda: Hours.from_arrays(START, temperature=[]), "at least one hour"),
        (lambda: Hours.from_arrays(np.datetime64("2025-05-01T06:30"), temperature=[1]), "whole hour"),
        (lambda: Hours.from_arrays(datetime(2025, 5, 1, 6), temperature=[1]), "time zone"),
        (lambda: Hours.from_arrays(START, temperature=[1, 2]).between(after(1), after(1)), "at least one hour"),
    ],
)
def test_a_run_that_is_no_run_is_refused(build, said):
    with pytest.raises(ValueError, match=said):
        build()


def test_an_unknown_column_is_a_programmer_s_mistake():
    with pytest.raises(TypeError, match="no column 'damp'"):
        Hours.from_arrays(START, temperature=[1], damp=[2])


def test_times_and_end(morning):
    assert morning.times.tolist() == [datetime(2025, 5, 1, hour) for hour in (6, 7, 8, 9)]
    assert morning.end == after(4)


def test_position_of_one_instant_and_of_many(morning):
    assert morning.position(after(1.5)) == 1.5
    assert morning.position(morning.times).tolist() == [0, 1, 2, 3]
    assert morning.position(after(-2)) == -2


@pytest.mark.parametrize("zone", ["Europe/Berlin", "Asia/Kolkata", "America/St_Johns"])
def test_an_instant_is_the_same_in_every_zone(morning, zone):
    here = datetime(2025, 5, 1, 7, 30, tzinfo=UTC).astimezone(ZoneInfo(zone))
    assert morning.position(here) == 1.5


def test_the_hour_that_a_clock_shows_twice_is_two_hours():
    """Clocks in Berlin go from 03:00 back to 02:00 on 26 October 2025: 02:30 comes twice, an hour apart."""
    berlin = ZoneInfo("Europe/Berlin")
    first = datetime(2025, 10, 26, 2, 30, tzinfo=berlin)
    assert utc(first.replace(fold=1)) - utc(first) == np.timedelta64(1, "h")


def test_between_two_instants_air_runs_straight(morning):
    air_then = morning.at(after(0.5))
    assert air_then.temperature == 11
    assert air_then.dew_point == pytest.approx(morning.dew_point[:2].mean())
    expected = 100 * air.humidity_from_dew_point.__wrapped__(11, air_then.dew_point)
    assert air_then.humidity == pytest.approx(expected)


def test_rain_and_sun_belong_to_their_whole_hour(morning):
    assert [float(morning.at(after(moment)).rain) for moment in (0.9, 1.0, 1.9)] == [0, 1.5, 1.5]


def test_beside_a_gap_and_outside_the_run_nothing_is_known(morning):
    asked = morning.at(np.array([after(moment) for moment in (-0.5, 1, 1.5, 2.5, 3, 3.5, 9)]))
    assert np.isnan(asked.temperature).tolist() == [True, False, True, True, False, True, True]
    assert np.isnan(asked.humidity).tolist() == [True, False, True, True, False, True, True]


def test_at_each_whole_hour_the_run_says_itself(morning):
    there = morning.at(morning.times)
    assert all(np.array_equal(getattr(there, name), getattr(morning, name), equal_nan=True) for name in COLUMNS)


def test_a_slice_is_padded_with_what_is_not_known(morning):
    part = morning.between(after(-1.5), after(1.2))
    assert part.start == after(-2)
    assert part.temperature[2:].tolist() == [10, 12]
    assert np.isnan(part.temperature[:2]).all()
    assert len(part) == 4


def test_a_slice_of_the_whole_is_the_whole(morning):
    assert same(morning.between(morning.start, morning.end), morning)


def test_what_was_read_stands_and_the_forecast_fills_the_rest(morning):
    forecast = Hours.from_arrays(after(1), temperature=[11, 13, 15, 17, 18], humidity=70, rain=0, wind=2, coarse=True)
    joined = morning.then(forecast)
    assert joined.temperature.tolist() == [10, 12, 13, 16, 17, 18]
    assert joined.humidity == pytest.approx([80, 75, 70, 60, 70, 70])
    assert joined.rain.tolist() == [0, 1.5, 0, 0, 0, 0]
    assert joined.wind.tolist()[1:] == [2, 2, 2, 2, 2]
    assert joined.coarse.tolist() == [False, True, True, True, True, True]  # its wind at least is the forecast's


def test_a_thermometer_without_hygrometer_takes_the_forecast_s_dew_point():
    read = Hours.from_arrays(START, temperature=[8])
    forecast = Hours.from_arrays(START, temperature=[12], humidity=[60])
    joined = read.then(forecast)
    assert joined.dew_point == forecast.dew_point
    assert joined.humidity[0] == pytest.approx(100 * air.humidity_at_surface.__wrapped__(8, forecast.dew_point[0]))


def test_between_readings_and_a_later_forecast_there_is_a_gap():
    joined = Hours.from_arrays(START, temperature=[8]).then(Hours.from_arrays(after(3), temperature=[12]))
    assert np.isnan(joined.temperature).tolist() == [False, True, True, False]


def test_a_roof_keeps_out_rain_sun_and_sky_but_not_damp(morning):
    below = morning.under_roof()
    assert not below.under_sky
    assert below.rain.tolist() == below.sun.tolist() == below.rain_chance.tolist() == [0, 0, 0, 0]
    assert np.array_equal(below.humidity, morning.humidity, equal_nan=True)


def test_yard_and_roof_do_not_mix(morning):
    assert morning.in_yard() is morning
    with pytest.raises(ValueError, match="already under a roof"):
        morning.under_roof().in_yard()
    with pytest.raises(ValueError, match="do not join"):
        morning.then(morning.under_roof())


def test_a_heated_shop_carries_the_outdoor_moisture_in():
    """Air of 8 °C and 85 % warmed to 18 °C has 44.2 % (worked by hand from the dew point, 5.63 °C)."""
    outside = Hours.from_arrays(START, temperature=[8], humidity=[85])
    inside = outside.in_shop(18)
    assert inside.temperature.tolist() == [18]
    assert inside.humidity[0] == pytest.approx(44.2, abs=0.05)
    assert inside.dew_point[0] == pytest.approx(5.63, abs=0.01)


def test_a_heater_only_heats():
    outside = Hours.from_arrays(START, temperature=[8, 25], humidity=[85, 50])
    assert outside.in_shop(18).temperature.tolist() == [18, 25]
    assert outside.in_shop(None).temperature.tolist() == [8, 25]


def test_a_dehumidifier_caps_humidity_and_lowers_the_dew_point():
    outside = Hours.from_arrays(START, temperature=[15, 5], humidity=[90, 90])
    dried, open_air = outside.in_shop(20, humidity_ceiling=45), outside.in_shop(20)
    assert dried.humidity == pytest.approx([45, open_air.humidity[1]])  # the second hour was dry enough
    assert dried.dew_point[0] < open_air.dew_point[0]
    assert dried.dew_point[1] == open_air.dew_point[1]


def test_a_gap_outside_is_a_gap_inside(morning):
    inside = morning.in_shop(18, humidity_ceiling=50)
    assert np.isnan(inside.temperature).tolist() == np.isnan(morning.temperature).tolist()
    assert np.isnan(inside.humidity).tolist() == np.isnan(morning.temperature).tolist()


@pytest.mark.parametrize(("held", "ceiling"), [(80, 50), (18, 0), (18, 120)])
def test_a_shop_that_cannot_be_is_refused(morning, held, ceiling):
    with pytest.raises(OutsideValidity):
        morning.in_shop(held, humidity_ceiling=ceiling)


def test_open_years_become_every_place_without_a_failing_hour(open_years):
    for hours in open_years.values():
        assert len(hours) == 8760
        assert hours.known.all()
        for place in (
            hours.in_yard(),
            hours.under_roof(),
            hours.in_shop(16),
            hours.in_shop(16, 50),
            hours.in_shop(None),
        ):
            assert place.known.all()
            assert (place.dew_point <= place.temperature + 1e-9).all()
            assert ((place.humidity > 0) & (place.humidity <= 100)).all()


def test_a_join_of_a_year_s_two_halves_is_the_year(open_years):
    for hours in open_years.values():
        middle = hours.start + np.timedelta64(4000, "h")
        joined = hours.between(hours.start, middle).then(hours.between(middle, hours.end))
        assert np.array_equal(joined.temperature, hours.temperature)
        assert np.array_equal(joined.dew_point, hours.dew_point)


# --- the integral -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate", "target", "begin", "expected"),
    [
        ([1, 1, 1], 2, 0, 2),
        ([1, 1, 1], 2, 0.5, 2.5),
        ([0.5, 0.25, 0.25], 0.75, 0, 2),
        ([0, 0, 2], 1, 0, 2.5),
        ([1, 0, 0, 1], 1, 0.25, 3.25),  # a quarter is missing when the standstill begins
        ([1, 1], 3, 0, np.inf),
        ([1, 1], 1, 2, np.inf),
        ([1, 1], 0, 1.25, 1.25),
        ([0, 0], 0, 0.5, 0.5),
        ([1, 1], 1, np.inf, np.inf),
    ],
)
def test_a_sum_in_the_head(rate, target, begin, expected):
    assert reaches(rate, target, begin) == expected


def test_ten_tenths_are_a_whole():
    assert reaches(np.full(12, 0.1), 1.0) == pytest.approx(10, abs=1e-6)
    assert np.isfinite(reaches(np.full(10, 0.1), 1.0))


def test_a_begin_nobody_knows_gives_no_answer():
    assert np.isnan(reaches([1, 1], 1, [np.nan, 0])).tolist() == [True, False]


@pytest.mark.parametrize("rate", [[1, np.nan], [1, -0.1], [1, np.inf]])
def test_a_rate_that_is_not_known_or_runs_back_is_the_caller_s_to_decide(rate):
    with pytest.raises(ValueError, match="known, finite and not negative"):
        reaches(rate, 1)


def test_a_sum_does_not_begin_before_the_run():
    with pytest.raises(ValueError, match="before the first hour"):
        reaches([1, 1], 1, -1)


def test_pieces_and_starts_at_once_are_one_by_one():
    rng = np.random.default_rng(3)
    rates, begins = rng.uniform(0, 1, (4, 24)), np.arange(0, 24, 0.5)
    together = reaches(rates, 2.5, begins)
    singly = [[reaches(row, 2.5, begin) for begin in begins] for row in rates]
    assert together.shape == (4, 48)
    assert together == pytest.approx(np.array(singly))


def test_each_piece_may_have_its_own_target_and_its_own_begin():
    rates = np.ones((3, 6))
    assert reaches(rates, [1, 2, 9]).tolist() == [1, 2, np.inf]
    assert reaches(rates, 1, [[0], [1], [5]]).tolist() == [[1], [2], [6]]
    assert reaches(np.ones(6), [[1], [2]], [0, 1]).tolist() == [[1, 2], [2, 3]]


@given(rate=RATES, target=st.floats(0.01, 5), begin=st.floats(0, 12))
def test_what_was_summed_up_to_the_answer_is_the_target(rate, target, begin):
    def summed(until):
        spans = [max(0.0, min(until, hour + 1) - max(begin, hour)) for hour in range(len(rate))]
        return sum(r * span for r, span in zip(rate, spans, strict=True))

    answer = reaches(rate, target, begin)
    if np.isfinite(answer):
        assert answer >= begin
        assert summed(answer) == pytest.approx(target, abs=1e-6)
    else:
        assert summed(len(rate)) < target


@given(rate=RATES, target=st.floats(0.01, 5), begin=st.floats(0, 6), later=st.floats(0, 6))
def test_who_begins_later_is_not_done_earlier(rate, target, begin, later):
    assert reaches(rate, target, begin + later) >= reaches(rate, target, begin) - 1e-6


def test_a_datetime_of_an_hour_s_fraction_keeps_its_minutes():
    moment = datetime(2025, 5, 1, 6, tzinfo=UTC) + timedelta(minutes=20)
    assert Hours.from_arrays(START, temperature=[1]).position(moment) == pytest.approx(1 / 3)
