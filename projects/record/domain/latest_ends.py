"""What a plan must not miss: bare iron's first coat and the last coat of a closing recoat window."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

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


def latest_ends(slots: Iterable[Slot]) -> list[LatestEnd]:
    """The earliest first."""
    return sorted((latest for slot in slots for latest in _of(slot)), key=lambda latest: latest.at)


def _of(slot: Slot) -> list[LatestEnd]:
    windows = [window for window in slot.why.get("windows", []) if window["kind"] in ("rust", "recoat")]
    return [
        LatestEnd(window["kind"], slot, datetime.fromisoformat(window["closes"]), window["after"])
        for window in windows
        if window["closes"]
    ]


def same_step(slot: Slot) -> tuple[str, str]:
    """What tells a step again in another plan, however its rack is called there."""
    return min((str(piece.pk) for piece in slot.pieces.all()), default=""), slot.key
