"""Own rates out of the log: a rack is one entry, and nothing is said of too few."""

import pytest

from finishing.workshops.models import Workshop
from projects.costs.domain.own_rates import operation_rates, own_rates
from projects.money.own_rates import FEWEST
from projects.record.models import Step
from tests import cost_factories, factories
from tests.projects.worked import BEGIN, brushed_frame, coated, coated_together, taken_back, two_pieces, worked

pytestmark = pytest.mark.django_db

Kind = Step.Kind


@pytest.fixture
def frame(workshop):
    return brushed_frame(workshop)


@pytest.fixture
def pieces(frame):
    return two_pieces(frame)


def rate(workshop, name="brush_minutes", **options):
    kept = Workshop.objects.get(pk=workshop.pk)
    return next(one for one in own_rates(kept, **options) if one.name == name)


def test_a_rack_is_one_entry_whatever_hangs_in_it(workshop, owner, pieces):
    for at, minutes in enumerate((20, 24, 25, 31, 60)):
        coated_together(pieces, owner, at, minutes)  # a square metre together
    found = rate(workshop)
    assert sorted(found.figures) == pytest.approx([20, 24, 25, 31, 60])
    assert (found.learned.magnitude, found.middle.low, found.middle.high) == (25, 24, 31)


def test_too_few_say_how_many_are_lacking(workshop, owner, pieces):
    coated_together(pieces, owner, 0, 30)
    found = rate(workshop)
    assert (found.lacking, found.learned, found.offered) == (FEWEST - 1, None, False)


def test_mixing_is_taken_out_where_it_was_logged_with_the_coat(workshop, owner, pieces):
    """The workshop mixes for 15 min and cleans up for 15."""
    for at in range(FEWEST):
        coated_together(pieces, owner, at, 52)
    assert rate(workshop).learned.magnitude == 52
    assert rate(workshop, mixing_in=True).learned.magnitude == 22


def test_a_gun_tells_nothing_of_the_brush(workshop, owner, pieces, frame):
    layer = frame.system.layers.get()
    layer.method = layer.Method.CONVENTIONAL
    layer.save()
    coated_together(pieces, owner, 0, 30)
    assert rate(workshop).figures == ()


def test_a_coat_on_one_side_covers_half(workshop, owner, pieces, frame):
    layer = frame.system.layers.get()
    layer.side = layer.Side.FIRST
    layer.save()
    coated_together(pieces, owner, 0, 20)
    assert rate(workshop).figures == (40,)


def test_an_entry_taken_back_tells_nothing(workshop, owner, pieces):
    taken_back(coated(pieces[0], by=owner, minutes=30))
    assert rate(workshop).figures == ()


def test_blasting_and_moving_have_their_own(workshop, owner, pieces):
    for kind, minutes in ((Kind.BLASTED, 6), (Kind.MOVED, 20)):
        factories.StepFactory(piece=pieces[0], kind=kind, by=owner, happened_at=BEGIN, minutes=minutes)
    assert rate(workshop, "blasting_minutes").figures == (12,)  # half a square metre in 6 min
    assert rate(workshop, "moving_minutes").figures == (20,)


def test_another_workshops_log_is_not_read(other_workshop, workshop, owner, pieces):
    coated_together(pieces, owner, 0, 30)
    assert rate(other_workshop).figures == ()


def test_masking_goes_by_area_and_mixing_by_entry(workshop, owner, pieces):
    """A square metre together; the pot is mixed once for both."""
    worked(pieces, "masking", 14, by=owner)
    worked(pieces, "mixing", 9, by=owner)
    worked(pieces, "cleaning up", 12, by=owner)
    assert rate(workshop, "masking_minutes").figures == (14,)
    assert rate(workshop, "mixing_minutes").figures == (9,)
    assert rate(workshop, "cleaning_minutes").figures == (12,)


@pytest.fixture
def fettling(frame):
    return cost_factories.OperationFactory(part=frame, process="fettling", setup_minutes=10, each_minutes=30)


def test_a_lot_tells_minutes_for_a_piece_less_the_set_up(workshop, owner, pieces, fettling):
    """(70 − 10) / 2, and (35 − 10) / 1; two entries are too few to offer."""
    worked(pieces, "fettling", 70, by=owner)
    worked(pieces[:1], "fettling", 35, by=owner, day=1)
    (found,) = operation_rates(workshop)
    assert sorted(found.figures) == [25, 30]
    assert (found.lacking, found.offered) == (3, False)
    assert "does not tell set-up and cycle apart" in found.note


def five_lots(owner, frame, minutes=(50, 52, 55, 58, 70)):
    for day, took in enumerate(minutes):
        piece = factories.PieceFactory(part=frame, project=frame.design.projects.first(), mark=f"N-{day}")
        worked([piece], "fettling", took, by=owner, day=day)


def test_five_lots_are_offered_with_their_spread(workshop, owner, pieces, frame, fettling):
    five_lots(owner, frame)
    (found,) = operation_rates(workshop)
    assert (found.learned.magnitude, found.middle.low, found.middle.high, found.offered) == (45, 42, 48, True)


def test_on_a_learning_curve_the_first_is_told(workshop, owner, pieces, frame, fettling):
    """85 %: the first takes 40 min, the second 34; both tell 40, where their mean, 37, is nobody's time."""
    fettling.learning = 85
    fettling.save()
    five_lots(owner, frame, (50, 44))
    (found,) = operation_rates(workshop)
    assert found.figures == pytest.approx((40, 40))


def test_work_taken_back_and_anothers_teach_nothing(workshop, other_workshop, owner, pieces, fettling):
    (step,) = worked(pieces[:1], "fettling", 40, by=owner)
    assert operation_rates(other_workshop) == []
    taken_back(step)
    assert operation_rates(workshop) == []
