"""Pages in this process's memory: made once for all who are shown the same, however many ask for one at once.

While one is being made anew, who may be shown the one before it is not kept waiting.
"""

import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import Generic, TypeVar

MOST_KEPT = 64  # pages of all workshops together, of some 150 kB each
LOOKED_AT = 60.0  # seconds for which a page that was asked for counts as looked at
OLDER = 2.0  # seconds for which a page that held is still shown, as long as the next one is being made

Shown = TypeVar("Shown", bound=Hashable)
RestsOn = TypeVar("RestsOn", bound=Hashable)
Page = TypeVar("Page")


@dataclass(eq=False)
class _Making(Generic[Page]):
    """A page, or that it is being made: who asks meanwhile waits at the lock for the one who makes it."""

    lock: Lock = field(default_factory=Lock)
    page: Page | None = None


class KeptPages(Generic[Shown, RestsOn, Page]):
    """By what is shown, and what that rests on; those that were asked for last."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._pages: OrderedDict[tuple[Shown, RestsOn], _Making[Page]] = OrderedDict()
        self._asked: dict[Shown, deque[float]] = {}
        self._kept_up: list[Shown] = []
        self._held: dict[RestsOn, float] = {}  # what pages rest on: when it was last known to be so
        self._read: dict[Hashable, float] = {}  # by reader: when the newest that he was given held

    def get(self, shown: Shown, rests_on: RestsOn, make: Callable[[], Page]) -> Page:
        """The page as it was made while what it rests on was the same. Where making it fails, the next one tries."""
        with self._lock:
            making = self._pages.setdefault((shown, rests_on), _Making())
            self._pages.move_to_end((shown, rests_on))
            while len(self._pages) > MOST_KEPT:
                self._pages.popitem(last=False)
        with making.lock:
            if making.page is None:
                making.page = make()
            return making.page

    def keep_up(self, most: int) -> list[Shown]:
        """The pages that are looked at most: from now on whoever says this makes them anew, before anybody asks."""
        self._kept_up = self.looked_at(most)
        return self._kept_up

    def note_held(self, rests_on: RestsOn, moment: float) -> None:
        """That pages rested on this at a moment of the monotonic clock."""
        with self._lock:
            self._held = {what: held for what, held in self._held.items() if held > moment - OLDER}
            self._held[rests_on] = max(moment, self._held.get(rests_on, moment))

    def note_read(self, reader: Hashable, rests_on: RestsOn) -> None:
        """That somebody was given a page that rests on this."""
        now = time.monotonic()
        with self._lock:
            self._read = {who: held for who, held in self._read.items() if held > now - OLDER}
            self._read[reader] = max(self._held.get(rests_on, now), self._read.get(reader, 0.0))

    def before(self, shown: Shown, rests_on: RestsOn, reader: Hashable) -> tuple[RestsOn, Page] | None:
        """What is shown while somebody else makes the page: the newest that held in the last seconds, with what it
        rests on; None where it is made already or nobody does, and where this reader has seen what is newer."""
        with self._lock:
            making = self._pages.get((shown, rests_on), _Making())
            if making.page is not None or not (making.lock.locked() or shown in self._kept_up):
                return None
            since = max(time.monotonic() - OLDER, self._read.get(reader, 0.0))
            held = {what: when for what, when in self._held.items() if when >= since}
            for what in sorted(held, key=lambda each: -held[each]):
                kept = self._pages.get((shown, what))
                if kept is not None and kept.page is not None:
                    return what, kept.page
            return None

    def note_asked(self, shown: Shown) -> None:
        now = time.monotonic()
        with self._lock:
            self._asked.setdefault(shown, deque(maxlen=MOST_KEPT)).append(now)
            self._asked = {page: times for page, times in self._asked.items() if times[-1] > now - LOOKED_AT}

    def looked_at(self, most: int) -> list[Shown]:
        """What was asked for more than once of late, the most asked for first; no more than so many."""
        since = time.monotonic() - LOOKED_AT
        with self._lock:
            counts = {shown: sum(when > since for when in times) for shown, times in self._asked.items()}
        often = sorted((shown for shown, count in counts.items() if count > 1), key=lambda shown: -counts[shown])
        return often[:most]

    def forget(self) -> None:
        """As when the process starts."""
        with self._lock:
            for kept in (self._pages, self._asked, self._kept_up, self._held, self._read):
                kept.clear()
