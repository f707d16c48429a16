"""What was made by mistake goes at once where nothing hangs on it; else it is set aside, and comes back."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.record.models import Order, Photo, Piece, Project
from tests import cost_factories as costs
from tests import factories

pytestmark = pytest.mark.django_db


def remove(client, row, **pressed):
    name = f"{type(row).__name__.lower()}-remove"
    assert client.get(reverse(name, args=[row.pk])).status_code == 200
    return client.post(reverse(name, args=[row.pk]), pressed, follow=True).content.decode()


def there(row):
    return type(row).objects.filter(pk=row.pk).exists()


def test_what_nothing_hangs_on_goes_at_once(restorer_client, workshop):
    part = factories.PartFactory(design__workshop=workshop)
    costs.OperationFactory(part=part)
    order = costs.OrderLineFactory(operation__part__design__workshop=workshop).order
    layer = factories.LayerFactory(system__workshop=workshop)
    factories.TinSizeFactory(coating__workshop=workshop)
    rows = [
        factories.PieceFactory(part=factories.PartFactory(design__workshop=workshop)),
        part, order, layer.system, layer.coating, factories.MediumFactory(workshop=workshop),
        costs.SupplierFactory(workshop=workshop), factories.DesignFactory(workshop=workshop),
    ]  # fmt: skip
    for row in rows:
        assert "is removed" in remove(restorer_client, row), row
        assert not there(row)


def test_a_project_goes_with_its_pieces_until_something_is_logged(restorer_client, workshop):
    project = factories.ProjectFactory(workshop=workshop, design__workshop=workshop, design__hidden=True)
    part = factories.PartFactory(design=project.design)
    piece = factories.PieceFactory(part=part, project=project)
    factories.MachineFactory(project=project, workshop=workshop)
    entry = factories.StepFactory(piece=piece, kind="noted")
    assert "1 entry in the log" in remove(restorer_client, project)
    assert there(project)
    assert there(piece)
    other = factories.ProjectFactory(workshop=workshop, design__workshop=workshop, design__hidden=True)
    factories.PieceFactory(part=factories.PartFactory(design=other.design), project=other)
    remove(restorer_client, other)
    assert not there(other)
    assert not there(other.design)
    assert Project.objects.get() == entry.piece.project
    assert Piece.objects.get() == piece


def test_what_something_hangs_on_is_set_aside_and_used_again(restorer_client, workshop):
    piece = factories.StepFactory(piece__part__design__workshop=workshop, kind="noted").piece
    layer = factories.LayerFactory(system__workshop=workshop)
    supplier = costs.OrderFactory(design__workshop=workshop).supplier
    for row, column in ((piece, "set_aside"), (layer.coating, "retired"), (supplier, "retired")):
        assert "What hangs on it: 1 " in remove(restorer_client, row)
        assert "is set aside" in remove(restorer_client, row, aside="1")
        row.refresh_from_db()
        assert getattr(row, column)
        kind = type(row).__name__.lower()
        restorer_client.post(reverse("set-aside"), {"kind": kind, "row": row.pk})
        row.refresh_from_db()
        assert not getattr(row, column)


def test_a_part_stays_with_its_pieces_and_a_quote(restorer_client, workshop):
    quoted = costs.QuoteFactory(operation__part__design__workshop=workshop).operation.part
    assert "1 quote" in remove(restorer_client, quoted)
    assert there(quoted)


def test_an_order_that_was_cancelled_stands_again(restorer_client, workshop):
    order = costs.OrderFactory(design__workshop=workshop)
    for pressed, cancelled in (({}, True), ({"stands": "1"}, False)):
        restorer_client.post(reverse("order-cancel", args=[order.pk]), pressed)
        assert Order.objects.get(pk=order.pk).cancelled is cancelled


def test_the_starting_library_stays(restorer_client, workshop):
    row = factories.CoatingFactory(workshop=workshop, from_library=True)
    assert restorer_client.post(reverse("coating-remove", args=[row.pk])).status_code == 404


def test_a_photo_of_no_entry_goes_with_its_files_and_one_of_an_entry_stays(
    restorer_client, helper_client, workshop, settings, tmp_path, django_capture_on_commit_callbacks
):
    settings.MEDIA_ROOT = tmp_path
    of_entry = factories.photo_of(
        factories.StepFactory(piece__part__design__workshop=workshop, kind="noted"), factories.grey_photo()
    )
    project = of_entry.project
    sent = {"key": str(uuid.uuid4()), "photos": SimpleUploadedFile("a.jpg", factories.grey_photo(), "image/jpeg")}
    restorer_client.post(reverse("photos-new", args=[project.pk]), sent)
    photo = Photo.objects.get(step=None)
    about, address = reverse("photo-about", args=[photo.pk]), reverse("photo-remove", args=[photo.pk])
    assert address in restorer_client.get(about).content.decode()
    assert address not in helper_client.get(about).content.decode()
    assert helper_client.post(address).status_code == 403
    with django_capture_on_commit_callbacks(execute=True):
        assert "is removed" in remove(restorer_client, photo)
    assert not there(photo)
    assert not photo.image.storage.exists(photo.image.name)
    assert not photo.thumbnail.storage.exists(photo.thumbnail.name)
    assert "1 entry in the log" in remove(restorer_client, of_entry)
    assert there(of_entry)
