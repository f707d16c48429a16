"""What a workshop keeps of the weather; the service is asked on this machine."""

import json
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from django.core.cache import cache

from finishing.air.actions import weather
from finishing.air.actions.weather import (
    Fetched,
    add_reading,
    fetch_forecast,
    import_logger_file,
    keep_forecast,
    refresh_forecast,
    thin_forecasts,
)
from finishing.air.domain.freshness import should_ask
from finishing.air.domain.outside_air import WorkshopAir
from finishing.air.models import Forecast, Reading
from finishing.science.hours import Hours
from finishing.weather.logger import LoggerUnreadable
from finishing.workshops.models import Workshop
from tests.factories import ReadingFactory
from tests.finishing.weather.conftest import service  # noqa: F401

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)
EXPIRES = {"Expires": "Tue, 12 May 2026 09:50:00 GMT", "Last-Modified": "Tue, 12 May 2026 09:02:11 GMT"}


@pytest.fixture(autouse=True)
def _forget():
    cache.clear()


@pytest.fixture
def workshop(workshop):
    Workshop.objects.update(weather_service="met norway", altitude=75)
    return Workshop.objects.get(pk=workshop.pk)


def told(start="2026-05-12T09:00:00Z", temperature=12.0, count=60):
    """An answer of the documented shape."""
    begin = datetime.fromisoformat(start)
    series = [
        {
            "time": f"{begin + timedelta(hours=hour):%Y-%m-%dT%H:%M:%SZ}",
            "data": {
                "instant": {"details": {"air_temperature": temperature, "relative_humidity": 60.0}},
                "next_1_hours": {"details": {"precipitation_amount": 0.0}},
            },
        }
        for hour in range(count)
    ]
    meta = {"updated_at": "2026-05-12T08:41:00Z"}
    return json.dumps({"type": "Feature", "properties": {"meta": meta, "timeseries": series}})


def fetch(workshop, service, now=NOW):  # noqa: F811
    return fetch_forecast(workshop, now, base_url=service.url)


def kept(workshop, fetched_at, **facts):
    hours = Hours.from_arrays(
        np.datetime64(fetched_at.replace(tzinfo=None), "h"), temperature=np.full(240, 10.0), humidity=70
    )
    return keep_forecast(workshop, hours, fetched_at, **facts)


# Fetching


def test_a_forecast_is_kept_as_it_came(workshop, service):  # noqa: F811
    service.will_answer(body=told(), headers=EXPIRES)
    fetched = fetch(workshop, service)
    assert fetched.news
    assert not fetched.trouble
    forecast = Forecast.objects.get()
    assert forecast.service == "met norway"
    assert forecast.issued_at == datetime(2026, 5, 12, 8, 41, tzinfo=UTC)
    assert forecast.fetched_at == forecast.checked_at == NOW
    assert forecast.expires_at == datetime(2026, 5, 12, 9, 50, tzinfo=UTC)
    assert forecast.to_hours().temperature.tolist() == [12.0] * 60
    assert service.asked[0][0]["altitude"] == ["75"]


def test_the_service_is_not_asked_before_its_answer_expires(workshop, service):  # noqa: F811
    service.will_answer(body=told(), headers=EXPIRES)
    fetch(workshop, service)
    again = fetch(workshop, service, NOW + timedelta(minutes=29))
    assert len(service.asked) == 1
    assert not again.news
    assert again.forecast == Forecast.objects.get()


def test_nothing_new_moves_only_when_it_was_checked(workshop, service):  # noqa: F811
    service.will_answer(body=told(), headers=EXPIRES)
    service.will_answer(304, headers={"Expires": "Tue, 12 May 2026 10:45:00 GMT"})
    fetch(workshop, service)
    later = NOW + timedelta(hours=1)
    fetched = fetch(workshop, service, later)
    assert service.asked[1][1]["If-Modified-Since"] == EXPIRES["Last-Modified"]
    assert not fetched.news
    forecast = Forecast.objects.get()
    assert (forecast.fetched_at, forecast.checked_at) == (NOW, later)
    assert forecast.expires_at == datetime(2026, 5, 12, 10, 45, tzinfo=UTC)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ({"status": 403}, "refuses this caller"),
        ({"status": 429}, "too often"),
        ({"body": "<html>back soon</html>"}, "no forecast"),
        ({"body": json.dumps({"properties": {"timeseries": []}})}, "no forecast"),
        ({"body": json.dumps({"properties": {"timeseries": [{"time": "never", "data": {}}]}})}, "without hours"),
        ({"body": told("2019-05-12T09:00:00Z")}, "clock of this computer"),
        ({"body": told("2031-05-12T09:00:00Z")}, "clock of this computer"),
    ],
)
def test_whatever_goes_wrong_the_last_good_forecast_stays(workshop, service, answer, words):  # noqa: F811
    good = kept(workshop, NOW - timedelta(hours=7))
    service.will_answer(**answer)
    fetched = fetch(workshop, service)
    assert words in fetched.trouble
    assert fetched.forecast == good
    assert list(Forecast.objects.all()) == [good]
    assert Forecast.objects.get().checked_at == NOW - timedelta(hours=7)  # its age is its own
    air = WorkshopAir(workshop, NOW - timedelta(days=1), NOW).outdoor
    assert air.at(np.datetime64("2026-05-12T12")).temperature == 10


def test_a_service_that_is_down_is_told_in_words(workshop):
    fetched = fetch_forecast(workshop, NOW, base_url="http://127.0.0.1:9/complete")
    assert "could not be reached" in fetched.trouble
    assert fetched.forecast is None


def test_values_that_cannot_be_true_are_left_out_and_counted(workshop, service):  # noqa: F811
    answer = json.loads(told())
    answer["properties"]["timeseries"][3]["data"]["instant"]["details"]["relative_humidity"] = 1200
    service.will_answer(body=json.dumps(answer), headers=EXPIRES)
    fetched = fetch(workshop, service)
    assert fetched.left_out == 1
    assert not fetched.forecast.to_hours().known[3]
    assert fetched.forecast.to_hours().known.sum() == 59


def test_an_expiry_that_makes_no_sense_does_not_silence_the_service(workshop, service):  # noqa: F811
    service.will_answer(body=told(), headers={"Expires": "Tue, 12 May 2099 09:50:00 GMT"})
    assert fetch(workshop, service).forecast.expires_at == NOW + timedelta(days=1)
    Forecast.objects.all().delete()
    service.will_answer(body=told(), headers={"Expires": "soon"})
    assert fetch(workshop, service).forecast.expires_at == NOW + timedelta(minutes=30)


def test_a_clock_that_was_ahead_and_is_set_back_does_not_silence_the_service(workshop, service):  # noqa: F811
    from_the_future = kept(workshop, NOW + timedelta(days=400))
    service.will_answer(body=told(), headers=EXPIRES)
    fetched = fetch(workshop, service)
    assert fetched.news
    assert Forecast.objects.told_to(workshop, NOW).first() == fetched.forecast != from_the_future


def test_a_forecast_checked_in_the_future_does_not_hold(workshop):
    forecast = kept(workshop, NOW, checked_at=NOW + timedelta(days=3), expires_at=NOW + timedelta(days=4))
    assert not forecast.holds(NOW)
    assert forecast.holds(NOW + timedelta(days=3))


def test_a_workshop_that_moved_asks_afresh(workshop, service):  # noqa: F811
    service.will_answer(body=told(), headers=EXPIRES)
    service.will_answer(body=told(temperature=17.0), headers=EXPIRES)
    fetch(workshop, service)
    workshop.latitude = 57.1
    workshop.save()
    assert fetch(workshop, service).forecast.to_hours().temperature[0] == 17
    assert "If-Modified-Since" not in service.asked[1][1]


def test_without_a_service_only_readings_tell_the_air(workshop, service):  # noqa: F811
    workshop.weather_service = "none"
    assert "only readings" in fetch(workshop, service).trouble
    assert service.asked == []


def test_invented_weather_asks_nobody_and_stays_as_it_was_told(workshop):
    workshop.weather_service = "invented"
    first = fetch_forecast(workshop, NOW)
    assert first.news
    assert first.forecast.service == "invented"
    mild = Hours.from_arrays(np.datetime64("2026-05-12T09"), temperature=np.full(48, 33.0), humidity=30)
    told_once = keep_forecast(workshop, mild, NOW + timedelta(minutes=1), expires_at=NOW + timedelta(hours=1))
    later = fetch_forecast(workshop, NOW + timedelta(hours=2))
    hours = later.forecast.to_hours()
    assert later.forecast != told_once
    assert hours.at(np.datetime64("2026-05-13T09")).temperature == 33
    assert hours.known.sum() == 240
    assert hours.at(np.datetime64("2026-05-15T09")).temperature < 33


def test_invented_weather_is_not_the_last_good_forecast_of_a_workshop_that_chose_a_service(workshop):
    kept(workshop, NOW - timedelta(hours=1), service="invented")
    assert not Forecast.objects.told_to(workshop, NOW).exists()


# Asking for a page


def test_however_many_look_the_service_is_asked_once_in_five_minutes(workshop, monkeypatch):
    asked = []
    monkeypatch.setattr(weather, "fetch_forecast", lambda *args: asked.append(args) or Fetched(None, trouble="down"))
    assert should_ask(workshop, None, NOW)
    assert refresh_forecast(workshop, NOW).trouble == "down"
    assert refresh_forecast(workshop, NOW).trouble == "down"
    assert len(asked) == 1
    assert not should_ask(workshop, None, NOW)
    cache.delete(f"weather-asked-{workshop.pk}")  # five minutes on
    assert should_ask(workshop, None, NOW)


def test_a_forecast_that_holds_is_not_asked_about(workshop):
    assert not should_ask(workshop, kept(workshop, NOW), NOW)
    assert should_ask(workshop, kept(workshop, NOW), NOW + timedelta(minutes=31))
    workshop.weather_service = "none"
    assert not should_ask(workshop, None, NOW)


# Thinning


def test_days_gone_by_keep_one_forecast_and_all_that_an_entry_relied_on(workshop):
    old = [kept(workshop, NOW - timedelta(days=5, hours=hours)) for hours in range(4)]
    Forecast.objects.filter(pk=old[2].pk).update(relied_on=True)
    young = [kept(workshop, NOW - timedelta(hours=hours)) for hours in range(30)]
    assert thin_forecasts(workshop, NOW) == 2
    assert set(Forecast.objects.all()) == {old[0], old[2], *young}


def test_days_are_those_of_the_workshop(workshop):
    Workshop.objects.update(time_zone="Asia/Kolkata")
    workshop.refresh_from_db()
    for minute in (10, 20, 40):  # 23:40, 23:50 and 00:10 in Kolkata
        kept(workshop, datetime(2026, 5, 6, 18, minute, tzinfo=UTC))
    assert thin_forecasts(workshop, NOW) == 1
    assert [forecast.fetched_at.minute for forecast in Forecast.objects.all()] == [40, 20]


def test_the_newest_always_stays_however_old(workshop):
    newest = kept(workshop, NOW - timedelta(days=90))
    kept(workshop, NOW - timedelta(days=90, hours=1))
    thin_forecasts(workshop, NOW)
    assert list(Forecast.objects.all()) == [newest]


def test_another_workshops_forecasts_are_left_alone(workshop, other_workshop):
    for hours in range(3):
        kept(other_workshop, NOW - timedelta(days=9, hours=hours))
    assert thin_forecasts(workshop, NOW) == 0


# Readings


def test_the_same_reading_sent_twice_at_once_is_one(yard, owner):
    for _ in range(2):
        reading = Reading(workshop=yard.workshop, place=yard, taken_at=NOW, temperature=12, humidity=60)
        add_reading(reading, by=owner)
    assert Reading.objects.get().by == owner


def logged(*lines, heading="Date/Time,Temperature (°C),Humidity (%RH)"):
    return "\n".join([heading, *lines]).encode()


def take_in(yard, owner, data, **changes):
    asked = {"zone": "Europe/London", "by": owner, "now": NOW, **changes}
    return import_logger_file(yard.workshop, yard, data, **asked)


def test_a_loggers_file_becomes_readings_on_the_clock_it_was_set_to(yard, owner):
    imported = take_in(yard, owner, logged("2026-05-11 08:00:00,12.5,71.5", "2026-05-11 08:30:00,12.9,70.0"))
    assert imported.added == 2
    first = Reading.objects.order_by("taken_at").first()
    assert first.taken_at == datetime(2026, 5, 11, 7, tzinfo=UTC)
    assert (first.temperature.magnitude, first.humidity.magnitude) == (12.5, 71.5)
    assert (first.place, first.by, first.source) == (yard, owner, "logger")


def test_the_same_file_twice_adds_nothing_and_a_longer_one_its_new_lines(yard, owner):
    lines = [f"2026-05-11 08:{minute:02}:00,12.5,71.5" for minute in range(40)]
    assert take_in(yard, owner, logged(*lines[:30])).added == 30
    again = take_in(yard, owner, logged(*lines[:30]))
    assert (again.added, again.known_before) == (0, 30)
    longer = take_in(yard, owner, logged(*lines))
    assert (longer.added, longer.known_before) == (10, 30)
    assert Reading.objects.count() == 40


def test_two_thousand_bad_lines_are_told_by_number_and_the_good_ones_kept(yard, owner):
    bad = [f"2026-05-11 {number // 60 % 24:02}:{number % 60:02}:00,12.5,{300 + number}" for number in range(2000)]
    imported = take_in(yard, owner, logged("2026-05-10 08:00:00,12.5,71.5", *bad, "2026-05-12 08:00:00,13,70"))
    assert imported.added == 2
    assert len(imported.file.bad_lines) == 2000
    assert [line.number for line in imported.file.bad_lines] == list(range(3, 2003))
    assert all("humidity" in line.reason for line in imported.file.bad_lines)


def test_a_logger_set_ahead_does_not_make_readings_of_the_future(yard, owner):
    imported = take_in(yard, owner, logged("2026-05-12 09:00:00,12.5,71.5", "2027-05-12 09:00:00,12.5,71.5"))
    assert (imported.added, imported.in_future) == (1, 1)


def test_a_date_that_can_be_read_both_ways_is_asked_about_before_anything_is_kept(yard, owner):
    data = logged("05/04/2026 08:00,12.5,71.5", "05/04/2026 09:00,12.9,70")
    asked = take_in(yard, owner, data)
    assert asked.file.ambiguous_dates
    assert not Reading.objects.exists()
    assert take_in(yard, owner, data, day_first=False).added == 2
    assert {reading.taken_at.month for reading in Reading.objects.all()} == {5}


def test_more_readings_than_others_can_wait_for_are_refused(yard, owner, monkeypatch):
    monkeypatch.setattr(weather, "MOST", 1)
    with pytest.raises(LoggerUnreadable, match="2 readings, more than 1"):
        take_in(yard, owner, logged("2026-05-11 08:00:00,12.5,71.5", "2026-05-11 09:00:00,12.5,71.5"))
    assert not Reading.objects.exists()


def test_a_typed_reading_and_a_logged_one_of_the_same_moment_both_stand(yard, owner):
    ReadingFactory(place=yard, taken_at=datetime(2026, 5, 11, 7, tzinfo=UTC))
    assert take_in(yard, owner, logged("2026-05-11 08:00:00,12.5,71.5")).added == 1


def test_nothing_is_half_saved(yard, owner, monkeypatch):
    def breaks_off(*args, **kwargs):
        kept_create(*args, **kwargs)
        raise RuntimeError("the lights went out")

    kept_create = Reading.objects.bulk_create
    monkeypatch.setattr(Reading.objects, "bulk_create", breaks_off)
    with pytest.raises(RuntimeError):
        take_in(yard, owner, logged("2026-05-11 08:00:00,12.5,71.5"))
    assert not Reading.objects.exists()


def test_the_night_in_which_clocks_go_back_keeps_both_its_hours(yard, owner):
    lines = ["2025-10-26 00:30:00", "2025-10-26 01:30:00", "2025-10-26 01:30:00", "2025-10-26 02:30:00"]
    imported = take_in(yard, owner, logged(*(f"{line},8.0,90.0" for line in lines)))
    assert imported.added == 4
    taken = [reading.taken_at for reading in Reading.objects.order_by("taken_at")]
    assert [later - earlier for earlier, later in zip(taken, taken[1:], strict=False)] == [timedelta(hours=1)] * 3


# The second service


def told_by_open_meteo(begin=datetime(2026, 5, 12, tzinfo=UTC), temperature=12.0, count=60):
    """An answer of the documented shape."""
    times = [f"{begin + timedelta(hours=hour):%Y-%m-%dT%H:%M}" for hour in range(count)]
    values = {"temperature_2m": temperature, "relative_humidity_2m": 60.0, "precipitation": 0.0}
    hourly = {name: [value] * count for name, value in values.items()}
    return json.dumps({"utc_offset_seconds": 0, "hourly": {"time": times, **hourly}})


@pytest.fixture
def with_open_meteo(workshop):
    workshop.weather_service, workshop.weather_key = Workshop.WeatherService.OPEN_METEO, "a-key-of-ours"
    workshop.weather_ensemble = Workshop.WeatherEnsemble.NONE
    return workshop


def test_open_meteo_is_asked_where_it_is_chosen_and_holds_for_an_hour(with_open_meteo, service):  # noqa: F811
    service.will_answer(body=told_by_open_meteo())
    fetched = fetch_forecast(with_open_meteo, NOW, base_url=service.url)
    assert fetched.news
    assert fetched.forecast.service == "open-meteo"
    assert service.asked[0][0]["apikey"] == ["a-key-of-ours"]
    assert not fetch_forecast(with_open_meteo, NOW + timedelta(minutes=50), base_url=service.url).news
    service.will_answer(body=told_by_open_meteo(temperature=15.0))
    assert fetch_forecast(with_open_meteo, NOW + timedelta(minutes=61), base_url=service.url).news
    assert Forecast.objects.order_by("-fetched_at").first().to_hours().temperature[0] == 15


def test_the_last_forecast_stays_where_open_meteo_fails_and_its_hours_must_be_the_ones_ahead(
    with_open_meteo,
    service,  # noqa: F811
):
    service.will_answer(body=told_by_open_meteo())
    first = fetch_forecast(with_open_meteo, NOW, base_url=service.url).forecast
    service.will_answer(429)
    later = fetch_forecast(with_open_meteo, NOW + timedelta(hours=2), base_url=service.url)
    assert later.forecast == first
    assert "too often" in later.trouble
    service.will_answer(body=told_by_open_meteo(begin=datetime(2024, 5, 12, tzinfo=UTC)))
    assert "clock of this computer" in fetch_forecast(with_open_meteo, NOW + timedelta(hours=3), service.url).trouble
