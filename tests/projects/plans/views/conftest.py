"""Two castings of one press in the shop, and a run of the planner over them, for the plan's pages."""

from datetime import timedelta

import pytest
import time_machine

from tests import factories

from .plan_cast import NINE


@pytest.fixture
def on_a_tuesday():
    with time_machine.travel(NINE, tick=False):
        yield


@pytest.fixture
def pieces(workshop, shop, system):
    factories.steady_forecast(workshop, NINE - timedelta(days=3))
    design = factories.DesignFactory(workshop=workshop)
    project = factories.ProjectFactory(design=design, name="Press restored")
    parts = [factories.PartFactory(design=design, system=system, name=name) for name in ("frame", "wheel")]
    return [factories.PieceFactory(part=part, project=project, place=shop, mark=part.name) for part in parts]


@pytest.fixture
def run(workshop, pieces):
    return factories.PlanRunFactory(workshop=workshop, projects=[pieces[0].project])
