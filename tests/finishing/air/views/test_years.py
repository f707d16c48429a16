"""Years of weather on their page: fetched one by one, handed in as files, taken out."""

import uuid

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from finishing.air.actions import years as actions
from finishing.air.models import YearOfWeather
from finishing.weather import WeatherUnavailable
from finishing.workshops.models import Workshop
from tests.finishing.weather.test_typical_year import as_epw, steady

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def _forget():
    cache.clear()


@pytest.fixture
def workshop(workshop):
    Workshop.objects.update(weather_service=Workshop.WeatherService.MET_NORWAY)
    return workshop


@pytest.fixture
def two_invented_years(workshop, monkeypatch):
    monkeypatch.setattr(actions, "YEARS_BACK", 2)
    Workshop.objects.update(weather_service=Workshop.WeatherService.INVENTED)


def page(client):
    return client.get(reverse("years")).content.decode()


def hand_in(client, data, name="year.epw", **more):
    return client.post(reverse("typical-year-new"), {"file": SimpleUploadedFile(name, data), **more})


def test_an_empty_page_says_what_to_do_and_whose_terms_hold(owner_client, workshop):
    shown = page(owner_client)
    assert "<b>0 of 10 years</b>" in shown
    assert "Fetch them" in shown
    assert "non-commercial use only" in shown
    assert 'href="https://creativecommons.org/licenses/by/4.0/"' in shown
    assert reverse("typical-year-new") in shown


def test_a_workshop_without_a_service_is_shown_the_way_to_one(owner_client, workshop):
    Workshop.objects.update(weather_service=Workshop.WeatherService.NONE)
    shown = page(owner_client)
    assert "No weather service is chosen" in shown
    assert "Fetch them" not in shown
    assert "No weather service is chosen" in owner_client.post(reverse("year-fetch"), follow=True).content.decode()


def test_with_a_key_the_terms_are_settled(owner_client, workshop):
    Workshop.objects.update(weather_key="a-key-of-ours")
    shown = page(owner_client)
    assert "The key of the settings goes along" in shown
    assert "a-key-of-ours" not in shown


def test_without_script_each_press_fetches_a_year(owner_client, two_invented_years):
    for here in (1, 2):
        assert owner_client.post(reverse("year-fetch")).url == reverse("years")
        assert f"<b>{here} of 2 years</b>" in page(owner_client)
    assert "Fetch" not in page(owner_client)


def test_with_script_the_page_asks_for_the_next_until_all_are_here(owner_client, two_invented_years):
    first = owner_client.post(reverse("year-fetch"), headers=HTMX).content.decode()
    assert "<b>1 of 2 years</b>" in first
    assert 'hx-trigger="load"' in first
    assert "<html" not in first
    second = owner_client.post(reverse("year-fetch"), headers=HTMX).content.decode()
    assert "<b>2 of 2 years</b>" in second
    assert "hx-trigger" not in second


def test_a_failure_stops_it_says_why_and_offers_to_go_on(owner_client, workshop, monkeypatch):
    def refused(*anything):
        raise WeatherUnavailable("The archive is away.")

    monkeypatch.setattr(actions, "keep_past_year", refused)
    shown = owner_client.post(reverse("year-fetch"), headers=HTMX).content.decode()
    assert "The archive is away." in shown
    assert 'hx-trigger="load"' not in shown
    assert "Fetch the others" in shown
    assert "The archive is away." in owner_client.post(reverse("year-fetch"), follow=True).content.decode()


def test_a_typical_year_is_handed_in_and_told_with_its_distance(restorer_client, workshop):
    response = hand_in(restorer_client, as_epw(steady(f21=3.0)).encode(), attribution="the town's office, CC BY")
    assert response.url == reverse("years")
    shown = page(restorer_client)
    assert "Hollowfield, EPW" in shown
    assert "0 km from here" in shown
    assert "It tells no rain." in shown
    assert "the town&#x27;s office, CC BY" in shown


def test_a_year_from_far_away_is_told_to_be_another_place(restorer_client, workshop):
    hand_in(restorer_client, as_epw(steady()).replace("52.40,-1.90", "40.0,-1.90").encode())
    shown = page(restorer_client)
    assert "1379 km from here: look whether its air is like yours" in shown  # 12.4 degrees of latitude, 111.2 km each


def test_the_same_form_sent_twice_is_one_year(restorer_client, workshop):
    same = str(uuid.uuid4())
    for _ in range(2):
        assert hand_in(restorer_client, as_epw(steady()).encode(), id=same).status_code == 302
    assert YearOfWeather.objects.count() == 1


def test_a_forms_id_never_reaches_another_workshops_year(restorer_client, stranger_client, workshop):
    same = str(uuid.uuid4())
    for client in (stranger_client, restorer_client):
        hand_in(client, as_epw(steady()).encode(), id=same)
    assert YearOfWeather.objects.count() == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"hello", "not a typical year"),
        (b"", "empty"),
        (b"LOCATION,x\n", "ends before its hours begin"),
        (as_epw([text[:20] for text in steady()]).encode(), "an hour of an EPW has 35"),
    ],
)
def test_a_file_that_is_none_is_told_at_its_field_and_what_was_typed_stays(restorer_client, workshop, data, words):
    response = hand_in(restorer_client, data, attribution="from somewhere")
    assert response.status_code == 200
    assert words in response.context["form"].errors["file"][0]
    assert "from somewhere" in response.content.decode()
    assert not YearOfWeather.objects.exists()


def test_a_file_too_large_is_told(restorer_client, workshop, monkeypatch):
    monkeypatch.setattr("finishing.air.forms.years.LARGEST_FILE", 1000)
    assert "larger than" in hand_in(restorer_client, b"x" * 1001).context["form"].errors["file"][0]


def test_no_file_is_told(restorer_client, workshop):
    assert "file" in restorer_client.post(reverse("typical-year-new"), {}).context["form"].errors


def test_a_year_is_taken_out_and_can_come_again(owner_client, two_invented_years):
    owner_client.post(reverse("year-fetch"))
    row = YearOfWeather.objects.get()
    owner_client.post(reverse("year-remove", args=[row.pk]))
    assert not YearOfWeather.objects.exists()
    assert "<b>0 of 2 years</b>" in page(owner_client)


def test_a_stranger_takes_nothing_out(stranger_client, owner_client, two_invented_years):
    owner_client.post(reverse("year-fetch"))
    row = YearOfWeather.objects.get()
    assert stranger_client.post(reverse("year-remove", args=[row.pk])).status_code == 404
    assert "2025" not in page(stranger_client)


def test_helpers_and_guests_look_and_do_not_fetch(helper_client, guest_client, workshop):
    for client in (helper_client, guest_client):
        assert "Fetch them" not in page(client)
        assert client.post(reverse("year-fetch")).status_code == 403
        assert client.get(reverse("typical-year-new")).status_code == 403


@pytest.mark.browser
def test_on_a_phone_one_press_fetches_them_all(signed_in_page, workshop, monkeypatch):
    monkeypatch.setattr(actions, "YEARS_BACK", 3)
    Workshop.objects.update(weather_service=Workshop.WeatherService.INVENTED)
    page = signed_in_page
    page.goto(reverse("years"))
    page.get_by_role("button", name="Fetch them").click()
    page.get_by_text("3 of 3 years").wait_for(timeout=20_000)
    assert YearOfWeather.objects.count() == 3
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
