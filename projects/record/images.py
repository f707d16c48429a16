"""Photo bytes in, JPEG bytes out: upright, small enough to serve, and without what a camera writes beside the picture.

A picture is decoded and written anew, so nothing of the sent file (place, serial number, name, hidden payload) is kept.
"""

import contextlib
import ctypes
import re
import sys
import warnings
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from threading import Lock

import pillow_heif
from PIL import ExifTags, Image, ImageCms, ImageOps

pillow_heif.register_heif_opener(thumbnails=False)
READ = ("JPEG", "PNG", "WEBP", "GIF", "HEIF")
LONGEST, THUMBNAIL, TILE = 2560, 480, 220  # px along the longer side
MOST_MEMORY = 280_000_000  # bytes, for one picture
# bytes a pixel, where all are held at once; measured. An MPO is a JPEG with a second picture behind it
WHOLE = {"JPEG": 10, "MPO": 10, "PNG": 15, "GIF": 12, "WEBP": 18}
PLAIN_HEIF, DEEP_HEIF = 5.5, 7.5  # of 8 bit as phones write it, of 10 or 12
STRIP = 64  # rows of a made small picture that are held in full at once
DECODING = Lock()  # one picture at a time until it is written, whatever comes in at once
MALLOC_MAPS_FROM = -3, 2**20  # glibc's M_MMAP_THRESHOLD, and bytes: of pictures every block is larger
START_OF_SCAN = b"\xff\xda"
SEGMENT = re.compile(rb"\xff[\xc0-\xcf\xdb-\xfe](..)", re.DOTALL)  # a part of a JPEG's head, and its length


if sys.platform == "linux":  # else each of a server's threads keeps for itself what its pictures took: 800 MB of eight
    with contextlib.suppress(AttributeError, OSError):  # another library than glibc
        ctypes.CDLL(None).mallopt(*MALLOC_MAPS_FROM)


class NotAPhoto(ValueError):
    """Why these bytes are not kept, in words for the person who sent them."""


@dataclass(frozen=True)
class Photograph:
    image: bytes
    thumbnail: bytes
    width: int
    height: int
    taken: datetime | None = None  # by the camera's clock, which as a rule knows no zone


def photograph(sent: bytes, most_bytes: int, most_pixels: int) -> Photograph:
    """A photo as it is kept, or NotAPhoto."""
    _refuse_by_bytes(sent, most_bytes)
    with DECODING:
        return _kept(_decoded(sent, most_pixels))


def _kept(whole: Image.Image) -> Photograph:
    """Made small before anything else: each later step has the whole picture in memory twice."""
    taken, picture = _taken(whole), _made_small(whole)
    picture = _in_plain_colours(ImageOps.exif_transpose(picture))
    small = picture.copy()
    small.thumbnail((THUMBNAIL, THUMBNAIL))
    return Photograph(_jpeg(picture, 85), _jpeg(small, 80), *picture.size, taken)


def too_many_bytes(sent: int, most: int) -> str:
    return f"The photo has {sent / 2**20:.0f} MB; {most / 2**20:.0f} MB is the most."


def _refuse_by_bytes(sent: bytes, most_bytes: int) -> None:
    if not sent:
        raise NotAPhoto("The file is empty.")
    if len(sent) > most_bytes:
        raise NotAPhoto(too_many_bytes(len(sent), most_bytes))


def _decoded(sent: bytes, most_pixels: int) -> Image.Image:
    """The header is read first: a picture that would swell beyond the limit is refused before it is decoded."""
    too_many = NotAPhoto(f"The photo has too many pixels; {most_pixels / 1e6:.0f} million is the most.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is asked next
            picture = Image.open(BytesIO(sent), formats=READ)
    except Image.DecompressionBombError:
        raise too_many from None
    except Exception:  # decoders meet any bytes, and raise what they like
        raise NotAPhoto("This is not a photo. JPEG, HEIC, PNG, WebP and GIF are read.") from None
    if picture.width * picture.height > most_pixels:
        raise too_many
    most_whole = MOST_MEMORY / _bytes_a_pixel(picture)
    if picture.width * picture.height > most_whole and not _decoded_by_rows(picture, sent):
        raise NotAPhoto(
            f"A picture of this kind may have {most_whole / 1e6:.0f} million pixels at most."
            " Send it smaller, or as the camera's own JPEG."
        )
    picture.draft("RGB", (LONGEST, LONGEST))  # a JPEG is decoded no larger than it will be kept
    try:
        if picture.format == "HEIF":
            return _by_strips(sent, picture)
        picture.load()
    except Exception:
        raise NotAPhoto("The photo is cut short or damaged. Send it again.") from None
    return picture


def _bytes_a_pixel(picture: Image.Image) -> float:
    see_through = 1.5 if picture.has_transparency_data else 1.0
    if picture.format == "WEBP":
        return WHOLE["WEBP"] * see_through
    if picture.format != "HEIF":
        return WHOLE[picture.format or ""]
    of_depth = DEEP_HEIF if picture.info["bit_depth"] > 8 else PLAIN_HEIF
    of_colour = 1.0 if picture.info.get("chroma") == 420 or picture.mode == "L" else 2.0  # colour as fine as the light
    return of_depth * of_colour * see_through


def _by_strips(sent: bytes, picture: Image.Image) -> Image.Image:
    """A HEIC made small out of its decoder's own memory: Pillow would hold all of it once more, at four bytes a pixel.

    What the camera says beside the picture stays with it.
    """
    decoded = pillow_heif.open_heif(sent)[0]
    pixels = memoryview(decoded.data)  # first of all: the size may change as it is decoded
    wide, high = decoded.size
    by = max(1, max(wide, high) // LONGEST)
    small = Image.new(decoded.mode, (-(-wide // by), -(-high // by)))
    small.info = picture.info
    for top in range(0, high, STRIP * by):
        rows = min(STRIP * by, high - top)
        here = pixels[top * decoded.stride : (top + rows) * decoded.stride]
        strip = Image.frombytes(decoded.mode, (wide, rows), here, "raw", decoded.mode, decoded.stride)
        small.paste(strip.reduce(by), (0, top // by))
    return small


def _decoded_by_rows(picture: Image.Image, sent: bytes) -> bool:
    """Whether it is a JPEG whose first scan has all its colours: of any other the decoder holds the whole picture."""
    if picture.format not in {"JPEG", "MPO"} or picture.info.get("progressive"):
        return False
    at = 2
    while segment := SEGMENT.match(sent, at):
        at += 2 + int.from_bytes(segment[1], "big")
    return sent[at : at + 2] == START_OF_SCAN and sent[at + 4 : at + 5] == bytes([len(picture.getbands())])


def _made_small(picture: Image.Image) -> Image.Image:
    """As large as it is kept, in colours that may be mixed."""
    if max(picture.size) > LONGEST and picture.mode not in {"L", "RGB", "CMYK"}:
        picture = picture.convert("RGBA" if picture.has_transparency_data else "RGB")
    picture.thumbnail((LONGEST, LONGEST))
    return picture


def _in_plain_colours(picture: Image.Image) -> Image.Image:
    """sRGB on white: what every browser shows alike, once the colour profile is dropped with the rest."""
    profile = picture.info.get("icc_profile")
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
        ground = Image.new("RGBA", picture.size, "white")
        picture = Image.alpha_composite(ground, picture)
    if profile and picture.mode in {"RGB", "CMYK"}:
        with contextlib.suppress(ImageCms.PyCMSError, OSError):  # a broken profile costs some colour, not the photo
            own, plain = BytesIO(profile), ImageCms.createProfile("sRGB")
            picture = ImageCms.profileToProfile(picture, own, plain, outputMode="RGB") or picture
    return picture.convert("RGB")


def _taken(picture: Image.Image) -> datetime | None:
    """When the camera says that it was taken; the rest of what it says, place and owner, is left behind."""
    try:
        told = picture.getexif().get_ifd(ExifTags.IFD.Exif)
        when, zone = told[ExifTags.Base.DateTimeOriginal], told.get(ExifTags.Base.OffsetTimeOriginal)
        plain = datetime.strptime(str(when).strip(), "%Y:%m:%d %H:%M:%S")
        return datetime.fromisoformat(f"{plain.isoformat()}{str(zone).strip()}") if zone else plain
    except Exception:  # a camera writes what it likes
        return None


def tile(thumbnail: bytes) -> bytes:
    """A photo among fifty on a page, as WebP of some kilobytes."""
    picture = Image.open(BytesIO(thumbnail), formats=("JPEG",))
    picture.draft("RGB", (TILE, TILE))
    picture.thumbnail((TILE, TILE))
    written = BytesIO()
    picture.save(written, "WEBP", quality=50, method=4)
    return written.getvalue()


def _jpeg(picture: Image.Image, quality: int) -> bytes:
    plain = Image.new("RGB", picture.size)
    plain.paste(picture)  # a new picture carries no comment, EXIF or profile along
    written = BytesIO()
    plain.save(written, "JPEG", quality=quality, optimize=True, progressive=True)
    return written.getvalue()
