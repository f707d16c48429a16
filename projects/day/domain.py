"""The day sheet as values: what can and must be done today, out of the outlook of every piece at work."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import cached_property
from typing import Any

from projects.record.models.stages import Next, Stage
from projects.work.domain.outlook import Outlook
from projects.work.domain.wheel_in import WheelIn, wheel_in

PRESERVED_LOOK = timedelta(days=7)  # common practice, no source: oil and wax on bright faces are looked at weekly


class Matter(StrEnum):
    """What needs attention, the gravest first; the words are the template's."""

    WET = "wet"
    OVERDUE = "overdue"
    WHEEL_IN = "wheel in"
    TOO_SALTY = "too salty"
    TOUCH_UP = "touch up"
    BLAST_AGAIN = "blast again"
    CLOSED_ZONE = "closed zone"
    TOO_LATE = "too late"
    SWEATS = "sweats"
    PRESERVED = "preserved"
    NOT_KNOWN = "not known"
    NO_SYSTEM = "no system"


NEVER = datetime.max.replace(tzinfo=UTC)
PRESSING = {Matter.WHEEL_IN, Matter.TOO_SALTY, Matter.TOUCH_UP}  # iron rusts meanwhile
ON_THE_CARD = {Matter.WET, Matter.OVERDUE}  # of bare iron, told by its card


@dataclass(frozen=True)
class Notice:
    matter: Matter
    outlook: Outlook
    wheel_in: WheelIn | None = None


@dataclass
class Paint:
    """Pieces that wait for the same paint at the same place, and the hours in which it may go on there."""

    place: Any
    coating: Any  # None for letters whose paint nobody has chosen yet
    letters: bool
    waiting: list[Outlook] = field(default_factory=list)

    @property
    def outlook(self) -> Outlook:
        """The one whose metal is slowest: what it may, the others may too."""
        return max(self.waiting, key=lambda outlook: outlook.piece.part.body.length_m)

    @cached_property
    def ready(self) -> list[Outlook]:
        """Those on which it may begin now."""
        return [outlook for outlook in self.waiting if outlook.allowed_now]

    @property
    def until(self) -> datetime | None:
        """By when the first of those that are ready is shut again."""
        return min((outlook.next_span[1] for outlook in self.ready), default=None)

    @property
    def begins(self) -> datetime | None:
        """When the first of the others may be begun."""
        spans = [outlook.next_span for outlook in self.waiting if not outlook.allowed_now]
        return min((span[0] for span in spans if span), default=None)

    @property
    def pressing(self) -> bool:
        """Today is the last day, as far as is known, for one of them; bare iron has its own card."""
        return any(not outlook.may_wait and not outlook.state.is_bare for outlook in self.ready)


@dataclass(eq=False)
class Day:
    outlooks: list[Outlook]
    places: Iterable[Any] = ()  # where a piece may be wheeled

    @cached_property
    def bare(self) -> list[Outlook]:
        """Bare pieces, the shortest time left first."""
        bare = [outlook for outlook in self.outlooks if outlook.state.is_bare]
        return sorted(bare, key=lambda outlook: outlook.bare_left)

    @cached_property
    def bare_pressing(self) -> list[Outlook]:
        """Bare pieces that spoil, or have spoiled, unless something is done today."""
        return [outlook for outlook in self.bare if presses(outlook)]

    @cached_property
    def bare_in_hand(self) -> list[Outlook]:
        return [outlook for outlook in self.bare if not presses(outlook)]

    @cached_property
    def coats(self) -> list[Outlook]:
        """Pieces that wait for paint or letters: those for which it may begin now, then by when it may."""
        waiting = (Next.COAT, Next.PREPARE, Next.LETTER)
        return sorted([outlook for outlook in self.outlooks if outlook.state.next in waiting], key=_when)

    @cached_property
    def to_blast(self) -> list[Outlook]:
        return [outlook for outlook in self.outlooks if outlook.state.stage == Stage.RAW]

    @cached_property
    def notices(self) -> list[Notice]:
        order = list(Matter)
        found = [Notice(matter, outlook) for outlook in self.outlooks for matter in matters(outlook)]
        if self.places:
            found += [Notice(Matter.WHEEL_IN, each.outlooks[0], each) for each in wheel_in(self.outlooks, self.places)]
        return sorted(found, key=lambda notice: order.index(notice.matter))

    @property
    def pressing(self) -> list[Notice]:
        return [notice for notice in self.notices if notice.matter in PRESSING]

    @cached_property
    def may_wait(self) -> list[Notice]:
        return [notice for notice in self.notices if notice.matter not in PRESSING | ON_THE_CARD]

    @property
    def kinds_that_may_wait(self) -> list[tuple[Matter, int]]:
        return list(Counter(notice.matter for notice in self.may_wait).items())

    @cached_property
    def paints(self) -> list[Paint]:
        """What waits for paint, by paint and place: first what is shut soonest, then what opens soonest."""
        groups: dict[Any, Paint] = {}
        sound = [outlook for outlook in self.coats if not outlook.overdue]  # the others must be blasted again first
        for outlook in sorted(sound, key=lambda outlook: not outlook.state.is_bare):
            place, coating, letters = outlook.path.place, outlook.next_coating, outlook.state.next == Next.LETTER
            key = (place.pk, coating and coating.pk, letters)
            groups.setdefault(key, Paint(place, coating, letters)).waiting.append(outlook)
        return sorted(groups.values(), key=lambda paint: (paint.until or NEVER, paint.begins or NEVER))


def presses(outlook: Outlook) -> bool:
    """Bare iron that is wet or overdue, has little of its budget left, or could no longer be coated tomorrow."""
    return outlook.overdue or outlook.sweats or outlook.rust_amber or not outlook.may_wait


def _when(outlook: Outlook) -> tuple[bool, float]:
    span = outlook.next_span
    return (span is None, span[0].timestamp() if span else 0.0)


def matters(outlook: Outlook) -> Iterable[Matter]:
    """What of this piece needs attention."""
    state = outlook.state
    wrong = {
        Matter.WET: bool(state.wet_at) or (state.is_bare and outlook.sweats),
        Matter.OVERDUE: outlook.overdue and not state.wet_at,
        Matter.TOO_SALTY: state.is_bare and outlook.salt.name == "too salty",
        Matter.BLAST_AGAIN: bool(state.blast_again),
        Matter.CLOSED_ZONE: outlook.in_closed_zone,
        Matter.TOO_LATE: outlook.too_late and state.next in (Next.COAT, Next.PREPARE),
        Matter.TOUCH_UP: bool(state.touch_up),
        Matter.SWEATS: not state.is_bare and not state.finished and state.stage != Stage.RAW and outlook.sweats,
        Matter.PRESERVED: bool(state.preserved_since and outlook.now - state.preserved_since >= PRESERVED_LOOK),
        Matter.NOT_KNOWN: outlook.air_not_known and not state.finished,
        Matter.NO_SYSTEM: state.next == Next.NO_SYSTEM,
    }
    return [matter for matter, holds in wrong.items() if holds]
