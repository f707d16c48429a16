"""Which of several schedules to choose by what it costs in the end: over the members of an ensemble, with waiting.

A schedule is held against each member as if it were done as planned whatever the weather. What the member then spoils
is done again, at its own price; a later finish costs so much a day. Members are counted alike, so

    expected = own cost + mean over members (what is spoilt · its price) + days later than the earliest · price of a day

In the yard people look at the sky first and wait instead: so what is spoilt is counted high.  Basis: [our judgement].
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from finishing.science.working import Working

from .feasibility import Constraint, check_feasibility
from .problem import Problem
from .schedule import Schedule, ScheduledTask

DAY = 24 * 60
SPOILS = frozenset({Constraint.WEATHER, Constraint.TOO_SOON, Constraint.TOO_LATE, Constraint.CLOSED_ZONE,
                    Constraint.SETTLED, Constraint.LENGTH})  # fmt: skip


def spoilt_in(schedule: Schedule, scenario: Problem) -> set[str]:
    """The tasks that another weather spoils, done as planned: refused by its air, or outside what it lets follow.

    scenario: the same racks by other hours, with the same modes; a rack that it cannot have at all is spoilt whole.
    """
    planned = schedule.problem.chains
    there = [chain for chain in scenario.chains if all(task.name in schedule.tasks for task in chain.tasks)]
    lost = {chain.name for chain in planned} - {chain.name for chain in there}
    spoilt = {task.name for chain in planned if chain.name in lost for task in chain.tasks}
    if there:
        held = scenario.restricted_to(there)
        own = Schedule(schedule.problem, {name: schedule.tasks[name] for name in held.tasks})
        broken = check_feasibility(dried_in(own, held))
        spoilt |= {violation.task for violation in broken if violation.constraint in SPOILS}
    return spoilt


def dried_in(schedule: Schedule, problem: Problem) -> Schedule:
    """The same work at the same minutes, dry by when another problem of the same tasks says."""
    return Schedule(problem, {name: _dried_there(done, problem) for name, done in schedule.tasks.items()})


def _dried_there(done: ScheduledTask, scenario: Problem) -> ScheduledTask:
    dry = scenario.tasks[done.task].modes[done.mode].dry
    known = dry is not None and done.end < len(dry)
    return replace(done, dry=int(dry[done.end])) if known and dry is not None else done


@dataclass(frozen=True)
class Prices:
    """In cents: of each task if it is spoilt and done again (none where it costs nothing), and of a day's waiting."""

    again: Mapping[str, int]
    day: int


@dataclass(frozen=True)
class ExpectedCost:
    """What a schedule comes to over members; money in cents.

    spoilt: tasks with a price, on average over the members · redoing: what doing them again costs, likewise
    later: minutes after the earliest finish among those that may be chosen · day: what a day of that costs.
    """

    own: int
    spoilt: float
    redoing: float
    later: int
    day: int
    members: int

    @property
    def waiting(self) -> float:
        return self.day * self.later / DAY

    @property
    def total(self) -> float:
        return self.own + self.redoing + self.waiting


def expected_costs(schedules: Sequence[Schedule], scenarios: Sequence[Problem], prices: Prices) -> list[ExpectedCost]:
    """One for each schedule, in their order."""
    earliest = min(schedule.finish for schedule in schedules)
    costs = []
    for schedule in schedules:
        spoilt = [name for scenario in scenarios for name in spoilt_in(schedule, scenario) & prices.again.keys()]
        count = len(scenarios)
        redoing = sum(prices.again[name] for name in spoilt) / count
        later = schedule.finish - earliest
        costs.append(ExpectedCost(schedule.cost, len(spoilt) / count, redoing, later, prices.day, count))
    return costs


def least_expected(schedules: Sequence[Schedule], costs: Sequence[ExpectedCost]) -> int:
    """Which one to choose: a promise missed by less, then the least expected cost, then the earliest finish."""
    return min(range(len(schedules)), key=lambda n: (schedules[n].lateness, costs[n].total, costs[n].later))


def expectation_working(chosen: ExpectedCost, others: Sequence[ExpectedCost], money: str) -> Working:
    """Why this one was chosen, as a page opens it."""
    inputs = [
        ("the plan's own cost", f"{chosen.own / 100:.2f} {money}"),
        ("steps spoilt on average, done as planned", f"{chosen.spoilt:.2f}"),
        ("doing them again", f"{chosen.redoing / 100:.2f} {money}"),
        ("finishes later than the earliest tried", f"{chosen.later / 60:.2f} h"),
        ("a day of waiting", f"{chosen.day / 100:.2f} {money}"),
        *((f"another tried, {other.later / 60:.1f} h later than the earliest",
           f"{other.total / 100:.2f} {money}, {other.spoilt:.2f} steps spoilt") for other in others),
    ]  # fmt: skip
    return Working(
        "Expected cost", "own cost + doing spoilt steps again + hours later / 24 h · a day of waiting", tuple(inputs),
        f"{chosen.total / 100:.2f} {money}", "our judgement",
        f"Over {chosen.members} members, as if it were done as planned whatever the sky says on the day.",
    )  # fmt: skip
