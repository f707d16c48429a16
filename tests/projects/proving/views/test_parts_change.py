"""Many parts changed at once: what would change is told first, and what stays, with why."""

import pytest
from django.urls import reverse

from projects.record.models import Operation, Part
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def parts(workshop):
    design = factories.DesignFactory(workshop=workshop)
    named = {"Frame": "grey iron", "Table": "grey iron", "Shaft": "steel", "Guard": "steel"}
    return {
        name: factories.PartFactory(design=design, name=name, material=material, system=None)
        for name, material in named.items()
    }


def change(client, parts, button="look", **asked):
    design = next(iter(parts.values())).design_id
    ticked = "&".join(f"part={part.pk}" for part in parts.values())
    return client.post(f"{reverse('parts-change', args=[design])}?{ticked}", {button: "1", **asked})


def test_what_would_change_is_counted_and_what_stays_says_why(owner_client, workshop, parts):
    layer = factories.LayerFactory(system__workshop=workshop)
    new = factories.SystemFactory(workshop=workshop, name="new")
    Part.objects.filter(name="Frame").update(system=layer.system)
    factories.StepFactory(piece__part=parts["Frame"], kind="coated", layer=layer)
    Part.objects.filter(name="Shaft").update(stays_bare=True)
    Part.objects.filter(name="Table").update(colour="#2f5d3a")
    page = change(owner_client, parts, system=new.pk, colour="#2f5d3a")
    told = page.context["told"]
    assert told.counts == {"system": 2, "colour": 3}
    assert {part.name for part, _ in told.stays} == {"Frame", "Shaft"}
    assert "4 of 4 parts would change" in page.content.decode()
    assert Part.objects.filter(system=new).count() == 0
    assert change(owner_client, parts, "change", system=new.pk, colour="#2f5d3a").status_code == 302
    assert set(Part.objects.filter(system=new).values_list("name", flat=True)) == {"Table", "Guard"}
    assert Part.objects.filter(colour="#2f5d3a").count() == 4
    change(owner_client, parts, "change", system=new.pk, over_coats="on")
    assert Part.objects.get(name="Frame").system == new


def test_routes_are_given_by_kind_of_part(owner_client, parts):
    usual = costs.OperationFactory(part=parts["Frame"], process="casting", position=1)
    operation = costs.OperationFactory(part=parts["Frame"], process="machining", position=2, each=3, keep_with=usual)
    costs.QuoteFactory(operation=costs.OperationFactory(part=parts["Guard"]))
    design = parts["Frame"].design_id
    steel = f"{reverse('parts-change', args=[design])}?all=1&material=steel"
    page = owner_client.post(steel, {"route": "like", "like": parts["Frame"].pk, "anew": "on"})
    assert [(part.name, "hang on its route" in why) for part, why in page.context["told"].stays] == [("Guard", True)]
    owner_client.post(steel, {"change": "1", "route": "like", "like": parts["Frame"].pk, "anew": "on"})
    given = Operation.objects.filter(part__name="Shaft").order_by("position")
    assert [(row.process, row.each) for row in given] == [("casting", usual.each), ("machining", operation.each)]
    assert given[1].keep_with == given[0]
    change(owner_client, {"Table": parts["Table"], "Frame": parts["Frame"]}, "change", route="usual")
    assert Operation.objects.filter(part__name="Table").first().process == "pattern"
    assert Operation.objects.filter(part__name="Frame").count() == 2


def test_a_copy_has_parts_systems_and_routes_of_its_own(owner_client, workshop, parts):
    first = costs.OperationFactory(part=parts["Frame"], process="casting", position=1)
    costs.OperationFactory(part=parts["Frame"], process="machining", position=2, each=3, keep_with=first)
    costs.OperationFactory(part=None, design=first.design, workshop=workshop, process="assembly")
    factories.PieceFactory(part=parts["Frame"])
    system = factories.SystemFactory(workshop=workshop)
    Part.objects.filter(name="Frame").update(system=system, mass=12)
    answer = owner_client.post(reverse("design-copy", args=[first.design_id]), {"name": "Second"})
    project = workshop_project("Second")
    assert answer.url == reverse("project", args=[project.pk])
    assert project.design_id != first.design_id
    assert project.pieces.count() == 0
    frame = project.design.parts.get(name="Frame")
    assert (frame.system, frame.mass.magnitude, project.design.parts.count()) == (system, 12, 4)
    casting, machining = frame.operations.order_by("position")
    assert (machining.each, machining.keep_with) == (3, casting)
    assert project.design.operations.filter(part=None).get().process == "assembly"
    assert first.design.operations.count() == 3


def workshop_project(name):
    return factories.projects.Project.objects.get(name=name)
