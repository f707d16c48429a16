"""What was decided: who does what, where, from when to when, and dry by when. What follows from it is a property."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from .problem import MOST, Problem, Step


class Aim(StrEnum):
    """What makes a plan better."""

    LATENESS = "lateness"  # slots by which racks miss their promised dates, added up
    FINISH = "finish"  # slot by which everything is dry
    COST = "cost"  # cents
    MARGIN = "margin"  # tenths of a degree kept in hand at the thinnest place
    LABOUR = "labour"  # person-slots of work and carrying: what decides between plans that are level in all else


AIMS = (Aim.LATENESS, Aim.FINISH, Aim.COST, Aim.MARGIN)


@dataclass(frozen=True)
class Carry:
    """A rack on its way between two places."""

    origin: str
    to: str
    begin: int
    end: int
    people: tuple[str, ...] = ()


@dataclass(frozen=True)
class Slot:
    """One step in its place and time; `option` is the step's, counted from 0.

    carried_in: before the work · carried_out: after it, to dry elsewhere.
    """

    step: str
    option: int
    begin: int
    end: int
    dry: int
    people: tuple[str, ...] = ()
    visit: str = ""
    carried_in: Carry | None = None
    carried_out: Carry | None = None

    @property
    def attended(self) -> Iterator[tuple[str, int, int]]:
        """Who is busy from when to when."""
        yield from ((name, self.begin, self.end) for name in self.people)
        for carry in (self.carried_in, self.carried_out):
            if carry is not None:
                yield from ((name, carry.begin, carry.end) for name in carry.people)


@dataclass(frozen=True, eq=False)
class Plan:
    """Every step of a problem in its slot."""

    problem: Problem
    slots: dict[str, Slot]

    def step(self, slot: Slot) -> Step:
        """What is done in this slot."""
        return self.problem.steps[slot.step]

    def done(self, chain_name: str) -> int:
        """By when a rack is dry."""
        return next(max(self.slots[s.name].dry for s in c.steps) for c in self.problem.chains if c.name == chain_name)

    @property
    def finish(self) -> int:
        """By when everything is dry."""
        return max(slot.dry for slot in self.slots.values())

    @property
    def lateness(self) -> int:
        """Slots by which racks miss their promised dates, added up."""
        promised = ((chain.name, chain.promised) for chain in self.problem.chains if chain.promised is not None)
        return sum(max(0, self.done(name) - date) for name, date in promised)

    @property
    def visits(self) -> tuple[str, ...]:
        """The visits to book, as the problem lists them."""
        used = {slot.visit for slot in self.slots.values()}
        return tuple(visit.name for visit in self.problem.visits if visit.name in used)

    @property
    def cost(self) -> int:
        """Cents: visits, heating and whatever else a start costs, work beyond usual hours."""
        calls = sum(visit.call_out for visit in self.problem.visits if visit.name in self.visits)
        starts = sum(self._value(slot, "cost") for slot in self.slots.values())
        return calls + starts + sum(self._extra(*busy) for slot in self.slots.values() for busy in slot.attended)

    @property
    def margin(self) -> int:
        """Tenths of a degree that the thinnest slot keeps above what it must; MOST where none has to."""
        return min((self._value(slot, "margin") for slot in self.slots.values()), default=MOST)

    @property
    def labour(self) -> int:
        """Person-slots of work and carrying."""
        return sum(end - begin for slot in self.slots.values() for _, begin, end in slot.attended)

    @property
    def idle(self) -> int:
        """Slots in which somebody is at work with nothing to do, between their first and their last task of a day."""
        return sum(self._idle(person.name) for person in self.problem.people)

    def value(self, aim: Aim) -> int:
        """How good the plan is: the less the better, so margin counts negative."""
        return -self.margin if aim is Aim.MARGIN else int(getattr(self, aim))

    def values(self, aims: tuple[Aim, ...] = AIMS) -> tuple[int, ...]:
        """The same for each aim in turn: of two plans the one with the lesser values is better."""
        return tuple(self.value(aim) for aim in aims)

    def _value(self, slot: Slot, name: str) -> int:
        return int(getattr(self.step(slot).options[slot.option], name)[slot.begin])

    def _extra(self, name: str, begin: int, end: int) -> int:
        extra = next(person.extra for person in self.problem.people if person.name == name)
        return int(extra[begin:end].sum())

    def _idle(self, name: str) -> int:
        day = 24 * 60 // self.problem.grid.minutes
        tasks = [(begin, end) for slot in self.slots.values() for who, begin, end in slot.attended if who == name]
        first: dict[int, int] = {}
        last: dict[int, int] = {}
        for begin, end in tasks:
            first[begin // day] = min(first.get(begin // day, begin), begin)
            last[begin // day] = max(last.get(begin // day, end), end)
        working = next(person.working for person in self.problem.people if person.name == name)
        present = sum(int(working[first[d] : last[d]].sum()) for d in first)
        return present - sum(end - begin for begin, end in tasks)
