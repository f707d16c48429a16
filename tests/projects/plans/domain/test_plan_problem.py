"""Rows as a planning problem, in steady air whose answers can be worked out in the head."""

from datetime import UTC, date, datetime

import numpy as np
import pytest

from finishing.air.models import Forecast
from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from tests.factories import CoatingFactory, PartFactory, PieceFactory, ProjectFactory, VisitFactory, steady_forecast

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock


@pytest.fixture
def part(workshop, system):
    return PartFactory(design__workshop=workshop, name="frame", system=system)


@pytest.fixture
def project(part):
    return ProjectFactory(design=part.design, name="press", promised_on=date(2026, 5, 15))


@pytest.fixture
def piece(owner, project, part, roof):
    return PieceFactory(project=project, part=part, place=roof, mark="F-1")


@pytest.fixture
def laid_out(workshop, project, piece):
    def layout(now=NOW, **settings):
        workshop.refresh_from_db()
        return lay_out_rows(Terms(workshop, settings), [project], now)

    steady_forecast(workshop, NOW)
    VisitFactory(workshop=workshop)
    return layout


def steps(layout):
    return {name.split(": ")[1]: step for name, step in layout.problem.tasks.items()}


def test_the_steps_come_out_of_the_system_and_take_area_by_rate_and_a_fixed_part(laid_out):
    """Half a square metre: 5 min masking, 7½ blasting, 5 wiping, and 10 min a coat with 30 around it: minutes, up."""
    found = steps(laid_out())
    assert list(found) == [
        "mask and plug", "blast", "blow down and wipe", "coat of grey primer, layer 1",
        "coat of green enamel, layer 2", "coat of green enamel, layer 3",
    ]  # fmt: skip
    assert [step.minutes for step in found.values()] == [5, 8, 5, 40, 40, 40]
    assert [step.people for step in found.values()] == [1, 0, 1, 1, 1, 1]
    assert found["blast"].by_visit
    assert found["blast"].dust == 60  # until swept and settled


def test_times_follow_the_sheets(laid_out):
    """At 20 °C: handled four hours, recoated six hours after the last stroke; four hours bare less a quarter."""
    layout = laid_out()
    rust, first, _ = layout.problem.time_lags
    primer = steps(layout)["coat of grey primer, layer 1"].modes[0]
    assert primer.dry[600] == 600 + 4 * 60
    assert first.windows[0].opens[600] == 600 + 6 * 60
    assert rust.windows[0].closes[600] == 600 + 3 * 60 + 45
    assert primer.margin[600] == 63  # 20 °C over a dew point of 10.69, less the 3 that are asked (Magnus form)


def test_a_promise_ends_with_the_work_of_its_day(laid_out):
    assert laid_out().problem.chains[0].promised == 60 * (4 * 24 + 11)  # Friday 18:00 in London, from Monday 07:00


def test_a_visit_keeps_to_its_hours(laid_out):
    visit = laid_out().problem.visits[0]
    assert (visit.begin, visit.end, visit.call_out) == (
        25 * 60,
        33 * 60,
        9000,
    )  # Tuesday 8:00 to 16:00 in London; 60 and 30


def test_our_own_hours_cost_the_wage_and_overtime_half_as_much_again(laid_out, workshop):
    workshop.wage = 20
    workshop.save()
    usual, longer = (laid_out(**asked).problem.people[0] for asked in ({}, {"overtime": 2}))
    assert (usual.working[:1440].sum(), longer.working[:1440].sum()) == (10 * 60, 12 * 60)
    assert set(longer.wage[:1440].tolist()) == {2000, 3000}


def test_nothing_new_begins_in_a_minute_that_has_begun(laid_out):
    layout = laid_out(now=datetime(2026, 5, 11, 8, 20, 30, tzinfo=UTC))
    assert layout.ground.start == datetime(2026, 5, 11, 8, 20, tzinfo=UTC)
    assert not any(mode.may_start[0] for task in layout.problem.tasks.values() for mode in task.modes)
    assert not layout.problem.people[0].working[0]


def test_bare_iron_keeps_to_a_place_whose_air_is_dry(laid_out, workshop, shop):
    """80 % outside leaves a quarter of an hour; the shop, at 30 °C, is dry: blasted under the roof and wheeled in."""
    shop.held_at = 30
    shop.save()
    Forecast.objects.all().delete()
    steady_forecast(workshop, NOW, humidity=80)
    blast = steps(laid_out())["blast"]
    assert {(mode.place, mode.stands_in) for mode in blast.modes} == {("Lean-to", "Shop")}


def test_what_ends_with_the_forecast_is_not_known(laid_out):
    layout = laid_out()
    last = steps(layout)["coat of green enamel, layer 3"].modes[0]
    assert layout.problem.horizon.count == 16 * 24 * 60
    assert not np.any(last.may_start[-1:])


def test_what_racks_have_in_common_is_worked_out_once(laid_out, project, part, roof):
    """Two frames on racks of their own: their work, their iron and their place are the same."""
    PieceFactory(project=project, part=part, place=roof, mark="F-2")
    layout = laid_out(largest=0.1)
    one, other = layout.hung
    assert [a is b for a, b in zip(_placed(one), _placed(other), strict=True)] == [True] * 6


def _placed(hung):
    return [hung.ways[task.name][0].work for task in hung.tasks]


def test_each_rack_is_carried_as_its_own_iron_settles(laid_out, workshop, project, part, shop, roof):
    """From 20 °C and 95 % (dew point 19.2) into 30 °C: L 3.3 and 111 mm, h 8, so that τ is 0.38 and 12.8 h.

    τ·ln(10 / 7.8): 0.1 and 3.1 h. Exact solution of the lumped model, [INCROPERA] ch. 5.
    """
    heavy = PartFactory(design=part.design, name="bed", system=part.system, mass=400, area=0.5)
    PieceFactory(project=project, part=heavy, place=roof, mark="B-1")
    shop.held_at = 30
    shop.save()
    Forecast.objects.all().delete()
    steady_forecast(workshop, NOW, humidity=95)
    moves = laid_out(largest=0.1).problem.transports
    settles = {move.rack: int(move.settles[540]) for move in moves if (move.origin, move.to) == ("Lean-to", "Shop")}
    assert 6 <= settles["F-1 frame"] <= 20  # along the chord of its first hour: some minutes late
    assert settles["B-1 bed"] == pytest.approx(60 * 3.18, abs=3)


def test_a_promise_whose_day_of_work_is_over_is_named(laid_out, project):
    """Half past six in the evening of that day, by the clock of the workshop, where work ends at six."""
    evening = datetime(2026, 5, 15, 17, 30, tzinfo=UTC)
    assert [missing.page for missing in laid_out(now=evening).missing if missing.about == str(project)] == [
        "project-edit"
    ]


def test_a_holding_primer_that_has_lost_its_drying_times_is_named(laid_out, workshop):
    paint = CoatingFactory(workshop=workshop, name="held primer")
    layout = laid_out(holding=str(paint.pk))
    assert [missing.why for missing in layout.missing] == ["held primer has no drying times"]
    assert layout.problem is None
