"""Which month: the page over years whose answer is plain, and what it says of what is not known."""

import re

import numpy as np
import pytest
from django.urls import reverse

from finishing.air.domain.seasons import SystemThroughYears
from finishing.air.models import YearOfWeather
from finishing.science.hours import Hours
from finishing.workshops.models import Workshop
from tests import factories

pytestmark = pytest.mark.django_db

HOUR = np.arange(8760)
SUMMER = (HOUR // 24 >= 140) & (HOUR // 24 < 280)  # 21 May to 7 October: mild, else near freezing


def keep(workshop, year=2025, rain=0.0, kind="past", **columns):
    air = {"temperature": np.where(SUMMER, 18.0, 2.0), "humidity": 55.0, "wind": 2.0, "cloud": 1.0, "sun": 0.0}
    hours = Hours.from_arrays(np.datetime64(f"{year}-01-01T00"), **air | columns, rain=rain)
    place = {"latitude": workshop.latitude, "longitude": workshop.longitude}
    row = YearOfWeather(workshop=workshop, kind=kind, year=year, label=str(year), source="archive", **place)
    row.keep(hours)
    row.save()
    return row


def ask(client, **asked):
    response = client.get(reverse("which-month"), {name: getattr(value, "pk", value) for name, value in asked.items()})
    return response, re.sub(r"\s+", " ", response.content.decode())


def test_without_years_the_page_says_where_they_come_from(owner_client, yard, system):
    _, shown = ask(owner_client)
    assert "No years of weather are here yet" in shown
    assert reverse("years") in shown


def test_the_best_weeks_are_the_mild_ones(guest_client, workshop, yard, system):
    """The primer and enamel of the cast want 5 °C: 2 °C is too cold for them, 55 % is dry enough."""
    keep(workshop)
    response, shown = ask(guest_client)
    assert 'Best weeks: <b class="stretch">21 May to 7 Oct</b>' in shown
    outcome = response.context["outcome"]
    assert [step.named.name for step in outcome.steps] == [
        "Blasting",
        "1. grey primer",
        "2. green enamel",
        "3. green enamel",
    ]
    assert outcome.months[0][1][-1][1].median == 0
    assert outcome.months[6][1][-1][1].median > 40
    assert "Rests on 2025" in shown
    assert "the whole year is alike" in shown  # blasting minds the damp, not the cold


def test_numbers_stand_beside_the_picture_for_each_step(owner_client, workshop, yard, system):
    keep(workshop)
    _, shown = ask(owner_client)
    assert shown.count('<td class="number" data-label="2. green enamel">') == 12 + 52
    assert '<th scope="row">July</th>' in shown
    assert 'role="img"' in shown


def test_the_archives_credit_is_a_link_beside_its_data(owner_client, workshop, yard, system):
    keep(workshop)
    assert '<a href="https://open-meteo.com/">Weather data by Open-Meteo.com</a>' in ask(owner_client)[1]


def test_several_years_have_a_spread(owner_client, workshop, yard, system):
    keep(workshop, 2023)
    keep(workshop, 2025, humidity=np.where(HOUR % 48 < 24, 55.0, 90.0))
    response, shown = ask(owner_client)
    assert "2 past years, 2023 to 2025" in shown
    assert "eight of ten years lie within" in shown
    july = response.context["outcome"].months[6][1][-1][1]
    assert july.low < july.median < july.high


def test_a_file_that_tells_no_rain_answers_apart_from_it_and_says_so(owner_client, workshop, yard, roof, system):
    row = keep(workshop, kind="typical", rain=np.nan)
    _, shown = ask(owner_client, years=row, place=yard)
    assert "Apart from rain" in shown
    assert "21 May to 7 Oct" in shown
    assert "Apart from rain" not in ask(owner_client, years=row, place=roof)[1]


def test_half_a_year_answers_for_its_half(owner_client, workshop, yard, system):
    keep(workshop, temperature=np.where(HOUR < 4380, 18.0, np.nan))
    response, shown = ask(owner_client)
    assert "4380 of 8760 hours are known" in shown
    assert response.context["outcome"].whole.unknown


def test_thick_iron_and_large_pieces_are_asked_for_in_the_workshops_units(owner_client, workshop, yard, system):
    keep(workshop)
    Workshop.objects.update(units="us")
    response, _ = ask(owner_client)
    of = response.context["outcome"].of
    assert (of.area, of.length_m) == pytest.approx((10 * 0.3048**2, 0.5 * 0.0254 / 2))


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"area": "much"}, "area"),
        ({"area": "0"}, "area"),
        ({"wall": "900"}, "wall"),
        ({"system": "x"}, "system"),
        ({"place": "00000000-0000-0000-0000-000000000000"}, "place"),
        ({"years": "sometime"}, "years"),
    ],
)
def test_what_cannot_be_is_told_at_its_field_and_stays_typed(owner_client, workshop, yard, system, asked, field):
    keep(workshop)
    response, shown = ask(owner_client, **asked)
    assert response.status_code == 200
    assert field in response.context["form"].errors
    assert response.context["outcome"] is None
    if field in ("area", "wall"):
        assert f'value="{asked[field]}"' in shown


def test_another_workshops_years_and_systems_are_not_offered(owner_client, other_workshop, yard, system):
    row = keep(other_workshop)
    assert "No years of weather are here yet" in ask(owner_client)[1]
    keep(system.workshop)
    assert "years" in ask(owner_client, years=row)[0].context["form"].errors
    theirs = factories.SystemFactory(workshop=other_workshop)
    assert "system" in ask(owner_client, system=theirs)[0].context["form"].errors


def test_years_of_where_it_stood_before_are_not_reckoned_with(owner_client, workshop, yard, system):
    keep(workshop)
    Workshop.objects.update(latitude=40)
    assert "No years of weather are here yet" in ask(owner_client)[1]


def test_a_coating_without_drying_times_is_said_to_be_half_reckoned(owner_client, workshop, yard, system):
    keep(workshop)
    system.layers.first().coating.drying_points.all().delete()
    assert "Its sheet here has no drying times" in ask(owner_client)[1]


def test_invented_years_are_only_for_invented_weather_and_say_that_they_are(owner_client, workshop, yard, system):
    keep(workshop)
    YearOfWeather.objects.update(source="invented")
    assert "No years of weather are here yet" in ask(owner_client)[1]  # they fill no gap of a real service
    Workshop.objects.update(weather_service="invented")
    assert "Invented weather: nothing may be concluded from it" in ask(owner_client)[1]


def test_without_places_or_systems_nothing_falls_over(owner_client, workshop):
    keep(workshop)
    response, _ = ask(owner_client)
    assert response.status_code == 200
    assert response.context["outcome"] is None


def test_the_way_to_it_stands_on_the_weather_and_on_each_system(owner_client, system):
    assert reverse("which-month") in owner_client.get(reverse("weather")).content.decode()
    shown = owner_client.get(reverse("system", args=[system.pk])).content.decode()
    assert f"{reverse('which-month')}?system={system.pk}" in shown


def test_preparations_count_to_the_coat_that_follows_them(workshop, yard, primer):
    system = factories.SystemFactory(workshop=workshop)
    factories.LayerFactory(system=system, position=1, kind="degrease", coating=None, minutes=30)
    factories.LayerFactory(system=system, position=2, coating=primer, minutes=60)
    through = SystemThroughYears(workshop, system, yard, 2.0, 0.006, [])
    assert [asked.step.application_h for asked in through.steps] == [1.0, 3.0]
    assert through.whole.best == []


@pytest.mark.browser
def test_on_a_phone_the_answer_fits_and_its_working_opens(signed_in_page, workshop, yard, system):
    keep(workshop)
    page = signed_in_page
    page.goto(reverse("weather"))
    page.get_by_role("link", name="Which month?").click()
    page.get_by_text("21 May to 7 Oct").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.locator("details.working summary").first.click()
    assert page.get_by_text("A look back at past years").first.is_visible()
    page.get_by_text("Each step month by month").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
