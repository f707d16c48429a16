"""The air of a place keeps to the hours of the workshop's air."""

from datetime import UTC, datetime, timedelta

import pytest

from finishing.air.domain.outside_air import WorkshopAir
from tests import factories

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)


def test_readings_at_the_very_beginning_do_not_make_a_shop_s_run_longer(workshop, shop):
    shop.refresh_from_db()
    begin = NOW.replace(minute=0) - timedelta(hours=6)
    for hour in range(7):
        factories.ReadingFactory(place=shop, taken_at=begin + timedelta(hours=hour))
    air = WorkshopAir(workshop, begin, NOW)
    assert air.of(shop).start == air.outdoor.start
    assert len(air.of(shop)) == len(air.outdoor)
    assert air.of(shop).temperature[0] == 18  # as read, not the 16 that it is heated to
