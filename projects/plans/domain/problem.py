"""Rows become a planning problem: racks, their steps, people, places and visits; what is planned is told by name."""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from itertools import permutations
from math import ceil
from uuid import UUID

import numpy as np

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science.scheduling import racks
from finishing.science.scheduling.problem import (
    Chain,
    Person,
    Problem,
    Transport,
    VisitOffer,
    Workplace,
    cents,
    room,
)
from finishing.science.scheduling.racks import RackLoad
from finishing.workshops.models import Place, User
from projects.record.domain.repairs import repair_minutes
from projects.record.models.pieces import Piece
from projects.record.models.plans import Slot
from projects.record.models.projects import Project
from projects.record.models.stages import Next
from projects.record.models.visits import Visit
from projects.work.domain.blasting import estimate
from projects.work.domain.outlook import Outlook
from projects.work.domain.own_figures import own_figures

from .bound import bound
from .ground import Ground, day_ends, this_minute
from .scope import Missing, Scope, area_of, scope_of, system_of
from .steps import Hung, RackTask
from .terms import Terms

MOST_KINDS = 3  # of parts that a rack is called by
LEAST = 6  # hours of foretold air below which nothing is planned


@dataclass(eq=False)
class Layout:
    """A problem and the rows behind its names; `problem` is None where nothing can be planned."""

    scope: Scope
    ground: Ground | None = None
    hung: list[Hung] = field(default_factory=list)
    problem: Problem | None = None
    people: dict[str, User] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    visits: dict[str, Visit] = field(default_factory=dict)

    @property
    def missing(self) -> list[Missing]:
        return self.scope.missing

    @property
    def tasks(self) -> dict[str, tuple[Hung, RackTask]]:
        """Each step's rack and task, by the step's name."""
        return {task.name: (hung, task) for hung in self.hung for task in hung.tasks}

    def lacks(self, about: object, why: str, page: str = "", pk: object = "") -> None:
        self.scope.missing.append(Missing(str(about), why, page, str(pk)))


def lay_out_rows(
    terms: Terms,
    projects: Iterable[Project],
    now: datetime,
    kept: Iterable[Slot] = (),
    beside: Ground | None = None,
    as_kept: bool = False,
) -> Layout:
    """All that there is to plan. kept: the slots of the kept plan; as_kept: no step is looked at elsewhere than there.

    beside: the ground of a layout whose places are held alike; what it worked out is not worked out again.
    """
    kept = list(kept)
    layout = Layout(scope_of(terms, projects, now))
    if not layout.scope.outlooks or not terms.people_who_work() or not terms.places():
        return layout
    air = WorkshopAir(terms.workshop, layout.scope.outlooks[0].air.begin, now, terms.member)
    layout.ground = ground = Ground(terms, air, now, _lengths(layout.scope), kept=kept)
    if beside is not None:
        ground.go_on_from(beside)
    if ground.known < LEAST:
        if layout.scope.outlooks[0].forecast is not None:
            layout.lacks("The weather", "the forecast ends before anything could be planned", "weather")
        return layout
    _fill(layout, ground, kept, as_kept)
    return layout


def _lengths(scope: Scope) -> dict[str, set[float]]:
    found: dict[str, set[float]] = defaultdict(set)
    for outlook in scope.outlooks:
        body = outlook.piece.part.body
        found[body.material.name].add(body.length_m)
    return found


def _fill(layout: Layout, ground: Ground, kept: list[Slot], as_kept: bool) -> None:
    terms = layout.scope.terms
    layout.places = {place.name: place for place in terms.places()}
    layout.people = {user.username: user for user in terms.people_who_work()}
    stood = {o.path.place.name: o.path.place for o in layout.scope.outlooks}
    layout.places = {**stood, **layout.places}
    clock, wet = _blast_minutes(layout.scope)
    racks_there = hang(layout, ground, clock, wet, kept)
    visits = _visits(layout, ground, sum(hung.blast_minutes for hung in racks_there if hung.waits_for_visit))
    for hung in racks_there if as_kept else ():
        hung.bound = bound(hung.tasks, hung.pieces[0], kept, layout.places.values())
    ground.places, ground.to_carry = list(layout.places.values()), {hung.iron for hung in racks_there}
    layout.hung = [hung for hung in racks_there if _can_be_done(layout, hung, visits)]
    if not layout.hung:
        return
    people = _people(
        terms, ground, list(layout.people.values()), [hung.running for hung in layout.hung if hung.running]
    )
    chains = [_chain(hung, len(people)) for hung in layout.hung]
    layout.problem = Problem(
        ground.horizon,
        tuple(chains),
        tuple(people),
        tuple(Workplace(p.name, room(p.wet_room.to("m**2").magnitude) if p.wet_room is not None else None)
              for p in layout.places.values()),
        tuple(link for hung in layout.hung for link in hung.links()),
        tuple(_moves(layout, ground, len(people))),
        tuple(visits if any(task.by_visit for chain in chains for task in chain.tasks) else ()),
        _session_waste(layout.hung),
    )  # fmt: skip


def _chain(hung: Hung, people: int) -> Chain:
    steps = tuple(hung.step(task, number, people) for number, task in enumerate(hung.tasks))
    promised = None
    if hung.promised:
        minute = hung.ground.minute_down(day_ends(hung.ground.terms.workshop, hung.promised))
        promised = minute if 0 <= minute <= hung.ground.horizon.count else None
    return Chain(hung.name, steps, hung.stands_in.name, promised)


# -- racks


def hang(
    layout: Layout, ground: Ground, minutes: dict[UUID, float], wet: bool, kept: Iterable[Slot] = ()
) -> list[Hung]:
    """The pieces on their racks: of one system, one state, one place; a person's own grouping stands.

    minutes: on the clock, of pieces on a visit's sheet · wet: one of the visits is
    """
    now, rates = layout.scope.now, layout.scope.workshop.rates
    running = [slot for slot in kept if slot.begin <= now < slot.end]
    over = [slot for slot in kept if slot.end <= now and slot.kind in (Slot.Kind.MASK, Slot.Kind.CLEAN)]
    groups: dict[Hashable, list[Outlook]] = defaultdict(list)
    for outlook in layout.scope.outlooks:
        groups[_worked_together(layout, outlook)].append(outlook)
    found: list[Hung] = []
    repairs = repair_minutes(outlook.piece for outlook in layout.scope.outlooks)
    places = list(layout.places.values())
    for group in groups.values():
        by_name = {str(outlook.piece.pk): outlook for outlook in group}
        for rack in racks.group(_pieces(layout.scope.terms, group), _largest(layout, group)):
            members = [by_name[piece.name] for piece in rack.pieces]
            where = str(members[0].path.place)
            name = _told_apart(_name(rack, members), [hung.name for hung in found], where)
            blasting = sum(minutes.get(o.piece.pk, rates.to_blast(area_of(o.piece))) for o in members)
            repairing = sum(repairs.get(o.piece.pk, 0.0) for o in members)
            found.append(Hung(rack, name, members, ground, places, blasting, repairing, wet, _over(members, over)))
    for slot in running:
        _let_it_go_on(slot, found)
    return found


def _over(members: list[Outlook], over: Iterable[Slot]) -> frozenset[str]:
    """What the log does not keep, and the kept plan says is done for all of these pieces."""
    pieces = [outlook.piece for outlook in members]
    there = [slot for slot in over if _all_in(slot, pieces)]
    return frozenset(slot.key for slot in there if slot.kind == Slot.Kind.MASK or _blasted_before(members, slot.end))


def _all_in(slot: Slot, pieces: Iterable[Piece]) -> bool:
    return {piece.pk for piece in pieces} <= {piece.pk for piece in slot.pieces.all()}


def _blasted_before(members: list[Outlook], when: datetime) -> bool:
    """Wiping that was planned ahead of the blasting that the log tells of has not been done."""
    states = [outlook.state for outlook in members]
    return all(state.next != Next.BLAST and state.blasted_at and state.blasted_at < when for state in states)


def _let_it_go_on(slot: Slot, racks_there: list[Hung]) -> None:
    """Mark the rack whose first step is being done in this slot, or that is being carried, and not yet logged.

    Of its pieces some may be logged already; those that are not are one rack, else nobody knows which goes on.
    """
    there = [hung for hung in racks_there if hung.tasks and _all_in(slot, hung.pieces)]
    for hung in there if slot.kind == Slot.Kind.MOVE else ():
        if hung.stands_in == slot.origin and slot.place in hung.places:
            hung.on_the_way = slot
    doing = [hung for hung in there if hung.tasks[0].key == slot.key]
    if len(doing) == 1:
        doing[0].running = slot


def _worked_together(layout: Layout, outlook: Outlook) -> Hashable:
    """What must be the same for pieces to be worked together."""
    terms, piece, state = layout.scope.terms, outlook.piece, outlook.state
    cabinet = any(place.cabinet for place in layout.places.values())
    blasted_by = piece.blasted_by(cabinet) if state.next == Next.BLAST else None
    letters = piece.part.lettering_coating_id if state.gets_letters else None
    return (
        piece.part.system_id, state.next, state.to_repair, tuple(layer.pk for layer in state.coming), state.is_bare,
        letters, outlook.path.place.pk, terms.rack_of(piece), terms.there_from(piece), blasted_by,
    )  # fmt: skip


def _pieces(terms: Terms, group: list[Outlook]) -> list[racks.PieceToHang]:
    return [
        racks.PieceToHang(
            str(o.piece.pk), area_of(o.piece), str(o.state.next), str(o.piece.part.system_id),
            terms.rack_of(o.piece),
        )
        for o in group
    ]  # fmt: skip


def _largest(layout: Layout, group: list[Outlook]) -> float:
    """m² of a rack that one person can coat in a day's session, and blow through a pot's life."""
    terms, shop = layout.scope.terms, layout.scope.workshop
    if terms.settings.get("largest"):
        return float(terms.settings["largest"])
    layers = [layer for layer in system_of(group[0].piece).layers.all() if layer.is_coat]
    slowest = max((layer.minutes_on(1.0) for layer in layers), default=1.0)
    session = shop.rates.day - shop.rates.around_a_coat
    lives = [minutes for layer in layers if layer.coating for _, minutes in layer.coating.pot_life]
    half = max(session / 2, 30.0)  # of a day's session, so that a rack leaves room for what dries  [our judgement]
    whole = min([half, *lives]) / max(slowest, 0.1)
    if terms.settings.get("split"):
        area = sum(area_of(o.piece) for o in group)
        return min(whole, area / 2 + 1e-6)
    return whole


def _name(rack: RackLoad, members: list[Outlook]) -> str:
    """What somebody would call it: "6 × leg, green enamel", "arm bracket, 2 × clamp jaw, treadle, green enamel"."""
    if rack.chosen:
        return rack.name
    if len(members) == 1:
        return f"{members[0].piece.mark} {members[0].piece.part}"
    kinds = sorted(Counter(str(outlook.piece.part) for outlook in members).items())
    named = kinds if len(kinds) <= MOST_KINDS else kinds[: MOST_KINDS - 1]
    words = [part if count == 1 else f"{count} × {part}" for part, count in named]
    others = len(members) - sum(count for _, count in named)
    coats = [layer.coating for layer in system_of(members[0].piece).layers.all() if layer.is_coat and layer.coating]
    paint = [str(coats[-1]).split(",")[0]] if coats else []
    return ", ".join([*words, *([f"{others} others"] if others else []), *paint])


def _told_apart(name: str, taken: list[str], where: str = "") -> str:
    """With the place where it stands, and after that a number, if another one has this name."""
    name = name[:80]
    if where and name in taken:
        name = f"{name}, {where}"
    number = next(n for n in range(1, len(taken) + 2) if (name if n == 1 else f"{name} ({n})") not in taken)
    return name if number == 1 else f"{name} ({number})"


def _blast_minutes(scope: Scope) -> tuple[dict[UUID, float], bool]:
    """Minutes on the clock of pieces that stand on a visit's sheet, and whether any of the visits is wet."""
    own = own_figures(scope.workshop, scope.now)
    minutes: dict[UUID, float] = {}
    visits = scope.terms.visits()
    for visit in visits:
        for line in estimate(visit, list(visit.pieces.in_full()), own).lines:
            minutes[line.row.piece_id] = max(line.minutes, minutes.get(line.row.piece_id, 0))
    return minutes, any(visit.wet for visit in visits)


# -- what stands in the way


def _can_be_done(layout: Layout, hung: Hung, visits: list[VisitOffer]) -> bool:
    """Whether a rack can be planned at all; what is missing is named."""
    if not hung.tasks:
        return False
    if any(not hung.ways[task.name] for task in hung.tasks):
        task = next(task for task in hung.tasks if not hung.ways[task.name])
        layout.lacks(hung.name, f"no place is entered in which it could be done: {task.label}", "places")
        return False
    needs_visit = any(hung.by_visit(task) for task in hung.tasks)
    if needs_visit and not visits:
        layout.lacks(hung.name, "it waits to be blasted, and within the forecast no visit is on offer", "visits")
        return False
    return _short_enough(layout, hung) and _within_pot_life(layout, hung)


def _within_pot_life(layout: Layout, hung: Hung) -> bool:
    """A rack of several pieces that somebody hung together may be too much for one mix."""
    for task in hung.tasks:
        keeps, work = hung.mix_keeps(task), hung.brushwork(task)
        if keeps is not None and work > keeps:
            why = f"{task.label} takes {work:.0f} min to put on, and in the hottest hour its mix keeps {keeps:.0f} min"
            layout.lacks(hung.name, f"{why}: hang it on two racks", "plan-settings")
            return False
    return True


def _short_enough(layout: Layout, hung: Hung) -> bool:
    """A step longer than the longest stretch of work finds no room in any day."""
    longest = hung.ground.longest_day
    for task in hung.tasks:
        if not hung.by_visit(task) and hung.minutes(task) > longest:
            hours, day = hung.minutes(task) / 60, longest / 60
            layout.lacks(
                hung.name, f"{task.told} takes {hours:.3g} h, and the longest day of work has {day:.3g} h", "settings"
            )
            return False
    return True


# -- people, moves and visits


def _people(terms: Terms, ground: Ground, users: list[User], running: list[Slot]) -> list[Person]:
    """In the minute that it is, only those are there to be planned who are at work on something."""
    busy = {user.pk for slot in running for user in slot.people.all()}
    wage = np.where(terms.beyond(ground.times), terms.overtime_cents, terms.hour_cents)
    begun = np.arange(ground.horizon.count) < 1
    return [
        Person(user.username, np.where(begun, user.pk in busy, ground.present).astype(bool), wage=wage)
        for user in users
    ]


def _session_waste(hung: Iterable[Hung]) -> dict[str, int]:
    """Cents of what stays behind after a session, by the paints of which something does."""
    tasks = {task.paint: task for rack in hung for task in rack.tasks if task.paint}
    left = {paint: round(100 * task.left_in_gun) for paint, task in tasks.items()}
    return {paint: cents for paint, cents in left.items() if cents}


def _moves(layout: Layout, ground: Ground, people: int) -> Iterable[Transport]:
    """Each rack carried between any two places; bare iron may not sweat where it is blasted, or stands bare."""
    places, two = list(layout.places.values()), min(2, people)
    for hung in layout.hung:
        bare_in = hung.stands_bare_in
        for origin, to in permutations(places, 2):
            yield ground.move(origin, to, hung.name, hung.iron, origin in bare_in, two)


def _visits(layout: Layout, ground: Ground, waits: float) -> list[VisitOffer]:
    """The days on offer whose hours lie in the forecast; the others are named where somebody waits for them.

    waits: minutes on the clock of all that a contractor is to blast
    """
    found = []
    for row in layout.scope.terms.visits():
        if row.minutes <= 0 or row.ends_at <= this_minute(layout.scope.now):
            continue
        begin, end = max(0, ground.minute_up(row.starts_at)), ground.minute_down(row.ends_at)
        if end > ground.horizon.count:
            if waits:
                layout.lacks(row, "the forecast ends before it; what it can say are its odds", "visit", row.pk)
            continue
        if begin < end:
            name = _told_apart(str(row), list(layout.visits))  # one may have been moved to another's day
            layout.visits[name] = row
            found.append(VisitOffer(name, begin, end, int(cents(float(row.asks.coming(ceil(waits)))))))
    return found
