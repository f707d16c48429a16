"""When no plan is possible: the smallest set of rules that forbid one, found by leaving them out."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from .check import Rule
from .problem import NEVER, Link, Option, Problem, Step, Window
from .search import Stop

Relax = Callable[[Problem], Problem]


def only(problem: Problem, chains: Sequence[str]) -> Problem:
    """The same problem with these racks alone; what links them to others falls away."""
    kept = tuple(chain for chain in problem.chains if chain.name in chains)
    names = {step.name for chain in kept for step in chain.steps}
    links = tuple(link for link in problem.links if {link.before, link.after} <= names)
    return replace(problem, chains=kept, links=links)


def smallest_set(
    problem: Problem, relaxed: dict[Any, Relax], possible: Callable[[Problem], bool], over: Stop = lambda: False
) -> list[Any]:
    """The names of rules that must give way together for a plan to be; one if one is enough, [] if all are not.

    Where it takes several, all are left out and taken back one after the other, as long as there is a plan without
    the rest: of the set that is left none can be spared. With no time left the set so far is given.
    """
    for name, without in relaxed.items():
        if over():
            return []
        if possible(without(problem)):
            return [name]
    if over() or not possible(_without(problem, relaxed, relaxed)):
        return []
    needed = list(relaxed)
    for name in relaxed:
        rest = [other for other in needed if other != name]
        if not over() and possible(_without(problem, relaxed, rest)):
            needed = rest
    return needed


def _without(problem: Problem, relaxed: dict[Any, Relax], names: Iterable[Any]) -> Problem:
    for name in names:
        problem = relaxed[name](problem)
    return problem


def without_end(kind: str) -> Relax:
    """Windows of this kind of link never close again."""

    def relaxed(problem: Problem) -> Problem:
        links = (replace(x, windows=tuple(Window(w.opens) for w in x.windows)) if x.kind == kind else x
                 for x in problem.links)  # fmt: skip
        return replace(problem, links=tuple(links))

    return relaxed


def _steps(problem: Problem, change: Callable[[Step], Step]) -> Problem:
    chains = (replace(chain, steps=tuple(map(change, chain.steps))) for chain in problem.chains)
    return replace(problem, chains=tuple(chains))


def _options(problem: Problem, change: Callable[[Option], Option]) -> Problem:
    return _steps(problem, lambda step: replace(step, options=tuple(map(change, step.options))))


def _windows(problem: Problem, change: Callable[[Window], Window]) -> Problem:
    def changed(link: Link) -> Link:
        return replace(link, windows=tuple(map(change, link.windows)))

    return replace(problem, links=tuple(map(changed, problem.links)))


def without_weather(problem: Problem) -> Problem:
    return _options(problem, lambda option: replace(option, may_start=np.ones_like(option.may_start)))


def without_receipts(problem: Problem) -> Problem:
    return _steps(problem, lambda step: replace(step, not_before=0))


def without_opening(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, opens=np.zeros_like(window.opens)))


def without_drying(problem: Problem) -> Problem:
    """Paint is dry as soon as it is on."""

    def dry(step: Step) -> Step:
        done = np.arange(problem.grid.count) + step.slots
        at_once: dict[str, Any] = {"dry": done, "carried": done}
        return replace(step, options=tuple(
            replace(o, **{name: at for name, at in at_once.items() if getattr(o, name) is not None})
            for o in step.options
        ))  # fmt: skip

    return without_opening(_steps(problem, dry))


def without_closing(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, closes=NEVER))


def without_closed_zones(problem: Problem) -> Problem:
    return _windows(problem, lambda window: replace(window, closed_from=NEVER, closed_until=NEVER))


def with_long_days(problem: Problem) -> Problem:
    people = (replace(person, working=np.ones_like(person.working)) for person in problem.people)
    return replace(problem, people=tuple(people))


def with_more_hands(problem: Problem) -> Problem:
    """As many of each person as there are racks: nobody waits for another, and skills stay what they are."""
    copies = range(len(problem.chains))
    # a line break stands in nobody's name
    people = (replace(person, name=f"{person.name}\n{n}") for person in problem.people for n in copies)
    return replace(problem, people=(*problem.people, *people))


def with_wet_room(problem: Problem) -> Problem:
    return replace(problem, places=tuple(replace(place, wet_room=None) for place in problem.places))


def with_more_benches(problem: Problem) -> Problem:
    return replace(problem, places=tuple(replace(place, at_once=None) for place in problem.places))


def without_dust(problem: Problem) -> Problem:
    return _steps(problem, lambda step: replace(step, dust=None))


def without_visits(problem: Problem) -> Problem:
    return _steps(problem, lambda step: replace(step, by_visit=False))


def without_settling(problem: Problem) -> Problem:
    return replace(problem, moves=tuple(replace(move, settles=0) for move in problem.moves))


RELAXED: dict[Rule, Relax] = {
    Rule.WEATHER: without_weather,
    Rule.RECEIPT: without_receipts,
    Rule.TOO_SOON: without_opening,
    Rule.TOO_LATE: without_closing,
    Rule.CLOSED_ZONE: without_closed_zones,
    Rule.WORKING_HOURS: with_long_days,
    Rule.ONE_THING: with_more_hands,
    Rule.WET_ROOM: with_wet_room,
    Rule.BENCH: with_more_benches,
    Rule.DUST: without_dust,
    Rule.VISIT: without_visits,
    Rule.SETTLED: without_settling,
}
