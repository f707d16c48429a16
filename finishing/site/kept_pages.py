"""Pages in this process's memory: made once for all who are shown the same, however many ask for one at once."""

import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import Generic, TypeVar

MOST_KEPT = 64  # pages of all workshops together, of some 150 kB each
LOOKED_AT = 60.0  # seconds for which a page that was asked for counts as looked at

Shown = TypeVar("Shown", bound=Hashable)
Page = TypeVar("Page")


@dataclass(eq=False)
class _Making(Generic[Page]):
    """A page, or that it is being made: who asks meanwhile waits at the lock for the one who makes it."""

    lock: Lock = field(default_factory=Lock)
    page: Page | None = None


class KeptPages(Generic[Shown, Page]):
    """By what is shown, and what that rests on; those that were asked for last."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._pages: OrderedDict[tuple[Shown, Hashable], _Making[Page]] = OrderedDict()
        self._asked: dict[Shown, deque[float]] = {}

    def get(self, shown: Shown, rests_on: Hashable, make: Callable[[], Page]) -> Page:
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
            self._pages.clear()
            self._asked.clear()
