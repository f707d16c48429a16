"""What a plan must not miss: bare iron's first coat and the last coat of a closing recoat window."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from projects.record.models.plans import Slot


@dataclass(frozen=True)
class LatestEnd:
    """`slot` is the step that must be over by then, `after` what was done before."""

    what: str  # "rust" or "recoat", as the planner's links are called
    slot: Slot
    at: datetime
    after: str

    @property
    def words(self) -> str:
        if self.what == "rust":
            return f"{self.slot.rack} is bare: coat before now"
        return f"{self.slot.rack}: the recoat window closes"

    @property
    def reason(self) -> str:
        if self.what == "rust":
            return f"{self.slot.label} must be on by now; later the iron is to be blasted again."
        return f"{self.slot.label} must be on by now; later {self.after} is to be rubbed down first."


def latest_ends(slots: Iterable[Slot], finish_by: Mapping[UUID, datetime] | None = None) -> list[LatestEnd]:
    """The earliest first.

    finish_by: of first coats on iron that is bare by now, when they must be on by its log, which knows better than the
    plan when it was blasted.
    """
    by_log = finish_by or {}
    return sorted((latest for slot in slots for latest in _of(slot, by_log)), key=lambda latest: latest.at)


def _of(slot: Slot, by_log: Mapping[UUID, datetime]) -> Iterator[LatestEnd]:
    if slot.pk in by_log:
        yield LatestEnd("rust", slot, by_log[slot.pk], "blast")
    for window in slot.why.get("windows", []):
        asked = window["kind"] == "recoat" or (window["kind"] == "rust" and slot.pk not in by_log)
        if asked and window["closes"]:
            yield LatestEnd(window["kind"], slot, datetime.fromisoformat(window["closes"]), window["after"])


def same_step(slot: Slot) -> tuple[str, str]:
    """What tells a step again in another plan, however its rack is called there."""
    return min(map(str, slot.piece_ids), default=""), slot.key
