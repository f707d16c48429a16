"""Who blasts a part is asked of the part: a contractor's visit has his own pieces and no others, in plan and visit.

Source: the practitioner's job behind the handbook's corrections; common practice, no source.
"""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.plans.domain.problem import lay_out_rows
from projects.plans.domain.terms import Terms
from projects.record.models import Part, Visit
from projects.visits.views.visits import to_be_blasted
from tests import factories

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 11, 6, tzinfo=UTC)  # a Monday, seven o'clock by the workshop's clock
Blasted = Part.Blasted


@pytest.fixture
def visit(workshop):
    factories.steady_forecast(workshop, NOW)
    return factories.VisitFactory(workshop=workshop)


@pytest.fixture
def cabinet(workshop):
    return factories.PlaceFactory(workshop=workshop, name="Cabinet", kind="shop", cabinet=True)


@pytest.fixture
def pieces(owner, workshop, system, roof, visit):
    """A frame for the contractor, a wheel for ourselves, a guard that is bought clean."""
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design)
    return [
        factories.PieceFactory(
            part=factories.PartFactory(design=design, name=name, system=system, area=0.5, blasted=by),
            project=project,
            place=roof,
            mark=name,
        )
        for name, by in (("frame", Blasted.CONTRACTOR), ("wheel", Blasted.HERE), ("guard", Blasted.CLEAN))
    ]


def laid_out(workshop, pieces):
    return lay_out_rows(Terms(workshop, {}), [pieces[0].project], NOW)


def blasts(layout):
    """By rack who blasts it, and where."""
    tasks = {name.split(": ")[0]: step for name, step in layout.problem.tasks.items() if name.endswith(": blast")}
    return {rack: (step.by_visit, {mode.place for mode in step.modes}) for rack, step in tasks.items()}


def test_with_a_cabinet_each_rack_is_blasted_by_whom_its_part_says(workshop, pieces, cabinet):
    """The wheel in the cabinet; the frame, which the cabinet took off the visit, on the visit."""
    layout = laid_out(workshop, pieces)
    assert blasts(layout) == {"frame frame": (True, {"Lean-to"}), "wheel wheel": (False, {"Cabinet"})}
    assert [visit.call_out for visit in layout.problem.visits] == [9000]


def test_without_a_cabinet_our_own_rig_blasts_where_a_visit_would_and_takes_our_hands(workshop, pieces):
    layout = laid_out(workshop, pieces)
    assert blasts(layout) == {"frame frame": (True, {"Lean-to"}), "wheel wheel": (False, {"Lean-to"})}
    ours = next(step for name, step in layout.problem.tasks.items() if name == "wheel wheel: blast")
    assert ours.people == 1


def test_what_is_bought_clean_waits_for_its_entry_and_not_for_a_visit(workshop, pieces):
    layout = laid_out(workshop, pieces)
    assert [(missing.about, missing.why[:36]) for missing in layout.scope.missing] == [
        ("guard guard", "it is bought clean: log that it came")
    ]
    factories.StepFactory(piece=pieces[2], kind="came clean", happened_at=NOW)
    assert "guard guard" in {hung.name for hung in laid_out(workshop, pieces).hung}


def test_a_visit_is_offered_only_what_its_contractor_blasts(owner_client, workshop, pieces, visit, cabinet):
    assert to_be_blasted(workshop) == pieces[:1]
    page = owner_client.get(reverse("visit-pieces", args=[visit.pk])).content.decode()
    assert "frame" in page
    assert "wheel" not in page
    assert "guard" not in page


def test_bought_clean_and_damaged_it_is_blasted_as_the_others_are(workshop, pieces, system):
    guard = pieces[2]
    factories.StepFactory(piece=guard, kind="came clean", happened_at=datetime(2026, 5, 8, 9, tzinfo=UTC))
    factories.StepFactory(piece=guard, kind="bloom", happened_at=datetime(2026, 5, 9, 9, tzinfo=UTC))
    assert guard in to_be_blasted(workshop)


@pytest.mark.parametrize(
    ("terms", "costs"),
    [
        ({}, 9000),  # 60 + 30
        ({"day_price": Decimal(400)}, 49000),  # 60 + 30 + 400, told as 90
        ({"fixed_price": Decimal(350)}, 35000),
        # half a square metre at 15 min/m² is 8 min: 102 by the hour, so the least charge, less 12 for the minutes
        ({"least_charge": Decimal(250)}, 23800),
    ],
)
def test_a_visit_in_a_plan_costs_what_the_costs_say(workshop, pieces, terms, costs):
    """One sum, `DayTerms.cost`, less the hours that cost the same on any day; source: agreement."""
    Visit.objects.update(**terms)
    (offer,) = laid_out(workshop, pieces).problem.visits
    assert offer.call_out == costs
