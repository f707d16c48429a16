"""Photos brought many at once, found again, told of; a story of which the customer reads what is shared."""

import uuid
from datetime import UTC, datetime
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from projects.record.models import Photo, Step
from tests import factories

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 5, 12, 11, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _noon(time_machine, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    time_machine.move_to(NOON)


@pytest.fixture
def piece(workshop, yard):
    return factories.PieceFactory(part__design__workshop=workshop, part__name="Flywheel", mark="FW", place=yard)


def taken(clock):
    exif, sent = Image.Exif(), BytesIO()
    exif.get_ifd(0x8769)[0x9003] = clock
    Image.new("RGB", (60, 40), "grey").save(sent, "JPEG", exif=exif)
    return sent.getvalue()


def bring(client, project, *photos, **typed):
    files = [SimpleUploadedFile(f"{n}.jpg", photo, "image/jpeg") for n, photo in enumerate(photos)]
    form = {"key": str(uuid.uuid4()), "batch": str(uuid.uuid4()), "photos": files} | typed
    return client.post(reverse("photos-new", args=[project.pk]), form)


def test_each_photo_is_kept_once_with_its_own_time_and_stage(helper_client, piece, owner):
    factories.StepFactory(piece=piece, by=owner, happened_at=NOON.replace(hour=9))  # blasted
    batch = {"batch": str(uuid.uuid4()), "piece": str(piece.pk)}
    key = str(uuid.uuid4())
    for _ in range(2):  # the answer did not come, so it is sent again
        bring(helper_client, piece.project, taken("2026:05:12 09:00:00"), key=key, **batch)
    bring(helper_client, piece.project, taken("2026:05:12 11:00:00"), **batch)
    before, after = Photo.objects.order_by("taken_at")
    assert (before.stage, after.stage) == ("found", "blasted")  # 09:00 and 11:00 on the clock of London, blasted 10:00
    assert before.taken_at == NOON.replace(hour=8)
    assert Step.objects.filter(piece=piece, kind="noted").count() == 1  # one line in the log for all of them
    page = helper_client.get(reverse("compare", args=[piece.pk])).content.decode()
    assert page.index(str(before.pk)) < page.index(str(after.pk))


def test_a_photo_is_found_again_by_stage_part_day_and_words(helper_client, piece):
    machine = factories.MachineFactory(project=piece.project)
    bring(helper_client, piece.project, taken("2026:05:01 10:00:00"), piece=str(piece.pk), caption="crack in the rim")
    bring(helper_client, piece.project, taken("2026:05:03 10:00:00"), machine=str(machine.pk), stage="together")
    rim, whole = Photo.objects.order_by("taken_at")

    def found(**asked):
        page = helper_client.get(reverse("album", args=[piece.project_id]), asked).content.decode()
        return [photo for photo in (rim, whole) if str(photo.pk) in page]

    assert found() == [rim, whole]
    assert found(text="Rim crack") == found(text="fw") == found(part=piece.part_id) == found(last="2026-05-01") == [rim]
    assert found(stage="together") == found(first="2026-05-02") == [whole]
    assert found(text="nothing of that") == []
    assert found(stage="☃", first="yesterday", page="-1", part="x") == [rim, whole]


def test_fifty_stand_on_a_page(helper_client, piece):
    bring(helper_client, piece.project, *[taken("2026:05:01 10:00:00")] * 52)
    first = helper_client.get(reverse("album", args=[piece.project_id])).content.decode()
    assert first.count("tile.webp") == 50
    later = helper_client.get(reverse("album", args=[piece.project_id]), {"page": 2}).content.decode()
    assert later.count("tile.webp") == 2


def test_the_customer_reads_the_pages_that_are_shared_and_sees_nothing_kept_back(owner_client, client, piece):
    bring(owner_client, piece.project, factories.grey_photo(), stage="found", caption="as it came")
    bring(owner_client, piece.project, factories.grey_photo(), stage="found", kept_back="on")
    shown, kept_back = Photo.objects.order_by("kept_back")
    follower = factories.FollowerFactory(project=piece.project)
    address = reverse("follow-story", args=[follower.token, "found"])
    assert client.get(address).status_code == 404
    told = {"found-words": "It stood in a barn.", "found-shared": "on"}
    owner_client.post(reverse("story-keep", args=[piece.project_id, "found"]), told)
    page = client.get(address).content.decode()
    assert "It stood in a barn." in page
    assert (str(shown.pk) in page, str(kept_back.pk) in page) == (True, False)
    assert client.get(reverse("follow-photo", args=[follower.token, shown.pk])).status_code == 200
    assert client.get(reverse("follow-photo", args=[follower.token, kept_back.pk])).status_code == 404
    assert address in client.get(reverse("follow", args=[follower.token])).content.decode()


def test_what_is_said_of_a_photo_may_be_changed_by_who_logs(helper_client, guest_client, stranger_client, piece):
    bring(helper_client, piece.project, factories.grey_photo())
    photo = Photo.objects.get()
    address = reverse("photo-about", args=[photo.pk])
    told = {"caption": "rim", "stage": "apart", "taken_at": "2026-05-01T10:00"}
    guest_client.post(address, told)
    assert Photo.objects.get().caption == ""
    helper_client.post(address, told)
    assert (Photo.objects.get().caption, Photo.objects.get().stage) == ("rim", "apart")
    assert stranger_client.get(address).status_code == 404
    assert stranger_client.get(reverse("photo-tile", args=[photo.pk])).status_code == 404


def test_what_is_no_photo_is_refused_at_the_box(helper_client, piece, settings):
    settings.PHOTO_MOST_BYTES = 2**20
    for sent, word in ((b"PK\x03\x04" + bytes(90), "not a photo"), (bytes(2 * 2**20), "1 MB is the most")):
        answer = bring(helper_client, piece.project, sent)
        assert answer.status_code == 422
        assert word in answer.content.decode()
    assert not Photo.objects.exists()
