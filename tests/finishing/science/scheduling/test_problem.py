"""Quantities become whole numbers the safe way, and a problem cannot exist wrong."""

import gc
from dataclasses import replace
from weakref import ref

import numpy as np
import pytest

from finishing.science.scheduling.crews import hands
from finishing.science.scheduling.problem import (
    NEVER,
    Chain,
    Horizon,
    Mode,
    Person,
    Problem,
    ProblemError,
    Task,
    TimeLag,
    Transport,
    VisitOffer,
    cents,
    room,
    square_decimetres,
    tenths,
)
from finishing.science.scheduling.relaxations import with_long_days
from finishing.science.units import Quantity
from tests.racks_in_the_yard import yard

from .shop import COUNT, DONE, always, blast, coat, frame, problem, window

HORIZON = Horizon(480)


def test_work_and_drying_are_rounded_up_ends_down():
    assert HORIZON.work(31.2) == HORIZON.work(Quantity(0.53, "hour")) == 32
    assert HORIZON.work(30) == 30
    assert HORIZON.not_before([1.01, 1.0, np.inf, np.nan]).tolist() == [61, 60, NEVER, NEVER]
    assert HORIZON.not_after([1.01, 1.5, np.inf, np.nan]).tolist() == [60, 90, NEVER, NEVER]
    assert HORIZON.hours[[0, 30, 479]].tolist() == [0, 0.5, 479 / 60]


def test_area_up_room_down_margin_down_money_up():
    assert (square_decimetres(1.231), room(1.239)) == (124, 123)
    assert tenths([1.27, np.nan]).tolist() == [12, 0]
    assert cents(0.101) == 11


@pytest.mark.parametrize(
    ("wrong", "subject"),
    [
        (lambda: Horizon(0), "time"),
        (lambda: VisitOffer("Monday", 5, 5), "Monday"),  # no hours
        (lambda: VisitOffer("Monday", 1, 5, -1), "Monday"),
        (lambda: Task("coat", "coat", 0, (Mode("shop", always()),)), "coat"),  # no work
        (lambda: Task("coat", "coat", 1, ()), "coat"),  # nowhere
        (lambda: Task("coat", "coat", 3, (Mode("shop", always()),), pot_life=2), "coat"),
        (lambda: Mode("yard", always(), stands_in="shop"), "yard"),  # wheeled in, but when?
        (lambda: Chain("frame", ()), "frame"),
        (lambda: problem(Chain("frame", (coat(), coat()))), "frame coat 1"),  # two of a name
        (lambda: problem(Chain("frame", (coat(places=("attic",)),))), "frame coat 1"),
        (lambda: problem(Chain("frame", (coat(),), stands_in="attic")), "frame"),
        (lambda: problem(Chain("frame", (blast(by_visit=True),))), "frame blast"),  # no visit on offer
        (lambda: problem(Chain("frame", (blast(fixed=COUNT),))), "frame blast"),
        (lambda: problem(Chain("frame", (coat(modes=(Mode("shop", always()[1:]),)),))), "frame coat 1"),
        (lambda: problem(Chain("frame", (coat(dries=0),))), "frame coat 1"),  # dry before it is done
        (lambda: problem(Chain("frame", (coat(),)), people=(Person("Ada", always()[:3]),)), "Ada"),
        (lambda: problem(Chain("frame", (coat(),)), time_lags=(TimeLag("blast", "frame coat 1", ()),)), "blast"),
        (
            lambda: problem(Chain("frame", (blast(), coat())), time_lags=(TimeLag("frame blast", "frame coat 1", ()),)),
            "frame blast",
        ),
        (
            lambda: problem(
                Chain("frame", (coat(),)),
                Chain("wheel", (coat("wheel"),)),
                time_lags=(TimeLag("frame coat 1", "wheel coat 1", (window(2),)),),
            ),
            "wheel coat 1",  # waits for another rack
        ),
        (lambda: frame(transports=(Transport("yard", "shop", 1, settles=-1),)), "yard to shop"),
    ],
)
def test_what_cannot_be_is_refused_with_its_subject(wrong, subject):
    with pytest.raises(ProblemError) as refused:
        wrong()
    assert refused.value.subject == subject


def test_what_is_done_later_is_never_ready_earlier():
    backwards = replace(window(2), opens=DONE[::-1].copy())
    with pytest.raises(ProblemError, match="done later it may not be ready earlier"):
        problem(Chain("frame", (blast(), coat())), time_lags=(TimeLag("frame blast", "frame coat 1", (backwards,)),))


def test_steps_are_found_by_their_names():
    assert isinstance(frame(), Problem)
    assert list(frame().tasks) == ["frame blast", "frame coat 1"]


def test_what_people_have_in_common_goes_with_the_problems_that_have_them():
    problem = yard(2)
    known = hands(problem)
    assert hands(problem.restricted_to(problem.chains[:1])) is known
    assert hands(with_long_days(problem)) is not known
    gone = ref(known)
    del known, problem
    gc.collect()
    assert gone() is None
