"""What is sent as a picture and kept as something else: brushed marks, and the colour of a lid."""

import base64
from io import BytesIO

import numpy as np
from PIL import Image

LONGEST = 720  # px of a picture and of a mask: what a phone shows, and quick to paint
MOST_MASK = 500_000  # letters; one of large flat marks has some thousands
NOTHING, BODY, LETTERS = 0, 1, 2
BODY_INK, LETTERS_INK = (0, 60, 255), (255, 40, 0)  # as the marks are brushed and shown
NOT_WHOLE = "The marks did not arrive whole. Reload the page and brush them again."


class NotAMask(ValueError):
    """Why these bytes mark nothing, in words for the person who sent them."""


def read_mask(sent: str) -> str:
    """A brushed PNG, in base64, as it is kept: red becomes letters, blue body, clear nothing; "" where all is clear.

    Raises NotAMask.
    """
    if len(sent) > MOST_MASK:
        raise NotAMask("The marks are too large a file. Reload the page and brush them again.")
    try:
        drawn = Image.open(BytesIO(base64.b64decode(sent, validate=True)), formats=("PNG",))
        if max(drawn.size) > LONGEST:
            raise NotAMask("The marks are too large a picture. Reload the page and brush them again.")
        inks = np.asarray(drawn.convert("RGBA"), dtype=int)
    except NotAMask:
        raise
    except Exception:  # decoders meet any bytes, and raise what they like
        raise NotAMask(NOT_WHOLE) from None
    on = inks[..., 3] > 100
    marks = np.where(on & (inks[..., 0] > inks[..., 2]), LETTERS, np.where(on, BODY, NOTHING)).astype(np.uint8)
    if not marks.any():
        return ""
    written = BytesIO()
    Image.fromarray(marks).save(written, "PNG", optimize=True)
    return base64.b64encode(written.getvalue()).decode()


def colour_of_lid(photo: bytes) -> str:
    """The colour in the middle of a photo: the median of its middle ninth, which a speck or glint does not move."""
    lid = Image.open(BytesIO(photo)).convert("RGB")
    lid.thumbnail((300, 300))
    wide, high = lid.size
    middle = lid.crop((wide // 3, high // 3, wide - wide // 3, high - high // 3))
    red, green, blue = (round(value) for value in np.median(np.asarray(middle).reshape(-1, 3), axis=0))
    return f"#{red:02x}{green:02x}{blue:02x}"
