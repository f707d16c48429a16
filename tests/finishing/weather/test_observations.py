"""What a run of readings says about whole hours."""

from datetime import UTC, datetime

import numpy as np
import pytest

from finishing.weather.observations import Observation, hours_observed


def reading(clock, temperature=16.0, humidity=60.0):
    hour, minute = clock.split(":")
    return Observation(datetime(2026, 5, 13, int(hour), int(minute), tzinfo=UTC), temperature, humidity)


def known(hours):
    return [str(when)[11:] for when in hours.times[hours.known]]


def test_between_two_readings_air_runs_straight():
    """Worked by hand: 10:30 at 16 °C and 11:30 at 18 °C are 17 °C at 11:00."""
    hours = hours_observed([reading("10:30", 16), reading("11:30", 18)])
    assert hours.at(np.datetime64("2026-05-13T11")).temperature == pytest.approx(17)


def test_a_reading_on_the_hour_is_that_hours_air():
    hours = hours_observed([reading("10:00", 16, 62)])
    assert known(hours) == ["10"]
    assert hours.humidity[hours.known] == pytest.approx([62])


def test_a_reading_alone_reaches_half_an_hour():
    assert known(hours_observed([reading("10:20")])) == ["10"]
    assert known(hours_observed([reading("10:30")])) == ["10", "11"]
    assert known(hours_observed([reading("10:40")])) == ["11"]


def test_a_gap_is_not_bridged():
    assert known(hours_observed([reading("10:00"), reading("15:00")])) == ["10", "15"]
    assert known(hours_observed([reading("10:15"), reading("11:45")])) == ["10", "11", "12"]


def test_readings_in_any_order_and_nothing_else_known():
    hours = hours_observed([reading("11:00"), reading("10:00")])
    assert known(hours) == ["10", "11"]
    assert np.isnan(hours.rain).all()


def test_no_readings_are_no_hours():
    with pytest.raises(ValueError, match="no readings"):
        hours_observed([])
