"""Photos that are none, sent to the page that takes photos: each gets a word, memory stays bounded, nothing runs.

`pytest tests/benchmarks -s -k photos`
"""

import io
import re
import struct
import sys
import time
import uuid
import zipfile
import zlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from projects.record.images import TILE
from projects.record.models import Photo
from tests import factories
from tests.benchmarks.served import served

pytestmark = pytest.mark.django_db
SCRIPT = b"<script>alert(1)</script>"


def picture(kind, size=(300, 200), **more):
    sent = io.BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(sent, kind, **more)
    return sent.getvalue()


def png_of(width, height):
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")


def archive():
    sent = io.BytesIO()
    with zipfile.ZipFile(sent, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("a.txt", bytes(10**6))
    return sent.getvalue()


def jpeg_of(width, height):
    """A real one whose head says that it is enormous."""
    sent = bytearray(picture("JPEG"))
    at = sent.index(b"\xff\xc0")
    sent[at + 5 : at + 9] = struct.pack(">HH", height, width)
    return bytes(sent)


REFUSED = {
    "nothing": b"",
    "a letter": b"Dear workshop, the gear is done.\n" * 40,
    "half a JPEG": picture("JPEG")[:9000],
    "half a PNG": picture("PNG")[:9000],
    "half a WebP": picture("WEBP")[:4000],
    "half a HEIC": picture("HEIF")[:3000],
    "the head of a HEIC alone": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(200),
    "50,000 by 50,000 as PNG": png_of(50_000, 50_000),
    "50,000 by 50,000 as JPEG": jpeg_of(50_000, 50_000),
    "two million by two million": png_of(2_000_000, 2_000_000),
    "none by none": png_of(0, 0),
    "SVG with a script": b'<svg xmlns="http://www.w3.org/2000/svg">' + SCRIPT + b"</svg>",
    "a page": b"<!DOCTYPE html><html>" + SCRIPT + b"</html>",
    "a page that begins as GIF": b"GIF89a/*" + SCRIPT + b"*/=1;",
    "an archive called .jpg": archive(),
    "a PDF": b"%PDF-1.7\n1 0 obj<</S/JavaScript/JS(app.alert(1))>>endobj",
    "a program": b"\x7fELF\x02\x01\x01" + bytes(2000),
    "TIFF, which is not read": picture("TIFF"),
    "21 MB": b"\xff\xd8\xff\xe0" + bytes(21 * 2**20),
    "500 MB": None,
}


@pytest.fixture
def project(workshop, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return factories.ProjectFactory(design__workshop=workshop)


def send(client, project, sent, name="photo.jpg"):
    form = {"key": str(uuid.uuid4()), "photos": SimpleUploadedFile(name, sent, "image/jpeg")}
    return client.post(reverse("photos-new", args=[project.pk]), form)


def test_what_is_no_photo_gets_a_word(helper_client, project):
    refused = 0
    for what, sent in REFUSED.items():
        answer = send(helper_client, project, bytes(500 * 2**20) if sent is None else sent)
        word = answer.status_code == 422 and "errorlist" in answer.content.decode()
        refused += word
        if not word:
            print(f"{what}: {answer.status_code}")
    print(f"figure photos.hostile_refused {refused} of {len(REFUSED)}")
    assert refused == len(REFUSED) == 20
    assert not Photo.objects.exists()


def test_a_photo_with_a_script_in_it_is_served_without(helper_client, project):
    for sent in (picture("JPEG", comment=SCRIPT) + SCRIPT, picture("PNG") + archive()):
        assert send(helper_client, project, sent, "x.html").status_code == 302
    for photo in Photo.objects.all():
        for name in ("photo", "photo-thumbnail", "photo-tile"):
            answer = helper_client.get(reverse(name, args=[photo.pk]))
            content = b"".join(answer) if answer.streaming else answer.content
            assert answer["Content-Type"] in {"image/jpeg", "image/webp"}
            assert answer["X-Content-Type-Options"] == "nosniff"
            assert b"script" not in content
            assert b"PK\x03\x04" not in content


@pytest.mark.skipif(sys.platform != "linux", reason="memory is read where Linux says it")
@pytest.mark.django_db(databases=[])
def test_memory_of_the_server_while_large_photos_come_in(tmp_path):
    """Ten JPEGs of 12 megapixels at once and a HEIC of 48, to the real server: how much it holds above what it held."""
    camera, new_phone = picture("JPEG", (4000, 3000), quality=85), io.BytesIO()
    Image.effect_noise((1008, 756), 60).convert("RGB").resize((8064, 6048)).save(new_phone, "HEIF", quality=50)
    with served(30, tmp_path) as server:
        page = f"{server.address}{server.pages['project']}photos/new/"
        assert send_to(server, page, picture("JPEG")).status_code == 302  # all that is loaded by the first one
        before, begun = held(server, "VmRSS"), time.monotonic()
        with ThreadPoolExecutor(11) as people:
            answers = list(people.map(lambda sent: send_to(server, page, sent), [camera] * 10 + [new_phone.getvalue()]))
        seconds, peak = time.monotonic() - begun, held(server, "VmHWM")
    print(f"figure photos.peak_mb {peak - before:.0f} MB")
    print(f"figure photos.server_mb {peak:.0f} MB")
    print(f"figure photos.eleven_seconds {seconds:.1f} s")
    assert [answer.status_code for answer in answers] == [302] * 11
    assert peak - before <= 300


def send_to(server, page, sent):
    browser = server.browser()
    browser.get(page, timeout=120)
    form, token = {"key": str(uuid.uuid4())}, {"X-CSRFToken": browser.cookies["csrftoken"]}
    return browser.post(
        page, data=form, files={"photos": ("p.jpg", sent)}, headers=token, allow_redirects=False, timeout=300
    )


def held(server, what):
    """MB of the server's own process."""
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    return int(re.search(rf"{what}:\s+(\d+)", status)[1]) / 1024


def test_what_a_page_of_fifty_weighs(helper_client, project):
    """The page and its fifty pictures, of photos full of detail."""
    kept = picture("JPEG", (1600, 1200), quality=90)
    files = [SimpleUploadedFile(f"{n}.jpg", kept, "image/jpeg") for n in range(50)]
    helper_client.post(reverse("photos-new", args=[project.pk]), {"key": str(uuid.uuid4()), "photos": files})
    page = helper_client.get(reverse("album", args=[project.pk]))
    tiles = [helper_client.get(reverse("photo-tile", args=[photo.pk])).content for photo in Photo.objects.all()]
    assert len(tiles) == 50
    assert max(Image.open(io.BytesIO(tiles[0])).size) == TILE
    kilobytes = (len(page.content) + sum(map(len, tiles))) / 1024
    print(f"figure photos.page_kb {kilobytes:.0f} kB")
    assert kilobytes <= 500
