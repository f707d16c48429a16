"""How far the estimate lies from what was measured, in air of 20 °C under a roof, where the estimate is 20 °C."""

from datetime import UTC, datetime, timedelta

import pytest

from projects.work.domain.differences import Comparison, Difference, difference_at
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def air(workshop):
    factories.steady_forecast(workshop, NINE - timedelta(days=20), hours=24 * 30)


def read(place, surface, before, **facts):
    facts = {"temperature": 20, "humidity": 55, **facts}
    return factories.ReadingFactory(place=place, taken_at=NINE - before, surface_temperature=surface, **facts)


@pytest.fixture
def piece(workshop, roof, system):
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=roof)


def noted(piece, surface, before, **facts):
    facts = {"kind": "noted", **facts}
    return factories.StepFactory(piece=piece, happened_at=NINE - before, surface_temperature=surface, **facts)


def test_an_estimate_that_runs_warm_is_said_from_five_readings_on(air, roof):
    for day in range(1, 5):
        read(roof, 18.8, day * 24 * HOUR)
    assert not difference_at(roof, NINE).said
    read(roof, 18.8, 5 * 24 * HOUR)
    found = difference_at(roof, NINE)
    assert (found.said, found.count, found.runs, found.off) == (True, 5, "warm", 1.2)
    assert found.working.result == "-1.2 °C"


def test_median_and_spread():
    """0, 1, … 10 °C apart: median 5, eight of ten between 1 and 9."""
    found = Difference([Comparison(NINE, 20.0 + apart, 20.0) for apart in range(11)])
    assert (found.low, found.median, found.high) == (1, 5, 9)
    assert found.runs == "cold"


def test_readings_do_not_teach_the_estimate_they_are_compared_with(air, roof, piece):
    for hours in range(6):
        noted(piece, 15, hours * HOUR)
    found = difference_at(roof, NINE)
    assert [each.estimated for each in found.comparisons] == [20.0] * 6
    assert found.off == 5


def test_a_reading_on_no_piece_is_told_from_one_on_a_piece(air, roof, piece):
    noted(piece, 19, HOUR)
    read(roof, 19, 2 * HOUR)
    found = difference_at(roof, NINE)
    assert [each.piece for each in found.comparisons] == [None, piece]
    assert found.without_piece == 1


def test_a_piece_counts_where_it_stood_and_not_in_the_hour_of_its_move(air, roof, shop, piece):
    noted(piece, 19, 5 * HOUR)
    noted(piece, 12, 2.5 * HOUR, kind="moved", place=shop)
    noted(piece, 19, HOUR)
    assert [each.when for each in difference_at(roof, NINE).comparisons] == [NINE - 5 * HOUR]
    assert [each.when for each in difference_at(shop, NINE).comparisons] == [NINE - HOUR]


def test_what_lies_long_back_or_was_voided_is_left_out(air, roof, piece):
    wrong = noted(piece, 3, 2 * HOUR)
    factories.StepFactory(piece=piece, kind="voided", happened_at=NINE - HOUR, voids=wrong)
    read(roof, 18, timedelta(days=31))
    assert difference_at(roof, NINE).count == 0


def test_where_the_air_was_not_known_there_is_nothing_to_compare(roof, piece):
    noted(piece, 15, HOUR)
    assert difference_at(roof, NINE).count == 0


def test_another_workshops_readings_are_its_own(air, roof, other_workshop):
    theirs = factories.PlaceFactory(workshop=other_workshop, kind="roof")
    read(theirs, 5, HOUR)
    assert difference_at(roof, NINE).count == 0
