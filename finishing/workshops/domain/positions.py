"""Where on earth, as people write it: decimal degrees, degrees with minutes and seconds, letters before or behind."""

import re

LETTERS = {"N": 1, "E": 1, "S": -1, "W": -1}
NUMBER = re.compile(r"\d+(?:\.\d+)?")
BETWEEN = re.compile(r"[\s°º˚'′’\"″”]*", re.ASCII)  # what stands between degrees, minutes and seconds
ALIKE = str.maketrans({"−": "-", "–": "-", "\u00a0": " "})
WORDS = re.compile(r"\b(?:GEO:|LAT(?:ITUDE)?\b[:=]?|LON(?:G(?:ITUDE)?)?\b[:=]?)|/$")


class NotAnAngle(ValueError):
    """What was written cannot be read as degrees."""


def read_angle(text: str, letters: str) -> float:
    """Degrees, minus for the second of the two letters ("NS" or "EW"): 52.4, 52,4 N, S 33 54.5, 1°54'36"W.

    >>> read_angle("1°54'W", "EW")
    -1.9
    """
    rest = text.translate(ALIKE).upper().strip().replace(",", ".")
    sign = 1
    for letter in letters:
        if rest.startswith(letter) or rest.endswith(letter):
            sign, rest = LETTERS[letter], rest.removeprefix(letter).removesuffix(letter).strip()
            break
    if rest[:1] in {"-", "+"}:
        sign, rest = sign * (-1 if rest[0] == "-" else 1), rest[1:].strip()
    numbers = NUMBER.findall(rest)
    if not 1 <= len(numbers) <= 3 or not all(map(BETWEEN.fullmatch, NUMBER.split(rest))):
        raise NotAnAngle(text)
    if any("." in number for number in numbers[:-1]) or any(float(number) >= 60 for number in numbers[1:]):
        raise NotAnAngle(text)
    return sign * round(sum(float(number) / 60**power for power, number in enumerate(numbers)), 7)


def read_position(text: str) -> tuple[float, float] | None:
    """Latitude and longitude in degrees; None where this is no pair of coordinates but, perhaps, a town's name.

    Either order where letters tell them apart, else latitude first. Raises NotAnAngle where a number is out of range.

    >>> read_position("52.4, -1.9"), read_position("1°54'W 52°24'N"), read_position("Ludlow")
    ((52.4, -1.9), (52.4, -1.9), None)
    """
    plain = WORDS.sub(" ", text.translate(ALIKE).upper()).strip()
    if not re.search(r"\d", plain) or re.search(r"[^\d\s.,;/+\-NSEW°º˚'′’\"″”]", plain):
        return None
    halves = _halves(plain)
    if halves is None:
        return None
    first, second = halves
    if re.search("[EW]", first) or re.search("[NS]", second):
        first, second = second, first
    latitude, longitude = read_angle(first, "NS"), read_angle(second, "EW")
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise NotAnAngle(text)
    return latitude, longitude


def _halves(plain: str) -> tuple[str, str] | None:
    """The two coordinates apart: by their letters, by a sign between them, or in the middle of their numbers."""
    letters = [found.start() for found in re.finditer("[NSEW]", plain)]
    if len(letters) > 2:
        return None
    if len(letters) == 2:
        cut = letters[1] if letters[0] == 0 else letters[0] + 1
        return plain[:cut].strip(" ,;/"), plain[cut:].strip(" ,;/")
    for separator in (";", "/", r",(?=\s)", r"\s+(?=[+-])", r"(?<=\d)(?=[+-])", r",(?=[+-])"):
        if len(parts := re.split(separator, plain)) == 2:
            return parts[0].strip(), parts[1].strip()
    if letters:
        return None
    if plain.count(",") == 1:
        first, second = plain.split(",")
        return (first, second) if " " not in plain.strip() or "." in plain else None
    numbers = [*re.finditer(r"[+-]?\d+(?:[.,]\d+)?", plain)]
    if len(numbers) not in {2, 4, 6}:
        return None
    cut = numbers[len(numbers) // 2].start()
    return plain[:cut].strip(" ,"), plain[cut:].strip()
