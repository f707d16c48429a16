"""The real job on an open year's weather, as a person does it in a browser with a phone: a project is made, its pieces
are blasted, primed, coated and lettered, and the day sheet tells each next thing.

The weather is that of May in the typical year of Greensboro, NC (723170TYA.CSV in pvlib's package data), moved to 2030.
Coat-before and recoat-from are worked out here a second time, by plain loops over minutes, without the project's code
for metal, rust and drying.
"""

import math
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from finishing.air.models import Forecast
from finishing.workshops.models import Invitation, Workshop
from projects.record.models import Step

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ZONE = ZoneInfo("America/New_York")
SHIFT = np.datetime64("2030-05-01T00") - np.datetime64("1990-05-01T00")
BEGIN = datetime(2030, 5, 2, 12, 0, tzinfo=UTC)  # 08:00 on the workshop's clock
SYSTEM = "Alkyd: zinc phosphate and two coats of enamel"
WALL = 0.016  # m; a mean wall, so volume by area is 8 mm


@pytest.fixture
def may(open_years):
    year = open_years["inland"]
    days = year.between(np.datetime64("1990-04-29T00"), np.datetime64("1990-05-11T00"))
    return replace(days, start=days.start + SHIFT)


@pytest.fixture
def clock():
    with time_machine.travel(BEGIN, tick=True) as traveller:
        yield traveller


def at(hours, minutes=0):
    return BEGIN + timedelta(hours=hours, minutes=minutes)


def test_from_an_empty_workshop_to_lettered_pieces(page, may, clock):
    first_start(page)
    workshop = Workshop.objects.get()
    keep_forecast(workshop, may)
    project(page)
    pieces_of(page, "Frame", "Flywheel")

    clock.move_to(at(0, 5))
    log(page, "blasted", ["Frame", "Flywheel"])
    expected = coat_before(may, at(0, 5))
    shown = day_sheet(page)
    assert "Coat before" in shown
    assert abs(read_clock(shown, r"Coat before (\w+ \d\d:\d\d)", at(0, 5)) - expected) < timedelta(minutes=12)

    clock.move_to(at(2))
    log(page, "coated", ["Frame", "Flywheel"], batch="P 118")
    assert Step.objects.filter(kind="coated", batch="P 118").count() == 2
    shown = day_sheet(page)
    assert "Coat before" not in shown
    assert "Alkyd enamel" in shown
    ready = recoat_from(may, at(2), ((5, 39.8 * 18 / 17.5), (20, 18.0)))
    assert abs(read_clock(shown, r"Ready from (\w+ (?:\d+ \w+ )?\d\d:\d\d)", at(2)) - ready) < timedelta(hours=2)

    clock.move_to(at(24 + 12))
    log(page, "coated", ["Frame", "Flywheel"], reason="no other day")
    clock.move_to(at(24 * 3 + 2))
    log(page, "coated", ["Frame", "Flywheel"], reason="no other day")
    day_sheet(page)
    waiting = " ".join(page.locator("form.paint").all_inner_texts())
    assert "Letters" in waiting
    assert "Frame" in waiting
    assert "Flywheel" not in waiting

    clock.move_to(at(24 * 6 + 2))
    log(page, "lettered", ["Frame"], reason="no other day")
    page.goto("/projects/")
    page.get_by_role("link", name="Press restored").first.click()
    assert "Lettered" in page.inner_text("main")


def first_start(page):
    page.route(f"**{reverse('forecast-fetch')}", lambda route: route.abort())  # its weather is kept here, not asked for
    link = Invitation.objects.create()
    page.goto(f"/start/{link.token}/")
    for label, text in {
        "Your name": "Ada",
        "Name to sign in with": "ada",
        "Password again": "iron and grit",
        "Workshop's name": "Hollowfield Works",
        "Where it stands": "36.1, -79.95",
    }.items():
        page.get_by_label(label, exact=False).first.fill(text)
    page.locator("input[type=password]").first.fill("iron and grit")
    page.locator("main form button").last.click()
    page.wait_for_url(re.compile(r"^(?!.*start)"))


def keep_forecast(workshop, hours):
    Workshop.objects.update(weather_service="none", salt="clean", work_days="1111111")
    Forecast.objects.create(
        workshop=workshop,
        service="met norway",
        fetched_at=BEGIN - timedelta(days=2),
        checked_at=BEGIN - timedelta(days=2),
        hours=Forecast.columns(hours),
    )


def project(page):
    page.goto("/projects/new/")
    page.get_by_label("Name").first.fill("Press restored")
    page.locator("main form button").last.click()
    for name, letters in (("Frame", "HOLLOWFIELD"), ("Flywheel", "")):
        page.goto("/projects/")
        page.get_by_role("link", name="Press restored").first.click()
        page.locator("main dl a[href*='/designs/']").first.click()
        page.locator("a[href$='/parts/new/']").first.click()
        page.get_by_label("Name").first.fill(name)
        page.get_by_label("System").select_option(label=SYSTEM)
        page.get_by_label("Mean wall").fill("16 mm")
        page.get_by_label("Area").last.fill("0.4 m²")
        if letters:
            page.get_by_label("Raised letters").fill(letters)
        page.locator("main form button").last.click()


def pieces_of(page, *parts):
    page.goto("/projects/")
    page.get_by_role("link", name="Press restored").first.click()
    page.locator("a[href*='/pieces/new/']").first.click()
    page.locator("main form button").last.click()
    page.get_by_label("They stand in").select_option(label=roof(page))
    page.locator("main form button").last.click()
    assert all(part in page.inner_text("main") for part in parts)


def roof(page):
    options = page.get_by_label("They stand in").locator("option").all_inner_texts()
    return next(option for option in options if "lean-to" in option.lower() or "roof" in option.lower())


def log(page, kind, parts, **typed):
    """Tick the pieces on the first page of the log, choose the kind, log them at once."""
    page.goto("/log/")
    for part in parts:
        page.locator("label.tick", has_text=part).first.click()
    page.get_by_role("button", name="Next").click()
    page.locator(f"nav.kinds a[href*='kind={kind}']").first.click()
    for name, text in typed.items():
        page.locator(f"[name={name}]").fill(text)
    page.locator("form.log button").last.click()
    page.locator(".message", has_text="Logged:").or_(page.locator("[aria-invalid=true]")).first.wait_for()
    assert "Logged:" in page.inner_text("main"), page.inner_text("main")


def day_sheet(page):
    """The whole sheet, with what waits unfolded."""
    page.goto("/")
    page.evaluate("document.querySelectorAll('details').forEach((fold) => (fold.open = true))")
    return page.inner_text("main")


def read_clock(text, pattern, near):
    """The time a page shows in words, as an instant at or after `near`."""
    found = re.search(pattern, text)
    assert found, text
    word, clock = found[1].rsplit(" ", 1)
    hour, minute = map(int, clock.split(":"))
    day = near.astimezone(ZONE).replace(hour=hour, minute=minute, second=0, microsecond=0)
    if word == "tomorrow":
        day += timedelta(days=1)
    elif word != "today":
        day += timedelta(days=next(d for d in range(2, 8) if (day + timedelta(days=d)).strftime("%a") == word[:3]))
    return day.astimezone(UTC)


# -- the same answers by plain loops; formulas and defaults from trade sources as cited in the project's sources


def minutes_of(hours, start):
    """Minute by minute from `start`: time, air °C, dew point °C, wind m/s, metal °C under a roof outdoors."""
    times = (hours.times - np.datetime64("1970-01-01T00", "h")).astype(int) * 3600.0
    columns = (hours.temperature, hours.dew_point, hours.wind)
    metal = None
    t = times[0]
    while t < times[-1]:
        air, dew, wind = (float(np.interp(t, times, column)) for column in columns)
        kelvin = (air + 273.15, (metal if metal is not None else air) + 273.15)
        if metal is None:
            metal = air
        exchange = (4 + 4 * wind) * (air - metal) + 0.9 * 5.67e-8 * (kelvin[0] ** 4 - kelvin[1] ** 4)
        metal += 60 * exchange / (7200 * 460 * WALL / 2)
        if t >= start.timestamp():
            yield datetime.fromtimestamp(t, UTC), air, dew, metal
        t += 60


def saturation(t):
    return 6.1094 * math.exp(17.625 * t / (t + 243.04))


def coat_before(hours, start):
    """Bands of hours bare by humidity at the metal, clean iron: below 40 % held, then 24, 8, 4, 2, 1 and half an hour.

    As the model says, each moment spends by the air and metal at it, between the hours as between two readings.
    """
    bands = ((40, 0), (50, 1 / 24), (60, 1 / 8), (70, 1 / 4), (80, 1 / 2), (85, 1), (1e9, 2))
    spent = 0.0
    for when, _, dew, metal in minutes_of(hours, start):
        if metal <= dew:
            return when
        damp = round(100 * saturation(dew) / saturation(metal), 1)
        spent += next(spend for below, spend in bands if damp < below) / 60
        if spent >= 1 or when - start >= timedelta(hours=72):
            return when
    raise AssertionError("the budget outlasts the hours")


def recoat_from(hours, start, points):
    """Progress Σ dt / t(T), t by the Arrhenius form between two points of the sheet."""
    (cold, slow), (warm, quick) = points
    done = 0.0
    for when, _, _, metal in minutes_of(hours, start):
        share = (1 / (metal + 273.15) - 1 / (cold + 273.15)) / (1 / (warm + 273.15) - 1 / (cold + 273.15))
        done += 1 / 60 / math.exp(math.log(slow) + (math.log(quick) - math.log(slow)) * share)
        if done >= 1:
            return when
    raise AssertionError("it never dries in these hours")
