"""The second service and its archive, asked on this machine, answering in the shape that it documents.

Shape, units and which variables are of the preceding hour: https://open-meteo.com/en/docs and
https://open-meteo.com/en/docs/historical-weather-api (read as stored pages). The numbers are our own.
"""

import json
import os
import socket
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science.hours import Hours
from finishing.weather import WeatherUnavailable, open_meteo
from finishing.weather.open_meteo import get_archive, get_ensemble, get_forecast, parse_archive, parse_response

SAVED = Path(__file__).parents[3] / "fixtures" / "weather"
FORECAST = (SAVED / "open_meteo_forecast.json").read_text()
ARCHIVE = (SAVED / "open_meteo_archive.json").read_text()
CALLER = "Fettlebook/0.1 workshop@example.org"
KEY = "a-key-of-ours"


def parse_forecast(text):
    return parse_response(text).hours


def ask(service, **changes):
    asked = {"latitude": 52.123456, "longitude": -1.2, "altitude": 75.4, "user_agent": CALLER, "base_url": service.url}
    return get_forecast(**{**asked, **changes})


def ask_archive(service, year=2019, **changes):
    return get_archive(52.123456, -1.2, None, year, CALLER, base_url=service.url, **changes)


def refusal(service, **changes):
    with pytest.raises(WeatherUnavailable) as caught:
        ask(service, **changes)
    return caught.value.reason


def told(times, **variables):
    """A response of the documented shape with these times and variables and nothing else."""
    return json.dumps({"utc_offset_seconds": 0, "hourly": {"time": times, **variables}})


MORNING = ["2026-05-01T06:00", "2026-05-01T07:00", "2026-05-01T08:00"]


# Asking


def test_it_asks_for_what_is_needed_in_our_units_and_in_gmt(service):
    service.will_answer(body=FORECAST)
    assert ask(service) == FORECAST
    query, headers = service.asked[0]
    assert query["hourly"] == [",".join(open_meteo.VARIABLES)]
    assert (query["latitude"], query["longitude"], query["elevation"]) == (["52.1235"], ["-1.2000"], ["75"])
    assert (query["timezone"], query["wind_speed_unit"], query["forecast_days"]) == (["GMT"], ["ms"], ["16"])
    assert headers["User-Agent"] == CALLER
    assert "apikey" not in query


def test_a_year_of_the_archive_is_one_request_and_ends_with_the_first_of_january(service):
    service.will_answer(body=ARCHIVE)
    ask_archive(service)
    query, _ = service.asked[0]
    assert (query["start_date"], query["end_date"]) == (["2019-01-01"], ["2020-01-01"])
    assert "precipitation_probability" not in query["hourly"][0]  # what has happened has no chance
    assert "elevation" not in query


def test_the_archive_is_not_asked_for_years_before_it_begins(service):
    with pytest.raises(ValueError, match="1940"):
        ask_archive(service, year=1939)
    assert service.asked == []


def test_a_key_is_sent_along(service):
    service.will_answer(body=FORECAST)
    ask(service, key=KEY)
    assert service.asked[0][0]["apikey"] == [KEY]


def test_who_has_a_key_is_served_by_the_servers_for_customers(monkeypatch):
    asked = []

    def told_which(name, url, *rest, **more):
        asked.append(url)
        return open_meteo.Reply(200, {}, FORECAST)

    monkeypatch.setattr(open_meteo, "ask", told_which)
    get_forecast(52, -1, None, CALLER)
    get_forecast(52, -1, None, CALLER, key=KEY)
    get_archive(52, -1, None, 2019, CALLER, key=KEY)
    get_ensemble(52, -1, None, "gfs_seamless", CALLER, key=KEY)
    assert asked == [
        "https://api.open-meteo.com/v1/forecast",
        "https://customer-api.open-meteo.com/v1/forecast",
        "https://customer-archive-api.open-meteo.com/v1/archive",
        "https://customer-ensemble-api.open-meteo.com/v1/ensemble",
    ]


def test_its_own_reason_is_passed_on(service):
    service.will_answer(400, body=json.dumps({"error": True, "reason": "Latitude must be in range of -90 to 90°."}))
    assert refusal(service) == "Open-Meteo answered 400: “Latitude must be in range of -90 to 90°”."


def test_a_key_is_never_repeated(service):
    service.will_answer(400, body=json.dumps({"error": True, "reason": f"The key {KEY} has run out"}))
    reason = refusal(service, key=KEY)
    assert KEY not in reason
    assert "has run out" in reason


@pytest.mark.parametrize(("status", "words"), [(401, "key"), (403, "key"), (429, "try again later")])
def test_a_refusal_is_told_and_not_tried_again(service, status, words):
    service.will_answer(status, body="<html>refused</html>")
    reason = refusal(service)
    assert str(status) in reason
    assert words in reason
    assert len(service.asked) == 1


@pytest.mark.parametrize("body", ["<html>gateway</html>", "[]", "null", '{"error": true}', "[" * 100_000])
def test_a_failure_without_a_reason_is_told_too(service, body):
    for _ in range(3):
        service.will_answer(502, body=body)
    assert refusal(service) == "Open-Meteo answered 502: it cannot answer just now."
    assert len(service.asked) == 3


def test_silence_ends_after_the_timeout(service):
    service.will_answer(body=FORECAST, silence=1.0)
    assert refusal(service, timeout=0.2) == "Open-Meteo did not answer within 0.2 seconds."


def test_no_connection_is_told_without_the_address_that_holds_the_key(service):
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        nobody = f"http://127.0.0.1:{closed.getsockname()[1]}/v1"
    assert refusal(service, base_url=nobody, key=KEY) == "Open-Meteo could not be reached: no connection."


def test_an_answer_far_too_long_is_not_read_to_its_end(service, monkeypatch):
    monkeypatch.setattr(open_meteo, "LARGEST", 10_000)
    service.will_answer(body=FORECAST)
    assert "far more" in refusal(service)


# Understanding


def test_the_whole_forecast_becomes_hours():
    run = parse_response(FORECAST)
    hours, first = run.hours, json.loads(FORECAST)["hourly"]
    assert isinstance(hours, Hours)
    assert (hours.start, len(hours)) == (np.datetime64("2026-05-01T00"), 16 * 24)
    assert run.refused == ()
    assert hours.temperature[:380] == pytest.approx(first["temperature_2m"][:380])
    assert hours.wind[:380] == pytest.approx(first["wind_speed_10m"][:380])
    assert hours.cloud[:380] == pytest.approx(np.array(first["cloud_cover"][:380]) / 100)
    assert np.isnan(hours.temperature[380:]).all()  # null beyond the models' reach


def test_what_fell_in_the_hour_that_ends_is_of_the_hour_before():
    hours = parse_forecast(
        told(
            MORNING,
            temperature_2m=[10, 11, 12],
            relative_humidity_2m=[80, 75, 70],
            precipitation=[9.9, 0.4, 0.0],
            precipitation_probability=[99, 60, 5],
            shortwave_radiation=[80, 150, 230],
        )
    )
    assert hours.rain[:2].tolist() == [0.4, 0.0]
    assert hours.rain_chance[:2].tolist() == [0.6, 0.05]
    assert hours.sun[:2].tolist() == [150, 230]
    assert np.isnan([hours.rain[2], hours.rain_chance[2], hours.sun[2]]).all()  # that hour is not over


def test_every_value_is_air_of_this_earth():
    """A forgotten conversion (cloud in %, wind in km/h) would leave these ranges."""
    hours = parse_forecast(FORECAST).between(np.datetime64("2026-05-01T00"), np.datetime64("2026-05-16T00"))
    assert ((hours.temperature > -40) & (hours.temperature < 45)).all()
    assert (hours.dew_point <= hours.temperature + 0.05).all()
    assert 0.5 < hours.cloud.max() <= 1
    assert ((hours.wind >= 0) & (hours.wind < 20)).all()
    assert 300 < hours.sun.max() < 1100
    assert ((hours.rain_chance >= 0) & (hours.rain_chance <= 1)).all()


def test_a_whole_year_of_the_archive_knows_its_every_hour():
    begin = np.datetime64("2020-01-01T00")
    times = [f"{begin + np.timedelta64(hour, 'h')}:00" for hour in range(367 * 24)]
    of_each = {name: [1.0] * len(times) for name in open_meteo.OF_THE_PAST}
    hours = parse_archive(told(times, **of_each), 2020)
    assert (hours.start, len(hours)) == (begin, 8784)
    assert hours.known.all()
    assert (hours.rain == 1).all()  # that of the last hour stands at the first of the next year
    assert np.isnan(hours.rain_chance).all()


def test_a_year_that_answers_half_keeps_its_known_hours():
    hours = parse_archive(ARCHIVE, 2019)
    assert (hours.start, len(hours)) == (np.datetime64("2019-01-01T00"), 8760)
    assert int(hours.known.sum()) == 48  # the saved answer begins with 30 December
    assert hours.known[-48:].all()
    assert np.isnan(hours.temperature[:-48]).all()


def test_lists_shorter_than_the_times_leave_the_rest_unknown():
    hours = parse_forecast(told(MORNING, temperature_2m=[10, 11], relative_humidity_2m=[80], precipitation=[]))
    assert np.isnan(hours.temperature).tolist() == [False, False, True]
    assert np.isnan(hours.dew_point).tolist() == [False, True, True]
    assert np.isnan(hours.rain).all()


def test_a_year_of_which_it_knows_nothing_is_refused():
    with pytest.raises(WeatherUnavailable, match="no air for 2018"):
        parse_archive(ARCHIVE, 2018)


@pytest.mark.parametrize("value", [99.9, -273.2, "mild", True, [12], 10**400])
def test_a_value_that_cannot_be_true_is_not_known_and_is_counted(value):
    run = parse_response(told(MORNING, temperature_2m=[10, value, 12], relative_humidity_2m=[80, 75, 70]))
    assert np.isfinite(run.hours.temperature).tolist() == [True, False, True]
    assert len(run.refused) == 1
    assert run.refused[0].startswith("temperature_2m")


def test_times_out_of_order_find_their_hour_and_half_hours_are_refused():
    times = ["2026-05-01T08:00", "2026-05-01T06:00", "2026-05-01T06:30", "noon"]
    run = parse_response(told(times, temperature_2m=[12, 10, 99, 99], relative_humidity_2m=[70, 80, 1, 1]))
    assert run.hours.temperature[[0, 2]].tolist() == [10, 12]
    assert np.isnan(run.hours.temperature[1])
    assert len(run.refused) == 2


@pytest.mark.parametrize(
    "text",
    [
        "",
        "<html>maintenance</html>",
        "[]",
        "null",
        '"hourly"',
        '{"hourly": null}',
        '{"hourly": {"time": []}}',
        '{"hourly": {"time": {"a": 1}}}',
        "[" * 100_000,
        FORECAST[:5000],
    ],
)
def test_nonsense_is_no_weather(text):
    with pytest.raises(WeatherUnavailable, match="no weather"):
        parse_forecast(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (told(["noon"], temperature_2m=[12]), "without hours"),
        (told(MORNING), "no air temperature"),
        (told(MORNING, temperature_2m=[10, 11, 12]), "no air temperature and humidity"),
        (told(["2026-05-01T06:00", "2062-05-01T06:00"], temperature_2m=[1, 2]), "further apart"),
        (json.dumps({"utc_offset_seconds": 3600, "hourly": {"time": MORNING}}), "local clock"),
        (json.dumps({"hourly_units": {"temperature_2m": "°F"}, "hourly": {"time": MORNING}}), "°F"),
        (json.dumps({"hourly_units": {"wind_speed_10m": "km/h"}, "hourly": {"time": MORNING}}), "km/h"),
    ],
)
def test_weather_without_what_is_needed_says_what_is_missing(text, words):
    with pytest.raises(WeatherUnavailable, match=words):
        parse_forecast(text)


ANYTHING = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
NUMBERS = st.lists(st.floats(-200, 200) | ANYTHING, max_size=4) | ANYTHING
TIMES = st.lists(st.sampled_from([*MORNING, "9999-12-31T23:00-05:00"]) | ANYTHING, max_size=4) | ANYTHING
HOURLY = st.dictionaries(st.sampled_from(list(open_meteo.VARIABLES)), NUMBERS)


@given(TIMES, HOURLY, st.dictionaries(st.sampled_from(list(open_meteo.VARIABLES)), ANYTHING) | ANYTHING, ANYTHING)
def test_whatever_it_sends_is_weather_or_a_reason(times, hourly, units, offset):
    text = json.dumps({"utc_offset_seconds": offset, "hourly_units": units, "hourly": {"time": times, **hourly}})
    try:
        hours = parse_forecast(text)
    except WeatherUnavailable as unavailable:
        reason = unavailable.reason
    else:
        reason = "Open-Meteo" if hours.known.any() else "hours of which nothing is known"
    assert reason.startswith("Open-Meteo")


@pytest.mark.live
def test_the_service_itself_still_speaks_as_documented(settings):
    if os.environ.get("FETTLEBOOK_LIVE") != "1":
        pytest.skip("asks the weather service itself: run by name with FETTLEBOOK_LIVE=1")
    forecast = parse_response(get_forecast(52.1, -1.2, 75, settings.WEATHER_USER_AGENT))
    assert forecast.refused == ()
    assert len(forecast.hours) == 16 * 24
    assert parse_archive(get_archive(52.1, -1.2, 75, 2019, settings.WEATHER_USER_AGENT), 2019).known.all()
