"""The blast sheet: what the science reckons for each piece, put together; money by hand."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from finishing.science import blasting
from finishing.science.nozzle import Pressures, abrasive_flow
from finishing.science.units import Quantity
from projects.visits.domain.blast_sheet import blast_sheet
from projects.work.domain.blasting import may_hold_chromate
from tests import factories

pytestmark = pytest.mark.django_db
SIX = datetime(2026, 5, 12, 5, tzinfo=UTC)  # two hours before the visit


@pytest.fixture
def visit(workshop):
    factories.steady_forecast(workshop, SIX - timedelta(days=3))
    return factories.VisitFactory(workshop=workshop)


@pytest.fixture
def put(visit, roof):
    """Puts a piece of a part on the visit."""
    design = factories.DesignFactory(workshop=visit.workshop)
    project = factories.ProjectFactory(design=design)
    glass = factories.MediumFactory(workshop=visit.workshop)

    def row(mark, medium=glass, old_paint=False, part=(), **values):
        made = factories.PartFactory(design=design, **dict(part))
        piece = factories.PieceFactory(part=made, project=project, place=roof, mark=mark, old_paint=old_paint)
        return factories.VisitPieceFactory(visit=visit, piece=piece, medium=medium, **values)

    return row


def sheet(visit):
    visit.refresh_from_db()
    return blast_sheet(visit, SIX)


def line(visit, mark):
    return next(line for line in sheet(visit).lines if line.row.piece.mark == mark)


def triggers(visit):
    return [caution.trigger for caution in sheet(visit).cautions]


def test_a_piece_takes_what_the_formula_says(visit, put):
    """0.5 m² of ribbed rust to Sa 2½ at 24.4 kg/m² of an abrasive of 1602 kg/m³, of glass 20.7.

    By the flow at 6.9 bar and (3.5/6.9)^1.5 of its rate [PRESSURE-OUTPUT]; the nozzle is open 70 % of the time, and
    throws all the while at the flow of 3.5 bar.
    """
    put("F-01")
    found = line(visit, "F-01")
    full, flow = (
        abrasive_flow(Quantity(6, "mm"), Quantity(*at), Quantity(1360, "kg/m**3")).to("kg/minute").magnitude
        for at in ((100, "psi"), (3.5, "bar"))
    )
    rate = full / (24.4 * 1360 / 1601.85) * 0.6 * (Quantity(3.5, "bar").to("psi").magnitude / 100) ** 1.5
    assert found.done.bought.likely.to("kg").magnitude == pytest.approx(flow * 0.5 / rate)
    assert found.minutes == round(0.5 / rate / 0.7)


def test_the_pot_stands_higher_than_the_nozzle(visit, put):
    """5 bar at the nozzle, 0.5 lost in the hose, 0.15 to feed the medium."""
    put("F-01")
    assert line(visit, "F-01").pot.to("bar").magnitude == pytest.approx(5.65)


def test_minutes_that_somebody_typed_stand(visit, put):
    put("F-01", minutes=45)
    found = sheet(visit)
    assert found.minutes == 45
    assert found.spread.low == found.spread.high


def test_the_day_costs_call_out_travel_and_hours_shared_to_the_cent(visit, put):
    """60 + 30 + 90 · 50/60 = 165.00; by 20, 20 and 10 minutes: 66, 66, 33."""
    for mark, minutes in (("A", 20), ("B", 20), ("C", 10)):
        put(mark, minutes=minutes)
    found = sheet(visit)
    assert found.cost == Decimal("165.00")
    assert sorted(found.shares.values()) == [Decimal("33.00"), Decimal("66.00"), Decimal("66.00")]


def test_cancelling_late_costs_half(visit, put):
    put("A", minutes=50)
    assert sheet(visit).cancelled_late == Decimal("82.50")


def test_bags_are_whole_for_the_medium_not_for_each_piece(visit, put):
    """Twice 26.5 kg are 52.9 kg: three bags of 25, where each by itself would take two."""
    put("A")
    put("B")
    (need,) = sheet(visit).needs
    assert need.bags.likely == 3
    assert sheet(visit).waste.likely.to("kg").magnitude == pytest.approx(52.94, abs=0.01)


def test_gathered_garnet_is_bought_once_and_thrown_more_often(visit, put, workshop):
    garnet = factories.MediumFactory(
        workshop=workshop, kind="garnet", bulk_density=2200, reused=True, cycles_low=2, cycles_high=2.5
    )
    visit.gathered = True
    visit.save()
    put("A", medium=garnet)
    (need,) = sheet(visit).needs
    assert (need.thrown.likely / need.bought.likely).to("").magnitude == pytest.approx(2.25)


def test_the_compressor_is_held_against_the_nozzle(visit, put):
    """6 mm take 1.07 m³/min at 3 bar and 1.33 at 4 (choked flow, C = 0.80): 2.6 feed it with half as much to spare."""
    put("A")
    assert sheet(visit).fed
    visit.free_air = 0.6
    visit.save()
    found = sheet(visit)
    assert not found.fed
    assert found.duty.magnitude == pytest.approx(100 * 0.6 / 1.2, abs=2)
    assert found.compressor.to("m**3/minute").magnitude == pytest.approx(1.5 * 1.2, abs=0.05)


def test_a_piece_without_area_is_named_and_left_out(visit, put):
    put("A")
    put("B", part={"area": None})
    found = sheet(visit)
    assert [line.row.piece.mark for line in found.lines] == ["A"]
    assert [(left.row.piece.mark, left.mend) for left in found.left] == [("B", "area")]


@pytest.mark.parametrize(("silica", "why"), [(5, "over 1 % is refused"), (None, "not known")])
def test_too_much_silica_or_nobody_knows_is_refused_with_the_reason(visit, put, workshop, silica, why):
    put("A", medium=factories.MediumFactory(workshop=workshop, free_silica=silica))
    (left,) = sheet(visit).left
    assert left.mend == "refused"
    assert why in left.why


def test_a_rig_changed_for_a_weaker_one_refuses_what_was_planned_on_the_other(visit, put):
    put("A")
    visit.most_pressure = 4
    visit.save()
    (left,) = sheet(visit).left
    assert left.why == "For 5 bar at the nozzle the pot needs 5.65 bar, and the rig gives 4 bar."


def test_a_day_too_short_is_told(visit, put):
    put("A", minutes=8 * 60 + 30)
    found = sheet(visit)
    assert found.too_long
    assert found.over == pytest.approx(0.5)


def test_cautions_are_those_that_are_due(visit, put):
    put("A")
    assert triggers(visit) == ["blasting", "breathing air", "blast hose and pot", "noise", "static"]


def test_old_paint_is_leaded_until_tested(visit, put):
    put("A", old_paint=True)
    assert "old paint" in triggers(visit)
    visit.lead = "none"
    visit.save()
    assert "old paint" not in triggers(visit)


def test_a_coat_of_chromate_is_told_when_it_is_blasted_off(visit, put, primer):
    row = put("A")
    assert "chromate" not in triggers(visit)
    factories.StepFactory(piece=row.piece, kind="coated", coating=primer)
    assert not may_hold_chromate(visit.pieces.in_full().get())
    primer.poisonous_pigment = True
    primer.save()
    assert may_hold_chromate(visit.pieces.in_full().get())


@pytest.mark.parametrize(("mass", "due"), [(24, False), (26, True), (None, True)])
def test_heavy_pieces_and_those_nobody_weighed_are_lifted_with_care(visit, put, mass, due):
    """25 kg: HSE's guideline (from memory)."""
    put("A", part={"mass": mass})
    assert ("heavy" in triggers(visit)) == due


def test_bicarbonate_is_rinsed_off(visit, put, workshop):
    soda = {"kind": "bicarbonate", "bulk_density": 960, "feed_difference": 0.3}
    put("A", medium=factories.MediumFactory(workshop=workshop, **soda))
    assert "Rinse" in sheet(visit).rinse
    assert "wet stripping" in triggers(visit)


def test_each_takes_its_turn_after_the_one_before(visit, put):
    put("A", minutes=20, part={"area": 0.9})
    put("B", minutes=30)
    first, second = (line.following for line in sheet(visit).lines)
    assert first.begins == visit.starts_at
    assert second.begins == first.ends == visit.starts_at + timedelta(minutes=20)


def test_a_day_gone_by_foretells_nothing(visit, put):
    put("A")
    visit.refresh_from_db()
    assert blast_sheet(visit, SIX + timedelta(days=2)).lines[0].following is None


def test_every_number_opens_its_working(visit, put):
    put("A")
    found = sheet(visit)
    assert found.cost_working.name == "cost of the day"
    assert {"cleaning rate", "time on the clock", "medium to buy"} <= {each.name for each in found.lines[0].workings}


def test_the_sheet_agrees_with_science_asked_directly(visit, put):
    row = put("A")
    row.medium.refresh_from_db()
    rig = blasting.Rig(Quantity(6, "mm"), Pressures(Quantity(3.5, "bar"), Quantity(0.15, "bar")))
    job = blasting.Job(Quantity(0.5, "m**2"), row.medium.value(), rig, shape="ribbed casting")
    assert line(visit, "A").done.bought.likely == blasting.blast(job).bought.likely


def test_it_asks_a_fixed_number_of_queries(visit, put, django_assert_max_num_queries):
    for number in range(8):
        put(f"F-{number}")
    visit.refresh_from_db()
    with django_assert_max_num_queries(30):
        found = blast_sheet(visit, SIX)
        assert [line.following.coat_from for line in found.lines]
