"""Marks proposed for new pieces: a few letters of the part's name and a number, as one would chalk them on."""

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain, count

LONGEST = 4  # letters
_NUMBERED = re.compile(r"^(.*?\D)?(\d+)$")


def propose_marks(wanted: Iterable[str], marks: Mapping[str, list[str]]) -> list[str]:
    """A free mark for each piece wanted of a part. `marks` holds what the pieces of every part are marked already.

    >>> propose_marks(["Frame", "Frame", "Table"], {"Flywheel": [], "Frame": ["F-01", "F-07"], "Table": []})
    ['F-08', 'F-09', 'T-01']
    """
    begun = {part: _begun(own) for part, own in marks.items()}
    prefixes = {beginning[0] for beginning in begun.values() if beginning}
    marked = {mark for own in marks.values() for mark in own}
    free: dict[str, Iterator[str]] = {}
    for part, beginning in begun.items():
        prefix, first = beginning or (_new_prefix(part, prefixes), 1)
        prefixes.add(prefix)
        free[part] = _free(prefix, first, marked)
    return [next(free[part]) for part in wanted]


def _begun(own: list[str]) -> tuple[str, int] | None:
    """How the part's pieces are marked so far, and the next number; None where they follow no number."""
    numbered = [(match[1] or "", int(match[2])) for mark in own if (match := _NUMBERED.match(mark))]
    if not numbered:
        return None
    prefix = max(numbered, key=lambda pair: pair[1])[0]
    return prefix, max(number for start, number in numbered if start == prefix) + 1


def _new_prefix(part: str, used: set[str]) -> str:
    """The shortest beginning of the part's name that no other part goes by.

    >>> _new_prefix("Flywheel", {"F-"})
    'FL-'
    """
    letters = "".join(sign for sign in part.upper() if sign.isalnum()) or "P"
    shortest = (f"{letters[:length]}-" for length in range(1, min(LONGEST, len(letters)) + 1))
    longer = (f"{letters[:LONGEST]}{number}-" for number in count(2))
    return next(prefix for prefix in chain(shortest, longer) if prefix not in used)


def _free(prefix: str, first: int, marked: set[str]) -> Iterator[str]:
    marks = (f"{prefix}{number:02d}" for number in count(first))
    return (mark for mark in marks if mark not in marked)
