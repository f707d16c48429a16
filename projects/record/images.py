"""Photo bytes in, JPEG bytes out: upright, small enough to serve, and without what a camera writes beside the picture.

A picture is decoded and written anew, so nothing of the sent file (place, serial number, name, hidden payload) is kept.
"""

import contextlib
import re
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
WHOLE = {"JPEG": 10, "MPO": 10, "PNG": 15, "GIF": 12, "WEBP": 22, "HEIF": 11}
DECODING = Lock()  # one picture at a time, whatever comes in at once
START_OF_SCAN = b"\xff\xda"
SEGMENT = re.compile(rb"\xff[\xc0-\xcf\xdb-\xfe](..)", re.DOTALL)  # a part of a JPEG's head, and its length


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
        # made small before anything else: each later step has the whole picture in memory twice
        whole = _decoded(sent, most_pixels)
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
    most_whole = MOST_MEMORY / WHOLE[picture.format or ""]
    if picture.width * picture.height > most_whole and not _decoded_by_rows(picture, sent):
        raise NotAPhoto(
            f"A picture of this kind may have {most_whole / 1e6:.0f} million pixels at most."
            " Send it smaller, or as the camera's own JPEG."
        )
    picture.draft("RGB", (LONGEST, LONGEST))  # a JPEG is decoded no larger than it will be kept
    try:
        picture.load()
    except Exception:
        raise NotAPhoto("The photo is cut short or damaged. Send it again.") from None
    return picture


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
