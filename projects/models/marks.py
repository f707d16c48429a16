"""Marks proposed for new pieces: a few letters of the part's name and a number, as one would chalk them on."""

from collections.abc import Collection, Iterable
from itertools import chain, count

LONGEST = 4  # letters


def prefixes(names: Iterable[str]) -> dict[str, str]:
    """The shortest beginning of each name that no name before it took.

    >>> prefixes(["Frame", "Flywheel", "Treadle rod"])
    {'Frame': 'F', 'Flywheel': 'FL', 'Treadle rod': 'T'}
    """
    found: dict[str, str] = {}
    for name in names:
        found[name] = next(prefix for prefix in _beginnings(name) if prefix not in found.values())
    return found


def _beginnings(name: str) -> Iterable[str]:
    letters = "".join(sign for sign in name.upper() if sign.isalnum()) or "P"
    shortest = (letters[:length] for length in range(1, min(LONGEST, len(letters)) + 1))
    return chain(shortest, (f"{letters[:LONGEST]}{number}-" for number in count(2)))


def propose_marks(wanted: Iterable[str], names: Iterable[str], taken: Collection[str]) -> list[str]:
    """A free mark for each piece wanted of a part, numbered on within the part; `names` are all parts of the design.

    >>> propose_marks(["Frame", "Frame", "Flywheel"], names=["Flywheel", "Frame"], taken=["FR-01"])
    ['FR-02', 'FR-03', 'F-01']
    """
    prefix = prefixes(names)
    free = {name: _free_marks(prefix[name], taken) for name in prefix}
    return [next(free[name]) for name in wanted]


def _free_marks(prefix: str, taken: Collection[str]) -> Iterable[str]:
    marks = (f"{prefix.rstrip('-')}-{number:02d}" for number in count(1))
    return (mark for mark in marks if mark not in taken)
