"""Own figures out of the log of visits: means and percentiles worked out by hand."""

from datetime import UTC, date, datetime, timedelta

import pytest

from projects.record.models import VisitPiece
from projects.work.domain.own_figures import Alike, open_share, own_figures
from tests import factories

pytestmark = pytest.mark.django_db
LATER = datetime(2026, 6, 30, 9, tzinfo=UTC)


@pytest.fixture
def glass(workshop):
    return factories.MediumFactory(workshop=workshop)


@pytest.fixture
def did(workshop, roof, glass):
    """A piece of some area blasted in some minutes on a day of May, with as much medium."""
    part = factories.PartFactory(design__workshop=workshop)
    project = factories.ProjectFactory(design=part.design)

    def blasted(day, area, minutes, used=None, **values):
        visit = workshop_visit(workshop, day)
        made = factories.PartFactory(design=part.design, area=area)
        piece = factories.PieceFactory(part=made, project=project, place=roof)
        happened = datetime(2026, 5, day, 9, tzinfo=UTC)
        factories.StepFactory(piece=piece, kind="blasted", happened_at=happened, minutes=minutes)
        return factories.VisitPieceFactory(visit=visit, piece=piece, medium=glass, used=used, **values)

    return blasted


def workshop_visit(workshop, day):
    from projects.record.models import Visit

    on = date(2026, 5, day)
    return Visit.objects.filter(date=on).first() or factories.VisitFactory(workshop=workshop, date=on)


def alike(row):
    return Alike.of(VisitPiece.objects.in_full().get(pk=row.pk))


def test_five_timed_pieces_make_a_rate_while_the_nozzle_is_open(workshop, did):
    """Each 1 m² in 20 minutes on the clock; open 70 % of it: 1 / (14/60) = 4.286 m²/h. The compressor gives 97 %."""
    rows = [did(day, 1.0, 20) for day in (4, 5, 6, 7, 8)]
    own = own_figures(workshop, LATER).rate(alike(rows[0]))
    assert own.count == 5
    assert own.figure.likely.to("m**2/hour").magnitude == pytest.approx(60 / 14)


def test_its_spread_leaves_a_tenth_out_at_either_end(workshop, did):
    """Rates of 3, 3, 3, 3 and 6 m²/h on the clock: by linear interpolation the 90th percentile is 4.8."""
    rows = [did(day, 1.0, minutes) for day, minutes in ((4, 20), (5, 20), (6, 20), (7, 20), (8, 10))]
    own = own_figures(workshop, LATER).rate(alike(rows[0]))
    assert own.figure.low.to("m**2/hour").magnitude == pytest.approx(3 / 0.7)
    assert own.figure.high.to("m**2/hour").magnitude == pytest.approx(4.8 / 0.7)


def test_four_are_too_few(workshop, did):
    rows = [did(day, 1.0, 20) for day in (4, 5, 6, 7)]
    found = own_figures(workshop, LATER)
    assert found.rate(alike(rows[0])) is None
    assert found.lacking(alike(rows[0])) == 1


def test_other_work_is_another_matter(workshop, did):
    rows = [did(day, 1.0, 20) for day in (4, 5, 6, 7)] + [did(8, 1.0, 20, surface="thick old paint")]
    assert own_figures(workshop, LATER).lacking(alike(rows[0])) == 1
    assert own_figures(workshop, LATER).lacking(alike(rows[-1])) == 4


def test_a_day_never_rests_on_its_own_outcome(workshop, did):
    rows = [did(day, 1.0, 20) for day in (4, 5, 6, 7, 8)]
    on_the_last = datetime(2026, 5, 8, 7, tzinfo=UTC)
    assert own_figures(workshop, on_the_last).lacking(alike(rows[0])) == 1


def test_what_was_not_timed_or_voided_or_has_no_area_does_not_count(workshop, did, owner):
    from projects.record.actions.log import void_step

    kept = did(4, 1.0, 20)
    did(5, 1.0, None)
    did(6, None, 20)
    did(7, 1.0, 0)
    voided = did(8, 1.0, 20)
    void_step(by=owner, step=voided.piece.steps.get(), reason="wrong", now=LATER)
    assert len(own_figures(workshop, LATER).timed[alike(kept)]) == 1


def test_five_visits_weighed_make_an_own_use(workshop, did):
    """10 kg on 1 m² and 30 kg on 1 m² and so on: 100 kg on 5 m² are 20 kg/m²."""
    used = {4: 10, 5: 30, 6: 20, 7: 20, 8: 20}
    rows = [did(day, 1.0, 20, used=kilograms) for day, kilograms in used.items()]
    own = own_figures(workshop, LATER).use(alike(rows[0]))
    assert own.figure.likely.to("kg/m**2").magnitude == pytest.approx(20)
    assert own.count == 5


def test_a_pot_of_mixed_work_or_gathered_grit_says_nothing_of_use(workshop, did):
    first = did(4, 1.0, 20, used=10)
    did(4, 1.0, 20, used=10, surface="thick old paint")
    gathered = did(5, 1.0, 20, used=10)
    gathered.visit.gathered = True
    gathered.visit.save()
    assert own_figures(workshop, LATER).thrown.get(alike(first), []) == []


def test_a_compressor_too_small_keeps_the_nozzle_open_less(workshop, did):
    """0.3 m³/min for the 1.2 that 6 mm take at 3.5 bar: 25 % of the time, less than 70."""
    row = did(4, 1.0, 20)
    row.visit.free_air = 0.3
    row.visit.save()
    assert open_share(VisitPiece.objects.in_full().get(pk=row.pk)) == pytest.approx(0.25, abs=0.01)


def test_it_asks_a_fixed_number_of_queries(workshop, did, django_assert_max_num_queries):
    for day in range(4, 12):
        did(day, 1.0, 20)
    with django_assert_max_num_queries(6):
        own_figures(workshop, LATER + timedelta(days=1))
