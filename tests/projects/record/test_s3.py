"""Photos in a store that speaks S3: kept, shown, and gone again where the entry is not kept. The store is moto's."""

import uuid

import boto3
import pytest
from django.core.files.storage import storages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from projects.keeping.actions.backups import media_folder
from projects.record.actions import log as log_actions
from projects.record.models import Photo
from tests import factories

moto = pytest.importorskip("moto", reason="moto is not installed")
pytest.importorskip("storages.backends.s3", reason="django-storages is not installed")
pytestmark = pytest.mark.django_db


@pytest.fixture
def bucket(settings, monkeypatch):
    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.setenv(name, "testing")
    monkeypatch.setenv("AWS_DEFAULT_REGION", "us-east-1")
    with moto.mock_aws():
        store = boto3.resource("s3").create_bucket(Bucket="yard")
        backend = "storages.backends.s3.S3Storage"
        settings.STORAGES = {
            **settings.STORAGES,
            "default": {"BACKEND": backend, "OPTIONS": {"bucket_name": "yard", "file_overwrite": False}},
        }
        yield store
    storages._storages.clear()


def sent(client, piece):
    photo = SimpleUploadedFile("yard.png", factories.grey_photo())
    form = {"key": str(uuid.uuid4()), "kind": "noted", "happened_at": f"{timezone.now():%Y-%m-%dT%H:%M}"}
    return client.post(reverse("log"), {**form, "pieces": [piece.pk], "note": "as found", "photos": photo})


def test_a_photo_lies_in_the_store_and_is_shown_to_members_alone(owner_client, stranger_client, workshop, bucket):
    piece = factories.PieceFactory(part__design__workshop=workshop)
    assert sent(owner_client, piece).status_code == 302
    photo = Photo.objects.get()
    assert {kept.key for kept in bucket.objects.all()} == {photo.image.name, photo.thumbnail.name}
    shown = owner_client.get(reverse("photo", args=[photo.pk]))
    assert shown.getvalue().startswith(b"\xff\xd8")
    assert stranger_client.get(reverse("photo", args=[photo.pk])).status_code == 404
    bucket.objects.all().delete()
    assert owner_client.get(reverse("photo-thumbnail", args=[photo.pk])).status_code == 404
    assert media_folder() is None


def test_where_the_entry_is_not_kept_nothing_stays_in_the_store(owner_client, workshop, bucket, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("after the photos")

    piece = factories.PieceFactory(part__design__workshop=workshop)
    monkeypatch.setattr(log_actions, "note_change", broken)
    owner_client.raise_request_exception = False
    assert sent(owner_client, piece).status_code == 500
    assert not list(bucket.objects.all())
