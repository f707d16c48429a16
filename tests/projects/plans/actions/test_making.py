"""Racks that find no time beside the others, tried again one by one."""

from types import SimpleNamespace

from finishing.science.scheduling.problem import Chain, Mode
from finishing.science.scheduling.schedule import AIMS
from finishing.science.scheduling.stages import first_schedule
from projects.plans.actions.making import Making
from tests.finishing.science.scheduling.shop import MINUTES, coat, dry_after, problem


class Stubborn(Making):
    """A run on a problem of its own, in which one rack stands in the plan and two found no time."""

    def __init__(self, whole):
        self.layout, self.impossible = SimpleNamespace(problem=whole), []
        self.run, self.aims, self.offered = SimpleNamespace(seed=0), AIMS, []
        self.crowded = list(whole.chains[1:])

    stop_wanted = staticmethod(lambda: False)

    def offer(self, schedule, result=None):
        self.offered.append(schedule)


def test_what_finds_a_place_beside_the_others_is_planned_though_not_all_of_them_do():
    """Ada coats one at 4 and one at 5: of three racks two."""
    at_four_or_five = Mode("shop", (MINUTES == 4) | (MINUTES == 5), dry_after(3))
    whole = problem(*(Chain(name, (coat(name, modes=(at_four_or_five,)),)) for name in "abc"))
    making = Stubborn(whole)
    making._one_by_one(first_schedule(whole.restricted_to(whole.chains[:1])))
    assert [[chain.name for chain in plan.problem.chains] for plan in making.offered] == [["a", "b"]]
    assert [chain.name for chain in making.crowded] == ["c"]
    assert [sorted(plan.tasks) for plan in making.offered] == [["a coat 1", "b coat 1"]]
