"""Local search: a few racks are taken out and put in again in another order; the same seed does the same.

Quick where the solver is not: hundreds of racks. That a schedule is best it does not prove.
"""

from collections.abc import Callable
from random import Random

from .insertion import Insertion
from .problem import Chain
from .schedule import Aim, Schedule, ScheduledTask

FEWEST, MOST = 2, 8  # racks taken out at once
THRIFT = (0, 0, 1, 3, 8, 24)  # minutes for a person-minute saved
SHUFFLED = 0.5  # how often what is put in again comes in another order than the latest first
LENIENCE = 0.01  # share by which the way-shower may get worse in a turn
SAVED = 10  # minutes of earlier drying that a person-minute saved is worth on the way
Values = tuple[int, ...]


class LocalSearch:
    """The best schedule so far, and a hand that shuffles."""

    def __init__(self, schedule: Schedule, aims: tuple[Aim, ...], seed: int) -> None:
        self.problem, self.aims, self.random = schedule.problem, aims, Random(seed)
        self.best, self.insertion = schedule, Insertion(schedule.problem, schedule.tasks.values())
        self.values = self._values(schedule)

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
        inside = all(self.insertion.put(chain) for chain in out)
        schedule = self.insertion.schedule() if inside else None
        values = self._values(schedule) if schedule is not None else None
        if schedule is None or values is None or not self._welcome(values):
            self._put_back(out, kept)
            return False
        improved = values[:-1] < self.values[:-1]
        self.values = values
        if improved:
            self.best = schedule
        return improved

    def _welcome(self, values: Values) -> bool:
        """No worse in the aims; a small task back on the way may lead on, and is let pass."""
        let_pass = self.values[-1] * (1 + LENIENCE * self.random.random())
        return values[:-1] < self.values[:-1] or (values[:-1] == self.values[:-1] and values[-1] <= let_pass)

    def _from(self, number: int, chain: Chain) -> int:
        """From which task on a rack is taken out: what is still to come of it may give way to one that is late."""
        return 0 if number == 0 else self.random.choice((0, max(0, len(chain.tasks) - self.random.randint(1, 3))))

    def _chosen(self) -> list[Chain]:
        """Racks to take out: among them, more often than not, those that end last."""
        chains = list(self.problem.chains)
        number = min(len(chains), self.random.randint(FEWEST, MOST))
        chains.sort(key=lambda chain: -self._done(chain))
        first = [chains.pop(0)] if self.random.random() < 0.7 else []
        near = min(len(chains), 3 * number) if self.random.random() < 0.5 else len(chains)
        return first + self.random.sample(chains[:near], number - len(first))

    def _put_back(self, out: list[Chain], kept: list[ScheduledTask]) -> None:
        names = {scheduled.task for scheduled in kept}
        for chain in out:
            for task in chain.tasks:
                if task.name in names and task.name in self.insertion.tasks:
                    self.insertion.undo(task.name)
        for scheduled in kept:
            self.insertion.lay(scheduled)

    def _done(self, chain: Chain) -> int:
        return max(self.insertion.tasks[task.name].dry for task in chain.tasks)

    def _values(self, schedule: Schedule) -> Values:
        """The aims in turn, and last what shows the way where they are level: how early all is done, hands saved."""
        done = sum(max(schedule.tasks[t.name].dry for t in chain.tasks) for chain in self.problem.chains)
        return (*schedule.values(self.aims), done + SAVED * schedule.labour)
