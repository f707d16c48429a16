"""The forecast service, asked on this machine, answering in the shape that it documents ("point forecast JSON")."""

import json
import os
import socket
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.science.hours import Hours
from finishing.weather import WeatherUnavailable, met_norway
from finishing.weather.met_norway import get_forecast, parse_response

SAVED = Path(__file__).parents[3] / "fixtures" / "weather"
COMPLETE = (SAVED / "met_norway_complete.json").read_text()
COMPACT = (SAVED / "met_norway_compact.json").read_text()
CALLER = "Fettlebook/0.1 workshop@example.org"
HEADERS = {"Expires": "Fri, 01 May 2026 07:12:30 GMT", "Last-Modified": "Fri, 01 May 2026 06:41:12 GMT"}


def parse_forecast(text):
    return parse_response(text).hours


def ask(service, **changes):
    asked = {"latitude": 52.123456, "longitude": -1.2, "altitude": 75.4, "user_agent": CALLER, "base_url": service.url}
    return get_forecast(**{**asked, **changes})


def refusal(service, **changes):
    with pytest.raises(WeatherUnavailable) as caught:
        ask(service, **changes)
    return caught.value.reason


def forecast(*entries, units=None):
    """A response of the documented shape with the given (time, instant, periods) and nothing else."""
    series = [
        {"time": time, "data": {"instant": {"details": instant}} | {k: {"details": v} for k, v in periods.items()}}
        for time, instant, periods in entries
    ]
    return json.dumps({"type": "Feature", "properties": {"meta": {"units": units or {}}, "timeseries": series}})


def mild(temperature=12.0, humidity=60.0, **more):
    return {"air_temperature": temperature, "relative_humidity": humidity, **more}


# Asking: what the terms of service want (https://api.met.no/doc/TermsOfService)


def test_it_names_itself_and_asks_with_four_decimals(service):
    service.will_answer(body=COMPLETE, headers=HEADERS)
    ask(service)
    query, headers = service.asked[0]
    assert query == {"lat": ["52.1235"], "lon": ["-1.2000"], "altitude": ["75"]}
    assert headers["User-Agent"] == CALLER
    assert "If-Modified-Since" not in headers


def test_it_does_not_ask_without_a_name(service):
    with pytest.raises(ValueError, match="contact address"):
        ask(service, user_agent=" ")
    assert service.asked == []


def test_an_answer_carries_the_services_own_times(service):
    service.will_answer(body=COMPLETE, headers=HEADERS)
    response = ask(service, altitude=None)
    assert response.text == COMPLETE
    assert response.expires == datetime(2026, 5, 1, 7, 12, 30, tzinfo=UTC)
    assert response.last_modified == HEADERS["Last-Modified"]
    assert not response.not_modified
    assert not response.deprecated
    assert "altitude" not in service.asked[0][0]


def test_nothing_new_is_said_by_304_and_last_modified_goes_back_letter_for_letter(service):
    service.will_answer(304, headers={"Expires": "Fri, 01 May 2026 07:44:00 GMT"})
    response = ask(service, last_modified=HEADERS["Last-Modified"])
    assert service.asked[0][1]["If-Modified-Since"] == HEADERS["Last-Modified"]
    assert response.not_modified
    assert response.text == ""
    assert response.expires == datetime(2026, 5, 1, 7, 44, tzinfo=UTC)
    assert response.last_modified == HEADERS["Last-Modified"]


def test_headers_that_make_no_sense_are_no_headers(service):
    service.will_answer(body=COMPLETE, headers={"Expires": "soon"})
    response = ask(service)
    assert response.expires is None
    assert response.last_modified is None


def test_a_version_that_will_end_is_marked(service):
    service.will_answer(203, body=COMPLETE)
    assert ask(service).deprecated


@pytest.mark.parametrize(
    ("status", "words"),
    [(400, "place"), (403, "refuses this caller"), (404, "no such forecast"), (422, "no forecast"), (429, "too often")],
)
def test_a_refusal_is_told_and_not_tried_again(service, status, words):
    service.will_answer(status, body="<html>refused</html>")
    reason = refusal(service)
    assert str(status) in reason
    assert words in reason
    assert len(service.asked) == 1


def test_a_failure_of_the_server_is_tried_again(service):
    service.will_answer(500)
    service.will_answer(body=COMPLETE)
    assert ask(service).text == COMPLETE
    assert len(service.asked) == 2


def test_a_server_that_keeps_failing_is_given_up_and_its_wish_to_wait_an_hour_is_not_sat_out(service):
    for _ in range(3):
        service.will_answer(503, headers={"Retry-After": "3600"})
    assert "503" in refusal(service)
    assert len(service.asked) == 3


def test_silence_ends_after_the_timeout(service):
    service.will_answer(body=COMPLETE, silence=1.0)
    assert refusal(service, timeout=0.2) == "MET Norway did not answer within 0.2 seconds."
    assert len(service.asked) == 1


def test_no_connection_is_told(service):
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        nobody = f"http://127.0.0.1:{closed.getsockname()[1]}/complete"
    assert refusal(service, base_url=nobody) == "MET Norway could not be reached: no connection."


def test_an_answer_far_too_long_is_not_read_to_its_end(service, monkeypatch):
    monkeypatch.setattr(met_norway, "LARGEST", 10_000)
    service.will_answer(body=COMPLETE)
    assert "far more" in refusal(service)


# Understanding


def test_the_whole_answer_becomes_hours():
    response = parse_response(COMPLETE)
    hours = response.hours
    assert isinstance(hours, Hours)
    assert hours.start == np.datetime64("2026-05-01T07")
    assert hours.times[-1] == np.datetime64("2026-05-10T18")
    assert response.issued == datetime(2026, 5, 1, 6, 41, 12, tzinfo=UTC)
    assert response.refused == ()
    # the first line of the saved answer, read by eye
    assert (hours.temperature[0], hours.humidity[0]) == pytest.approx((7.3, 100.0))
    assert (hours.wind[0], hours.cloud[0], hours.rain[0], hours.rain_chance[0]) == pytest.approx((0.9, 0.99, 0.3, 0.8))
    assert np.isnan(hours.sun).all()  # the service tells no sunshine


def test_dew_points_agree_with_the_services_own():
    hours = parse_forecast(COMPLETE)
    told = {
        np.datetime64(entry["time"][:-1], "h"): entry["data"]["instant"]["details"]["dew_point_temperature"]
        for entry in json.loads(COMPLETE)["properties"]["timeseries"]
    }
    ours = np.array([hours.at(when).dew_point for when in told])
    assert ours == pytest.approx(list(told.values()), abs=0.1)  # it rounds to tenths


def test_every_value_is_air_of_this_earth():
    """A forgotten conversion (cloud in %, rain in m) would leave these ranges."""
    hours = parse_forecast(COMPLETE)
    known = ~np.isnan(hours.rain)
    assert ((hours.temperature > -40) & (hours.temperature < 45)).all()
    assert ((hours.humidity > 5) & (hours.humidity <= 100)).all()
    assert (hours.dew_point <= hours.temperature + 1e-9).all()
    assert ((hours.cloud >= 0) & (hours.cloud <= 1)).all()
    assert hours.cloud.max() > 0.5
    assert ((hours.rain_chance[known] >= 0) & (hours.rain_chance[known] <= 1)).all()


def test_the_short_form_knows_no_chance_of_rain_but_a_dew_point():
    hours = parse_forecast(COMPACT)
    assert np.isnan(hours.rain_chance).all()
    assert np.isfinite(hours.dew_point).all()
    assert np.isfinite(hours.rain[:-1]).all()


def test_six_hours_are_spread_and_marked_coarse():
    """Worked by hand: 1.2 mm over six hours is 0.2 mm in each; 10 to 16 °C over six hours is 1 °C an hour."""
    hours = parse_forecast(
        forecast(
            (
                "2026-05-01T06:00:00Z",
                mild(10, 100, wind_speed=2, cloud_area_fraction=20),
                {"next_6_hours": {"precipitation_amount": 1.2, "probability_of_precipitation": 40}},
            ),
            ("2026-05-01T12:00:00Z", mild(16, 50, wind_speed=8, cloud_area_fraction=80), {}),
        )
    )
    assert hours.temperature == pytest.approx([10, 11, 12, 13, 14, 15, 16])
    assert hours.wind == pytest.approx([2, 3, 4, 5, 6, 7, 8])
    assert hours.cloud == pytest.approx([0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
    assert hours.rain[:6] == pytest.approx([0.2] * 6)
    assert hours.rain_chance[:6] == pytest.approx([0.4] * 6)
    assert np.isnan(hours.rain[6])
    assert hours.coarse.tolist() == [True] * 6 + [False]
    # dew point, not humidity, runs straight: 10.0 °C to 5.6 °C (16 °C, 50 %)
    assert hours.dew_point[3] == pytest.approx((10.0 + 5.6) / 2, abs=0.05)


def test_an_hours_own_rain_stands_above_the_block_it_begins():
    hours = parse_forecast(
        forecast(
            (
                "2026-05-01T06:00:00Z",
                mild(),
                {
                    "next_1_hours": {"precipitation_amount": 0.0, "probability_of_precipitation": 5},
                    "next_6_hours": {"precipitation_amount": 6.0, "probability_of_precipitation": 70},
                },
            ),
            ("2026-05-01T07:00:00Z", mild(), {"next_1_hours": {"precipitation_amount": 0.4}}),
            ("2026-05-01T08:00:00Z", mild(), {}),
        )
    )
    assert hours.rain == pytest.approx([0.0, 0.4, 1.0])
    assert hours.rain_chance == pytest.approx([0.05, 0.7, 0.7])  # without one of its own, never less than it is
    assert hours.coarse.tolist() == [False, False, True]


def test_where_hours_become_blocks_nothing_is_left_open():
    hours = parse_forecast(COMPLETE)
    first_block = hours.position(np.datetime64("2026-05-03T12"))
    assert not hours.coarse[: int(first_block)].any()
    assert hours.coarse[int(first_block) : -1].all()
    assert np.isfinite(hours.temperature).all()
    assert np.isfinite(hours.rain[:-1]).all()


def test_instants_more_than_a_block_apart_leave_the_hours_between_unknown():
    hours = parse_forecast(
        forecast(("2026-05-01T06:00:00Z", mild(), {}), ("2026-05-01T13:00:00Z", mild(), {})),
    )
    assert np.isfinite(hours.temperature).tolist() == [True] + [False] * 6 + [True]
    assert np.isnan(hours.rain).all()


@pytest.mark.parametrize(
    "instant",
    [
        mild(temperature=99.9),
        mild(temperature=-273.2),
        mild(humidity=140),
        mild(humidity=-1),
        mild(temperature="mild"),
        mild(wind_speed=-3),
        mild(cloud_area_fraction=101),
        mild(temperature=True),
        mild(temperature=float("nan")),
        mild(temperature=10**400),
        mild(temperature=[12]),
    ],
)
def test_an_instant_that_cannot_be_true_is_not_known_and_is_counted(instant):
    response = parse_response(
        forecast(
            ("2026-05-01T06:00:00Z", mild(), {}),
            ("2026-05-01T07:00:00Z", instant, {}),
            ("2026-05-01T08:00:00Z", mild(), {}),
        )
    )
    assert np.isfinite(response.hours.temperature).tolist() == [True, False, True]
    assert np.isfinite(response.hours.dew_point).tolist() == [True, False, True]
    assert len(response.refused) == 1
    assert response.refused[0].startswith("2026-05-01T07 UTC")


def test_rain_that_cannot_be_true_is_not_known():
    rain = {"precipitation_amount": -1, "probability_of_precipitation": 130}
    response = parse_response(
        forecast(("2026-05-01T06:00:00Z", mild(), {"next_1_hours": rain}), ("2026-05-01T07:00:00Z", mild(), {}))
    )
    assert np.isnan(response.hours.rain[0])
    assert np.isnan(response.hours.rain_chance[0])
    assert np.isfinite(response.hours.temperature[0])
    assert len(response.refused) == 2


def test_air_too_cold_for_the_formula_has_no_dew_point():
    hours = parse_forecast(
        forecast(("2026-01-01T06:00:00Z", mild(-50, 70), {}), ("2026-01-01T07:00:00Z", mild(-5, 70), {}))
    )
    assert np.isfinite(hours.dew_point).tolist() == [False, True]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "<html>maintenance</html>",
        "[]",
        "null",
        '"forecast"',
        '{"properties": {}}',
        '{"properties": {"timeseries": []}}',
        '{"properties": {"timeseries": {"a": 1}}}',
        '{"properties": null}',
        "[" * 100_000,
        COMPLETE[:5000],
    ],
)
def test_nonsense_is_no_forecast(text):
    with pytest.raises(WeatherUnavailable, match="no forecast"):
        parse_forecast(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (forecast((None, mild(), {})), "without hours"),
        (forecast(("yesterday", mild(), {})), "without hours"),
        (forecast(("2026-05-01T06:30:00Z", mild(), {})), "without hours"),
        (json.dumps({"properties": {"timeseries": [3, None, "x"]}}), "without hours"),
        (forecast(("2026-05-01T06:00:00Z", {}, {})), "no air temperature"),
        (forecast(("2026-05-01T06:00:00Z", {"air_temperature": 12}, {})), "no air temperature"),
        (forecast(("2026-05-01T06:00:00Z", mild(), {}), ("2062-05-01T06:00:00Z", mild(), {})), "further apart"),
        (forecast(("2026-05-01T06:00:00Z", mild(), {}), units={"air_temperature": "fahrenheit"}), "fahrenheit"),
    ],
)
def test_a_forecast_without_what_is_needed_says_what_is_missing(text, words):
    with pytest.raises(WeatherUnavailable, match=words):
        parse_forecast(text)


def test_entries_out_of_order_and_in_another_zone_find_their_hour():
    hours = parse_forecast(
        forecast(("2026-05-01T09:00:00+02:00", mild(13), {}), ("2026-05-01T06:00:00Z", mild(12), {}))
    )
    assert hours.start == np.datetime64("2026-05-01T06")
    assert hours.temperature.tolist() == [12, 13]


ANYTHING = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
MOMENTS = st.sampled_from(["2026-05-01T06:00:00Z", "2026-05-01T12:00:00Z", "2026-05-02", "9999-12-31T23:00:00-05:00"])
DETAILS = st.dictionaries(st.sampled_from(list(met_norway.POSSIBLE)), st.floats(-200, 200) | ANYTHING)
PERIODS = st.sampled_from(["instant", "instant", "next_1_hours", "next_6_hours"])
DATA = st.dictionaries(PERIODS, st.fixed_dictionaries({"details": DETAILS | ANYTHING}) | ANYTHING)
ENTRY = st.fixed_dictionaries({"time": MOMENTS | ANYTHING, "data": DATA | ANYTHING}) | ANYTHING


@given(st.lists(ENTRY, max_size=4), st.dictionaries(st.just("units"), DETAILS | ANYTHING) | ANYTHING)
def test_whatever_it_sends_is_a_forecast_or_a_reason(series, meta):
    try:
        hours = parse_forecast(json.dumps({"properties": {"meta": meta, "timeseries": series}}))
    except WeatherUnavailable as unavailable:
        reason = unavailable.reason
    else:
        reason = "MET Norway" if np.isfinite(hours.dew_point).any() else "hours of which nothing is known"
    assert reason.startswith("MET Norway")


@pytest.mark.live
def test_the_service_itself_still_speaks_as_documented(settings):
    if os.environ.get("FETTLEBOOK_LIVE") != "1":
        pytest.skip("asks the weather service itself: run by name with FETTLEBOOK_LIVE=1")
    response = get_forecast(60.1, 9.58, 200, settings.WEATHER_USER_AGENT)
    assert response.expires
    found = parse_response(response.text)
    assert found.refused == ()
    assert len(found.hours) > 24 * 7
    assert get_forecast(60.1, 9.58, 200, settings.WEATHER_USER_AGENT, response.last_modified).not_modified
