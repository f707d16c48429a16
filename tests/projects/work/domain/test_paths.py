"""Where pieces stood, and how warm that left them."""

from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest

from finishing.air.domain.outside_air import WorkshopAir
from finishing.science.hours import HOUR
from finishing.science.metal import metal_temperature
from finishing.science.sky import clear_sky_sun
from finishing.science.windows import Reason
from projects.record.models import Piece
from projects.work.domain.outlook import outlooks
from projects.work.domain.paths import paths
from tests import factories

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 5, 12, 8, tzinfo=UTC)  # a Tuesday, nine o'clock on the workshop's clock
START = NINE - timedelta(days=2)


@pytest.fixture
def piece(workshop, yard, system):
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=yard)


def path_of(piece, pinned=True):
    fresh = Piece.objects.with_log().get(pk=piece.pk)
    return paths([fresh], WorkshopAir(piece.workshop, START, NINE), pinned)[piece.id]


def test_sun_that_nobody_knows_warms_only_the_hot_side(workshop, piece):
    """Where a yard says nothing of sun none is counted on, and all of it feared. Δt = α·f·I / h, α 0.6 and f 0.25 of
    bare iron, h 4 + 4·2 of wind + 5.1 of radiation: fixtures/tables/sunlit_metal.csv has the same sum. At noon on a May
    day the sun moves little in the hour that this plate lags."""
    factories.steady_forecast(workshop, START, wind=2.0, cloud=0.0)
    path = path_of(piece)
    noon = int(path.hours.position(np.datetime64("2026-05-12T12")))
    sun = clear_sky_sun(path.hours, workshop.latitude, workshop.longitude)[noon - 1]
    assert path.hottest[noon] - path.metal[noon] == pytest.approx(0.6 * 0.25 * sun / 17.1, rel=0.04)
    midnight = noon - 12
    assert path.hottest[midnight] == pytest.approx(path.metal[midnight], abs=0.01)


@pytest.mark.parametrize("sun", [0.0, 300.0])
def test_sun_and_sky_that_are_known_need_no_second_run(workshop, piece, sun):
    piece.place.sun_from, piece.place.sun_until = time(0), time(23, 59)
    piece.place.save()
    day = (np.arange(480) + START.hour) % 24
    factories.steady_forecast(workshop, START, sun=np.where((day > 6) & (day < 20), sun, 0.0), cloud=0.5)
    path = path_of(piece)
    assert np.shares_memory(path.hottest, path.metal)


def test_a_roof_lets_no_sun_in(workshop, piece, roof):
    factories.steady_forecast(workshop, START)
    piece.place = roof
    piece.save()
    path = path_of(piece)
    assert np.shares_memory(path.hottest, path.metal)


def test_paint_for_the_cool_is_refused_in_sun_that_may_shine(workshop, piece):
    """The primer's sheet says 20 °C at most: the air keeps it, the iron in a clear May noon would not."""
    workshop.salt = "clean"
    workshop.save()
    piece.part.system.layers.first().coating.__class__.objects.update(temperature_max=21)
    factories.steady_forecast(workshop, START, cloud=1.0, wind=0.0)
    factories.StepFactory(piece=piece, kind="blasted", happened_at=NINE)
    outlook = outlooks(workshop, [Piece.objects.with_log().get(pk=piece.pk)], NINE)[0]
    noon = outlook.hour + 3
    assert Reason.HEAT in Reason(int(outlook.refused[noon]))
    assert Reason.HEAT not in Reason(int(outlook.refused[noon + 12]))
    assert Reason.COLD not in Reason(int(outlook.refused[noon]))


def test_a_measured_surface_takes_the_estimate_along_unless_it_is_left_out(workshop, piece, roof):
    factories.steady_forecast(workshop, START)
    piece.place = roof
    piece.save()
    factories.StepFactory(piece=piece, kind="noted", happened_at=NINE, surface_temperature=11)
    at = int((NINE - START) / timedelta(hours=1))
    assert path_of(piece).metal[at] == 11
    assert path_of(piece, pinned=False).metal[at] == pytest.approx(20, abs=0.01)


def test_racks_that_come_and_go_are_followed_together_as_each_by_itself(workshop, yard, roof, owner):
    """Moved at hours of their own, some measured, with a gap in the forecast and moves in it."""
    start = NINE - timedelta(days=3)
    forecast = factories.steady_forecast(workshop, start, hours=24 * 6, cloud=0.3, wind=2.0)
    hours = np.arange(24 * 6)
    swing = (12 + 6 * np.sin(2 * np.pi * (hours - 9) / 24)).tolist()
    forecast.hours["temperature"] = [None if 30 <= hour < 36 else value for hour, value in enumerate(swing)]
    forecast.hours["dew_point"] = [None if value is None else 4.0 for value in forecast.hours["temperature"]]
    forecast.hours["humidity"] = [None] * len(hours)
    forecast.save()
    light, heavy = (factories.PartFactory(design__workshop=workshop, mass=mass) for mass in (12, 90))
    for number, (part, moved_at) in enumerate([(light, 20), (heavy, 21), (light, 33), (heavy, 50), (light, 50)]):
        made = factories.PieceFactory(part=part, place=yard, mark=f"P-{number}")
        for place, at in ((roof, moved_at), (yard, moved_at + 26)):
            moment = start + timedelta(hours=at, minutes=7 * number)
            warm = {"surface_temperature": 9.5 + number} if number % 2 else {}
            factories.StepFactory(piece=made, kind="moved", place=place, happened_at=moment, by=owner, **warm)
    air, pieces = WorkshopAir(workshop, start, NINE), list(Piece.objects.with_log().order_by("mark"))
    together = paths(pieces, air)
    for piece in pieces:
        path = together[piece.pk]
        assert path.measured == paths([piece], air)[piece.pk].measured
        for metal, at in ((path.metal, air.of), (path.hottest, air.in_full_sun)):
            np.testing.assert_allclose(metal, by_itself(piece, path, at), atol=1e-9)
    assert len({path.trail[1].first for path in together.values()}) == 4


def by_itself(piece, path, air_at):
    """Each stay alone, from where the one before it left off, as metal_temperature gives it."""
    metal = np.full(len(path.metal), np.nan)
    for stay in path.trail:
        there = air_at(stay.place)
        begin, end = there.times[0] + stay.first * HOUR, there.times[0] + (stay.last + 1) * HOUR
        pins = {at - stay.first: value for at, value in path.measured if stay.first <= at <= stay.last}
        came = metal[stay.first] if stay.first else None
        run, how = there.between(begin, end), {"shelter": stay.place.shelter, "sky": True, "pinned": pins}
        metal[stay.first : stay.last + 1] = metal_temperature(run, piece.part.body.length_m, came, **how)
        for at, value in pins.items():
            metal[stay.first + int(at)] = value
    return metal
