"""What was deleted is out of sight at once, may be put back for 30 days, and then goes for good."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.db import DatabaseError, transaction
from django.urls import reverse
from django.utils import timezone

from finishing.workshops.actions.workshops import first_link, join_workshop
from finishing.workshops.models import AuditEntry, Invitation, Membership, User, Workshop
from projects.keeping.actions.letting_go import let_go
from projects.record.actions.projects import delete_project, put_back_project, renew_address
from projects.record.models import KeptState, Machine, Photo, Piece, Plan, Project, Slot, Step, Trial, VisitPiece
from tests import cost_factories, factories

ALMOST, LONG_AGO = timedelta(days=29, hours=23), timedelta(days=30, minutes=1)


@pytest.fixture
def gone(workshop, owner, yard):
    """A project with everything that may hang on one."""
    design = factories.DesignFactory(workshop=workshop, name="Fly press")
    project = factories.ProjectFactory(design=design, name="Press of the old mill")
    machine = factories.MachineFactory(project=project, number="M77")
    part = factories.PartFactory(design=design)
    piece = factories.PieceFactory(part=part, project=project, machine=machine, place=yard, mark="ZQ-7")
    step = factories.StepFactory(piece=piece, by=owner)
    factories.StepFactory(piece=piece, by=owner, kind=Step.Kind.VOIDED, voids=step)
    factories.photo_of(step, factories.grey_photo())
    factories.VisitPieceFactory(piece=piece)
    plan = factories.PlanFactory(run__workshop=workshop, run__projects=[project], state=Plan.State.KEPT)
    factories.SlotFactory(plan=plan, pieces=[piece], place=yard, rack="ZQ-7 rack")
    cost_factories.TrialFactory(machine=machine, check_done__design=design, by=owner)
    renew_address(project)
    return project


def delete(row, ago=timedelta()):
    type(row).with_deleted.filter(pk=row.pk).update(deleted_at=timezone.now() - ago)


@pytest.mark.django_db
def test_a_deleted_project_shows_nowhere_and_opens_nothing(owner_client, gone):
    piece, photo, machine = Piece.objects.get(), Photo.objects.get(), Machine.objects.get()
    address = gone.followers.get().token
    page = owner_client.post(reverse("project-delete", args=[gone.pk]), follow=True)
    assert "Put Press of the old mill back" in page.content.decode()
    names = ("projects", "day-sheet", "log", "plan", "visits", "designs", "costs", "evening-before")
    for name in names:
        page = owner_client.get(reverse(name), follow=True).content.decode()
        assert "Press of the old mill" not in page, name
        assert "ZQ-7" not in page, name
    visit = owner_client.get(reverse("visit", args=[VisitPiece._base_manager.get().visit_id])).content.decode()
    assert "ZQ-7" not in visit
    for name, key in (("project", gone), ("piece", piece), ("photo", photo), ("machine", machine)):
        assert owner_client.get(reverse(name, args=[key.pk])).status_code == 404, name
    assert owner_client.get(reverse("follow", args=[address])).status_code == 404
    for model in (Project, Piece, Step, Photo, Machine, KeptState, VisitPiece, Plan, Slot, Trial):
        assert not model.objects.exists(), model


@pytest.mark.django_db
def test_a_project_put_back_is_as_it_was(owner_client, gone):
    before = {model: set(model.objects.values_list("pk", flat=True)) for model in (Piece, Step, Photo, Plan, Slot)}
    said = KeptState.objects.get().facts
    address = gone.followers.get().token
    owner_client.post(reverse("project-delete", args=[gone.pk]))
    owner_client.post(reverse("project-put-back", args=[gone.pk]))
    assert {model: set(model.objects.values_list("pk", flat=True)) for model in before} == before
    assert KeptState.objects.get().facts == said
    assert owner_client.get(reverse("follow", args=[address])).status_code == 200
    done = set(AuditEntry.objects.values_list("what", flat=True))
    assert {AuditEntry.What.DELETED, AuditEntry.What.PUT_BACK} <= done


@pytest.mark.django_db
def test_only_an_owner_deletes_and_puts_back(restorer_client, stranger_client, gone):
    assert restorer_client.post(reverse("project-delete", args=[gone.pk])).status_code == 403
    assert stranger_client.post(reverse("project-delete", args=[gone.pk])).status_code == 404
    delete_project(gone, timezone.now())
    assert stranger_client.post(reverse("project-put-back", args=[gone.pk])).status_code == 404


@pytest.mark.django_db
def test_what_is_ordered_for_a_project_comes_first(gone):
    order = cost_factories.OrderFactory(design=gone.design, project=gone)
    cost_factories.OrderLineFactory(order=order)
    with pytest.raises(ValidationError, match="still to come"):
        delete_project(gone, timezone.now())


@pytest.mark.django_db(transaction=True)
def test_a_project_goes_for_good_after_thirty_days_with_log_and_photos(gone):
    kept = factories.photo_of(factories.StepFactory(piece__project__name="stays"), factories.grey_photo())
    image = Photo.objects.get(step__piece__project=gone).image.name
    order = cost_factories.OrderFactory(design=gone.design, project=gone)
    delete(gone, ALMOST)
    assert let_go(timezone.now()) == []
    assert default_storage.exists(image)
    delete(gone, LONG_AGO)
    assert let_go(timezone.now()) == ["project Press of the old mill of Hollowfield Works"]
    order.refresh_from_db()
    assert order.project is None
    assert not default_storage.exists(image)
    for model in (Project, Piece, Machine, Step, Photo, KeptState, VisitPiece, Plan, Slot, Trial):
        rows = model._base_manager.all()
        assert rows.count() == (model in (Project, Piece, Step, Photo, KeptState)), model
    assert default_storage.exists(kept.image.name)
    assert AuditEntry.objects.get().about == "for good: project Press of the old mill"


@pytest.mark.django_db
@pytest.mark.parametrize("ago", [None, timedelta(), ALMOST])
def test_the_database_lets_no_log_go_before(gone, ago):
    if ago is not None:
        delete(gone, ago)
        delete(gone.workshop, ago)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Step._base_manager.filter(voids__isnull=False).delete()
    assert Step._base_manager.count() == 2


@pytest.mark.django_db
def test_nor_does_it_let_an_entry_be_changed_after(gone):
    delete(gone, LONG_AGO)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Step._base_manager.update(note="never mind")


@pytest.mark.django_db
def test_a_deleted_workshop_lets_nobody_in_until_an_owner_puts_it_back(owner_client, helper_client, workshop, gone):
    calendar = factories.CalendarAddressFactory(workshop=workshop)
    invitation = Invitation.objects.create(workshop=workshop)
    doors = [
        reverse("follow", args=[gone.followers.get().token]),
        reverse("feed", args=[calendar.token]),
        reverse("join", args=[invitation.token]),
    ]
    assert [owner_client.get(door).status_code for door in doors] == [200] * 3
    wrong = owner_client.post(reverse("workshop-delete"), {"name": "another"})
    assert "nothing was deleted" in wrong.content.decode()
    assert (
        "Put it back"
        in owner_client.post(reverse("workshop-delete"), {"name": str(workshop)}, follow=True).content.decode()
    )
    assert [owner_client.get(door).status_code for door in doors] == [404, 404, 410]
    for client in (owner_client, helper_client):
        assert client.get(reverse("day-sheet")).url == reverse("no-workshop")
    assert first_link() is None
    assert helper_client.post(reverse("deleted-workshops"), {"workshop": workshop.pk}).status_code == 404
    assert owner_client.post(reverse("deleted-workshops"), {"workshop": workshop.pk}).url == reverse("day-sheet")
    assert helper_client.get(reverse("day-sheet")).status_code == 200


@pytest.mark.django_db(transaction=True)
def test_a_workshop_goes_for_good_and_no_other_row_with_it(gone, workshop, owner):
    stays = factories.StepFactory(by=owner)
    operation = cost_factories.OperationFactory(part=gone.pieces.get().part)
    line = cost_factories.OrderLineFactory(order__design=gone.design, operation=operation)
    cost_factories.ReceiptFactory(line=line)
    image = Photo.objects.get().image.name
    delete(workshop, LONG_AGO)
    assert let_go(timezone.now()) == ["workshop Hollowfield Works"]
    own = [model for model in apps.get_models() if any(field.name == "workshop" for field in model._meta.fields)]
    left = {model.__name__ for model in own if model._base_manager.filter(workshop=workshop.pk).exists()}
    assert left == set()
    assert list(Step.objects.all()) == [stays]
    assert User.objects.filter(pk=owner.pk).exists()
    assert not default_storage.exists(image)
    assert not Workshop.with_deleted.filter(pk=workshop.pk).exists()


@pytest.mark.django_db
def test_a_member_taken_out_may_be_put_back_or_come_in_by_a_new_link(owner_client, helper_client, helper, workshop):
    membership = Membership.objects.get(user=helper)
    owner_client.post(reverse("member-remove", args=[membership.pk]))
    assert helper_client.get(reverse("day-sheet")).url == reverse("no-workshop")
    assert "Put helper back" in owner_client.get(reverse("deleted")).content.decode()
    owner_client.post(reverse("member-put-back", args=[membership.pk]))
    assert helper_client.get(reverse("day-sheet")).status_code == 200
    owner_client.post(reverse("member-remove", args=[membership.pk]))
    invitation = Invitation.objects.create(workshop=workshop, role=Membership.Role.GUEST)
    assert join_workshop(invitation=invitation, user=helper).role == Membership.Role.GUEST
    assert Membership.objects.filter(user=helper).count() == 1
    delete(membership, LONG_AGO)
    assert let_go(timezone.now()) == ["helper as a member of Hollowfield Works"]
    assert not Membership.with_deleted.filter(user=helper).exists()


@pytest.mark.django_db
def test_a_change_of_the_system_meanwhile_is_read_when_it_comes_back(gone):
    delete_project(gone, timezone.now())
    KeptState._base_manager.update(rests_on="of before")
    put_back_project(gone)
    assert KeptState.objects.get().rests_on != "of before"
