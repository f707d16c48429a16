"""The season_picture of weeks: bars, good weeks and scale, worked by hand."""

from datetime import date

import numpy as np
import pytest

from finishing.air.pictures.seasons import (
    BAR,
    BOTTOM,
    LEFT,
    TOP,
    by_month,
    by_week,
    season_picture,
    week_begins,
    week_ends,
)
from finishing.science.seasons import WEEKS, Season


def season(median, low=None, high=None, years=10):
    values = np.broadcast_to(np.asarray(median, float), WEEKS).copy()
    low, high = (values if v is None else np.broadcast_to(np.asarray(v, float), WEEKS) for v in (low, high))
    return Season(low, values, high, np.where(np.isnan(values), 0, years))


def test_a_bar_is_as_high_as_its_hours():
    bar = season_picture(season(30, low=15, high=60), top=60).bars[10]
    assert (bar.x, bar.height) == (LEFT + 10 * BAR, (BOTTOM - TOP) / 2)
    assert (bar.low_y, bar.high_y) == (BOTTOM - 20, TOP)


def test_good_weeks_are_named_from_their_first_day_to_their_last():
    weeks = np.arange(WEEKS)
    drawn = season_picture(season(np.where((weeks >= 20) & (weeks <= 39), 40, 10)), top=60)
    assert [(run.first, run.last) for run in drawn.best] == [(date(2023, 5, 21), date(2023, 10, 7))]
    assert sum(bar.good for bar in drawn.bars) == 20
    assert not drawn.best[0].whole_year
    assert drawn.most == 40


def test_a_year_that_is_alike_throughout_is_one_run():
    assert season_picture(season(40), top=60).best[0].whole_year


def test_weeks_nobody_knows_are_no_bars():
    drawn = season_picture(season(np.where(np.arange(WEEKS) < 26, 40, np.nan)), top=60)
    assert (len(drawn.bars), len(drawn.unknown)) == (26, 26)


def test_nothing_known_at_all_is_drawn_empty():
    drawn = season_picture(season(np.nan), top=0)
    assert (drawn.bars, drawn.best, drawn.most, drawn.spread) == ([], [], 0.0, False)


@pytest.mark.parametrize(("top", "labels"), [(60, ["0", "20", "40", "60"]), (40, ["0", "10", "20", "30", "40"])])
def test_the_scale_has_few_lines(top, labels):
    assert [line.label for line in season_picture(season(1), top).lines] == labels


def test_one_year_alone_has_no_spread():
    assert not season_picture(season(40, years=1), top=60).spread


def test_the_last_week_ends_with_the_year():
    assert (week_begins(0), week_ends(0)) == (date(2023, 1, 1), date(2023, 1, 7))
    assert week_ends(51) == date(2023, 12, 31)


def test_a_month_is_the_mean_of_its_weeks():
    months = by_month(season(np.arange(WEEKS), low=0, high=60))
    assert len(months) == 12
    assert (months[0].low, months[0].median, months[0].high) == (0, 2, 60)  # the weeks 0 to 3: 1.5, rounded to even
    assert by_month(season(np.nan))[3].median is None
    assert by_week(season(7.4))[9].median == 7


def test_a_month_with_a_week_nobody_knows_is_not_known():
    values = np.full(WEEKS, 10.0)
    values[1] = np.nan
    assert [month.median for month in by_month(season(values))][:2] == [None, 10]
