"""Parts and pieces from a spreadsheet: looked at cell by cell, taken in whole or not at all, and out again the same."""

from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.record.models import Part, Piece
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(workshop):
    return factories.ProjectFactory(design__workshop=workshop, workshop=workshop, name="Press", design__hidden=True)


@pytest.fixture
def yard(workshop):
    return factories.PlaceFactory(workshop=workshop, name="yard")


def look(client, project, data, **more):
    """The page, once the file was looked at."""
    if isinstance(data, str):
        data = data.encode()
    file = SimpleUploadedFile("parts.csv", data)
    return client.post(reverse("parts-list", args=[project.design_id]), {"file": file, "project": project.pk, **more})


def take(client, page):
    """Press the button of the page that was looked at."""
    form = page.context["form"]
    sent = {name: form.cleaned_data[name] for name in ("project", "place")}
    known = {name: row.pk for name, row in sent.items() if row}
    return client.post(page.request["PATH_INFO"], {**known, "sheet": form.carried, "take": "1"})


LIST = """Part,Qty,Metal,Weight (lb),Painted area,System,Pieces,Machine No.,where,remark
Frame,1,cast iron,100,2.5 m²,,2,7,Yard,the old one
Table,2,Steel,"1,250 g",,two coats,1000,,,
Bracket,,,,50 ft2,,,,,
"""


def test_a_list_is_looked_at_and_then_taken_in_whole(owner_client, workshop, project, yard):
    system = factories.SystemFactory(workshop=workshop, name="Two coats")
    page = look(owner_client, project, LIST, place=yard.pk)
    assert "It can be taken in" in page.content.decode()
    assert page.context["checked"].passed_over == ["remark"]
    assert not Part.objects.exists()
    assert take(owner_client, page).status_code == 302
    frame, table, bracket = (Part.objects.get(name=name) for name in ("Frame", "Table", "Bracket"))
    assert frame.mass.to("kg").magnitude == pytest.approx(45.359237)  # the pound: NIST SP 811, appendix B.8, exactly
    assert table.mass.to("kg").magnitude == pytest.approx(1.25)
    assert bracket.area.to("m**2").magnitude == pytest.approx(4.645152)  # the square foot: the same, 0.09290304 m²
    assert (frame.material, table.material, table.quantity, table.system) == ("grey iron", "steel", 2, system)
    assert table.pieces.count() == 1000
    assert {str(piece.machine) for piece in frame.pieces.all()} == {"machine 7"}
    assert Piece.objects.filter(kept=None).count() == 0
    assert Piece.objects.filter(old_paint=True, place=yard).count() == 1002  # a restoration's
    again = take(owner_client, look(owner_client, project, LIST, place=yard.pk))
    assert again.status_code == 302
    assert (Part.objects.count(), Piece.objects.count()) == (3, 1002)


FAULTY = """part;weighs;material;system;pieces;mark;stays bare
Frame;heavy;lead;three coats;;;
;12;;;;;
Table;12;;;x;;perhaps
Table;13;;;;T-1;
"""


def test_every_fault_is_told_at_its_cell_and_nothing_is_kept(owner_client, project, yard):
    factories.SystemFactory(workshop=project.workshop, name="two coats")
    page = look(owner_client, project, FAULTY, place=yard.pk)
    told = {fault.cell: fault.says for fault in page.context["faults"]}
    assert list(told) == ["B2", "C2", "D2", "A3", "E4", "G4", "B5"]
    assert "two coats" in told["D2"]
    assert "12.5 kg" in told["B2"]
    assert "row 4 says otherwise of Table" in told["B5"]
    assert "every row names its part" in told["A3"]
    assert "Take it all in" not in page.content.decode()
    sent = {"project": project.pk, "place": yard.pk, "sheet": page.context["form"].carried, "take": "1"}
    assert owner_client.post(page.request["PATH_INFO"], sent).status_code == 200
    assert not Part.objects.exists()


def test_what_a_log_holds_is_not_changed_by_a_list(owner_client, workshop, project, yard):
    factories.PlaceFactory(workshop=workshop, name="shop")
    layer = factories.LayerFactory(system__workshop=workshop, system__name="old")
    factories.SystemFactory(workshop=workshop, name="new")
    part = factories.PartFactory(design=project.design, name="Frame", system=layer.system)
    piece = factories.PieceFactory(part=part, project=project, mark="F-01", place=yard)
    factories.StepFactory(piece=piece, kind="coated", layer=layer)
    page = look(owner_client, project, "part,mark,place,system,per machine\nFrame,F-01,shop,new,3\n")
    told = {fault.cell: fault.says for fault in page.context["faults"]}
    assert list(told) == ["C2", "D2"]
    assert "log a move instead" in told["C2"]
    assert "coats of Frame are in the log" in told["D2"]
    page = look(owner_client, project, "part,mark,per machine\nFrame,F-01,3\n")
    assert page.context["checked"].changes.changed_parts[0].what == {"per machine": ("1", "3")}


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_out_and_in_again_is_the_same(owner_client, workshop, project, yard, units, form):
    type(workshop).objects.filter(pk=workshop.pk).update(units=units)
    system = factories.SystemFactory(workshop=workshop)
    tin = factories.CoatingFactory(workshop=workshop)
    factories.PartFactory(
        design=project.design, name="=Frame, top", number="7-3", mass=123.4, area=3.21, wall=18.5, quantity=3,
        profile=60,
        material="ductile iron", system=system, colour="#2f5d3a", lettering="A, B", letter_height=40,
        lettering_coating=tin, lettering_colour="#faf7f0", mask="bores; -threads", blasted="here",
    )  # fmt: skip
    bare = factories.PartFactory(design=project.design, name="Shaft", stays_bare=True, system=None, material="steel")
    machine = factories.MachineFactory(project=project, workshop=workshop, number="104")
    piece = {"part": bare, "project": project, "place": yard, "machine": machine, "salt": "coast"}
    factories.PieceFactory(mark="S-1", old_paint=True, **piece)
    factories.PieceFactory(mark="S-2", **piece)
    table = reverse(f"parts-{form}", args=[project.design_id])
    data = owner_client.get(table, {"project": project.pk}).content
    same = look(owner_client, project, data)
    assert not same.context["checked"].errors
    assert not same.context["checked"].changes.any
    other = factories.ProjectFactory(design__workshop=workshop, workshop=workshop, name="Other")
    assert take(owner_client, look(owner_client, other, data)).status_code == 302
    assert rows_of(project) == rows_of(other)
    assert owner_client.get(reverse(f"parts-{form}", args=[other.design_id]), {"project": other.pk}).status_code == 200


def rows_of(project):
    """What a list tells of it, weights and areas to nine digits."""
    own = {"id", "design", "area_basis"}
    columns = [field.name for field in Part._meta.concrete_fields if field.name not in own]
    parts = [[getattr(part, name) for name in columns] for part in project.design.parts.all()]
    told = ("part__name", "mark", "machine__number", "place", "salt", "old_paint")
    return [[_to_nine(value) for value in part] for part in parts], [*project.pieces.values_list(*told)]


def _to_nine(value):
    return f"{value.magnitude:.9g}" if hasattr(value, "magnitude") else value


def test_the_empty_list_is_headed_in_the_workshop_s_units(owner_client, workshop, project):
    type(workshop).objects.filter(pk=workshop.pk).update(units="us")
    heads = owner_client.get(reverse("parts-empty-csv", args=[project.design_id])).content.decode("utf-8-sig")
    assert "weighs (lb),mean wall (in),painted area (ft²)" in heads
    page = unescape(owner_client.get(reverse("parts-list", args=[project.design_id])).content.decode())
    assert "weighs (lb)" in page
