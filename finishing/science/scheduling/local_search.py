"""Local search: a few racks are taken out and put in again in another order; the same seed does the same.

Quick where the solver is not: hundreds of racks. That a schedule is best it does not prove.
"""

from collections.abc import Callable
from random import Random

from .insertion import Insertion
from .problem import Chain
from .schedule import Aim
from .search_space import Picks, SearchSpace

FEWEST, MOST = 2, 8  # racks taken out at once
THRIFT = (0, 0, 1, 3, 8, 24)  # slots for a person-slot saved
LENIENCE = 0.01  # share by which the way-shower may get worse in a turn
SAVED = 10  # slots of earlier drying that a person-slot saved is worth on the way
Values = tuple[int, ...]


class LocalSearch:
    """The best picks so far, and a hand that shuffles."""

    def __init__(self, space: SearchSpace, picks: Picks, aims: tuple[Aim, ...], seed: int) -> None:
        self.space, self.aims, self.random = space, aims, Random(seed)
        self.best, self.insertion = dict(picks), Insertion(space, picks)
        self.values = self._values(picks)

    def run(self, turns: int, better: Callable[[Picks], bool], stop: Callable[[], bool]) -> int:
        """At most so many turns; returns how many. `better` gets each better schedule, and ends it with False."""
        for turn in range(turns):
            if stop() or (self._turn() and not better(self.best)):
                return turn + 1
        return turns

    def _turn(self) -> bool:
        out = self._chosen()
        kept = {task.name: self.insertion.picks[task.name] for chain in out for task in chain.tasks}
        for chain in out:
            self.insertion.take(chain)
        self.random.shuffle(out)
        self.insertion.thrift = self.random.choice(THRIFT)
        inside = all(self.insertion.put(chain) for chain in out)
        values = self._values(self.insertion.picks) if inside else None
        if values is None or not self._welcome(values):
            self._put_back(out, kept)
            return False
        improved = values[:-1] < self.values[:-1]
        self.values = values
        if improved:
            self.best = dict(self.insertion.picks)
        return improved

    def _welcome(self, values: Values) -> bool:
        """No worse in the aims; a small task back on the way may lead on, and is let pass."""
        let_pass = self.values[-1] * (1 + LENIENCE * self.random.random())
        return values[:-1] < self.values[:-1] or (values[:-1] == self.values[:-1] and values[-1] <= let_pass)

    def _chosen(self) -> list[Chain]:
        """Racks to take out: among them, more often than not, those that end last."""
        chains = list(self.space.problem.chains)
        number = min(len(chains), self.random.randint(FEWEST, MOST))
        chains.sort(key=lambda chain: -self._done(self.insertion.picks, chain))
        first = [chains.pop(0)] if self.random.random() < 0.7 else []
        near = min(len(chains), 3 * number) if self.random.random() < 0.5 else len(chains)
        return first + self.random.sample(chains[:near], number - len(first))

    def _put_back(self, out: list[Chain], kept: Picks) -> None:
        for chain in out:
            self.insertion.take(chain)
        for name, pick in kept.items():
            self.insertion.set(name, pick)

    def _done(self, picks: Picks, chain: Chain) -> int:
        return max(int(c.after.dry[k]) for c, k in (picks[task.name] for task in chain.tasks))

    def _values(self, picks: Picks) -> Values:
        """The aims in turn, and last what shows the way where they are level: how early all is done, hands saved."""
        done = {chain.name: self._done(picks, chain) for chain in self.space.problem.chains}
        labour = sum(choice.labour for choice, _ in picks.values())
        return (*(self._value(aim, picks, done) for aim in self.aims), sum(done.values()) + SAVED * labour)

    def _value(self, aim: Aim, picks: Picks, done: dict[str, int]) -> int:
        if aim is Aim.LATENESS:
            promised = [(c.name, c.promised) for c in self.space.problem.chains if c.promised is not None]
            return sum(max(0, done[name] - date) for name, date in promised)
        if aim is Aim.FINISH:
            return max(done.values())
        if aim is Aim.MARGIN:
            return -min(int(c.after.margin[k]) for c, k in picks.values())
        if aim is Aim.LABOUR:
            return sum(choice.labour for choice, _ in picks.values())
        visits = {int(c.after.visit[k]) for c, k in picks.values()} - {-1}
        calls = sum(self.space.problem.visits[number].call_out for number in visits)
        return calls + sum(int(c.cost[k]) for c, k in picks.values())
