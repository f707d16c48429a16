"""Truth from outside: the orientations of the Exif standard (from memory); the tags are written by Pillow itself."""

import struct
import subprocess
import sys
import zlib
from datetime import datetime, timedelta, timezone
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageStat

from projects.record.images import LONGEST, MOST_MEMORY, THUMBNAIL, NotAPhoto, photograph

ROOT = Path(__file__).resolve().parents[3]

ORIENTATION, GPS, MAKE, SERIAL = 0x0112, 0x8825, 0x010F, 0xA431
RED, BLUE = (220, 20, 20), (20, 20, 220)


def kept(sent, most_bytes=20 * 2**20, most_pixels=80_000_000):
    return photograph(sent, most_bytes, most_pixels)


def shown(data):
    return Image.open(BytesIO(data))


def half_red(size=(80, 40), mode="RGB"):
    """Red on the left, blue on the right."""
    picture = Image.new("RGB", size, BLUE)
    picture.paste(RED, (0, 0, size[0] // 2, size[1]))
    return picture.convert(mode)


def written(picture, kind="JPEG", **more):
    out = BytesIO()
    picture.save(out, kind, **more)
    return out.getvalue()


def is_red(pixel):
    return pixel[0] > 150 and pixel[2] < 110


# where the stored left half is seen, by Exif orientation
@pytest.mark.parametrize(
    ("orientation", "size", "red_at"),
    [(1, (80, 40), (5, 20)), (3, (80, 40), (75, 20)), (6, (40, 80), (20, 5)), (8, (40, 80), (20, 75))],
)
def test_it_turns_a_photo_upright(orientation, size, red_at):
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    photo = kept(written(half_red(), exif=exif))
    picture = shown(photo.image)
    assert picture.size == size == (photo.width, photo.height)
    assert is_red(picture.getpixel(red_at))


def test_it_strips_place_and_camera():
    exif = Image.Exif()
    exif[MAKE] = "Lantern Optical"
    exif.get_ifd(GPS)[2] = (52.0, 24.0, 0.0)
    exif.get_ifd(0x8769)[SERIAL] = "SN-4711"
    sent = written(half_red(), exif=exif, comment=b"the yard behind the house")
    assert b"Lantern Optical" in sent
    assert shown(sent).getexif().get_ifd(GPS)
    photo = kept(sent)
    for data in (photo.image, photo.thumbnail):
        assert not shown(data).getexif()
        for secret in (b"Lantern", b"SN-4711", b"yard", b"Exif"):
            assert secret not in data


def test_it_drops_the_text_a_png_carries():
    from PIL.PngImagePlugin import PngInfo

    text = PngInfo()
    text.add_text("Author", "Somebody Real")
    assert b"Somebody" not in kept(written(half_red(), "PNG", pnginfo=text)).image


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF"])
def test_it_reads_the_usual_kinds(kind):
    photo = kept(written(half_red(), kind))
    assert shown(photo.image).format == "JPEG"
    assert is_red(shown(photo.image).getpixel((5, 20)))


@pytest.mark.parametrize(
    ("mode", "kind"), [("L", "PNG"), ("P", "PNG"), ("RGBA", "PNG"), ("CMYK", "JPEG"), ("1", "PNG")]
)
def test_it_reads_the_usual_modes(mode, kind):
    assert shown(kept(written(half_red(mode=mode), kind)).image).mode == "RGB"


def test_it_lays_transparency_on_white():
    clear = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    assert min(shown(kept(written(clear, "PNG")).image).getpixel((10, 10))) > 250


def test_it_keeps_a_large_photo_at_a_servable_size():
    photo = kept(written(half_red((4000, 3000))))
    assert (photo.width, photo.height) == (LONGEST, 1920)
    assert max(shown(photo.thumbnail).size) == THUMBNAIL
    assert len(photo.thumbnail) < len(photo.image)


def test_it_does_not_blow_up_a_small_one():
    photo = kept(written(half_red((64, 48))))
    assert shown(photo.thumbnail).size == (64, 48)


@pytest.mark.parametrize(
    "sent", [b"Dear workshop, the gear is done.\n" * 40, b"%PDF-1.7\n", b"<svg xmlns='x'/>", b"\xff\xd8\xff"]
)
def test_it_refuses_what_is_no_photo(sent):
    with pytest.raises(NotAPhoto, match="not a photo"):
        kept(sent)


def test_it_refuses_an_empty_file():
    with pytest.raises(NotAPhoto, match="empty"):
        kept(b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_it_refuses_a_photo_cut_short(kind):
    noise = Image.effect_noise((300, 300), 80).convert("RGB")
    sent = written(noise, kind)
    with pytest.raises(NotAPhoto, match="cut short|not a photo"):
        kept(sent[: len(sent) // 2])


def test_it_reads_a_phone_s_heic_and_refuses_what_only_begins_as_one():
    assert is_red(shown(kept(written(half_red(), "HEIF")).image).getpixel((5, 5)))
    with pytest.raises(NotAPhoto, match="not a photo"):
        kept(b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(200))


@pytest.mark.parametrize(("mode", "ground"), [("RGB", "red"), ("L", "white")])
@pytest.mark.parametrize("size", [(5301, 803), (300, 5123)])
def test_a_large_heic_is_made_small_strip_by_strip_as_if_at_once(mode, ground, size):
    """Against Pillow, which holds all of it; a turned one is upright, and its clock is read."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:05:12 10:30:00"
    sent = Image.new(mode, size, ground)
    sent.paste("grey" if mode == "L" else "blue", (0, 0, size[0] // 2, size[1] // 3))
    held = BytesIO()
    sent.save(held, "HEIF", quality=90, exif=exif.tobytes(), enc_params={"preset": "ultrafast"})
    photo = kept(held.getvalue())
    made, whole = shown(photo.image), sent.convert("RGB")
    whole.thumbnail((2560, 2560))
    assert (made.size, photo.taken) == (whole.size, datetime(2026, 5, 12, 10, 30))
    assert ImageStat.Stat(ImageChops.difference(made, whole)).mean < [3.0] * 3


@pytest.mark.parametrize(
    ("clock", "zone", "taken"),
    [
        ("2026:05:12 10:30:00", None, datetime(2026, 5, 12, 10, 30)),
        ("2026:05:12 10:30:00", "+02:00", datetime(2026, 5, 12, 10, 30, tzinfo=timezone(timedelta(hours=2)))),
        ("0000:00:00 00:00:00", None, None),
        ("yesterday", "noon", None),
    ],
)
def test_it_reads_when_the_camera_took_it(clock, zone, taken):
    """The tags of EXIF 2.31: DateTimeOriginal 0x9003 and OffsetTimeOriginal 0x9011."""
    exif = Image.Exif()
    told = exif.get_ifd(0x8769)
    told[0x9003] = clock
    if zone:
        told[0x9011] = zone
    photo = kept(written(half_red(), exif=exif))
    assert photo.taken == taken
    assert not shown(photo.image).getexif()


def test_it_refuses_too_many_bytes():
    with pytest.raises(NotAPhoto, match="1 MB is the most"):
        kept(bytes(3 * 2**20), most_bytes=2**20)


def bomb(width, height):
    """A small PNG that says it is enormous: header and a few bytes of compressed nothing."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side", [9_500, 30_000, 2_000_000])
def test_it_refuses_a_bomb_before_decoding(side):
    with pytest.raises(NotAPhoto, match="too many pixels"):
        kept(bomb(side, side))


def large(kind, mode, side, **more):
    return written(Image.new(mode, (side, side)), kind, **more)


@pytest.mark.parametrize(
    "sent",
    [
        lambda: large("PNG", "RGBA", 4_300),
        lambda: large("WEBP", "RGBA", 3_200),
        lambda: large("JPEG", "RGB", 5_200, progressive=True, subsampling=0),
        lambda: large("JPEG", "RGB", 8_900),
    ],
)
@pytest.mark.skipif(sys.platform != "linux", reason="the peak is read where Linux says it")
def test_no_picture_takes_more_memory_than_is_meant_for_one(sent, tmp_path):
    """Each just below what is refused, in a process of its own; its `ru_maxrss` would begin with that of the tests."""
    file = tmp_path / "sent"
    file.write_bytes(sent())
    program = (
        "import pathlib, re, sys; from PIL import Image; from projects.record.images import photograph\n"
        "peak = lambda: int(re.search(r'VmHWM:\\s+(\\d+)', pathlib.Path('/proc/self/status').read_text())[1])\n"
        "Image.init(); before = peak()\n"
        f"photograph(pathlib.Path(sys.argv[1]).read_bytes(), {20 * 2**20}, 80_000_000); print(peak() - before)"
    )
    run = subprocess.run([sys.executable, "-c", program, file], cwd=ROOT, capture_output=True, text=True, check=True)
    assert int(run.stdout) * 1024 < 1.1 * MOST_MEMORY


@pytest.mark.parametrize(
    ("sent", "most"),
    [
        (lambda: large("PNG", "P", 8_900, transparency=0), 19),
        (lambda: large("JPEG", "RGB", 5_400, progressive=True), 28),
    ],
)
def test_a_small_file_that_swells_is_refused_with_the_way_out(sent, most):
    with pytest.raises(NotAPhoto, match=f"{most} million pixels at most. Send it smaller, or as the camera's"):
        kept(sent())


def test_a_jpeg_in_several_scans_is_held_whole_whatever_a_comment_in_it_looks_like():
    plain = large("JPEG", "RGB", 5_400, comment=b"\xff\xda\x00\x0c\x03")
    assert kept(plain).width == LONGEST
    scan = plain.rindex(b"\xff\xda")
    with pytest.raises(NotAPhoto, match="28 million pixels"):
        kept(plain[: scan + 4] + b"\x01" + plain[scan + 5 :])


def test_a_camera_s_double_picture_is_a_photo():
    second = half_red()
    assert kept(written(half_red(), "MPO", save_all=True, append_images=[second])).width == 80


def test_it_keeps_a_photo_whose_colour_profile_is_broken():
    assert kept(written(half_red(), icc_profile=b"no profile at all" * 20)).width == 80


def test_it_drops_a_colour_profile_once_it_is_used():
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    photo = kept(written(half_red(), icc_profile=profile))
    assert "icc_profile" not in shown(photo.image).info
    assert is_red(shown(photo.image).getpixel((5, 20)))
