"""How the next revision is labelled."""

import re
from collections.abc import Container

_LAST = re.compile(r"(?P<before>.*?)(?P<last>\d{1,6}|(?<![A-Za-z])[A-Za-z]{1,2})")
FIRST = "A"
LONGEST = 20


def next_label(label: str | None, used: Container[str] = ()) -> str:
    """A after none, B after A, AA after Z, 2 after 1, A10 after A9; "" after what cannot be counted on.

    >>> next_label("A"), next_label("Z"), next_label("A9"), next_label("thin web")
    ('B', 'AA', 'A10', '')
    """
    proposed = FIRST if label is None else _after(label)
    while proposed and proposed in used:
        proposed = _after(proposed)
    return proposed if len(proposed) <= LONGEST else ""


def _after(label: str) -> str:
    counted = _LAST.fullmatch(label)
    if not counted:
        return ""
    last = counted["last"]
    return counted["before"] + (f"{int(last) + 1:0{len(last)}d}" if last.isdecimal() else _next_letters(last))


def _next_letters(letters: str) -> str:
    """Counted as drawings are: Z, AA, AB; ZZ, AAA."""
    first = "A" if letters.isupper() else "a"
    head, last = letters[:-1], letters[-1]
    if last not in "Zz":
        return head + chr(ord(last) + 1)
    return (_next_letters(head) if head else first) + first
