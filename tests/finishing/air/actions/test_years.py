"""Past years come one by one and stay; the archive is asked on this machine, in the shape that it documents."""

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from django.core.cache import cache

from finishing.air.actions import years
from finishing.air.actions.years import fetch_next_year, keep_past_year, keep_typical_year, progress
from finishing.air.models import YearOfWeather
from finishing.weather.open_meteo import OF_THE_PAST
from finishing.weather.typical_year import TypicalYearUnreadable
from finishing.workshops.models import Workshop
from tests.finishing.weather.conftest import service  # noqa: F401
from tests.finishing.weather.test_typical_year import as_epw, line, steady

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _forget():
    cache.clear()


@pytest.fixture
def workshop(workshop):
    workshop.weather_service = Workshop.WeatherService.OPEN_METEO
    workshop.save()
    return workshop


def told(year, days=366, temperature=12.0):
    """A year of one air in the archive's shape."""
    begin = np.datetime64(f"{year}-01-01T00")
    times = [f"{begin + np.timedelta64(hour, 'h')}:00" for hour in range(days * 24)]
    air = {"temperature_2m": temperature, "relative_humidity_2m": 60, "dew_point_2m": 4.5}
    hourly = {name: [air.get(name, 0.0)] * len(times) for name in OF_THE_PAST}
    return json.dumps({"utc_offset_seconds": 0, "hourly": {"time": times, **hourly}})


def test_the_ten_years_before_this_one_are_wanted_newest_first(workshop):
    found = progress(workshop, NOW)
    assert found.wanted == list(range(2025, 2015, -1))
    assert (found.here, found.done) == (0, False)


def test_in_the_first_days_of_january_the_archive_does_not_have_last_year_yet(workshop):
    assert progress(workshop, datetime(2026, 1, 4, tzinfo=UTC)).wanted[0] == 2024
    assert progress(workshop, datetime(2026, 1, 10, tzinfo=UTC)).wanted[0] == 2025


def test_each_request_brings_one_year_and_keeps_it(workshop, service):  # noqa: F811
    for year in (2025, 2024):
        service.will_answer(body=told(year))
    assert fetch_next_year(workshop, NOW, service.url).here == 1
    found = fetch_next_year(workshop, NOW, service.url)
    assert (found.here, found.missing[0], found.trouble) == (2, 2023, "")
    assert [query["start_date"] for query, _ in service.asked] == [["2025-01-01"], ["2024-01-01"]]
    row = YearOfWeather.objects.get(year=2024)
    assert (row.label, row.known, row.count, row.whole, row.notes) == ("2024", 8784, 8784, True, [])
    hours = row.to_hours()
    assert (hours.start, len(hours)) == (np.datetime64("2024-01-01T00"), 8784)
    assert hours.temperature[77] == 12
    assert "Open-Meteo" in row.attribution


def test_a_failure_keeps_what_is_here_and_says_why(workshop, service):  # noqa: F811
    service.will_answer(body=told(2025))
    service.will_answer(429)
    fetch_next_year(workshop, NOW, service.url)
    found = fetch_next_year(workshop, NOW, service.url)
    assert found.here == 1
    assert "try again later" in found.trouble
    service.will_answer(body=told(2024))
    assert fetch_next_year(workshop, NOW, service.url).here == 2  # goes on where it broke off


def test_a_year_that_answers_half_is_kept_with_its_known_hours_and_says_so(workshop, service):  # noqa: F811
    service.will_answer(body=told(2025, days=181))
    fetch_next_year(workshop, NOW, service.url)
    row = YearOfWeather.objects.get()
    assert (row.known, row.whole) == (4344, False)
    assert row.notes == ["4,344 of 8,760 hours are known; the others are left out."]
    assert np.isnan(row.to_hours().temperature[5000])


def test_a_workshop_without_a_service_asks_none(workshop, service):  # noqa: F811
    workshop.weather_service = Workshop.WeatherService.NONE
    assert "No weather service is chosen" in fetch_next_year(workshop, NOW, service.url).trouble
    assert service.asked == []


def test_when_all_are_here_nobody_is_asked(workshop, monkeypatch):
    monkeypatch.setattr(years, "YEARS_BACK", 0)
    assert fetch_next_year(workshop, NOW, "http://127.0.0.1:9/").done


def test_two_pages_do_not_ask_at_the_same_time(workshop, service):  # noqa: F811
    cache.add(years._under_way(workshop), True)
    assert "one request at a time" in fetch_next_year(workshop, NOW, service.url).trouble
    assert service.asked == []


def test_a_failure_does_not_hold_up_the_next_request(workshop, service):  # noqa: F811
    service.will_answer(400, body='{"error": true, "reason": "no such place"}')
    service.will_answer(body=told(2025))
    fetch_next_year(workshop, NOW, service.url)
    assert fetch_next_year(workshop, NOW, service.url).trouble == ""


def test_years_of_where_the_workshop_stood_before_are_fetched_anew(workshop, service):  # noqa: F811
    service.will_answer(body=told(2025))
    fetch_next_year(workshop, NOW, service.url)
    Workshop.objects.update(latitude=55.0)
    moved = Workshop.objects.get(pk=workshop.pk)
    assert progress(moved, NOW).here == 0
    service.will_answer(body=told(2025, temperature=8.0))
    assert fetch_next_year(moved, NOW, service.url).here == 1
    assert YearOfWeather.objects.get().to_hours().temperature[0] == 8


def test_the_workshops_key_goes_along(workshop, service):  # noqa: F811
    workshop.weather_key = "a-key-of-ours"
    service.will_answer(body=told(2025))
    keep_past_year(workshop, 2025, service.url)
    assert service.asked[0][0]["apikey"] == ["a-key-of-ours"]


def test_a_workshop_of_invented_weather_has_invented_years_and_asks_nobody(workshop):
    workshop.weather_service = Workshop.WeatherService.INVENTED
    row = keep_past_year(workshop, 2025)
    assert row.whole
    assert "Invented" in row.attribution
    assert row.source == "invented"


def test_years_of_another_workshop_do_not_count(workshop, other_workshop, service):  # noqa: F811
    service.will_answer(body=told(2025))
    other_workshop.weather_service = workshop.weather_service
    assert fetch_next_year(other_workshop, NOW, service.url).here == 1
    assert progress(workshop, NOW).here == 0


def test_invented_years_make_room_where_a_service_is_chosen(workshop, service):  # noqa: F811
    workshop.weather_service = Workshop.WeatherService.INVENTED
    fetch_next_year(workshop, NOW)
    workshop.weather_service = Workshop.WeatherService.OPEN_METEO
    assert progress(workshop, NOW).here == 0
    service.will_answer(body=told(2025))
    assert fetch_next_year(workshop, NOW, service.url).here == 1
    assert not YearOfWeather.objects.get().invented


# Typical years


def handed_in(workshop, data, **facts):
    row = YearOfWeather(workshop=workshop, **facts)
    keep_typical_year(row, data, NOW)
    return row


def test_a_typical_year_stands_in_this_year_with_its_notes(workshop):
    handed_in(workshop, as_epw(steady(f21=2.0), offset=0).encode(), attribution="from the town's office")
    row = YearOfWeather.objects.typical().get()
    assert (row.label, row.year, row.source, row.known) == ("Hollowfield, EPW", 2026, "EPW", 8760)
    assert (row.latitude, row.longitude, row.attribution) == (52.4, -1.9, "from the town's office")
    assert "It tells no rain." in row.notes
    assert row.to_hours().start == np.datetime64("2026-01-01T00")


def test_a_typical_year_from_far_away_is_set_by_the_sun_of_here(workshop):
    """Noon of a place 75 degrees to the west, 5 hours behind by its clock, is noon here and not the evening."""
    lines = steady()
    lines[11] = line(2023, 1, 1, 12, f6=20.0, f7=7.0, f8=50)
    text = as_epw(lines, offset=-5).replace("52.40,-1.90", "52.40,-76.90")
    row = handed_in(workshop, text.encode())
    assert row.to_hours().temperature[12] == 20
    assert "Its hours are set by the sun of here, 5 h earlier." in row.notes


def test_several_typical_years_may_stand_beside_each_other(workshop):
    for _ in range(2):
        handed_in(workshop, as_epw(steady()).encode())
    assert YearOfWeather.objects.typical().count() == 2


def test_a_file_that_is_none_leaves_nothing_behind(workshop):
    with pytest.raises(TypicalYearUnreadable):
        handed_in(workshop, b"Hello")
    assert not YearOfWeather.objects.exists()
