"""A first schedule at once: racks are put in one after the other, the longest first, each task as early as it fits."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from finishing.science.hours import Flags

from .choices import Choice, Load, Resource
from .crews import latest
from .problem import NEVER, Chain, Slots
from .schedule import Schedule
from .search_space import Picks, SearchSpace, Tie, meets, narrow, settle, subspace

TRIES = 60  # starts looked at for one rack before its hours are narrowed
PATIENCE = 600  # and after
FIRST_THRIFT = 1
AGAINST = {"wet": "dust", "dust": "wet"}  # what may not be in the same place


class Room:
    """What is taken of everything by now."""

    def __init__(self, space: SearchSpace) -> None:
        self.limits = space.resources()
        self.count = space.problem.grid.count
        self.taken: dict[Resource, Slots] = {}
        self._blocked: dict[Resource, dict[int, Slots]] = {}

    def put(self, choice: Choice, k: int, times: int = 1) -> None:
        """Take what this start takes; times −1 gives it back."""
        for load in choice.loads:
            self._of(load.on)[load.begin[k] : load.end[k]] += times * load.amount
            self._blocked.pop(load.on, None)
            self._blocked.pop((AGAINST.get(load.on[0], ""), load.on[1]), None)

    def free(self, choice: Choice) -> Flags:
        """Which of its starts find room."""
        fits = np.ones(len(choice), bool) if choice.carried is None else choice.carried >= 0
        for load in choice.loads:
            fits &= self._is_free(load)
        return fits

    def fetched(self, choice: Choice) -> Choice:
        """The same, its rack fetched as late as there are hands for it where it may be early."""
        carrying = choice.carried_in
        if carrying is None or not choice.task.early:
            return choice
        free = (carrying.settled < NEVER) & (np.arange(self.count) >= choice.task.not_before)
        for load in carrying.loads(np.arange(self.count)):
            free &= self._is_free(replace(load, end=np.minimum(load.end, self.count)))
        return choice.fetched_at(latest(carrying.settled, free))

    def _is_free(self, load: Load) -> Flags:
        sums = self._sums(load)
        return np.asarray(sums[load.end] == sums[load.begin])

    def _sums(self, load: Load) -> Slots:
        """By slot, in how many before it there is no room for this load."""
        by_amount = self._blocked.setdefault(load.on, {})
        if load.amount not in by_amount:
            limit, against = self.limits.get(load.on), AGAINST.get(load.on[0])
            blocked = self._of(load.on) + load.amount > (NEVER if limit is None else limit)
            if against is not None:
                blocked |= self._of((against, load.on[1])) > 0
            by_amount[load.amount] = sums = np.zeros(self.count + 1, np.int64)
            np.cumsum(blocked, out=sums[1:])
        return by_amount[load.amount]

    def _of(self, on: Resource) -> Slots:
        return self.taken.setdefault(on, np.zeros(self.count, np.int64))


class Insertion:
    """Puts racks into what the others leave free."""

    def __init__(self, space: SearchSpace, picks: Picks | None = None) -> None:
        self.space, self.room, self.picks = space, Room(space), dict(picks or {})
        self.thrift = 0  # slots by which a way may lead on later for each person-slot that it saves
        self.earlier, self.later = _by_step(space, "after"), _by_step(space, "before")
        for choice, k in self.picks.values():
            self.room.put(choice, k)

    def put(self, chain: Chain) -> bool:
        """Put one rack in; False, and nothing changed, where it finds no place. Fetched early only if it must be."""
        names = [task.name for task in chain.tasks]
        return self._search(names, self.space, TRIES) or self._search(names, self._narrowed(names), PATIENCE)

    def lay(self, picks: Picks) -> bool:
        """Put a rack in just so; False, and nothing changed, where it does not fit."""
        for number, (name, (choice, k)) in enumerate(picks.items()):
            if not self._fits(choice, name)[k]:
                for laid in list(picks)[:number]:
                    self._undo(laid)
                return False
            self.set(name, (choice, k))
        return True

    def take(self, chain: Chain) -> None:
        """Take one rack out again."""
        for task in chain.tasks:
            self._undo(task.name)

    def set(self, name: str, pick: tuple[Choice, int]) -> None:
        """Put one task where it is known to fit."""
        self.picks[name] = pick
        self.room.put(*pick)

    def _narrowed(self, names: list[str]) -> SearchSpace:
        """Only this rack's tasks, and only the starts that find room and lead on to its end."""
        ways = {name: map(self.room.fetched, self.space.choices[name]) for name in names}
        free = {name: [c.keep(self.room.free(c)) for c in choices] for name, choices in ways.items()}
        own = [tie for tie in self.space.ties if tie.before in free and tie.after in free]
        return narrow(replace(self.space, choices=free, ties=tuple(own)))

    def _search(self, names: list[str], space: SearchSpace, tries: int) -> bool:
        """Depth first: earliest first, and back where a window has closed."""
        open_ends: list[Iterator[tuple[Choice, int]]] = [self._candidates(space.choices[names[0]], names[0])]
        while open_ends:
            name = names[len(open_ends) - 1]
            self._undo(name)
            pick = next(open_ends[-1], None)
            if pick is None or tries == 0:
                open_ends.pop()
                continue
            tries -= 1
            self.set(name, pick)
            if len(open_ends) == len(names):
                return True
            following = names[len(open_ends)]
            open_ends.append(self._candidates(space.choices[following], following))
        return False

    def _undo(self, name: str) -> None:
        if name in self.picks:
            self.room.put(*self.picks.pop(name), times=-1)

    def _candidates(self, ways: Iterable[Choice], name: str) -> Iterator[tuple[Choice, int]]:
        """Starts that fit all that is put in by now: what leads on earliest first, then the cheapest."""
        found = [(c, k) for c in ways if len(k := np.flatnonzero(self._fits(c, name)))]
        if not found:
            return
        way = np.repeat(np.arange(len(found)), [len(k) for _, k in found])
        start = np.concatenate([k for _, k in found])
        lead = np.concatenate([self._leads(c, name)[k] + self.thrift * c.labour for c, k in found])
        cost = np.concatenate([c.cost[k] for c, k in found])
        for i in np.lexsort((start, cost, lead)):
            yield found[way[i]][0], int(start[i])

    def _leads(self, choice: Choice, name: str) -> Slots:
        """From when on the next task may begin."""
        following = [self.space.follow(tie, choice).opens for tie in self.later.get(name, ()) if tie.neighbours]
        return np.max(following, axis=0) if following else choice.after.dry

    def _fits(self, choice: Choice, name: str) -> Flags:
        fits = self.room.free(choice)
        for tie in self.earlier.get(name, ()):
            if tie.before in self.picks:
                before, k = self.picks[tie.before]
                if tie.neighbours and choice.comes_from != before.stands:
                    return np.zeros(len(choice), bool)
                fits &= meets(self.space.follow(tie, before), k, before, choice, tie.neighbours)
        for tie in self.later.get(name, ()):
            if tie.after in self.picks:
                start, follow = (
                    self.picks[tie.after][0].starts[self.picks[tie.after][1]],
                    self.space.follow(tie, choice),
                )
                fits &= (start >= follow.opens) & (start <= follow.latest)
                fits &= (start <= follow.shut_after) | (start >= follow.shut_until)
        return fits


def _by_step(space: SearchSpace, end: str) -> dict[str, list[Tie]]:
    ties: dict[str, list[Tie]] = {}
    for tie in space.ties:
        ties.setdefault(getattr(tie, end), []).append(tie)
    return ties


def longest_first(space: SearchSpace) -> list[Chain]:
    """Racks by promise, those without one last, and by the time that is left from their earliest possible end on."""
    last = space.problem.grid.count
    return sorted(
        space.problem.chains, key=lambda c: (c.promised if c.promised is not None else last, -_length(space, c))
    )


def _length(space: SearchSpace, chain: Chain) -> int:
    """Earliest end by the hours alone, people and room apart."""
    ways = space.choices[chain.tasks[-1].name]
    return min((int(c.after.dry.min()) for c in ways if len(c)), default=NEVER)


def first_picks(space: SearchSpace, order: Iterable[Chain] | None = None) -> Picks | None:
    """Insertion in this order; a rack that finds no place is tried once more as the first of all. None if in vain."""
    queue = list(order or longest_first(space))
    favoured: set[str] = set()
    while True:
        insertion = Insertion(space)
        insertion.thrift = FIRST_THRIFT
        failed = next((chain for chain in queue if not insertion.put(chain)), None)
        if failed is None:
            return insertion.picks
        if failed.name in favoured:
            return None
        favoured.add(failed.name)
        queue.sort(key=lambda chain: chain is not failed)


def first_schedule(space: SearchSpace) -> Schedule | None:
    """A schedule by insertion, or None where insertion finds none; that there is none it does not prove."""
    picks = first_picks(space) if all(map(space.allows, space.problem.chains)) else None
    return None if picks is None else settle(space, picks)


def schedule_what_fits(space: SearchSpace) -> Schedule | None:
    """The racks that find their place one after the other, each beside those before it; None where none does."""
    insertion = Insertion(space)
    fit = [chain for chain in longest_first(space) if insertion.put(chain)]
    return settle(subspace(space, space.problem.restricted_to(fit)), insertion.picks) if fit else None
