"""What the picture of a plan is drawn from: steps in their place and time, deadlines, the hours below, visits."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Task:
    """One step in its place and time, as the picture needs it; `was` is where it stood in the plan that is kept."""

    key: Any
    rack: str
    label: str
    kind: str
    place: str
    people: tuple[str, ...]
    begin: datetime
    end: datetime
    dry: datetime | None = None
    colour: str = ""
    broken: str = ""
    was: tuple[datetime, datetime] | None = None
    slot: Any = None  # what it stands for, for the words of a list
    log_query: str = ""
    done: bool = False


@dataclass(frozen=True)
class Deadline:
    """Bare iron of a rack, from its blasting to when it must be coated."""

    rack: str
    begin: datetime
    until: datetime


@dataclass(frozen=True)
class Ground:
    """The hours of a place: why each is refused, 0 where it is workable; one value for each hour of the weather."""

    place: str
    refused: Any


@dataclass(frozen=True)
class Visit:
    """A day that is on offer, and whether this plan takes it."""

    key: Any
    name: str
    begin: datetime
    end: datetime
    booked: bool
