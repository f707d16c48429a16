"""Numbers as people write them: 1,250.50 and 1.250,50, 2 1/4 and 2¼, £241; the one place that reads them.

The text is taken apart here and never handed to a parser that computes. What could be read in two ways is not guessed.
"""

import re
import unicodedata
from decimal import Decimal

from django.core.exceptions import ValidationError

_MINUS = "-−–"  # the last two as a phone's keyboard or a text program has them
_BETWEEN_THOUSANDS = " \u00a0\u2009\u202f'’"  # whatever the language
_SPACE = r"[ \u00a0\u2009\u202f]"
_FRACTION = re.compile(rf"(?:(\d{{1,6}})(?:{_SPACE}+|-))?(\d{{1,3}}){_SPACE}*[/⁄]{_SPACE}*(\d{{1,3}})(?!\d)")
_DIGITS = re.compile(rf"(?:\d|[.,](?=\d))(?:[\d.,]|[{_BETWEEN_THOUSANDS}](?=\d{{3}}(?!\d)))*")
MOST_DIGITS = 100


class NoNumber(ValueError):
    """A text that does not begin with a number, or goes on with another one."""


class TwoReadings(ValueError):
    """A comma that may stand between thousands or before a decimal."""

    def __init__(self, digits: str, *readings: str) -> None:
        super().__init__(digits)
        self.readings = readings


SYMBOLS = {"£": "GBP", "€": "EUR", "$": "USD", "US$": "USD", "A$": "AUD", "C$": "CAD", "NZ$": "NZD", "¥": "JPY"}
_DOLLARS = ("USD", "AUD", "CAD", "NZD", "HKD", "SGD", "MXN")  # whose people write a mere $
_CURRENCY = re.compile(rf"{_SPACE}*([A-Za-z]{{3}}|[A-Za-z]{{0,2}}[£€$¥]){_SPACE}*")


def read_number(text: str, comma_is_point: bool | None = None) -> tuple[Decimal, str]:
    """The number at the beginning of a text, and what stands behind it.

    comma_is_point: whether a comma that may be either, as in 1,250, is a decimal one; where nobody knows, it is asked.
    Raises NoNumber where there is none.

    >>> read_number("1,250.50 kg")
    (Decimal('1250.50'), 'kg')
    >>> read_number("2¼in")
    (Decimal('2.25'), 'in')
    """
    rest = _plain(text)
    sign = -1 if rest[:1] and rest[0] in _MINUS else 1
    rest = rest.lstrip("+" + _MINUS).strip() if rest[:1] in (*_MINUS, "+") and rest[1:2] not in (*_MINUS, "+") else rest
    if fraction := _FRACTION.match(rest):
        whole, top, bottom = (int(part or 0) for part in fraction.groups())
        if not bottom:
            raise ValidationError(f"“{text.strip()}” divides by nothing.")
        number, end = whole + Decimal(top) / bottom, fraction.end()
        if fraction[1] and top >= bottom:
            raise NoNumber(text)
    else:
        typed = _DIGITS.match(rest)
        if not typed or len(typed[0]) > MOST_DIGITS:
            raise NoNumber(text)
        try:
            number, end = _decimal(typed[0], comma_is_point), typed.end()
        except TwoReadings as two:
            minus = "-" if sign < 0 else ""
            readings = " or as ".join(minus + reading for reading in two.readings)
            raise ValidationError(
                f"“{minus}{typed[0]}” may be read as {readings}: write the one that you mean."
            ) from None
    behind = rest[end:].strip()
    if behind[:1].isdecimal() or behind[:1] in (".", ","):
        raise NoNumber(text)
    return sign * number, behind


def _plain(text: str) -> str:
    """With ¼ and its like as 1/4, a space before them."""
    written = (f" {unicodedata.normalize('NFKC', sign)}" if _is_fraction(sign) else sign for sign in text)
    return "".join(written).strip()


def _is_fraction(sign: str) -> bool:
    return sign not in "/⁄" and "⁄" in unicodedata.normalize("NFKC", sign)


def _decimal(digits: str, comma_is_point: bool | None) -> Decimal:
    marks = [mark for mark in digits if mark in ".,"]
    grouped = any(mark in _BETWEEN_THOUSANDS for mark in digits)
    if not marks:
        point = ""
    elif len(set(marks)) == 2:  # the last of them is the decimal one
        point = marks[-1]
    elif len(marks) > 1:  # 1,250,000
        point = ""
    elif marks[0] == "." or grouped:
        point = marks[0]
    else:
        point = "," if _a_decimal_comma(digits, comma_is_point) else ""
    whole, _, part = digits.rpartition(point) if point else (digits, "", "")
    other = marks[0] if marks and marks[0] != point else ""
    if (other and not _in_threes(whole, other)) or (part and not part.isdecimal()):
        raise NoNumber(digits)
    whole = "".join(digit for digit in whole if digit.isdecimal())
    return Decimal(f"{whole or 0}.{part}" if part else whole or "0")


def _in_threes(whole: str, mark: str) -> bool:
    """1.250.000 is; 1.2.3 is not."""
    first, *others = whole.split(mark)
    return 1 <= len(first) <= 3 and all(len(group) == 3 and group.isdecimal() for group in others)


def _a_decimal_comma(digits: str, comma_is_point: bool | None) -> bool:
    """Of a number with one comma and no other mark."""
    whole, _, part = digits.partition(",")
    if len(part) != 3 or not 1 <= len(whole) <= 3 or whole.startswith("0"):
        return True
    if comma_is_point is None:
        raise TwoReadings(digits, f"{whole}{part}", f"{whole}.{part}")
    return comma_is_point


def read_money(text: str, currency: str, comma_is_point: bool | None = None) -> Decimal:
    """A sum with or without its sign, £241 or 241 GBP. currency: of the box; "" where it is told elsewhere.

    >>> read_money("£1,250.50", "GBP")
    Decimal('1250.50')
    """
    rest = text.strip()
    said = []
    minus = "-" if rest[:1] and rest[0] in _MINUS else ""
    if minus:
        rest = rest[1:].strip()
    if (sign := _CURRENCY.match(rest)) and sign[1]:
        said.append(sign[1])
        rest = rest[sign.end() :]
    amount, behind = read_number(minus + rest, comma_is_point)
    if behind:
        said.append(behind)
    for sign_or_code in said:
        _check_money(sign_or_code, currency)
    return amount


def _check_money(said: str, currency: str) -> None:
    code = SYMBOLS.get(said.upper(), said.upper())
    meant = {code, *(_DOLLARS if said == "$" else ())}
    if currency not in meant and (code in SYMBOLS.values() or re.fullmatch(r"[A-Z]{3}", code)):
        own = f"This box is in {currency}" if currency else "What money this is, is said elsewhere"
        raise ValidationError(f"{own}: write the number without “{said}”.")
    if currency not in meant:
        raise ValidationError(f"“{said}” is not understood here; write the number alone.")
