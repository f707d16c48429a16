"""How long a list of five thousand parts takes: looked at, and then taken in; and one of as many pieces."""

import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.record.models import Part, Piece
from tests import factories

MANY = 5000


@pytest.mark.django_db
@pytest.mark.parametrize("what", ["parts", "pieces"])
def test_import_of_five_thousand_rows(owner_client, workshop, what):
    design = factories.DesignFactory(workshop=workshop, hidden=True)
    project = factories.ProjectFactory(workshop=workshop, design=design)
    yard = factories.PlaceFactory(workshop=workshop, name="yard")
    factories.SystemFactory(workshop=workshop, name="two coats")
    heads = "part,drawing no.,per machine,material,weighs (kg),painted area (m²),system,colour,mark,machine,place\n"
    of_piece = {"parts": ",,", "pieces": "P-{n},{m},yard"}[what]
    rows = "Part {p},D-{n},2,grey iron,12.{n},0.5,two coats,#2f5d3a," + of_piece + "\n"
    if what == "pieces":  # a hundred parts, each row a piece
        rows = rows.replace("D-{n}", "D-{p}").replace("12.{n}", "12.{p}")
    part_of = (lambda n: n) if what == "parts" else (lambda n: n % 100)
    table = heads + "".join(rows.format(n=n, p=part_of(n), m=n % 40) for n in range(MANY))
    sent = {"file": SimpleUploadedFile("parts.csv", table.encode()), "project": project.pk, "place": yard.pk}
    begun, used = time.monotonic(), time.process_time()
    page = owner_client.post(reverse("parts-list", args=[design.pk]), sent)
    looked = time.monotonic()
    assert not page.context["checked"].errors
    carried = {"project": project.pk, "place": yard.pk, "sheet": page.context["form"].carried, "take": "1"}
    assert owner_client.post(reverse("parts-list", args=[design.pk]), carried).status_code == 302
    taken = time.monotonic()
    assert (Part.objects if what == "parts" else Piece.objects).count() == MANY
    print(f"\nfigure import.{what}_5000_look_s {looked - begun:.2f} s")
    print(f"figure import.{what}_5000_s {taken - begun:.2f} s")
    print(f"figure import.{what}_5000_processor_s {time.process_time() - used:.2f} s")
    assert taken - begun <= 10
