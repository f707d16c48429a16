"""A contractor's day as people live it: prepared at a desk, run with a phone, settled; one piece refused for the cold.

After a clear night the air warms by eleven degrees in three hours, and what it carries condenses on what is still cold.
A small bracket follows the air; a bed of 300 kg, 25 mm from skin to core, lags hours behind, as castings do.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import time_machine

from finishing.air.models import Forecast
from finishing.library.actions import load_library
from finishing.science.hours import Hours
from projects.record.models import Step, Visit, VisitPiece
from tests import factories

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DAY = datetime(2031, 5, 13, tzinfo=UTC)  # a Tuesday; London's clock is an hour ahead
EVE, MORNING, NOON = DAY - timedelta(hours=10), DAY + timedelta(hours=8), DAY + timedelta(hours=12)


@pytest.fixture
def clock():
    with time_machine.travel(EVE, tick=True) as traveller:
        yield traveller


@pytest.fixture
def pieces(workshop, owner, roof, system):
    load_library(workshop)
    warming(workshop)
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design, name="Planer")
    for mark, name, mass, area in (("BED", "Bed", 300, 1.6), ("BR-1", "Bracket", 4, 0.3), ("BR-2", "Lever", 3, 0.2)):
        part = factories.PartFactory(design=design, name=name, system=system, mass=mass, area=area, mask="bores")
        factories.PieceFactory(part=part, project=project, place=roof, mark=mark)
    return project


def warming(workshop):
    """5 °C and just dry through the nights; from five to eight UTC up to 16 °C with a dew point of 10 °C, and so on."""
    start = DAY - timedelta(days=2)
    of_day = np.arange(24 * 16) % 24
    warm = np.clip((of_day - 5) / 3, 0, 1) * (of_day < 20)
    run = Hours.from_arrays(
        np.datetime64(start.replace(tzinfo=None), "h"),
        temperature=5 + 11 * warm,
        dew_point=1 + 9 * warm,
        wind=1.0,
        rain=0.0,
        rain_chance=0.0,
    )
    Forecast.objects.create(
        workshop=workshop, service="met norway", fetched_at=start, checked_at=start, hours=Forecast.columns(run)
    )


def test_a_visit_prepared_run_and_settled(clock, signed_in_page, pieces):  # the clock first: sessions run out
    page = signed_in_page
    prepare(page)
    row = {row.piece.mark: row for row in VisitPiece.objects.in_full()}
    assert {row.medium.kind for row in row.values()} == {"crushed glass"}

    page.get_by_role("link", name="Blast sheet").click()
    shown = page.inner_text("main")
    assert "not above 6.3 bar" in shown  # the rig's 7 bar, less 0.5 in the hose and 0.15 for the medium
    assert "Dead-man handle" in shown
    assert "cold until Tue" in shown

    clock.move_to(MORNING)
    run(page)
    assert "cold: metal 10.5 °C, only 0.5 °C above the dew point" in card(page, "BED").inner_text()
    assert "Not now" not in card(page, "BR-1").inner_text()
    refuse(page, "BED")
    for mark, minutes in (("BR-1", "20"), ("BR-2", "10")):
        blasted(page, mark, minutes)
    done = page.inner_text("main")
    assert "Not blasted: cold: metal 10.5 °C" in " ".join(done.split())

    step = Step.objects.get(kind="noted")
    assert step.piece.mark == "BED"
    assert step.surface_temperature.magnitude == 10.2
    assert {step.verdict for step in Step.objects.filter(kind="blasted")} == {"inside"}

    clock.move_to(NOON)
    settle(page)
    assert Visit.objects.get().settled_at is not None
    shown = " ".join(page.inner_text("main").split())
    assert "What each piece bears" in shown
    assert "100.00" in shown  # 150.00 by 20 and 10 minutes
    assert "50.00" in shown

    page.goto("/")
    assert "BR-1" in " ".join(page.locator(".card.bare").all_inner_texts())
    page.locator("summary", has_text="To be blasted").click()
    assert page.get_by_role("link", name="BED").is_visible()


def prepare(page):
    page.goto("/")
    page.locator("summary", has_text="To be blasted").click()
    page.get_by_role("link", name="Prepare a visit").click()
    page.get_by_label("Date").fill("2031-05-13")
    page.get_by_label("Contractor").fill("Grit Brothers")
    for label, typed in {"Call-out": "60", "Travel": "30", "Rate per hour": "90", "Nozzle bore": "40"}.items():
        page.get_by_label(label).fill(typed)
    page.get_by_role("button", name="Next: the pieces").click()
    assert "Must lie between 2 mm and 20 mm" in page.inner_text("main")
    assert page.get_by_label("Contractor").input_value() == "Grit Brothers"
    page.get_by_label("Nozzle bore").fill("11 mm")
    page.get_by_role("button", name="Next: the pieces").click()
    for name in ("Bed", "Bracket", "Lever"):
        page.locator("label.tick", has_text=name).click()
    page.get_by_role("button", name="Keep the pieces").click()
    page.locator(".tasks form", has_text="Neighbours told").get_by_role("button", name="Done").click()
    assert "done" in page.locator(".tasks li", has_text="Neighbours told").inner_text()


def run(page):
    page.goto("/visits/")
    page.get_by_role("link", name="Grit Brothers").click()
    page.get_by_role("link", name="Run the day").click()


def card(page, mark):
    return page.locator("li.turn", has_text=mark)


def refuse(page, mark):
    """What the page proposes is taken, with the metal as measured."""
    card(page, mark).get_by_role("link", name="Not blasted").click()
    assert page.get_by_label("Why it is not blasted").input_value().startswith("cold: metal")
    page.get_by_label("Metal").fill("10.2")
    page.get_by_role("button", name="It is not blasted").click()


def blasted(page, mark, minutes):
    card(page, mark).get_by_role("link", name="Blasted", exact=True).click()
    for name, typed in {
        "air_temperature": "16",
        "humidity": "67",
        "surface_temperature": "15",
        "minutes": minutes,
    }.items():
        page.locator(f"[name={name}]").fill(typed)
    page.locator("form.log button").last.click()
    page.locator(".message", has_text=f"– {mark}.").wait_for()


def settle(page):
    page.get_by_role("link", name="Settle the visit").click()
    page.get_by_label("Hours asked for").fill("1")
    page.get_by_label("Paid in all").fill("150")
    page.get_by_label("Crushed glass").fill("22 kg")
    page.get_by_role("button", name="Settle it").click()
