"""Pictures of air as values."""

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from finishing.science.hours import Hours
from finishing.site.pictures.charts import AIR, RAIN, air_at, chart, days
from finishing.site.pictures.scales import LEFT, WIDTH

LONDON = ZoneInfo("Europe/London")
START = np.datetime64("2026-05-12T09", "h")
NAN = float("nan")


def hours(count=48, **columns):
    return Hours.from_arrays(
        START, **{"temperature": np.full(count, 12.0), "humidity": 60, "rain": 0, "rain_chance": 0, **columns}
    )


def xs(points):
    return [float(pair.split(",")[0]) for pair in points.split()]


def test_lines_break_where_the_air_is_not_known():
    temperature = np.full(48, 12.0)
    temperature[10:16] = NAN
    drawn = chart(hours(temperature=temperature), LONDON)
    assert [len(xs(points)) for points in drawn.air] == [10, 32]
    assert [len(xs(points)) for points in drawn.humidity] == [48]  # the hygrometer still tells its part
    (gap,) = [box for box in drawn.unknown if box.y == AIR[0]]
    assert (gap.x, gap.width) == (LEFT + 10 * WIDTH / 48, 6 * WIDTH / 48)


def test_rain_that_is_not_known_is_hatched_and_not_dry():
    rain = np.zeros(48)
    rain[4], rain[20:] = 1.5, NAN
    drawn = chart(hours(rain=rain), LONDON)
    assert len(drawn.rain) == 1
    assert drawn.top_rain == "2"
    (gap,) = [box for box in drawn.unknown if box.y == RAIN[0]]
    assert gap.width == pytest.approx(28 * WIDTH / 48)


def test_the_scale_holds_all_there_is_in_the_workshops_units():
    temperature = np.linspace(-3, 21, 48)
    celsius = chart(hours(temperature=temperature), LONDON)
    assert [line.label for line in celsius.degrees] == ["−10", "−5", "0", "5", "10", "15", "20", "25"]
    fahrenheit = chart(hours(temperature=temperature), LONDON, measures="us")
    assert fahrenheit.unit == "°F"
    assert fahrenheit.degrees[-1].label == "70"  # 21 °C is 69.8 °F
    assert fahrenheit.rain_unit == "in"


def test_nothing_known_is_still_a_picture():
    drawn = chart(hours(temperature=np.full(48, NAN), humidity=NAN, rain=NAN), LONDON)
    assert drawn.air == drawn.dew == drawn.humidity == []
    assert sum(box.width for box in drawn.unknown if box.y == AIR[0]) == WIDTH


def test_coarse_hours_are_marked():
    coarse = np.arange(216) >= 60
    drawn = chart(hours(216, coarse=coarse), LONDON)
    assert [round(box.width / WIDTH * 216) for box in drawn.coarse] == [156]
    assert [tick.hour for tick in drawn.ticks] == [0] * 9


def test_days_are_days_of_the_workshops_calendar():
    air = hours(48, temperature=np.arange(48) / 2, rain=0.5)
    first, second, third = days(air, LONDON)
    assert [str(day.begin) for day in (first, second, third)] == ["2026-05-12T09", "2026-05-12T23", "2026-05-13T23"]
    assert [day.hours for day in (first, second, third)] == [14, 24, 10]
    assert (second.coldest, second.warmest, second.rain) == (7, 18.5, 12)


def test_a_day_of_which_nothing_is_known_says_so():
    (day,) = days(hours(5, temperature=np.full(5, NAN), humidity=NAN, rain=NAN), LONDON)
    assert day.known == 0
    assert not day.rain_known


def test_an_hour_in_numbers_is_known_only_where_its_air_is():
    temperature = np.array([12.0, NAN, 14.0])
    air = hours(3, temperature=temperature)
    assert [air_at(air, when).known for when in air.times] == [True, False, True]
    assert air_at(air, START).dew_point == 4.5  # 12 °C, 60 %: by the same formula in air.py
