"""The weather's pages: the air now, the forecast and its age, readings and loggers' files."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import time_machine
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from finishing.air.actions import weather
from finishing.air.actions.weather import Fetched, keep_forecast
from finishing.air.models import Forecast, Reading
from finishing.science.hours import Hours
from finishing.workshops.models import Workshop
from tests.factories import PlaceFactory, ReadingFactory

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)  # 10:20 in London


@pytest.fixture(autouse=True)
def _now():
    cache.clear()
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def served(workshop):
    Workshop.objects.update(weather_service="met norway")
    return Workshop.objects.get(pk=workshop.pk)


def forecast(workshop, fetched_at=NOW, count=240, **facts):
    hours = Hours.from_arrays(
        np.datetime64(fetched_at.replace(tzinfo=None), "h"), temperature=np.full(count, 11.0), humidity=64, rain=0
    )
    return keep_forecast(workshop, hours, fetched_at, **facts)


def look(client, **query):
    return words(client.get(reverse("weather"), query))


def words(response):
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


# The weather's page


def test_it_shows_the_latest_reading_of_each_place_with_its_age_and_working(owner_client, yard, shop):
    ReadingFactory(
        place=yard, taken_at=NOW - timedelta(minutes=25), temperature=20, humidity=60, surface_temperature=16
    )
    ReadingFactory(place=yard, taken_at=NOW - timedelta(hours=2), temperature=1, humidity=99)
    page = look(owner_client)
    assert "Read <b>25 min ago</b>" in page
    assert "20 °C" in page
    assert "12.0 °C" in page  # dew point of 20 °C, 60 %: trade handbooks and Magnus alike
    assert "4.0 °C, 77 % at the metal" in page  # saturation at 16 and 12 °C: 18.17 and 14.02 hPa, a ratio of 0.77
    assert "No reading yet." in page


def test_a_reading_no_longer_fresh_says_so_and_the_reckoned_air_stands_beside_it(owner_client, served, yard):
    ReadingFactory(place=yard, taken_at=NOW - timedelta(hours=9), temperature=20, humidity=60)
    forecast(served)
    page = look(owner_client)
    assert "Read <b>9 h ago</b>, no longer fresh" in page
    assert "Reckoned for now from the forecast" in page
    assert "11 °C" in page


def test_air_that_nobody_read_or_foretold_is_not_known(owner_client, yard):
    page = look(owner_client)
    assert "The air here is <b>not known</b> just now" in page
    assert "No weather service is chosen" in page
    assert "hx-trigger" not in page


def test_a_reading_of_a_clock_that_was_ahead_is_not_the_air_now(owner_client, yard):
    ReadingFactory(place=yard, taken_at=NOW + timedelta(days=30), temperature=33, humidity=60)
    assert "33 °C" not in look(owner_client).split("<h2>Readings</h2>")[0]


def test_the_forecast_says_its_age_and_credits_the_service(owner_client, served):
    forecast(served, NOW - timedelta(minutes=20), issued_at=NOW - timedelta(hours=1))
    page = look(owner_client)
    assert "last checked <b>20 min ago</b>, made today 09:20" in page
    assert "Based on data from MET Norway" in page
    assert "CC BY 4.0" in page
    assert "hx-trigger" not in page  # it still holds


def test_an_old_forecast_is_called_old_and_a_newer_one_is_asked_for_once_the_page_is_shown(owner_client, served):
    forecast(served, NOW - timedelta(days=3))
    page = look(owner_client)
    assert "<b>Old forecast:</b> last checked <b>3 days ago</b>" in page
    assert f'hx-post="{reverse("forecast-fetch")}" hx-trigger="load"' in page


def test_a_service_silent_for_days_leaves_its_last_forecast_in_use(owner_client, served, yard):
    forecast(served, NOW - timedelta(days=6))
    page = look(owner_client)
    assert "Old forecast" in page
    assert 'Reckoned for now from the forecast: <b class="number">11 °C</b>' in page


def test_invented_weather_is_labelled_wherever_it_is_used(owner_client, workshop, yard):
    Workshop.objects.update(weather_service="invented")
    weather.fetch_forecast(Workshop.objects.get(), NOW)
    page = look(owner_client)
    assert page.count("Invented weather") == 3
    assert "from invented weather" in page
    assert "MET Norway" not in page


def test_hours_that_are_not_known_or_coarse_are_drawn_so(owner_client, served):
    hours = Hours.from_arrays(
        np.datetime64("2026-05-12T09"), temperature=np.full(60, 11.0), humidity=64, rain=0, coarse=np.arange(60) > 40
    )
    keep_forecast(served, hours, NOW)
    page = look(owner_client)
    assert 'fill="url(#ahead-unknown)"' in page
    assert 'fill="url(#soon-unknown)"' not in page
    assert 'class="coarse"' in page
    assert "hours known" in page


def test_a_workshop_in_the_us_reads_its_own_units(owner_client, served, yard):
    Workshop.objects.update(units="us")
    forecast(served)
    page = look(owner_client)
    assert "51.8 °F" in page
    assert "11 °C" not in page


@pytest.mark.parametrize(
    ("eve", "there", "not_there"),
    [
        ("2026-03-28T12:30", ["00:00", "02:00"], ["01:00"]),
        ("2026-10-24T12:30", ["01:00 BST", "01:00 GMT", "02:00"], ["01:00"]),
    ],
)
def test_the_nights_in_which_clocks_are_moved_have_their_hours(owner_client, owner, served, eve, there, not_there):
    now = datetime.fromisoformat(eve).replace(tzinfo=UTC)
    with time_machine.travel(now, tick=False):
        owner_client.force_login(owner)
        forecast(served, now)
        page = look(owner_client)
    night = page.split('scope="rowgroup">tomorrow</th>')[1].split('scope="rowgroup"')[0]
    assert all(f'scope="row">{hour}</th>' in night for hour in there)
    assert not any(f'scope="row">{hour}</th>' in night for hour in not_there)


def test_the_page_stands_in_a_zone_of_a_half_hour(owner_client, served, yard):
    Workshop.objects.update(time_zone="Asia/Kathmandu")
    forecast(served)
    assert "18:00" in look(owner_client)


def test_a_stranger_sees_nothing_of_another_workshop(stranger_client, yard):
    ReadingFactory(place=yard, taken_at=NOW, temperature=23.4)
    page = look(stranger_client)
    assert "23.4" not in page
    assert "Yard" not in page


# Asking the service


@pytest.fixture
def answered(monkeypatch):
    def answer(**facts):
        monkeypatch.setattr(weather, "fetch_forecast", lambda workshop, now: Fetched(None, **facts))

    return answer


def test_news_let_the_page_read_itself_anew(owner_client, answered):
    answered(news=True)
    response = owner_client.post(reverse("forecast-fetch"), headers={"HX-Request": "true"})
    assert response.headers["HX-Refresh"] == "true"


def test_trouble_is_told_in_its_place_and_not_asked_about_again(owner_client, served, answered):
    forecast(served, NOW - timedelta(hours=5))
    answered(trouble="MET Norway could not be reached: no connection.")
    page = words(owner_client.post(reverse("forecast-fetch"), headers={"HX-Request": "true"}))
    assert page.startswith('<div id="freshness"')
    assert "No newer forecast came:</b> MET Norway could not be reached" in page
    assert "hx-trigger" not in page
    assert "The last one still stands here" in look(owner_client)


def test_without_script_a_button_asks(owner_client, served, answered):
    answered(news=True)
    assert "Ask for a newer forecast" in look(owner_client)
    assert owner_client.post(reverse("forecast-fetch")).url == reverse("weather")
    assert owner_client.get(reverse("forecast-fetch")).status_code == 405


# A reading


def type_reading(client, place, **changes):
    typed = {
        "id": "7a3e3c52-9a61-4a0c-8c1e-0f3f6f0f5f11",
        "place": place.pk,
        "taken_at": "2026-05-12T10:15",
        "temperature": "12.5",
        "humidity": "71",
        "surface_temperature": "",
    }
    return client.post(reverse("reading-new"), {**typed, **changes})


def test_a_helper_types_a_reading(helper_client, helper, yard):
    assert type_reading(helper_client, yard).url == reverse("weather")
    reading = Reading.objects.get()
    assert reading.taken_at == datetime(2026, 5, 12, 9, 15, tzinfo=UTC)
    assert reading.by == helper
    assert reading.source == "typed"


def test_a_form_sent_twice_is_one_reading(helper_client, yard):
    type_reading(helper_client, yard)
    assert type_reading(helper_client, yard).url == reverse("weather")
    assert Reading.objects.count() == 1


def test_two_readings_of_one_moment_are_refused_at_the_field(helper_client, yard):
    type_reading(helper_client, yard)
    page = words(type_reading(helper_client, yard, id="7a3e3c52-9a61-4a0c-8c1e-0f3f6f0f5f12", humidity="80"))
    assert "There is a reading of this place at this time already." in page
    assert 'value="80"' in page


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("humidity", "140", "Must lie between 1 % and 100 %."),
        ("humidity", "0", "Must lie between 1 % and 100 %."),
        ("humidity", "", "This field is required."),
        ("temperature", "125", "Must lie between −40 °C and 50 °C."),
        ("temperature", "warm", "Give a number"),
        ("temperature", "12 kg", "measures something else"),
        ("surface_temperature", "900", "Must lie between −40 °C and 80 °C."),
        ("taken_at", "2026-05-12T11:15", "That is still to come: it is 10:20 on 12 May now."),
        ("taken_at", "2026-03-29T01:30", "There is no 01:30 on that day"),
        ("taken_at", "soon", "Enter a valid date/time."),
    ],
)
def test_what_cannot_be_is_told_at_its_field_and_stays_typed(helper_client, yard, field, typed, said):
    response = type_reading(helper_client, yard, **{field: typed})
    assert any(said in error for error in response.context["form"].errors[field])
    page = words(response)
    assert f'value="{typed}"' in page or not typed
    assert not Reading.objects.exists()


def test_a_us_workshop_types_fahrenheit(helper_client, yard):
    Workshop.objects.update(units="us")
    type_reading(helper_client, yard, temperature="54.5")
    assert Reading.objects.get().temperature.magnitude == pytest.approx(12.5)


def test_a_guest_looks_on(guest_client, yard):
    assert type_reading(guest_client, yard).status_code == 403
    assert "Type a reading" not in look(guest_client)


def test_a_place_of_another_workshop_cannot_be_chosen(helper_client, other_workshop, yard):
    response = type_reading(helper_client, PlaceFactory(workshop=other_workshop))
    assert "place" in response.context["form"].errors


def test_a_slip_of_the_pen_is_taken_out_and_a_logged_reading_stays(helper_client, stranger_client, yard):
    slip, logged = ReadingFactory(place=yard), ReadingFactory(place=yard, source="logger")
    assert stranger_client.post(reverse("reading-remove", args=[slip.pk])).status_code == 404
    assert helper_client.post(reverse("reading-remove", args=[slip.pk])).url == reverse("readings")
    assert helper_client.post(reverse("reading-remove", args=[logged.pk])).status_code == 404
    assert list(Reading.objects.all()) == [logged]


def test_all_readings_by_fifties(owner_client, yard):
    for minutes in range(120):
        ReadingFactory(place=yard, taken_at=NOW - timedelta(minutes=minutes))
    first = words(owner_client.get(reverse("readings")))
    assert first.count("<tr>") == 51
    assert "Older" in first
    assert words(owner_client.get(reverse("readings"), {"page": "3"})).count("<tr>") == 21
    assert words(owner_client.get(reverse("readings"), {"page": "pages"})).count("<tr>") == 51


# A logger's file


def send(client, place, content, **changes):
    content = content if isinstance(content, bytes) else content.encode()
    typed = {
        "place": place.pk,
        "file": SimpleUploadedFile("yard.csv", content),
        "time_zone": "Europe/London",
        "dates": "find",
    }
    return client.post(reverse("logger-import"), {**typed, **changes})


HEADING = "Date/Time,Temperature (°C),Humidity (%RH)\n"


def test_a_file_is_taken_in_and_reported(helper_client, yard):
    content = HEADING + "2026-05-11 08:00:00,12.5,71.5\n2026-05-11 09:00:00,13.5,171.5\n2026-05-11 10:00:00,14,70\n"
    page = words(send(helper_client, yard, content))
    assert "2 readings added" in page
    assert "yesterday 08:00–10:00" in page
    assert "Line 3: " in page
    assert "All of them were here already" in words(send(helper_client, yard, content))


def test_two_thousand_bad_lines_are_told_by_number(helper_client, yard):
    content = HEADING + "2026-05-11 08:00:00,12.5,771\n" * 2000
    page = words(send(helper_client, yard, content))
    assert "2000 lines left out" in page
    assert "Line 2001: " in page
    assert "No line of it could be kept" in page


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"PK\x03\x04 a workbook", "not a CSV file"),
        (b"one,two,three\n1,2,3\n", "No line of headings was found"),
        (bytes(range(256)) * 40, "No line of headings was found"),
        (b"x" * 5_000_001, "larger than 5 MB"),
    ],
)
def test_a_file_that_is_none_is_refused_at_the_field(helper_client, yard, content, said):
    response = send(helper_client, yard, content)
    assert response.status_code == 200
    assert any(said in error for error in response.context["form"].errors["file"])
    assert f'<option value="{yard.pk}" selected>' in words(response)
    assert not Reading.objects.exists()


def test_a_zone_that_is_none_is_refused_at_the_field(helper_client, yard):
    response = send(helper_client, yard, HEADING, time_zone="Mars/Phobos")
    assert "time_zone" in response.context["form"].errors


def test_dates_that_can_be_read_both_ways_are_asked_about(helper_client, yard):
    content = HEADING + "05/04/2026 08:00,12.5,71.5\n05/04/2026 09:00,12.5,71.5\n"
    response = send(helper_client, yard, content)
    assert "say which stands first" in response.context["form"].errors["dates"][0]
    assert not Reading.objects.exists()
    assert "2 readings added" in words(send(helper_client, yard, content, dates="month"))


def test_a_file_in_another_encoding_with_commas_in_its_numbers(helper_client, yard):
    content = "Datum;Uhrzeit;Temperatur [°C];Feuchte [%]\n11.05.2026;08:00;12,5;71,5\n".encode("cp1252")
    page = words(send(helper_client, yard, content))
    assert "1 reading added" in page
    assert "cp1252" in page
    assert Reading.objects.get().humidity.magnitude == 71.5


def test_a_guest_takes_nothing_in(guest_client, yard):
    assert send(guest_client, yard, HEADING).status_code == 403


def test_forecasts_of_another_workshop_are_not_shown(owner_client, other_workshop, yard):
    forecast(other_workshop)
    assert Forecast.objects.exists()
    assert "not known" in look(owner_client)
