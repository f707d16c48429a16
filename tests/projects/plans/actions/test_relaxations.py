"""No plan: which rule forbids it, and each kind of change that would allow one, found by trying it."""

from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest

from finishing.air.models import Forecast
from finishing.coatings.models import System
from finishing.library.actions import load_library
from finishing.science.hours import Hours
from projects.plans.actions import relaxations
from projects.plans.actions.making import make_plan
from projects.plans.actions.plans import ask_plan
from projects.record.models import PlanRun, Step
from tests.factories import (
    CoatingFactory,
    PartFactory,
    PieceFactory,
    StepFactory,
    VisitFactory,
    steady_forecast,
    with_drying_table,
)

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
WET = 95.0  # %: no paint goes on, and bare iron is spent at once


@pytest.fixture
def part(workshop, system):
    workshop.salt = "clean"
    workshop.save()
    return PartFactory(design__workshop=workshop, name="frame", system=system)


@pytest.fixture
def planned(workshop, owner, project):
    def plan(**settings):
        workshop.refresh_from_db()
        run = ask_plan(workshop, [project], by=owner, now=NOW, settings={"seconds": 3, **settings})
        return make_plan(run, NOW)

    return plan


@pytest.fixture
def with_the_change(planned):
    """Nothing can be planned; with what was tried it can, no later than was told."""

    def again(words):
        run = planned()
        assert run.state == PlanRun.State.FAILED
        assert run.best is None
        assert [change["cost"] for change in run.changes] == sorted(change["cost"] for change in run.changes)
        change = next((change for change in run.changes if words in change["words"]), None)
        assert change, (run.message, run.changes)
        allowed = planned(**change["settings"])
        assert allowed.state == PlanRun.State.DONE, allowed.message
        assert allowed.best.finish_at <= datetime.fromisoformat(change["finish"])
        return run, allowed

    return again


def foretold(workshop, temperature=20.0, humidity=55.0):
    """480 hours of air, numbers or one an hour."""
    run = Hours.from_arrays(
        np.datetime64(NOW.replace(tzinfo=None), "h"), temperature=np.broadcast_to(temperature, 480), humidity=humidity,
        rain=0.0, rain_chance=0.0,
    )  # fmt: skip
    return Forecast.objects.create(
        workshop=workshop, service="met norway", fetched_at=NOW, checked_at=NOW, hours=Forecast.columns(run)
    )


def until(hour, before, after):
    return np.where(np.arange(480) < hour, before, after)


def test_in_cold_air_the_shop_is_to_be_held_warm(workshop, project, part, shop, with_the_change):
    """2 °C all week, and paint wants 5. At 15 °C in the shop it dries, and bare iron is far from the dew point."""
    shop.held_at, shop.cabinet = None, True
    shop.save()
    PieceFactory(project=project, part=part, place=shop, mark="F-1")
    foretold(workshop, temperature=2.0)
    run, _ = with_the_change("Hold Shop at 15 °C")
    assert run.message == "F-1 frame: paint does not dry in time; and air and metal do not allow it"


def test_where_it_is_wet_until_friday_the_blaster_is_asked_for_friday(workshop, piece, with_the_change):
    VisitFactory(workshop=workshop)
    foretold(workshop, humidity=until(90, WET, 55.0))  # until midnight before the Friday
    _, allowed = with_the_change("Ask Grit Brothers for Friday 15 May")
    assert allowed.best.slots.get(kind="blast").begin.date() == date(2026, 5, 15)


def test_where_the_system_s_own_primer_wants_it_warmer_a_holding_primer_goes_on_first(
    workshop, piece, primer, enamel, with_the_change
):
    """7 °C until Thursday; the system's paints want 10, and iron blasted on Tuesday cannot wait so long."""
    for coating in (primer, enamel):
        coating.temperature_min = 10
        coating.save()
    with_drying_table(CoatingFactory(workshop=workshop, name="red holding primer", temperature_min=0))
    VisitFactory(workshop=workshop)
    foretold(workshop, temperature=until(66, 7.0, 20.0))
    _, allowed = with_the_change("Put red holding primer on first, as a holding primer")
    labels = list(allowed.best.slots.filter(kind="coat").order_by("begin").values_list("label", flat=True))
    assert labels == ["coat of red holding primer", "coat of grey primer", *["coat of green enamel"] * 2]
    assert allowed.best.slots.filter(kind="coat").order_by("begin").first().layer is None


def test_a_rack_too_long_for_any_visit_is_blasted_in_halves(workshop, project, part, roof, with_the_change):
    """Three square metres each at an hour a square metre: six hours together, and either visit has four."""
    workshop.blasting_minutes = 60
    workshop.save()
    part.area = 3
    part.save()
    for mark in ("F-1", "F-2"):
        PieceFactory(project=project, part=part, place=roof, mark=mark)
    for day in (12, 13):
        VisitFactory(workshop=workshop, date=date(2026, 5, day), begins=time(8), ends=time(12))
    steady_forecast(workshop, NOW)
    _, allowed = with_the_change("Blast the racks in halves")
    assert {slot.begin.day for slot in allowed.best.slots.filter(kind="blast")} == {12, 13}


def test_a_visit_late_in_the_day_asks_for_longer_hours(workshop, piece, with_the_change):
    """Blasted from half past five on; wiped and primed it is not before twenty past six, and work ends at six."""
    workshop.salt = "not known"  # four hours bare
    workshop.save()
    VisitFactory(workshop=workshop, begins=time(17, 30), ends=time(18))
    steady_forecast(workshop, NOW)
    run, _ = with_the_change("Work 2 hours longer")
    assert "nobody is at work" in run.message or "rust budget" in run.message


def test_a_visit_on_a_free_day_asks_for_work_on_that_day(workshop, piece, with_the_change):
    """Nobody works on Saturdays, and iron with salt on it does not keep until Monday."""
    workshop.salt, workshop.work_days = "not known", "1111100"
    workshop.save()
    VisitFactory(workshop=workshop, date=date(2026, 5, 16))
    steady_forecast(workshop, NOW)
    with_the_change("Work on days that are usually free")


def test_what_would_let_the_other_in_names_it(monkeypatch, workshop, project, part, roof, planned):
    """Blasted from four on, wiped, and primed when the dust has settled: one of the two until six, when work ends."""
    monkeypatch.setattr(relaxations, "MOST_CHANGES", 1)
    workshop.salt, workshop.wage = "not known", 20  # four hours bare
    workshop.save()
    pieces = [PieceFactory(project=project, part=part, place=roof, mark=mark) for mark in ("F-1", "F-2")]
    VisitFactory(workshop=workshop, begins=time(16), ends=time(18))
    steady_forecast(workshop, NOW)
    run = planned(racks={str(piece.pk): f"rack of {piece.mark}" for piece in pieces})
    racks = {slot.rack for slot in run.best.slots.all()}
    (left,) = {"rack of F-1", "rack of F-2"} - racks
    (longer,) = run.changes
    assert longer["words"] == "Work 2 hours longer"
    assert (longer["lets_in"], longer["leaves_out"], longer["racks"]) == ([left], [], 2)
    assert longer["more"] == pytest.approx(longer["cost"] - float(run.best.cost))


def test_a_visit_moved_onto_another_day_of_the_same_contractor_is_told_apart(workshop, piece, planned):
    first = VisitFactory(workshop=workshop)
    second = VisitFactory(workshop=workshop, date=date(2026, 5, 13))
    steady_forecast(workshop, NOW)
    run = planned(shifted={str(first.pk): second.date.isoformat()})
    assert run.state == PlanRun.State.DONE, run.message
    assert run.best.slots.get(kind="blast").begin.date() == second.date


def test_no_contractor_is_asked_for_a_day_that_is_his_already_or_gone_by(workshop, piece, planned):
    for day in (12, 13):
        VisitFactory(workshop=workshop, date=date(2026, 5, day))
    foretold(workshop, humidity=until(90, WET, 55.0))
    run = planned()
    days = {day for change in run.changes for day in change["settings"].get("shifted", {}).values()}
    assert days == {"2026-05-15"}


@pytest.fixture
def bare_since(workshop, owner, project, part, shop, planned):
    """A run for a frame that is bare since then, of iron with salt on it: four hours less a quarter."""

    def run(blasted):
        workshop.salt = "not known"
        workshop.save()
        load_library(workshop)
        part.system = System.objects.get(library_key="machinery-enamel-one-coat")
        part.save()
        steady_forecast(workshop, NOW - timedelta(days=1))
        piece = PieceFactory(project=project, part=part, place=shop, mark="F-1")
        StepFactory(piece=piece, kind=Step.Kind.BLASTED, happened_at=blasted, by=owner)
        return planned()

    return run


def test_iron_that_is_bare_already_is_coated_within_its_budget(bare_since):
    """Work begins at eight: it is wiped down, wiped, stands a quarter of an hour and is coated before a quarter to
    eleven."""
    coat = bare_since(NOW).best.slots.get(kind="coat")
    assert NOW + timedelta(hours=1, minutes=15) < coat.begin < NOW + timedelta(hours=1, minutes=40)


def test_iron_that_is_bare_too_long_already_is_told_of_its_rust_budget(bare_since):
    """Blasted at half past four its time is over at a quarter past eight."""
    run = bare_since(NOW - timedelta(hours=2.5))
    assert run.message == "F-1 frame: bare iron would wait longer for its first coat than its rust budget allows"


def test_with_no_time_left_nothing_is_tried_and_the_rule_is_told_all_the_same(monkeypatch, workshop, piece, planned):
    monkeypatch.setattr(relaxations, "TRYING", -1.0)
    VisitFactory(workshop=workshop)
    foretold(workshop, humidity=WET)
    run = planned()
    assert run.changes == []
    assert run.message.startswith("F-1 frame: ")


def test_days_near_the_end_of_all_days_are_those_that_there_are():
    assert relaxations._days_near(date.max)[0] == date(9999, 12, 30)
    assert all(day < date.max for day in relaxations._days_near(date.max))
