"""Local search: a few racks are taken out and put in again, in another order; the same seed does the same.

Quick where the solver is not: hundreds of racks. That a schedule is best it does not prove.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

from .insertion import Insertion
from .problem import Chain
from .schedule import Aim, Schedule, ScheduledTask
from .stages import Stages

FEWEST, MOST = 1, 4  # racks taken out at once
THRIFT = (0, 0, 1, 3, 8, 24)  # minutes for a person-minute saved
SHUFFLED = 0.8  # how often what is put in again comes in another order than the latest first
LATE, NEAR = 0.8, 0.5  # how often a late rack is among them, and the others are at work when it is
WHOLE = 0.25  # how often one of the others is taken out whole, and not from a later task on
LENIENCE = 0.004  # share by which the way-shower may get worse in a turn
SAVED = 10  # minutes of earlier drying that a person-minute saved is worth on the way,
OVERDUE = 20  # and a minute by which a task begins too late for what is aimed at
Values = tuple[int, ...]


@dataclass(frozen=True)
class RackValue:
    """What a rack adds: when it is dry, by how many minutes its tasks are too late, and person-minutes."""

    dry: int
    overdue: int
    labour: int

    @property
    def way(self) -> int:
        """What shows the way where the aims are level: the less the better."""
        return self.dry + OVERDUE * self.overdue + SAVED * self.labour


class LocalSearch:
    """The best schedule so far, and a hand that shuffles.

    latest: by task, the last start from which its rack can be dry when all shall be; a task without one is never late.
    """

    def __init__(
        self, schedule: Schedule, aims: tuple[Aim, ...], seed: int, latest: Mapping[str, int] | None = None
    ) -> None:
        self.problem, self.aims, self.random, self.latest = schedule.problem, aims, Random(seed), latest or {}
        self.best, self.insertion = schedule, Insertion(schedule.problem, schedule.tasks.values())
        self.stages = Stages(schedule.problem)
        self.racks = {chain.name: self._rack(chain) for chain in self.problem.chains}
        self.values = self._values()

    def run(self, turns: int, better: Callable[[Schedule], bool], stop: Callable[[], bool]) -> int:
        """At most so many turns; returns how many. `better` gets each better schedule, and ends it with False."""
        for turn in range(turns):
            if stop() or (self._turn() and not better(self.best)):
                return turn + 1
        return turns

    def _turn(self) -> bool:
        out = self._chosen()
        kept = [done for n, chain in enumerate(out) for done in self.insertion.take(chain, self._from(n, chain))]
        if self.random.random() < SHUFFLED:
            self.random.shuffle(out)
        self.insertion.thrift = self.random.choice(THRIFT)
        before = {chain.name: self.racks[chain.name] for chain in out}
        if self.stages.put(self.insertion, out):
            self.racks |= {chain.name: self._rack(chain) for chain in out}
            values = self._values()
            if self._welcome(values):
                improved = values[:-1] < self.values[:-1]
                self.values = values
                if improved:
                    self.best = self.insertion.schedule()
                return improved
        self.racks |= before
        self._put_back(out, kept)
        return False

    def _welcome(self, values: Values) -> bool:
        """No worse in the aims; a small task back on the way may lead on, and is let pass."""
        let_pass = self.values[-1] * (1 + LENIENCE * self.random.random())
        return values[:-1] < self.values[:-1] or (values[:-1] == self.values[:-1] and values[-1] <= let_pass)

    def _from(self, number: int, chain: Chain) -> int:
        """From which task on a rack is taken out: what is still to come of it may give way to one that is late."""
        if number == 0 or self.random.random() < WHOLE:
            return 0
        return self.random.randrange(len(chain.tasks))

    def _chosen(self) -> list[Chain]:
        """Racks to take out: mostly one that is too late, or else ends last, and some that are at work beside it."""
        chains = list(self.problem.chains)
        number = min(len(chains), self.random.randint(FEWEST, MOST))
        if self.random.random() >= LATE:
            return self.random.sample(chains, number)
        late = [chain for chain in chains if self.racks[chain.name].overdue]
        if not late:
            late = sorted(chains, key=lambda chain: -self.racks[chain.name].dry)[:1]
        first = self.random.choice(late)
        chains.remove(first)
        if self.random.random() < NEAR:
            task = self.random.choice(first.tasks).name
            wanted = min(self.insertion.tasks[task].begin, self.latest.get(task, self.problem.horizon.count))
            chains.sort(key=lambda chain: self._away(chain, wanted))
            chains = chains[: 3 * number]
        return [first, *self.random.sample(chains, number - 1)]

    def _away(self, chain: Chain, minute: int) -> int:
        return min(abs(self.insertion.tasks[task.name].begin - minute) for task in chain.tasks)

    def _put_back(self, out: list[Chain], kept: list[ScheduledTask]) -> None:
        names = {scheduled.task for scheduled in kept}
        for chain in out:
            for task in chain.tasks:
                if task.name in names and task.name in self.insertion.tasks:
                    self.insertion.undo(task.name)
        for scheduled in kept:
            self.insertion.lay(scheduled)

    def _rack(self, chain: Chain) -> RackValue:
        done = [self.insertion.tasks[task.name] for task in chain.tasks]
        overdue = sum(max(0, one.begin - self.latest.get(one.task, one.begin)) for one in done)
        labour = sum(end - begin for one in done for _, begin, end in one.attended)
        return RackValue(max(one.dry for one in done), overdue, labour)

    def _values(self) -> Values:
        """The aims in turn, and last what shows the way where they are level."""
        known = {Aim.FINISH: self._finish, Aim.LATENESS: self._lateness, Aim.LABOUR: self._labour}
        if all(aim in known for aim in self.aims):
            aims = tuple(known[aim]() for aim in self.aims)
        else:
            aims = self.insertion.schedule().values(self.aims)
        return (*aims, sum(rack.way for rack in self.racks.values()))

    def _finish(self) -> int:
        return max(rack.dry for rack in self.racks.values())

    def _lateness(self) -> int:
        promised = ((self.racks[c.name].dry, c.promised) for c in self.problem.chains if c.promised is not None)
        return sum(max(0, dry - date) for dry, date in promised)

    def _labour(self) -> int:
        return sum(rack.labour for rack in self.racks.values())
