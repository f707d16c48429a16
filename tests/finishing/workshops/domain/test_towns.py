"""Towns against what an atlas says: positions from the Ordnance Survey's and the USGS's gazetteers as recalled from
memory to a tenth of a degree; time zones are names of the IANA database, currencies those of ISO 4217."""

import zoneinfo

import pytest

from finishing.workshops.domain.towns import find_towns, label_of, largest_town_of, nearest_town, suggest_towns


@pytest.mark.parametrize(
    ("text", "position", "zone", "currency"),
    [
        ("Ludlow, England", (52.4, -2.7), "Europe/London", "GBP"),
        ("ludlow, massachusetts", (42.2, -72.5), "America/New_York", "USD"),
        ("Köln", (50.9, 7.0), "Europe/Berlin", "EUR"),
        ("Cologne", (50.9, 7.0), "Europe/Berlin", "EUR"),
        ("Greensboro, North Carolina, United States", (36.1, -79.8), "America/New_York", "USD"),
        ("Dunedin, New Zealand", (-45.9, 170.5), "Pacific/Auckland", "NZD"),
    ],
)
def test_a_town_says_position_clock_and_money(text, position, zone, currency):
    town = find_towns(text)[0]
    assert (town.latitude, town.longitude) == pytest.approx(position, abs=0.1)
    assert (town.time_zone, town.currency) == (zone, currency)


def test_a_name_that_many_have_is_told_apart_by_what_stands_behind_it():
    springfields = find_towns("Springfield")
    assert len(springfields) > 5
    assert all(find_towns(label_of(town)) == [town] for town in springfields)
    assert not find_towns("Nowhere in Particular")


def test_towns_are_proposed_by_how_they_begin():
    assert "Ludlow, England, United Kingdom" in [label_of(town) for town in suggest_towns("ludl")]
    assert suggest_towns("lu") == []


def test_coordinates_take_clock_and_money_of_the_nearest_town():
    assert nearest_town(52.4, -1.9).time_zone == "Europe/London"
    assert nearest_town(36.1, -79.95).us_units
    assert nearest_town(47.4, 8.5).currency == "CHF"
    assert nearest_town(-33.9, 151.2).time_zone == "Australia/Sydney"


def test_the_zones_of_all_towns_are_known_here():
    zones = {largest_town_of(zone).time_zone for zone in ("Europe/London", "America/Denver", "Asia/Tokyo")}
    assert zones <= zoneinfo.available_timezones()
    assert largest_town_of("Europe/London").name == "London"
    assert largest_town_of("UTC") is None
