"""The day sheet as values: what can and must be done today, out of the outlooks of all pieces at work.

Pieces that are alike may share an outlook: whatever counts them counts `outlook.pieces`.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import cached_property

from finishing.coatings.models import Coating
from finishing.workshops.models import Place
from projects.record.models.pieces import Piece
from projects.record.models.stages import Next, Stage
from projects.work.domain.outlook import Outlook, asked_once, pieces_of
from projects.work.domain.wheel_in import WheelIn, wheel_in

PRESERVED_LOOK = timedelta(days=7)  # common practice, no source: oil and wax on bright faces are looked at weekly
NEVER = datetime.max.replace(tzinfo=UTC)


class Matter(StrEnum):
    """What needs attention beside bare iron, the gravest first; the words are the template's."""

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


PRESSING = {Matter.WHEEL_IN, Matter.TOO_SALTY, Matter.TOUCH_UP}  # iron rusts meanwhile


@dataclass(frozen=True)
class Notice:
    matter: Matter
    outlook: Outlook
    wheel_in: WheelIn | None = None

    @property
    def pieces(self) -> list[Piece]:
        return pieces_of(self.wheel_in.outlooks if self.wheel_in else [self.outlook])


@dataclass(frozen=True)
class PaintJob:
    """Pieces that wait for the same paint at the same place, and the hours in which it may go on there."""

    place: Place
    coating: Coating | None  # None for letters whose paint nobody has chosen yet
    letters: bool
    waiting: list[Outlook]

    @property
    def key(self) -> str:
        """What tells it from the others of the day, in an address."""
        return f"{self.place.pk}.{self.coating.pk if self.coating else ''}.{'letters' if self.letters else 'coat'}"

    @property
    def slowest(self) -> Outlook:
        """Whose metal follows the air last: what it may, the others may too."""
        return max(self.waiting, key=lambda outlook: outlook.piece.part.body.length_m)

    @cached_property
    def ready(self) -> list[Outlook]:
        """Those on which it may begin now."""
        return [outlook for outlook in self.waiting if outlook.allowed_now]

    @property
    def pieces_ready(self) -> list[Piece]:
        return pieces_of(self.ready)

    @property
    def pieces_waiting(self) -> list[Piece]:
        return pieces_of(self.waiting)

    @cached_property
    def until(self) -> datetime | None:
        """By when the first of those that are ready is shut again."""
        return min((span[1] for outlook in self.ready if (span := outlook.next_span)), default=None)

    @cached_property
    def begins(self) -> datetime | None:
        """When the first of the others may be begun."""
        others = [outlook.next_span for outlook in self.waiting if not outlook.allowed_now]
        return min((span[0] for span in others if span), default=None)

    @cached_property
    def pressing(self) -> bool:
        """Today is the last day, as far as is known, for one of them; bare iron has its own card."""
        return any(not outlook.may_wait and not outlook.state.is_bare for outlook in self.ready)


@dataclass(frozen=True)
class DaySheet:
    bare_pressing: list[Outlook]  # spoils, or has spoiled, unless something is done today; shortest time left first
    bare_in_hand: list[Outlook]
    pressing: list[Notice]
    may_wait: list[Notice]
    paint_jobs: list[PaintJob]  # what is shut soonest first, then what opens soonest
    to_blast: list[Outlook]

    @property
    def kinds_that_may_wait(self) -> list[tuple[Matter, int]]:
        """With the number of pieces of each."""
        counts: Counter[Matter] = Counter()
        for notice in self.may_wait:
            counts[notice.matter] += len(notice.pieces)
        return list(counts.items())

    @property
    def pieces_that_may_wait(self) -> int:
        return sum(many for _, many in self.kinds_that_may_wait)

    @property
    def pieces_pressing(self) -> list[Piece]:
        """For which something must be done today."""
        bare = pieces_of(self.bare_pressing)
        noticed = [piece for notice in self.pressing for piece in notice.pieces]
        paints = [piece for job in self.paint_jobs if job.pressing for piece in job.pieces_ready]
        return list({piece.pk: piece for piece in (*bare, *noticed, *paints)}.values())

    @property
    def most_urgent(self) -> Outlook | None:
        """Of bare iron: what can still be saved before what is lost already."""
        return next(
            (outlook for outlook in self.bare_pressing if not outlook.overdue), next(iter(self.bare_pressing), None)
        )

    @property
    def pieces_in_hand(self) -> list[Piece]:
        return pieces_of(self.bare_in_hand)

    @property
    def pieces_to_blast(self) -> list[Piece]:
        return pieces_of(self.to_blast)


def day_sheet(outlooks: list[Outlook], places: Iterable[Place]) -> DaySheet:
    """For all pieces at work, each or shared; `places` are those to which one may be wheeled."""
    bare = sorted((outlook for outlook in outlooks if outlook.state.is_bare), key=lambda outlook: outlook.bare_left)
    notices = [Notice(Matter.WHEEL_IN, advice.outlooks[0], advice) for advice in wheel_in(outlooks, places)]
    notices += [Notice(matter, outlook) for outlook, own in asked_once(outlooks, matters) for matter in own]
    notices.sort(key=lambda notice: [*Matter].index(notice.matter))
    return DaySheet(
        bare_pressing=[outlook for outlook in bare if presses(outlook)],
        bare_in_hand=[outlook for outlook in bare if not presses(outlook)],
        pressing=[notice for notice in notices if notice.matter in PRESSING],
        may_wait=[notice for notice in notices if notice.matter not in PRESSING],
        paint_jobs=paint_jobs(outlooks),
        to_blast=[outlook for outlook in outlooks if outlook.state.stage == Stage.RAW],
    )


def presses(outlook: Outlook) -> bool:
    """Bare iron that is wet or overdue, has little of its budget left, or could no longer be coated tomorrow."""
    wet = outlook.overdue or outlook.sweats or outlook.state.wet_until_dry
    return wet or outlook.in_doubt or outlook.rust_amber or not outlook.may_wait


def matters(outlook: Outlook) -> list[Matter]:
    """What of this piece needs attention."""
    state = outlook.state
    wrong = {
        Matter.TOO_SALTY: state.is_bare and outlook.salt.name == "too salty",
        Matter.TOUCH_UP: bool(state.touch_up),
        Matter.BLAST_AGAIN: bool(state.blast_again),
        Matter.CLOSED_ZONE: outlook.in_closed_zone,
        Matter.TOO_LATE: outlook.too_late and state.next in (Next.COAT, Next.PREPARE),
        Matter.SWEATS: not state.is_bare and not state.finished and state.stage != Stage.RAW and outlook.sweats,
        Matter.PRESERVED: bool(state.preserved_since and outlook.now - state.preserved_since >= PRESERVED_LOOK),
        Matter.NOT_KNOWN: outlook.air_not_known and not state.finished and not state.is_bare,  # whose card says so
        Matter.NO_SYSTEM: state.next == Next.NO_SYSTEM,
    }
    return [matter for matter, holds in wrong.items() if holds]


def paint_jobs(outlooks: Iterable[Outlook]) -> list[PaintJob]:
    """What waits for paint or letters; overdue iron does not, it must be blasted again first."""

    def bare_first_then_by_begin(outlook: Outlook) -> tuple[bool, datetime]:
        return not outlook.state.is_bare, outlook.next_span[0] if outlook.next_span else NEVER

    steps = (Next.COAT, Next.PREPARE, Next.LETTER)
    waiting = [outlook for outlook in outlooks if outlook.state.next in steps and not outlook.overdue]
    groups: dict[tuple[Place, Coating | None, bool], list[Outlook]] = defaultdict(list)
    for outlook in sorted(waiting, key=bare_first_then_by_begin):
        groups[outlook.path.place, outlook.next_coating, outlook.state.next == Next.LETTER].append(outlook)
    jobs = [PaintJob(*what, group) for what, group in groups.items()]
    return sorted(jobs, key=lambda job: (job.until or NEVER, job.begins or NEVER))
