"""A workshop's file is read into another installation as the same workshop, row by row, or not at all."""

import hashlib
import json
import uuid
import zipfile
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, models, transaction
from django.urls import reverse
from django.utils import timezone

from finishing.workshops.models import Membership, User, Workshop
from projects.keeping.actions.letting_go import let_go
from projects.keeping.actions.workshop_in import NotAWorkshop, read_workshop
from projects.keeping.actions.workshop_out import kinds, pairings, rows_of, write_workshop
from projects.record.models import KeptState, Part, Photo, Piece, Plan, Step
from tests import cost_factories, factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "media"


@pytest.fixture
def full(workshop, owner, helper, yard):
    """A workshop with rows of most kinds, with moments to the microsecond and numbers that no decimal fraction is."""
    coating = factories.with_drying_table(factories.CoatingFactory(workshop=workshop, density=1.4 + 1 / 3))
    design = factories.DesignFactory(workshop=workshop)
    part = factories.PartFactory(design=design, mass=12.1)
    project = factories.ProjectFactory(design=design, note="“quoted”\nand so on, 50 µm")
    machine = factories.MachineFactory(project=project)
    piece = factories.PieceFactory(part=part, project=project, machine=machine, place=yard)
    step = factories.StepFactory(piece=piece, by=helper, happened_at=timezone.now(), coating=coating)
    voiding = factories.StepFactory(piece=piece, by=owner, kind=Step.Kind.VOIDED, voids=step)
    photo = factories.photo_of(step, factories.grey_photo())
    photo.pk, photo.step = uuid.uuid4(), voiding
    photo.save(force_insert=True)
    plan = factories.PlanFactory(run__workshop=workshop, run__projects=[project], state=Plan.State.KEPT)
    factories.SlotFactory(plan=plan, pieces=[piece], people=[helper], place=yard)
    factories.ReadingFactory(place=yard)
    factories.VisitPieceFactory(piece=piece, medium__workshop=workshop)
    factories.steady_forecast(workshop, timezone.now(), hours=3)
    operation = cost_factories.OperationFactory(part=part)
    supplier = cost_factories.SupplierFactory(workshop=workshop)
    line = cost_factories.OrderLineFactory(
        order__design=design, order__supplier=supplier, order__workshop=workshop, operation=operation
    )
    cost_factories.ReceiptFactory(line=line, by=owner)
    return workshop


def written(workshop):
    file = BytesIO()
    write_workshop(workshop, file)
    file.seek(0)
    return file


def snapshot(workshop):
    """Every row of it, and the bytes of every photo and paper in place of its name."""
    rows = {}
    for model in kinds():
        files = [column.name for column in model._meta.concrete_fields if isinstance(column, models.FileField)]
        rows[model] = list(rows_of(model, workshop).values())
        for row in rows[model]:
            row.update({name: default_storage.open(row[name]).read() for name in files if row[name]})
        for pairing in pairings(model):
            pairs = pairing.through.objects.values_list(pairing.holder, pairing.held)
            rows[pairing.name] = sorted(map(str, pairs))
    return rows


def leave_for_good(workshop):
    """As if in another installation: no row of it is here, nor any person of it."""
    people = list(User.objects.filter(memberships__workshop=workshop).values_list("pk", flat=True))
    Workshop.objects.filter(pk=workshop.pk).update(deleted_at=timezone.now() - timedelta(days=31))
    let_go(timezone.now())
    User.objects.filter(pk__in=people).delete()


def changed(file, name, content=None, *, told=False):
    """The file with another content of a member; with `told`, its checksum says so too."""
    after = BytesIO()
    with zipfile.ZipFile(file) as before, zipfile.ZipFile(after, "w") as archive:
        manifest = json.loads(before.read("manifest.json"))
        for member in before.namelist():
            if member not in (name, "manifest.json"):
                archive.writestr(member, before.read(member))
        if name != "manifest.json":
            archive.writestr(name, content)
            if told:
                manifest["sha256"][name] = hashlib.sha256(content).hexdigest()
        else:
            manifest |= content
        archive.writestr("manifest.json", json.dumps(manifest))
    after.seek(0)
    return after


def line_changed(file, table, **values):
    with zipfile.ZipFile(file) as archive:
        lines = [json.loads(line) for line in archive.read(f"rows/{table}.jsonl").splitlines()]
    lines[0] |= values
    content = b"".join(json.dumps(line).encode() + b"\n" for line in lines)
    return changed(file, f"rows/{table}.jsonl", content, told=True)


def test_it_is_the_same_workshop_row_by_row(full, tmp_path):
    before, states = snapshot(full), {row.piece_id: row.facts for row in KeptState.objects.all()}
    filled = {model for model, rows in before.items() if rows}
    assert {Step, Photo, Piece, "projects.slot.pieces", "projects.slot.people", "projects.planrun.projects"} <= filled
    call_command("export_workshop", "Hollowfield Works", tmp_path / "own.zip")
    leave_for_good(full)
    assert not Step.objects.exists()
    call_command("import_workshop", tmp_path / "own.zip", owner="owner")
    after = snapshot(Workshop.objects.get())
    assert after == before
    assert len({photo.image.name for photo in Photo.objects.all()}) == 1  # two entries share it, as before
    assert {row.piece_id: row.facts for row in KeptState.objects.all()} == states
    assert not User.objects.get(username="helper").has_usable_password()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Step.objects.update(note="never mind")


def test_whoever_brings_it_by_the_page_owns_it_and_nobody_here_is_taken_for_another(full, stranger_client, stranger):
    file = written(full)
    leave_for_good(full)
    same_name = factories.UserFactory(username="helper")
    with zipfile.ZipFile(file) as archive:
        people = [json.loads(line) for line in archive.read("rows/people.jsonl").splitlines()]
    helper = next(person for person in people if person["username"] == "helper")
    sent = SimpleUploadedFile("own.zip", file.getvalue())
    answer = stranger_client.post(reverse("workshop-bring"), {"file": sent})
    assert answer.url == reverse("members")
    own = Membership.objects.get(workshop=full, user=stranger)
    assert own.role == Membership.Role.OWNER
    assert User.objects.get(pk=helper["id"]).username == "helper-2"
    assert not Membership.objects.filter(user=same_name).exists()


def test_an_id_that_an_account_here_has_is_not_believed_of_a_page(full, stranger):
    victim = factories.UserFactory(username="victim")
    file = written(full)
    with zipfile.ZipFile(file) as archive:
        names = archive.namelist()
        members = {name: archive.read(name) for name in names}
    helper = User.objects.get(username="helper")
    hostile = {name: text.replace(str(helper.pk).encode(), str(victim.pk).encode()) for name, text in members.items()}
    manifest = json.loads(hostile.pop("manifest.json"))
    manifest["sha256"] = {name: hashlib.sha256(text).hexdigest() for name, text in hostile.items()}
    again = BytesIO()
    with zipfile.ZipFile(again, "w") as archive:
        for name, text in (hostile | {"manifest.json": json.dumps(manifest).encode()}).items():
            archive.writestr(name, text)
    leave_for_good(full)
    read_workshop(again, keeper=stranger)
    assert not Membership.objects.filter(user=victim).exists()
    assert Membership.objects.filter(workshop=full).count() == 3


HOSTILE = {
    "no zip": lambda file: BytesIO(b"nothing"),
    "torn": lambda file: BytesIO(file.getvalue()[:-400]),
    "another zip": lambda file: changed(file, "manifest.json", {"format": "something"}),
    "later form": lambda file: changed(file, "manifest.json", {"version": 2}),
    "later program": lambda file: changed(file, "manifest.json", {"schema": ["projects 9999_later"]}),
    "no manifest of ours": lambda file: changed(file, "manifest.json", {"sha256": 7}),
    "damaged": lambda file: changed(file, "rows/projects.step.jsonl", b"{}"),
    "no rows": lambda file: changed(file, "rows/projects.step.jsonl", b"[]\n", told=True),
    "other columns": lambda file: changed(file, "rows/projects.step.jsonl", b"{}\n", told=True),
    "no json": lambda file: changed(file, "rows/projects.step.jsonl", b"{\n", told=True),
    "deep": lambda file: changed(file, "rows/projects.step.jsonl", b"[" * 200_000, told=True),
    "more than it says": lambda file: changed(file, "rows/other.jsonl", b""),
    "out of its folder": lambda file: changed(file, "files/../../out.txt", b"x", told=True),
    "no photo": lambda file: changed(file, photo_in(file), b"<script>", told=True),
    "another row's workshop": lambda file: line_changed(file, "projects.step", workshop_id=factories.NO_ROW),
    "a row elsewhere": lambda file: line_changed(file, "projects.step", piece_id=str(elsewhere())),
    "no number": lambda file: line_changed(file, "projects.part", mass=float("nan")),
    "far too much": lambda file: line_changed(file, "projects.part", mass="1e999"),
    "a NUL": lambda file: line_changed(file, "projects.project", name="a\x00b"),
    "no moment": lambda file: line_changed(file, "projects.step", happened_at="yesterday"),
    "a pair of another": lambda file: line_changed(file, "projects.slot.pieces", piece_id=str(elsewhere())),
}


def photo_in(file):
    with zipfile.ZipFile(file) as archive:
        return next(name for name in archive.namelist() if name.startswith("files/photos/"))


def elsewhere():
    return Piece.objects.exclude(workshop__name="Hollowfield Works").get().pk


@pytest.mark.parametrize("way", HOSTILE)
def test_what_is_garbled_or_hostile_is_refused_before_anything_is_touched(full, stranger, way):
    factories.StepFactory(piece__part__design__workshop__name="Another")
    file = HOSTILE[way](written(full))
    leave_for_good(full)
    here = {path for folder in ("photos", "papers") for path in stored(folder)}
    count = {model: model._base_manager.count() for model in (User, *kinds())}
    with pytest.raises(NotAWorkshop):
        read_workshop(file, keeper=stranger)
    assert {model: model._base_manager.count() for model in (User, *kinds())} == count
    assert {path for folder in ("photos", "papers") for path in stored(folder)} == here


def stored(folder):
    return default_storage.listdir(folder)[1] if default_storage.exists(folder) else []


def test_one_that_is_here_already_is_not_read_in_twice(full, owner_client, tmp_path):
    call_command("export_workshop", str(full.pk), tmp_path / "own.zip")
    with pytest.raises(CommandError, match="here already"):
        call_command("import_workshop", tmp_path / "own.zip", owner="owner")
    sent = SimpleUploadedFile("own.zip", (tmp_path / "own.zip").read_bytes())
    page = owner_client.post(reverse("workshop-bring"), {"file": sent})
    assert "here already" in page.content.decode()


def test_an_owner_takes_it_away_with_tables_for_a_spreadsheet(full, owner_client, helper_client):
    assert helper_client.get(reverse("workshop-file")).status_code == 403
    Part.objects.update(mask="=1+1")
    with zipfile.ZipFile(BytesIO(owner_client.get(reverse("workshop-file")).getvalue())) as archive:
        assert '"mask": "=1+1"' in archive.read("rows/projects.part.jsonl").decode()
        table = archive.read("tables/projects.part.csv").decode("utf-8-sig").splitlines()
        assert "mass" in table[0].split(",")
        assert {"12.1", "'=1+1"} <= {*table[1].split(",")}
        assert not any(
            "password" in archive.read(name).decode("latin-1") for name in archive.namelist()
        )  # pragma: allowlist secret
