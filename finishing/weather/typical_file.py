"""A typical year's file, whichever of the known forms it has: bytes in, the year out."""

from .epw import MARK, parse_epw
from .tmy import HEAD_2, parse_tmy2, parse_tmy3
from .typical_year import TypicalYear, TypicalYearUnreadable

LOOKED_AT = 4096  # bytes
KNOWN = "EPW, TMY3 and TMY2 are known here."


def parse_typical_year(data: bytes) -> TypicalYear:
    """The year of a file; TypicalYearUnreadable says what is wrong with it."""
    text = _text(data)
    first = text.partition("\n")[0]
    if first.upper().startswith(MARK):
        return parse_epw(text)
    if HEAD_2.match(first):
        return parse_tmy2(text)
    if first.count(",") == 6:
        return parse_tmy3(text)
    raise TypicalYearUnreadable(f"This is not a typical year's file: {KNOWN}")


def _text(data: bytes) -> str:
    if data[:2] == b"PK":
        raise TypicalYearUnreadable("This is a packed file (zip): unpack it and hand in the weather file inside.")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return _lines(data.decode("utf-16", errors="replace"))
    if b"\0" in data[:LOOKED_AT]:
        raise TypicalYearUnreadable(f"This is not a text file, so it is no typical year: {KNOWN}")
    try:
        return _lines(data.decode("utf-8-sig"))
    except UnicodeDecodeError:  # older files write their station's accents in the Windows way
        return _lines(data.decode("cp1252", errors="replace"))


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")
