"""A data logger's CSV file as it comes, whatever its language, separator, units, encoding and way to write a date.

Columns are found by their headings. A line that cannot be read, or cannot be true, is left out and reported by its
number with the reason; nothing is guessed in silence.
"""

import csv
import re
import unicodedata
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from finishing.science import air

from .clock import Stamp, parse_stamp, settle
from .observations import Observation

LARGEST = 20_000_000  # bytes
HEAD = 60  # lines in which the headings must stand
SEPARATORS = (";", "\t", ",", "|")
MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}

# What a heading says, in the words of the languages in which loggers are sold; the first that fits counts.
HEADINGS = {
    "other": r"wet.?bulb|feuchtkugel|heat index|feels|wind|absolut|\babs\b|g/m|press|druck|batter|elapsed|\bzone\b",
    "dew_point": r"dew|taupunkt|rosee|rocio|rugiada|orvalho|dauw|dugg|dagg|dugpunkt|rosy|kastepiste|\btd\b",
    "surface": r"surface|steel|metal|oberflach|stahl|acier|superfici|oppervlak|overflat|yttemp|powierzchni|pinta",
    "humidity": r"humid|feucht|humed|umid|vochtig|fukt|fugt|wilgot|kosteus|\brh\b|\brf\b|\bhr\b|%\s*r",
    "temperature": r"temp(?!s\b|el|o\b)|celsius|fahrenheit|lampotila|^\W*°\s*[cf]\W*$",
    "date": r"\bdate|datum|fecha|\bdata\b|\bdato\b|\bdag\b|paiva",
    "clock": r"time|zeit|heure|\bhora|\bora\b|\btid|tijd|klokk|klock|godzina|czas|aika|\btemps\b|tiempo|\btempo\b",
}
FAHRENHEIT = re.compile(r"[°\ufffd]\s*f\b|\bdeg\w*\s*f\b|fahrenheit|[(\[]\s*f\s*[)\]]|[_\s]f$")
CELSIUS = re.compile(r"[°\ufffd]\s*c\b|\bdeg\w*\s*c\b|celsius|[(\[]\s*c\s*[)\]]|[_\s]c$")
OFFSET = re.compile(r"(?:utc|gmt)\s*([+-])(\d{1,2}):?(\d{2})?")
NUMBER = re.compile(r"([+-]?\d*[.,]?\d+)\s*(?:°?\s*([cf])|%(?:\s*r\.?h\.?)?)?", re.IGNORECASE)
NOTHING = {"", "-", "--", "---", "nan", "n/a", "na", "null", "none", "error", "err"}
LIMITS = {
    "temperature": (air.LOWEST, air.HIGHEST, "°C"),
    "dew_point": (air.LOWEST, air.HIGHEST, "°C"),
    "surface": (-40, 80, "°C"),
    "humidity": (1, 100, "%"),
}


class LoggerUnreadable(ValueError):
    """The file as a whole cannot be read; the message says why, for the person who chose it."""


class LineRefused(ValueError):
    """A line that is left out, with the reason."""


@dataclass(frozen=True)
class BadLine:
    number: int
    reason: str

    def __str__(self) -> str:
        return f"Line {self.number}: {self.reason}."


@dataclass(frozen=True)
class LoggerFile:
    """What a file gave: readings from the oldest on, the lines left out, and what a person should know of the rest.

    ambiguous_dates: day and month could not be told apart; ask, and read again with day_first given.
    """

    readings: list[Observation]
    bad_lines: list[BadLine]
    notes: list[str]
    ambiguous_dates: bool

    def bad_line_report(self, first: int = 20) -> list[str]:
        """The first bad lines in words, and how many more there are."""
        more = len(self.bad_lines) - first
        return [str(line) for line in self.bad_lines[:first]] + ([f"And {more:,} more lines."] if more > 0 else [])


@dataclass(frozen=True)
class Columns:
    """Where each thing stands in a line, and which of them are in °F by their heading."""

    separator: str
    places: dict[str, int]
    fahrenheit: frozenset[str]
    width: int
    zone: tzinfo | None  # some headings name the zone of the times: "Time, GMT+02:00"


def parse_logger(data: bytes, zone: str | tzinfo, day_first: bool | None = None) -> LoggerFile:
    """A logger's file as bytes. `zone` is the zone of its clock, where the file itself names none."""
    text, encoding = _decode(data)
    lines = re.split(r"\r\n|\n|\r", text)
    at, columns = _find_columns(lines)
    stamps, values, bad = _read_lines(lines, at, columns)
    clock = settle(stamps, columns.zone or (ZoneInfo(zone) if isinstance(zone, str) else zone), day_first)
    bad += [BadLine(number, reason) for number, reason in clock.refused.items()]
    readings = [Observation(moment, *values[number]) for number, moment in clock.times.items()]
    return LoggerFile(
        sorted(readings, key=lambda reading: reading.time),
        sorted(bad, key=lambda line: line.number),
        _notes(encoding, columns, lines[at]) + clock.notes,
        clock.ambiguous_dates,
    )


def _decode(data: bytes) -> tuple[str, str]:
    if len(data) > LARGEST:
        raise LoggerUnreadable(
            f"The file is larger than {LARGEST // 1_000_000} MB: take a shorter time from the logger."
        )
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")):
        raise LoggerUnreadable("This is a spreadsheet or document, not a CSV file: save it as CSV and try again.")
    for mark, encoding in MARKS.items():
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, errors="replace"), encoding
    if data[:200].count(0) * 3 > len(data[:200]):  # UTF-16 without its mark: in Western text every second byte is 0
        encoding = "utf-16-le" if data[1:2] == b"\0" else "utf-16-be"
        return data.decode(encoding, errors="replace"), encoding
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "cp1252"


# Headings


def _find_columns(lines: list[str]) -> tuple[int, Columns]:
    for at, line in enumerate(lines[:HEAD]):
        fitting = [columns for separator in SEPARATORS if (columns := _columns(line, separator))]
        if fitting:
            return at, max(fitting, key=lambda columns: len(columns.places))
    if not "".join(lines).strip():
        raise LoggerUnreadable("The file is empty.")
    raise LoggerUnreadable(
        "No line of headings was found: columns for date and time, temperature, and humidity or dew point are needed."
    )


def _columns(line: str, separator: str) -> Columns | None:
    headings = [_plain(cell) for cell in _cells(line, separator)]
    places: dict[str, int] = {}
    for place, heading in enumerate(headings):
        for name in _meanings(heading):
            places.setdefault(name, place)
    if (
        not {"date", "clock"} & set(places)
        or "temperature" not in places
        or not {"humidity", "dew_point"} & set(places)
    ):
        return None
    fahrenheit = frozenset(name for name in LIMITS if name in places and FAHRENHEIT.search(headings[places[name]]))
    times = " ".join(headings[places[name]] for name in ("date", "clock") if name in places)
    return Columns(separator, places, fahrenheit, len(headings), _zone(times))


def _plain(heading: str) -> str:
    """Small letters without accents, so that one pattern fits; a masculine ordinal stands for a degree."""
    simple = heading.replace("º", "°").replace("Â°", "°").casefold()
    for letter, plain in (("ø", "o"), ("æ", "ae"), ("ł", "l")):
        simple = simple.replace(letter, plain)
    return "".join(c for c in unicodedata.normalize("NFKD", simple) if not unicodedata.combining(c)).strip()


def _meanings(heading: str) -> list[str]:
    """One meaning, or both date and clock."""
    fits = [name for name, pattern in HEADINGS.items() if re.search(pattern, heading)]
    return fits if set(fits) == {"date", "clock"} else fits[:1]


def _zone(heading: str) -> tzinfo | None:
    offset = OFFSET.search(heading)
    if not offset:
        return None
    away = timedelta(hours=int(offset[2]), minutes=int(offset[3] or 0))
    return timezone(away if offset[1] == "+" else -away)


def _notes(encoding: str, columns: Columns, line: str) -> list[str]:
    headings = [heading.strip() for heading in _cells(line, columns.separator)]
    names = [name for name in columns.places if name in LIMITS]
    notes = [] if encoding == "utf-8" else [f"The file is written in {encoding}."]
    for name in names:
        heading = headings[columns.places[name]]
        if name != "humidity" and name not in columns.fahrenheit and not CELSIUS.search(_plain(heading)):
            notes.append(f"“{heading}” names no unit: read as °C unless a value says °F.")
    if "humidity" not in names:
        notes.append("Humidity was worked out from the dew point.")
    if columns.zone:
        notes.append(f"The heading names its time zone, {columns.zone}: the times were read so.")
    return notes


# Lines


def _read_lines(
    lines: list[str], at: int, columns: Columns
) -> tuple[list[Stamp], dict[int, tuple[float, float, float | None]], list[BadLine]]:
    stamps, values, bad = [], {}, []
    for number, line in enumerate(lines[at + 1 :], start=at + 2):
        if not line.strip(columns.separator + " \t"):
            continue
        try:
            cells = _cells(line, columns.separator)
            _check_width(cells, columns)
            stamp = parse_stamp(number, _moment(cells, columns))
            values[number] = _air(cells, columns)
            stamps.append(stamp)
        except ValueError as error:
            bad.append(BadLine(number, str(error)))
    return stamps, values, bad


def _cells(line: str, separator: str) -> list[str]:
    try:
        # Line by line: a stray quotation mark must not swallow the rest of the file.
        return next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
    except csv.Error:
        return [line]


def _check_width(cells: list[str], columns: Columns) -> None:
    if any(cell.strip() for cell in cells[columns.width :]):
        raise LineRefused(
            f"has {len(cells)} columns under {columns.width} headings"
            + (" (a decimal comma beside a separating comma?)" if columns.separator == "," else "")
        )


def _moment(cells: list[str], columns: Columns) -> str:
    places = {columns.places[name]: None for name in ("date", "clock") if name in columns.places}
    return " ".join(_cell(cells, place) for place in places)


def _cell(cells: list[str], place: int) -> str:
    return cells[place].strip() if place < len(cells) else ""


def _air(cells: list[str], columns: Columns) -> tuple[float, float, float | None]:
    read = {
        name: _number(name, _cell(cells, columns.places[name]), columns) for name in LIMITS if name in columns.places
    }
    temperature, humidity = read["temperature"], read.get("humidity")
    if temperature is None:
        raise LineRefused("has no temperature")
    if humidity is None:
        humidity = _from_dew_point(temperature, read.get("dew_point"))
    return temperature, humidity, read.get("surface")


def _from_dew_point(temperature: float, dew_point: float | None) -> float:
    if dew_point is None:
        raise LineRefused("has no humidity")
    if dew_point > temperature + air.ROUNDING:
        raise LineRefused(f"a dew point of {dew_point:.1f} °C above air of {temperature:.1f} °C cannot be")
    return float(100 * air.humidity_from_dew_point.__wrapped__(temperature, dew_point))


def _number(name: str, cell: str, columns: Columns) -> float | None:
    if cell.casefold() in NOTHING:
        return None
    label = name.replace("_", " ")
    written = NUMBER.fullmatch(cell.replace("−", "-"))
    if not written:
        raise LineRefused(f"{label} “{cell[:20]}” is no number")
    value = float(written[1].replace(",", "."))
    unit = (written[2] or "").casefold()
    if unit == "f" or (not unit and name in columns.fahrenheit):
        value = (value - 32) / 1.8
    low, high, sign = LIMITS[name]
    if not low <= value <= high:
        raise LineRefused(f"{label} {cell[:20]} cannot be: outside {low:g} to {high:g} {sign}")
    return value
