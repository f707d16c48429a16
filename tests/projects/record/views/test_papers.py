"""Papers go to members of their workshop, as files to be saved."""

import uuid
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse

from projects.record.models import Design, Part, Revision

pytestmark = pytest.mark.django_db


@pytest.fixture
def revision(workshop, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    design = Design.objects.create(workshop=workshop, name="Treadle saw")
    part = Part.objects.create(workshop=workshop, design=design, name="frame")
    row = Revision(workshop=workshop, part=part, label="A", drawing_name="frame A.html")
    row.drawing.save("frame A.html", ContentFile(b"<script>alert(1)</script>"))
    return row


def address(row, kind="revision"):
    return reverse("paper", args=[kind, row.pk])


def test_a_drawing_comes_as_a_file_to_be_saved(owner_client, revision):
    response = owner_client.get(address(revision))
    assert b"".join(response.streaming_content) == b"<script>alert(1)</script>"
    assert response["Content-Type"] == "application/octet-stream"
    assert response["Content-Disposition"] == 'attachment; filename="frame A.html"'


def test_it_is_kept_under_a_name_of_ours(revision):
    assert revision.drawing.name == f"papers/{revision.pk}.html"


def test_one_that_takes_its_place_leaves_the_earlier_file_on_disk(revision):
    first = revision.drawing.path
    revision.drawing.save("frame A.html", ContentFile(b"a thicker web"))
    assert revision.drawing.path != first
    assert Path(first).read_bytes() == b"<script>alert(1)</script>"


def test_another_workshop_gets_nothing(stranger_client, revision):
    assert stranger_client.get(address(revision)).status_code == 404


@pytest.mark.parametrize("kind", ["revision", "tool", "quote", "nonsense"])
def test_a_paper_that_is_not_there_is_said_so(owner_client, kind):
    assert owner_client.get(reverse("paper", args=[kind, uuid.uuid4()])).status_code == 404


def test_a_file_that_went_missing_is_said_so(owner_client, revision):
    revision.drawing.storage.delete(revision.drawing.name)
    assert owner_client.get(address(revision)).status_code == 404
