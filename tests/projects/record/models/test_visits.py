"""A visit and its pieces: what cannot be, and what a piece's log says of the day."""

from datetime import UTC, datetime, time

import pytest
from django.core.exceptions import ValidationError

from finishing.science.units import Quantity
from projects.record.actions.log import void_step
from projects.record.models import Visit, VisitPiece
from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)  # ten o'clock on the workshop's clock, on the day of the visit


@pytest.fixture
def row(workshop, roof):
    visit = factories.VisitFactory(workshop=workshop)
    part = factories.PartFactory(design__workshop=workshop)
    return factories.VisitPieceFactory(visit=visit, piece__part=part, piece__place=roof)


def fresh(row):
    return VisitPiece.objects.in_full().get(pk=row.pk)


def wrong(row):
    with pytest.raises(ValidationError) as refused:
        row.full_clean()
    return refused.value.message_dict


def test_a_visit_keeps_to_the_workshops_clock(row):
    visit = fresh(row).visit
    assert visit.starts_at.astimezone(UTC) == datetime(2026, 5, 12, 7, tzinfo=UTC)
    assert visit.minutes == 8 * 60
    assert visit.cancelled_for_nothing_until.astimezone(UTC) == datetime(2026, 5, 10, 7, tzinfo=UTC)


def test_a_day_on_which_clocks_change_is_an_hour_shorter(workshop):
    """Clocks in London went forward on 29 March 2026."""
    visit = factories.VisitFactory(workshop=workshop, date=datetime(2026, 3, 29).date(), begins=time(0), ends=time(8))
    assert visit.minutes == 7 * 60


def test_nobody_leaves_before_he_comes(row):
    visit = fresh(row).visit
    visit.ends = time(8)
    assert "when the visit begins" in wrong(visit)["ends"][0]


def test_a_nozzle_as_wide_as_its_hose_is_none(row):
    visit = fresh(row).visit
    visit.nozzle_bore = Quantity(40, "mm")
    assert wrong(visit)["nozzle_bore"] == [
        "The nozzle of 40 mm is as wide as the hose of 25 mm or wider: the hose would be the nozzle."
    ]


def test_more_pressure_than_the_rig_has_is_told_at_the_pressure(row):
    """8 bar at the nozzle, 0.5 lost in the hose and 0.15 to feed the medium: 8.65 in the pot."""
    piece = fresh(row)
    piece.pressure_most = Quantity(8, "bar")
    assert wrong(piece)["pressure_most"] == ["For 8 bar at the nozzle the pot needs 8.65 bar, and the rig gives 7 bar."]


def test_a_us_workshop_reads_it_in_psi(row):
    piece = fresh(row)
    piece.visit.workshop.units = "us"
    piece.pressure_most = Quantity(8, "bar")
    assert "116 psi" in wrong(piece)["pressure_most"][0]


def test_the_upper_pressure_is_not_the_lower_one(row):
    piece = fresh(row)
    piece.pressure_most = Quantity(1.5, "bar")
    assert "below the pressure to start at" in wrong(piece)["pressure_most"][0]


def test_a_medium_without_density_or_of_unknown_silica_is_refused_at_the_medium(row):
    row.medium.bulk_density = row.medium.free_silica = None
    row.medium.save()
    told = " ".join(wrong(fresh(row))["medium"])
    assert "Without its bulk density" in told
    assert "not known, so it is refused" in told


def test_a_piece_waits_until_its_log_says_that_it_was_blasted_on_that_day(row):
    assert fresh(row).state == VisitPiece.State.WAITING
    factories.StepFactory(piece=row.piece, kind="blasted", happened_at=datetime(2026, 5, 11, 9, tzinfo=UTC))
    assert fresh(row).state == VisitPiece.State.WAITING
    factories.StepFactory(piece=row.piece, kind="blasted", happened_at=TEN, minutes=25)
    assert fresh(row).state == VisitPiece.State.BLASTED
    assert fresh(row).timed.magnitude == 25


def test_a_voided_entry_blasts_nothing(row, owner):
    step = factories.StepFactory(piece=row.piece, kind="blasted", happened_at=TEN)
    void_step(by=owner, step=step, reason="wrong piece", now=TEN)
    assert fresh(row).state == VisitPiece.State.WAITING


def test_a_piece_refused_may_be_blasted_after_all(row):
    row.refused_at, row.refused_because = TEN, "it sweated"
    row.save()
    assert fresh(row).state == VisitPiece.State.REFUSED
    factories.StepFactory(piece=row.piece, kind="blasted", happened_at=TEN)
    assert fresh(row).state == VisitPiece.State.BLASTED


def test_more_pressure_than_the_metal_should_get_is_seen(row):
    piece = fresh(row)
    assert not piece.too_hard  # grey iron, seldom more than 5 bar
    piece.pressure_most = Quantity(6, "bar")
    assert piece.too_hard


def test_visits_to_come_stand_by_date(workshop):
    days = [datetime(2026, 5, day).date() for day in (20, 14)]
    late, soon = (factories.VisitFactory(workshop=workshop, date=day) for day in days)
    factories.VisitFactory(workshop=workshop, cancelled_at=TEN)
    assert list(Visit.objects.of(workshop).still_open()) == [soon, late]
    assert Visit.objects.of(workshop).over().count() == 1
