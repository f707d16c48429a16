"""Quantities become whole numbers the safe way, and a problem cannot exist wrong."""

from dataclasses import replace

import numpy as np
import pytest

from finishing.science.scheduling.problem import (
    NEVER,
    Chain,
    Grid,
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
from finishing.science.units import Quantity
from finishing.science.windows import Reason

from .shop import COUNT, HOURS, always, blast, coat, frame, problem, window

HALF = Grid(30, 8)


def test_work_and_drying_are_rounded_up_ends_down():
    assert HALF.work(31) == HALF.work(Quantity(0.6, "hour")) == 2
    assert HALF.work(30) == 1
    assert HALF.not_before([1.01, 1.0, np.inf, np.nan]).tolist() == [3, 2, NEVER, NEVER]
    assert HALF.not_after([1.49, 1.5, np.inf, np.nan]).tolist() == [2, 3, NEVER, NEVER]


def test_windows_are_rounded_inwards_and_presence_is_not():
    assert HALF.refused(np.array([0, 0, 4, 0], np.uint16)).tolist() == [0, 0, 0, 4, 4, 4, 0, Reason.NOT_KNOWN]
    assert HALF.present([True, False, True, True]).tolist() == [True, True, False, False, True, True, True, True]
    assert HALF.hours.tolist() == [0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5]


def test_area_up_room_down_margin_down_money_up():
    assert (square_decimetres(1.231), room(1.239)) == (124, 123)
    assert tenths([1.27, np.nan]).tolist() == [12, 0]
    assert cents(0.101) == 11


@pytest.mark.parametrize(
    ("wrong", "subject"),
    [
        (lambda: Grid(45, 8), "time"),
        (lambda: Grid(60, 0), "time"),
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
        (lambda: frame(transports=(Transport("yard", "shop", 1, settles=-1),)), "yard to shop"),
    ],
)
def test_what_cannot_be_is_refused_with_its_subject(wrong, subject):
    with pytest.raises(ProblemError) as refused:
        wrong()
    assert refused.value.subject == subject


def test_a_later_start_is_never_ready_earlier():
    backwards = replace(window(2), opens=HOURS[::-1].copy())
    with pytest.raises(ProblemError, match="a later start may not be ready earlier"):
        problem(Chain("frame", (blast(), coat())), time_lags=(TimeLag("frame blast", "frame coat 1", (backwards,)),))


def test_steps_are_found_by_their_names():
    assert isinstance(frame(), Problem)
    assert list(frame().tasks) == ["frame blast", "frame coat 1"]
