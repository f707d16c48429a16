"""What was decided: who does what, where, from when to when, and dry by when. What follows from it is a property."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from finishing.science.mixing import in_sessions

from .problem import MOST_MARGIN, Mode, Problem


class Aim(StrEnum):
    """What makes a schedule better."""

    LATENESS = "lateness"  # minutes by which racks miss their promised dates, added up
    FINISH = "finish"  # minute by which everything is dry
    COST = "cost"  # cents
    MARGIN = "margin"  # tenths of a degree kept in hand at the thinnest place
    LABOUR = "labour"  # person-minutes of work and carrying: what decides between schedules that are level in all else


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
class ScheduledTask:
    """One task in its place and time; `mode` is the task's, counted from 0.

    carried_in: before the work · carried_out: after it, to dry elsewhere.
    """

    task: str
    mode: int
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
class Schedule:
    """Every task of a problem, by name, in its place and time."""

    problem: Problem
    tasks: dict[str, ScheduledTask]

    def done(self, chain_name: str) -> int:
        """By when a rack is dry."""
        return next(max(self.tasks[s.name].dry for s in c.tasks) for c in self.problem.chains if c.name == chain_name)

    @property
    def finish(self) -> int:
        """By when everything is dry."""
        return max(done.dry for done in self.tasks.values())

    @property
    def lateness(self) -> int:
        """Minutes by which racks miss their promised dates, added up."""
        promised = ((chain.name, chain.promised) for chain in self.problem.chains if chain.promised is not None)
        return sum(max(0, self.done(name) - date) for name, date in promised)

    @property
    def visits(self) -> tuple[str, ...]:
        """The visits to book, as the problem lists them."""
        used = {done.visit for done in self.tasks.values()}
        return tuple(visit.name for visit in self.problem.visits if visit.name in used)

    @property
    def cost(self) -> int:
        """Cents: what is paid for visits, for starts, as heating, for our own hours and for paint that stays behind."""
        return self.call_outs + self.starts + self.wages + self.waste

    @property
    def call_outs(self) -> int:
        """Cents that the visits cost which are booked."""
        return sum(visit.call_out for visit in self.problem.visits if visit.name in self.visits)

    @property
    def starts(self) -> int:
        """Cents that starting tasks where and when they do costs."""
        return sum(int(self._mode(done).cost[done.begin]) for done in self.tasks.values())

    @property
    def wages(self) -> int:
        """Cents for the hours of our own people, each stretch of work or carrying up."""
        wages = {person.name: person.wage for person in self.problem.people if person.wage.any()}
        busy = [attended for done in self.tasks.values() for attended in done.attended if attended[0] in wages]
        return sum(-int(-wages[name][begin:end].sum() // 60) for name, begin, end in busy)

    @property
    def sessions(self) -> list[tuple[str, list[str]]]:
        """Each session with its paint and the tasks that are done in it, all in one place."""
        alike: dict[tuple[str, str], list[ScheduledTask]] = {}
        for done in self.tasks.values():
            if paint := self.problem.tasks[done.task].paint:
                alike.setdefault((paint, self._mode(done).place), []).append(done)
        return [
            (paint, [coats[number].task for number in numbers])
            for (paint, _), coats in alike.items()
            for numbers in in_sessions([(done.begin, done.end) for done in coats])
        ]

    @property
    def waste(self) -> int:
        """Cents of paint that stays in pot and gun, once a session."""
        cents = self.problem.session_waste
        return sum(cents.get(paint, 0) for paint, _ in self.sessions) if cents else 0

    @property
    def margin(self) -> int:
        """Tenths of a degree that the thinnest task keeps above what it must; MOST_MARGIN where none has to."""
        return min((int(self._mode(done).margin[done.begin]) for done in self.tasks.values()), default=MOST_MARGIN)

    @property
    def labour(self) -> int:
        """Person-minutes of work and carrying."""
        return sum(end - begin for done in self.tasks.values() for _, begin, end in done.attended)

    def value(self, aim: Aim) -> int:
        """How good the schedule is: the less the better, so margin counts negative."""
        return -self.margin if aim is Aim.MARGIN else int(getattr(self, aim))

    def values(self, aims: tuple[Aim, ...] = AIMS) -> tuple[int, ...]:
        """The same for each aim in turn: of two schedules the one with the lesser values is better."""
        return tuple(self.value(aim) for aim in aims)

    def _mode(self, done: ScheduledTask) -> Mode:
        return self.problem.tasks[done.task].modes[done.mode]
