"""Racks put in stage by stage, and beside others, in a shop whose schedules can be worked out in the head."""

from finishing.science.scheduling.feasibility import check_feasibility
from finishing.science.scheduling.insertion import Insertion, longest_first, rack_by_rack, schedule_beside
from finishing.science.scheduling.problem import Chain, Person, TimeLag, Workplace
from finishing.science.scheduling.stages import Stages, first_schedule

from .shop import always, blast, coat, problem, window


def three_coated_twice():
    """One wet rack at a time; the second coat six minutes after the first began."""
    chains = [Chain(n, (coat(n, 1, dries=2), coat(n, 2, dries=2))) for n in "abc"]
    lags = [TimeLag(f"{n} coat 1", f"{n} coat 2", (window(6),)) for n in "abc"]
    places = (Workplace("shop", wet_room=100),)
    return problem(*chains, time_lags=tuple(lags), people=(Person("Ada", always()),), places=places, transports=())


def test_first_coats_of_all_racks_come_before_second_ones():
    """First coats at 0, 2 and 4, second ones at 6, 8 and 10, the last dry at 12."""
    wanted = three_coated_twice()
    insertion = Insertion(wanted)
    assert Stages(wanted).put(insertion, longest_first(wanted))
    begins = {name: done.begin for name, done in insertion.tasks.items()}
    assert sorted(begins[f"{n} coat 1"] for n in "abc") == [0, 2, 4]
    assert sorted(begins[f"{n} coat 2"] for n in "abc") == [6, 8, 10]
    assert insertion.schedule().finish == first_schedule(wanted).finish == 12
    assert check_feasibility(insertion.schedule()) == []


def test_a_rack_is_not_cut_where_its_window_closes_soon():
    """Bare iron has minutes, not days: blasting and first coat are of one stage, whatever the other racks do."""
    chains = [Chain(n, (blast(n), coat(n))) for n in ("frame", "wheel")]
    lags = [TimeLag(f"{n} blast", f"{n} coat 1", (window(2, closes=7, work=2),), "rust") for n in ("frame", "wheel")]
    wanted = problem(*chains, time_lags=tuple(lags))
    insertion = Insertion(wanted)
    assert Stages(wanted).put(insertion, list(wanted.chains))
    assert insertion.schedule().tasks == rack_by_rack(wanted, list(wanted.chains)).tasks


def test_others_are_put_in_beside_racks_that_stay_as_they_stand():
    wanted = three_coated_twice()
    alone = wanted.restricted_to(wanted.chains[1:2])
    laid = first_schedule(alone)
    beside = schedule_beside(laid, wanted)
    assert len(beside.problem.chains) == 3
    assert {name: beside.tasks[name] for name in laid.tasks} == laid.tasks
    assert check_feasibility(beside) == []
