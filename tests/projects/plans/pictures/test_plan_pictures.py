"""The picture of a plan: each bar over its hours, bands of whole days, what stands where, and the list by day."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from finishing.science.hours import Hours
from finishing.science.windows import Reason
from finishing.workshops.models import Place, Workshop
from projects.plans.pictures import (
    LEFT,
    WIDTH,
    BareTime,
    DrawnTask,
    PlaceHours,
    VisitOnOffer,
    by_day,
    day_strip,
    days_shown,
    place_hours,
)
from projects.plans.pictures import draw as draw_plan
from projects.work.domain.kept_air import forget_runs, run_for
from tests import factories

LONDON = ZoneInfo("Europe/London")
MAY = datetime(2026, 5, 12, tzinfo=LONDON)  # a Tuesday, midnight on the workshop's clock
RUN = MAY.astimezone(UTC) - timedelta(days=1)
AT_NINE = MAY.astimezone(UTC) + timedelta(hours=9)


def air(days=20, **columns):
    count = 24 * days
    given = {"temperature": np.full(count, 15.0), "humidity": 60.0, "rain": 0.0, **columns}
    return Hours.from_arrays(np.datetime64(RUN.replace(tzinfo=None), "h"), **given)


def task(hour, length=2, dry=6, rack="rack 1", **more):
    begin = MAY + timedelta(hours=hour)
    end = begin + timedelta(hours=length)
    given = {"label": "coat", "kind": "coat", "place": "Shop", "people": ("Ada",), "colour": "#2f5d3a", **more}
    return DrawnTask(f"{rack}-{hour}", rack, begin=begin, end=end, dry=end + timedelta(hours=dry), **given)


def draw(tasks, hours=None, **more):
    hours = hours or air()
    return draw_plan(hours, np.zeros(len(hours), bool), tasks, zone=LONDON, now=MAY + timedelta(hours=8), **more)


def lane(drawn, name, band=0):
    return next(lane for lane in drawn.bands[band].lanes if lane.name == name)


def at(hour, hours_wide=48):
    return LEFT + hour * WIDTH / hours_wide


def test_a_bar_stands_over_its_hours_and_its_tail_ends_when_it_is_dry():
    bar = lane(draw([task(9)]), "rack 1").bars[0]
    assert bar.x == pytest.approx(at(9))
    assert bar.end_x == pytest.approx(at(11))
    assert bar.end_x + bar.tail == pytest.approx(at(17))


def test_the_same_step_stands_in_the_lane_of_each_who_does_it():
    drawn = draw([task(9, people=("Ada", "Bess"))])
    assert [bar.task.key for name in ("Ada", "Bess") for bar in lane(drawn, name).bars] == ["rack 1-9"] * 2
    assert lane(drawn, "Ada").bars[0].tail == 0


def test_bands_are_whole_days_of_one_width_and_a_tail_goes_on_into_the_next():
    drawn = draw([task(9), task(24 * 8 - 4, length=2, dry=20)])
    assert [band.days[0].when.item() for band in drawn.bands] == [
        (MAY + timedelta(days=days)).astimezone(UTC).replace(tzinfo=None) for days in (0, 5)
    ]
    assert len({len(band.ticks) for band in drawn.bands}) == 1
    last = lane(draw([task(9), task(24 * 5 - 3, length=2, dry=30)], air()), "rack 1", band=0)
    assert last.bars


def test_a_long_plan_loses_no_step_between_its_bands():
    tasks = [task(hour, length=3, dry=2) for hour in range(8, 24 * 15, 11)]
    drawn = draw(tasks)
    shown = {bar.task.key for band in drawn.bands for bar in band.lanes[0].bars}
    assert shown == {task.key for task in tasks}
    assert all(LEFT <= bar.x <= LEFT + WIDTH for band in drawn.bands for bar in band.lanes[0].bars)


def test_who_has_nothing_to_do_in_a_band_has_no_row_in_it():
    drawn = draw([task(9, rack="a"), task(24 * 9, rack="b", people=("Ben",))])
    assert [[lane.name for lane in band.lanes] for band in drawn.bands] == [["a", "Ada"], ["b", "Ben"]]
    assert drawn.bands[0].lanes[0].y == drawn.bands[1].lanes[0].y


def test_hours_of_a_place_stand_together_while_their_reasons_are_the_same():
    refused = np.zeros(24 * 20, int)
    refused[24:32] = Reason.OUTSIDE_WORKING_HOURS  # RUN begins a day before MAY
    refused[32:36] = Reason.RAIN | Reason.HUMIDITY
    cells = lane(draw([task(9)], places=[PlaceHours("Yard", refused)]), "Yard").cells
    assert [(round(cell.x, 3), cell.flags) for cell in cells] == [
        (round(at(0), 3), Reason.OUTSIDE_WORKING_HOURS),
        (round(at(8), 3), Reason.RAIN | Reason.HUMIDITY),
        (round(at(12), 3), 0),
    ]


def test_the_deadline_stands_where_bare_iron_must_be_coated():
    blasted, until = MAY + timedelta(hours=9), MAY + timedelta(hours=20, minutes=30)
    bare = lane(draw([task(9)], deadlines=[BareTime("rack 1", blasted, until)]), "rack 1").bare[0]
    assert (bare.x, bare.until_x) == pytest.approx((at(9), at(20.5)))
    assert bare.ends


def test_a_deadline_beyond_the_band_is_only_a_line():
    ends = MAY + timedelta(days=6)
    drawn = draw([task(9)], deadlines=[BareTime("rack 1", MAY + timedelta(hours=9), ends)])
    assert [bare.ends for bare in lane(drawn, "rack 1").bare] == [False]


def test_what_moves_shows_where_it_stood():
    was = (MAY + timedelta(hours=30), MAY + timedelta(hours=32))
    drawn = draw([task(9, was=was)])
    bar = lane(drawn, "rack 1").bars[0]
    assert (bar.was_x, bar.was_width) == pytest.approx((at(30), 2 * WIDTH / 48))
    assert drawn.moved
    assert not draw([task(9)]).moved


def test_where_it_stood_shows_in_the_band_of_that_day_only():
    was = (MAY + timedelta(hours=9), MAY + timedelta(hours=11))
    drawn = draw([task(24 * 9, was=was)] + [task(12)])
    first, second = (lane(drawn, "rack 1", band).bars for band in (0, 1))
    ghost = next(bar for bar in first if bar.was_x is not None)
    assert (ghost.width, ghost.words) == (0, "")
    assert all(bar.was_x is None for bar in second)
    assert [bar.width > 0 for bar in second] == [True]


def test_words_keep_to_their_room():
    first, second = lane(draw([task(9, label="coat of green enamel"), task(14, label="letter")]), "rack 1").bars
    assert first.words.endswith("…")
    assert second.words == "letter"


def test_two_steps_close_together_leave_no_room_for_words():
    assert lane(draw([task(9, length=1), task(10)]), "rack 1").bars[0].words == ""


def test_a_visit_says_whether_it_is_taken():
    day = VisitOnOffer("v", "Grit Brothers", MAY + timedelta(hours=8), MAY + timedelta(hours=16), booked=True)
    bar = lane(draw([task(9)], visits=[day]), "visits").bars[0]
    assert (bar.x, bar.end_x) == pytest.approx((at(8), at(16)))
    assert bar.words == "Grit Brothers"


def test_a_visit_s_name_keeps_inside_its_box():
    """Eight hours of 48 are 180 wide: room for 29 letters; of seven days 51: room for eight."""
    name, begin = "The Grit and Shot Blasting Brothers of the Valley", MAY + timedelta(hours=8)
    day = VisitOnOffer("v", name, begin, begin + timedelta(hours=8), booked=False)
    for tasks in ([task(9)], [task(9), task(24 * 13)]):
        bar = lane(draw(tasks, visits=[day]), "visits").bars[0]
        assert bar.words.endswith("…")
        assert 6 * len(bar.words) <= bar.width


def test_night_and_air_that_is_not_known_are_boxes_over_their_hours():
    hours = air(days=2)  # ends a day after MAY begins, and the picture goes on for another
    night = np.zeros(48, bool)
    night[24:30] = True
    drawn = draw_plan(hours, night, [task(9)], zone=LONDON, now=MAY)
    band = drawn.bands[0]
    assert [(box.x, box.width) for box in band.night] == [pytest.approx((at(0), 6 * WIDTH / 48))]
    assert [(box.x, box.width) for box in band.unknown] == [pytest.approx((at(24), 24 * WIDTH / 48))]


def test_the_clock_moved_back_makes_the_longer_day_no_shorter():
    """25 October 2026 has 25 hours in London."""
    midnight = datetime(2026, 10, 25, tzinfo=LONDON)
    start = np.datetime64((midnight.astimezone(UTC) - timedelta(days=1)).replace(tzinfo=None), "h")
    hours = Hours.from_arrays(start, temperature=np.full(24 * 6, 10.0), humidity=60.0, rain=0.0)
    begin = midnight.replace(hour=20)
    late = DrawnTask(
        "a", "rack 1", "coat", "coat", "Shop", (), begin, begin + timedelta(hours=2), begin + timedelta(hours=30)
    )
    drawn = draw_plan(hours, np.zeros(len(hours), bool), [late], zone=LONDON, now=midnight)
    bar = lane(drawn, "rack 1").bars[0]
    assert bar.x == pytest.approx(LEFT + 21 * WIDTH / 73)


def test_the_list_goes_by_the_days_of_the_workshop_s_clock():
    days = by_day([task(25, rack="b"), task(9), task(25, rack="a")], LONDON, MAY + timedelta(hours=8))
    assert [day.due for day in days] == [True, False]
    assert [day.begin for day in days] == [MAY, MAY + timedelta(days=1)]
    assert [task.rack for task in days[1].tasks] == ["a", "b"]


def test_a_plan_without_steps_is_still_a_picture():
    assert draw([]).bands[0].lanes == []


def day_numbers(shown):
    return [(day.begin - MAY).days for day in shown.days]


def test_a_plan_that_can_be_taken_in_is_shown_whole():
    days = by_day([task(24 * day + 9, rack=f"rack {n}") for day in range(6) for n in range(20)], LONDON, MAY)
    assert days_shown(days, MAY).whole


def test_a_large_plan_is_turned_by_days_of_fifty_tasks_and_leaves_out_none():
    days = by_day([task(24 * day + 9, rack=f"rack {n}") for day in range(-3, 6) for n in range(20)], LONDON, MAY)
    today = days_shown(days, MAY + timedelta(hours=8))
    assert day_numbers(today) == [0, 1, 2]
    assert day_numbers(days_shown(days, MAY, today.later)) == [3, 4, 5]
    assert day_numbers(days_shown(days, MAY, today.earlier)) == [-3, -2, -1]
    assert days_shown(days, MAY, today.later).later is None
    assert day_numbers(days_shown(days, MAY, MAY + timedelta(days=99))) == [5]


def test_what_begins_within_a_day_is_never_left_to_the_next_page():
    days = by_day([task(24 * day + 9, rack=f"rack {n}") for day in range(3) for n in range(70)], LONDON, MAY)
    assert day_numbers(days_shown(days, MAY + timedelta(hours=8))) == [0]  # of tomorrow's the first begins in 25 hours
    assert day_numbers(days_shown(days, MAY + timedelta(hours=10))) == [0, 1]


def test_a_days_strip_has_a_row_for_each_who_works_and_its_bars_stand_over_their_hours():
    """From 8 to 14 in six parts; what two do stands in both rows, and the contractor's below all."""
    tasks = [task(8, people=("Ada", "Bess")), task(12, people=("Ada",)), task(9, length=1, people=(), rack="rack 2")]
    (day,) = by_day(tasks, LONDON, MAY)
    strip = day_strip(day)
    assert [name for name, _ in strip.names] == ["Ada", "Bess", "contractor"]
    assert [tick.hour for tick in strip.hours] == [8, 9, 10, 11, 12, 13, 14]
    wide = (strip.hours[-1].x - strip.hours[0].x) / 6
    bars = [
        (bar.task.key, round((bar.x - strip.hours[0].x) / wide, 6), round(bar.width / wide, 6)) for bar in strip.bars
    ]
    assert bars == [("rack 1-8", 0, 2), ("rack 1-8", 0, 2), ("rack 2-9", 1, 1), ("rack 1-12", 4, 2)]
    ada, bess, contractor, again = (bar.y for bar in strip.bars)
    assert ada == again < bess < contractor < strip.height


def change_shelter(place):
    Place.objects.filter(pk=place.pk).update(kind="shop", held_at=18, humidity_ceiling=90)


def change_hours_of_work(place):
    Workshop.objects.filter(pk=place.workshop_id).update(work_from="11:00")


def change_reading(place):
    factories.ReadingFactory(place=place, taken_at=AT_NINE - timedelta(hours=1), temperature=4, humidity=97)


def change_forecast(place):
    factories.steady_forecast(place.workshop, AT_NINE - timedelta(hours=2), temperature=3, humidity=97)


@pytest.mark.django_db
@pytest.mark.parametrize("change", [change_shelter, change_hours_of_work, change_reading, change_forecast])
def test_the_hours_of_a_place_are_kept_while_what_they_rest_on_is_the_same(change):
    place = factories.PlaceFactory()
    factories.steady_forecast(place.workshop, AT_NINE - timedelta(days=3), hours=24 * 7, temperature=14, humidity=60)

    def refused():
        there = Place.objects.select_related("workshop").get(pk=place.pk)
        return place_hours(there, run_for(there.workshop, [], AT_NINE, AT_NINE)).refused

    before = refused()
    assert refused() is before
    change(place)
    after = refused()
    forget_runs()
    assert after.tolist() == refused().tolist() != before.tolist()
