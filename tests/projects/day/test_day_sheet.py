"""The day sheet tells each next thing."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from tests import factories

pytestmark = pytest.mark.django_db
TEN = datetime(2026, 5, 12, 9, tzinfo=UTC)


@pytest.fixture
def piece(workshop, roof, system):
    workshop.salt = "clean"
    workshop.save()
    factories.steady_forecast(workshop, TEN - timedelta(days=3))
    part = factories.PartFactory(design__workshop=workshop, system=system)
    return factories.PieceFactory(part=part, place=roof, mark="F-01")


def sheet(client, at=TEN):
    with time_machine.travel(at, tick=False):
        response = client.get(reverse("day-sheet"))
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_bare_iron_stands_first_with_its_time_left(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    page = sheet(guest_client)
    assert "6 h left" in page
    assert "Coat before today 16:00" in page


def test_a_coat_says_from_when(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    layer = piece.part.system.layers.first()
    factories.StepFactory(piece=piece, kind="coated", happened_at=TEN, layer=layer, coating=layer.coating)
    page = sheet(guest_client)
    assert "Ready from today 16:00" in page
    assert "the coat below is not ready" in page


def test_a_clock_that_was_set_back_is_told_by_the_newest_entry(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN)
    factories.StepFactory(piece=factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place))
    assert "clock is behind its own log" not in sheet(guest_client, TEN - timedelta(minutes=4))
    page = sheet(guest_client, TEN - timedelta(days=2))
    assert "it says Sun 10 May, 10:00, and the newest entry is of Tue 12 May, 10:00" in page


def test_an_empty_workshop_is_told_where_to_begin(guest_client):
    assert "No piece is at work yet" in sheet(guest_client)


def test_the_strip_says_why_not(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    assert "outside working hours" in sheet(guest_client)


def test_nothing_of_another_workshop_is_on_it(stranger_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    assert "F-01" not in sheet(stranger_client)


def test_it_asks_a_fixed_number_of_queries(guest_client, piece, django_assert_max_num_queries):
    for number in range(10):
        other = factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place, mark=f"R-{number}")
        factories.StepFactory(piece=other, kind="blasted", happened_at=TEN - timedelta(hours=2))
    with django_assert_max_num_queries(45):
        sheet(guest_client)


def test_one_notice_says_by_when_to_wheel_in_what_stands_in_the_yard(guest_client, workshop, piece, yard, shop):
    """Rain at two o'clock reaches bare iron that has hours left; a forecast of today stands before the steady one."""
    rain = [0.0] * 4 + [1.0] * 60
    factories.steady_forecast(workshop, TEN, hours=64, rain=rain, cloud=1.0, wind=3.0)
    for mark in ("Y-1", "Y-2"):
        out = factories.PieceFactory(part=piece.part, project=piece.project, place=yard, mark=mark)
        factories.StepFactory(piece=out, kind="blasted", happened_at=TEN)
    page = sheet(guest_client)
    assert page.count("wheel in</b> from Yard to Shop by <b>today 14:00</b>: rain from today 14:00.") == 1


def test_what_spoils_stands_open_above_what_can_be_done_and_what_waits(guest_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    factories.PieceFactory(part=piece.part, project=piece.project, place=piece.place, mark="R-1")
    page = sheet(guest_client)
    must, rest = page.split("Can be done now")
    assert "F-01" in must
    assert "6 h left" in must.split("<summary>")[1].split("</summary>")[0]
    assert "To be blasted: 1" in rest.split("Later")[1]


def test_what_may_go_on_now_is_logged_by_one_tap_from_its_fold(restorer_client, piece):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    can = sheet(restorer_client).split("Can be done now")[1].split("Later")[0]
    assert "F-01 now until" in can
    assert f'value="{piece.pk}" checked' in can
    assert can.index("</details>") < can.index("<button") < can.index("</form>")


def test_what_is_bought_clean_is_not_told_as_waiting_for_the_blaster(guest_client, piece):
    """ "To be blasted" was said of it as of the others (common practice, no source)."""
    piece.part.blasted = "clean"
    piece.part.save()
    assert "bought clean: log that it" in sheet(guest_client)
    piece.part.blasted = "contractor"
    piece.part.save()
    assert "bought clean" not in sheet(guest_client)


def test_the_next_day_stands_at_the_top_in_the_numbers_of_the_rest_and_the_title_tells_the_most_urgent(
    guest_client, piece
):
    factories.StepFactory(piece=piece, kind="blasted", happened_at=TEN - timedelta(hours=2))
    page = sheet(guest_client)
    top = page.split('class="hours next-day"')[1].split("</figure>")[0]
    below = page.split("</figure>", 1)[1]
    workable = top.split("<b>Workable</b>")[1].split(".")[0].strip().split(", ")
    assert workable == ["now until 18:00", "tomorrow 08:00–18:00"]
    assert all(f">{stretch}</span>" in below.split("<b>Workable:</b>")[1] for stretch in workable)
    assert "<b>Coat before today 16:00</b>: F-01" in top
    assert "<title>(1) Coat before today 16:00 · Day sheet" in page


def test_the_next_day_tells_the_hours_of_rain_where_the_coat_waits(guest_client, workshop, piece, yard):
    factories.steady_forecast(workshop, TEN, hours=64, rain=[0.0] * 4 + [1.0] * 2 + [0.0] * 58, cloud=1.0, wind=3.0)
    out = factories.PieceFactory(part=piece.part, project=piece.project, place=yard, mark="Y-1")
    factories.StepFactory(piece=out, kind="blasted", happened_at=TEN)
    top = sheet(guest_client).split('class="hours next-day"')[1].split("</figure>")[0]
    assert "<b>Rain</b> today 14:00–16:00." in top
    assert "Metal least above its dew point" in top
