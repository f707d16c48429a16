"""What a piece looks forward to, in steady air whose answers can be worked out in the head."""

from datetime import UTC, datetime, timedelta

import pytest

from finishing.air.models import Forecast
from finishing.science.rust import Because
from finishing.science.windows import Reason
from projects.day.domain import Matter, day_sheet, matters
from projects.record.models import Piece
from projects.work.domain.outlook import outlooks
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # a Tuesday, nine o'clock on the workshop's clock
START = NINE - timedelta(days=4)


@pytest.fixture
def piece(workshop, roof, system):
    """A bare-metal-to-green piece under a roof: 20 °C, 55 %, no salt."""
    workshop.salt = "clean"
    workshop.save()
    factories.steady_forecast(workshop, START)
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=roof)


def log(piece, kind, when, **facts):
    return factories.StepFactory(piece=piece, kind=kind, happened_at=when, **facts)


def coat(piece, when, position=0):
    layer = piece.part.system.layers.all()[position]
    return log(piece, "coated", when, layer=layer, coating=layer.coating)


def look(piece, now):
    return outlooks(piece.workshop, [Piece.objects.with_log().get(pk=piece.pk)], now)[0]


def test_bare_iron_at_55_percent_is_coated_within_a_shift_of_8_hours(piece):
    """Band 50 to 60 %: 8 h [trade practice as cited in science.rust.BANDS]."""
    log(piece, "blasted", NINE)
    outlook = look(piece, NINE + timedelta(hours=2))
    assert outlook.coat_before_at == pytest.approx(NINE + timedelta(hours=8), abs=timedelta(minutes=1))
    assert outlook.rust_spent == pytest.approx(0.25, abs=0.01)
    assert outlook.rust_because == Because.SPENT


def test_the_workshop_may_tighten_it(piece):
    piece.workshop.rust_tightening = 0.5
    piece.workshop.save()
    log(piece, "blasted", NINE)
    assert look(piece, NINE).bare_left == pytest.approx(4, abs=0.02)


def test_salt_on_one_piece_stands_before_the_workshops(piece):
    piece.salt = "coast"
    piece.save()
    log(piece, "blasted", NINE)
    assert look(piece, NINE).bare_left == pytest.approx(2, abs=0.02)  # 55 + 20: band 70 to 80 %


def test_wet_blasting_starts_half_spent_from_when_it_is_dry(piece):
    log(piece, "blasted", NINE, wet_work=True)
    log(piece, "dried", NINE + timedelta(minutes=30), flash_rust="none")
    assert look(piece, NINE + timedelta(minutes=30)).bare_left == pytest.approx(4, abs=0.02)


def test_an_entry_that_it_got_wet_ends_the_time(piece):
    log(piece, "blasted", NINE)
    log(piece, "wetted", NINE + timedelta(hours=1))
    outlook = look(piece, NINE + timedelta(hours=2))
    assert outlook.overdue
    assert outlook.rust_because == Because.WET
    assert day_sheet([outlook], []).bare_pressing == [outlook]


def test_a_cold_casting_wheeled_in_sweats_until_it_is_warm(piece, yard, shop):
    """The metal is measured at 8 °C; the air at 20 °C and 55 % has its dew point at 10.7 °C (trade table: 10.7)."""
    log(piece, "blasted", NINE)
    log(piece, "moved", NINE, place=shop, surface_temperature=8)
    outlook = look(piece, NINE + timedelta(minutes=5))
    assert outlook.path.place == shop
    assert outlook.rust_because == Because.WET


def test_the_first_coat_may_go_on_only_before_the_budget_is_spent(piece):
    log(piece, "blasted", NINE)
    outlook = look(piece, NINE)
    assert outlook.allowed_now
    late = look(piece, NINE + timedelta(hours=7, minutes=50))
    assert Reason.RUST_BUDGET_SPENT in late.reasons_now


def test_the_next_coat_waits_for_the_sheet(piece):
    """The primer's sheet says 6 h at 20 °C."""
    log(piece, "blasted", NINE)
    coat(piece, NINE + timedelta(hours=1))
    outlook = look(piece, NINE + timedelta(hours=2))
    assert outlook.opens == pytest.approx(NINE + timedelta(hours=7), abs=timedelta(minutes=1))
    assert Reason.TOO_SOON in outlook.reasons_now


def test_a_coat_on_one_side_waits_for_the_one_below_it_and_until_the_other_side_may_be_handled(piece, primer, enamel):
    """At 20 °C handled after four hours and recoated after six. First side at nine, second at two in the afternoon.

    For the third the first side is ready at three, and the second bears to be turned on at six. Put on at seven, it
    bears that at eleven; the second side has been ready since eight.
    """
    piece.part.system.layers.all().delete()
    for position, coating, side in ((1, primer, "first"), (2, primer, "second"), (3, enamel, "first"),
                                    (4, enamel, "second")):  # fmt: skip
        factories.LayerFactory(system=piece.part.system, position=position, coating=coating, side=side)
    log(piece, "blasted", NINE - timedelta(hours=1))
    for position, hour, opens in ((0, 0, 4), (1, 5, 9), (2, 10, 14)):
        coat(piece, NINE + timedelta(hours=hour), position)
        outlook = look(piece, NINE + timedelta(hours=hour))
        assert outlook.opens == pytest.approx(NINE + timedelta(hours=opens), abs=timedelta(minutes=1))


def test_what_is_wiped_on_both_sides_waits_for_both(piece, primer):
    """The second side was coated five hours after the first; both may be rubbed down six hours after it."""
    piece.part.system.layers.all().delete()
    for position, kind, coating, side in ((1, "coat", primer, "first"), (2, "coat", primer, "second"),
                                          (3, "rub down", None, "all"), (4, "coat", primer, "first")):  # fmt: skip
        factories.LayerFactory(system=piece.part.system, position=position, kind=kind, coating=coating, side=side)
    log(piece, "blasted", NINE - timedelta(hours=1))
    coat(piece, NINE)
    coat(piece, NINE + timedelta(hours=5), 1)
    outlook = look(piece, NINE + timedelta(hours=5))
    assert outlook.opens == pytest.approx(NINE + timedelta(hours=11), abs=timedelta(minutes=1))


def test_a_thicker_wet_coat_waits_longer(piece):
    log(piece, "blasted", NINE)
    layer = piece.part.system.layers.all()[0]
    log(piece, "coated", NINE, layer=layer, coating=layer.coating, dry_film=80)  # twice the sheet's 40 µm: four times
    assert look(piece, NINE).opens == pytest.approx(NINE + timedelta(hours=24), abs=timedelta(minutes=1))


def test_a_closed_zone_is_shut(piece, primer):
    primer.drying_points.update(recoat_from=2, closed_from=4, closed_until=24)
    log(piece, "blasted", NINE)
    coat(piece, NINE)
    outlook = look(piece, NINE + timedelta(hours=5))
    assert outlook.in_closed_zone
    assert Reason.CLOSED_ZONE in outlook.reasons_now
    assert matters(outlook) == [Matter.CLOSED_ZONE]


def test_a_coat_of_unknown_air_is_never_ready(workshop, roof, system):
    part = factories.PartFactory(design__workshop=workshop, system=system)
    piece = factories.PieceFactory(part=part, place=roof)
    log(piece, "blasted", NINE)
    coat(piece, NINE)
    outlook = look(piece, NINE + timedelta(days=3))
    assert outlook.opens is None
    assert outlook.air_not_known
    assert not outlook.allowed_now


def test_sunday_is_no_working_day(piece):
    log(piece, "blasted", NINE)
    coat(piece, NINE + timedelta(hours=1))
    sunday = datetime(2026, 5, 17, 11, tzinfo=UTC)
    assert look(piece, sunday).reasons_now == Reason.OUTSIDE_WORKING_HOURS


def test_a_moment_gone_by_is_judged_by_the_entries_up_to_then(piece):
    log(piece, "blasted", NINE)
    coat(piece, NINE + timedelta(hours=1))
    now = NINE + timedelta(hours=9)
    fresh = Piece.objects.with_log().get(pk=piece.pk)
    then = outlooks(piece.workshop, [fresh], now, at=NINE + timedelta(minutes=30))[0]
    assert then.state.is_bare


def test_pieces_that_stand_together_need_no_more_queries(piece, django_assert_max_num_queries):
    for _ in range(12):
        other = factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place)
        log(other, "blasted", NINE)
    pieces = list(Piece.objects.with_log())
    with django_assert_max_num_queries(9):
        for outlook in outlooks(piece.workshop, pieces, NINE):
            assert outlook.rust_window is None or outlook.coat_before


def test_wind_while_it_is_sprayed_refuses_and_warns(piece, yard):
    """From 7 m/s spray drifts, from 10 nobody sprays; gloss gets dust from 5 (common practice, no source)."""
    piece.place = yard
    piece.save()
    layers = piece.part.system.layers
    log(piece, "blasted", NINE)
    coat(piece, NINE)
    later = NINE + timedelta(hours=24)

    def warned(wind):
        Forecast.objects.all().delete()
        factories.steady_forecast(piece.workshop, START, wind=wind, cloud=1.0)
        outlook = look(piece, later)
        limits = [f"{warning.limit.value:g} m/s" for warning in outlook.wind_warnings]
        return bool(outlook.reasons_now & Reason.WIND), limits

    assert warned(4.0) == (False, [])
    assert warned(5.0) == (False, ["5 m/s"])
    layers.update(method="HVLP")
    assert warned(8.0) == (False, ["7 m/s", "5 m/s"])
    assert warned(10.0) == (True, [])  # refused, it is never begun
