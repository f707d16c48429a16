"""Typical years: an EPW written here from an open year and read back, and the older forms as they were published.

The open years come with pvlib: Greensboro and Sand Point (TMY3), Miami (TMY2).
"""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.weather.epw import parse_epw
from finishing.weather.tmy import parse_tmy2, parse_tmy3
from finishing.weather.typical_file import parse_typical_year
from finishing.weather.typical_year import TypicalYearUnreadable
from tests.open_years import open_year

DATA = Path(pvlib.__file__).parent / "data"
GREENSBORO, SAND_POINT, MIAMI = ((DATA / n).read_text() for n in ("723170TYA.CSV", "703165TY.csv", "12839.tm2"))
MIAMI_WEEK = "\n".join(MIAMI.splitlines()[: 1 + 7 * 24])
HEADING = """LOCATION,HOLLOWFIELD,-,GBR,OWN,000000,52.40,-1.90,{offset},75.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,written by a test
COMMENTS 2,
DATA PERIODS,1,1,Data,Sunday,1/1,12/31
"""
# names of pvlib's TMY3 columns → place of that value in a line of an EPW, from 0
FIELDS = {
    "Dry-bulb (C)": 6,
    "Dew-point (C)": 7,
    "RHum (%)": 8,
    "GHI (W/m^2)": 13,
    "Wspd (m/s)": 21,
    "TotCld (tenths)": 22,
    "Lprecip depth (mm)": 33,
    "Lprecip quantity (hr)": 34,
}


def line(year, month, day, hour, **values):
    """An hour of an EPW; what is not given has the format's code for missing."""
    missing = {6: 99.9, 7: 99.9, 8: 999, 9: 999999, 13: 9999, 21: 999, 22: 99, 33: 999, 34: 99}
    fields = [year, month, day, hour, 60, "?9?9", *(missing.get(at, 0) for at in range(6, 35))]
    for at, value in values.items():
        fields[int(at[1:])] = value
    return ",".join(str(field) for field in fields)


def greensboro_as_epw():
    frame, _ = pvlib.iotools.read_tmy3(DATA / "723170TYA.CSV", map_variables=False)
    dates = frame["Date (MM/DD/YYYY)"].str.split("/").tolist()
    lines = [
        line(year, int(month), int(day), int(time[:2]), **{f"f{at}": row[name] for name, at in FIELDS.items()})
        for (month, day, year), time, row in zip(
            dates, frame["Time (HH:MM)"], frame[list(FIELDS)].to_dict("records"), strict=True
        )
    ]
    return HEADING.format(offset=-5) + "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def epw():
    return greensboro_as_epw()


def steady(days=365, leap=False, **values):
    """A year of one air, for what is not about air."""
    first = date(2024 if leap else 2023, 1, 1)
    dates = [first + timedelta(days=day) for day in range(days)]
    wanted = {"f6": 12.5, "f7": 7.0, "f8": 69} | values
    return [line(d.year, d.month, d.day, hour, **wanted) for d in dates for hour in range(1, 25)]


def as_epw(lines, offset=0):
    return HEADING.format(offset=offset) + "\n".join(lines) + "\n"


def refusal(text):
    with pytest.raises(TypicalYearUnreadable) as caught:
        parse_epw(text)
    return str(caught.value)


def test_an_open_year_written_as_epw_and_read_back_is_the_same_air(epw):
    """Against the same file through pvlib's TMY3 reader, hour by hour in UTC."""
    theirs = open_year("723170TYA.CSV")
    ours = parse_epw(epw).in_year(1990).between(theirs.start, theirs.end)
    for name in ("temperature", "humidity", "dew_point", "wind", "cloud", "sun", "rain"):
        a, b = getattr(ours, name), getattr(theirs, name)
        both = ~np.isnan(a + b)
        assert both.sum() > 8730, name
        assert a[both] == pytest.approx(b[both]), name


def test_the_older_form_of_the_same_file_gives_the_same_year(epw):
    written, published = parse_epw(epw), parse_tmy3(GREENSBORO)
    assert len(published) == 8760
    assert published.station.name == "Greensboro Piedmont Triad Int"
    for name, values in written.columns.items():
        np.testing.assert_array_equal(values, published.columns[name], name)


def test_it_says_what_it_is_and_where_it_is_for(epw):
    year = parse_epw(epw)
    assert (year.form, year.station.name) == ("EPW", "Hollowfield")
    assert (year.station.latitude, year.station.longitude, year.station.offset) == (52.4, -1.9, -5)


def test_air_stands_at_the_end_of_its_hour_and_sun_and_rain_in_the_hour_before():
    lines = steady()
    lines[11] = line(2023, 1, 1, 12, f6=20.0, f7=7.0, f8=50, f13=400, f33=1.2, f34=1)
    hours = parse_epw(as_epw(lines, offset=0)).in_year(2025)
    noon = int(hours.position(np.datetime64("2025-01-01T12")))
    assert hours.temperature[[noon - 1, noon, noon + 1]].tolist() == [12.5, 20.0, 12.5]
    assert (hours.sun[noon - 1], hours.rain[noon - 1]) == (400, 1.2)
    assert np.isnan([hours.sun[noon], hours.rain[noon]]).all()


def test_local_standard_time_becomes_utc():
    lines = steady()
    lines[11] = line(2023, 1, 1, 12, f6=20.0, f7=7.0, f8=50)
    for offset, utc_hour in ((-5, 17), (0, 12), (9, 3)):
        hours = parse_epw(as_epw(lines, offset=offset)).in_year(2025)
        assert hours.temperature[utc_hour] == 20.0


def test_midnight_of_the_last_day_is_the_midnight_of_the_first():
    lines = steady()
    lines[-1] = line(2023, 12, 31, 24, f6=-3.0, f7=-5.0, f8=86)
    hours = parse_epw(as_epw(lines)).in_year(2025)
    assert hours.temperature[0] == -3.0
    assert hours.temperature[-1] == 12.5


def test_months_of_different_years_become_one_year(epw):
    years = {text.split(",")[0] for text in epw.splitlines()[8:]}
    assert len(years) > 5  # the file itself is put together from so many
    hours = parse_epw(epw).in_year(2025)
    assert (hours.start, hours.end) == (np.datetime64("2025-01-01T00"), np.datetime64("2026-01-01T00"))
    assert hours.known.all()


def test_a_leap_year_has_the_28th_of_february_twice_where_the_file_has_no_29th():
    lines = steady()
    at = 58 * 24
    lines[at + 11] = line(2023, 2, 28, 12, f6=20.0, f7=7.0, f8=50)
    hours = parse_epw(as_epw(lines)).in_year(2024)
    assert len(hours) == 8784
    warm = hours.times[hours.temperature == 20.0]
    assert [str(when) for when in warm] == ["2024-02-28T12", "2024-02-29T12"]


def test_a_file_of_8784_hours_is_read_with_its_29th_and_says_so():
    lines = steady(366, leap=True)
    lines[59 * 24 + 11] = line(2024, 2, 29, 12, f6=20.0, f7=7.0, f8=50)
    year = parse_epw(as_epw(lines))
    assert len(year) == 8784
    assert "leap year of 8,784 hours" in year.notes[0]
    assert (year.in_year(2024).temperature == 20).sum() == 1
    assert len(year.in_year(2025)) == 8760
    assert (year.in_year(2025).temperature == 20).sum() == 0


def test_8784_hours_without_a_29th_of_february_are_more_than_a_year():
    reason = refusal(as_epw(steady() + steady(1)))
    assert "24 hours stand in it more than once" in reason
    assert "hour 1 of 1 January" in reason


def test_half_a_year_keeps_its_hours_and_says_how_many():
    year = parse_epw(as_epw(steady(181)))
    assert year.notes[0] == "4,344 of 8,760 hours stand in it; the others are not known."
    hours = year.in_year(2025)
    assert int(hours.known.sum()) == 4344
    assert hours.known[24 * 90]
    assert not hours.known[24 * 200]


def test_codes_for_missing_values_are_not_air():
    lines = steady(f21=3.5)
    lines[100] = line(2023, 1, 5, 5)
    year = parse_epw(as_epw(lines))
    assert np.isnan(year.columns["temperature"]).sum() == 1
    assert "In 1 of its hours the air temperature is missing" in year.notes[0]
    assert year.notes[1:] == (
        "It tells wind in 8,759 of its hours.",
        "It tells no cloud.",
        "It tells no sun.",
        "It tells no rain.",
    )


def test_humidity_a_little_over_a_hundred_is_saturated_air():
    year = parse_epw(as_epw(steady(f7=12.5, f8=104)))
    assert (year.columns["humidity"] == 100).all()


def test_rain_of_several_hours_is_nobodys_hour():
    year = parse_epw(as_epw(steady(f33=6.0, f34=6)))
    assert np.isnan(year.columns["rain"]).all()
    assert parse_epw(as_epw(steady(f33=6.0, f34=1))).columns["rain"].max() == 6.0


def test_a_clock_half_an_hour_off_is_told():
    year = parse_epw(as_epw(steady(), offset=5.5))
    assert "+5.5 h from UTC" in year.notes[-1]
    assert len(year.in_year(2025)) == 8760


def test_a_line_with_columns_missing_is_told_by_its_number():
    lines = steady()
    lines[4] = ",".join(lines[4].split(",")[:7])
    reason = refusal(as_epw(lines))
    assert reason.startswith("Line 13 has 7 columns; an hour of an EPW has 35")
    assert "humidity" in reason


def test_columns_missing_at_the_end_of_every_line_cost_only_themselves():
    lines = [",".join(text.split(",")[:23]) for text in steady(f21=3.0, f22=5)]
    year = parse_epw(as_epw(lines))
    assert year.columns["cloud"][5] == 0.5
    assert year.notes == ("It tells no sun.", "It tells no rain.")


def test_a_line_too_long_is_told():
    lines = steady()
    lines[0] += ",1,2,3"
    assert refusal(as_epw(lines)).startswith("Line 9 has 38 columns")


@pytest.mark.parametrize(
    ("missing", "words"),
    [({"f6": 99.9}, "no air temperature"), ({"f7": 99.9, "f8": 999}, "neither humidity nor dew point")],
)
def test_a_year_without_the_columns_that_are_needed_says_which(missing, words):
    assert words in refusal(as_epw(steady(**missing)))


def test_without_humidity_the_dew_point_is_enough():
    assert parse_epw(as_epw(steady(f8=999))).in_year(2025).known.all()


@pytest.mark.parametrize("hour", [0, 25])
def test_an_hour_that_does_not_exist_is_told(hour):
    lines = steady()
    lines[0] = line(2023, 1, 1, hour)
    assert "Its lines could not be read" in refusal(as_epw(lines)) or f"hour {hour}" in refusal(as_epw(lines))


def test_a_heading_without_its_place_is_told():
    text = as_epw(steady())
    assert "does not say where" in refusal("LOCATION,SOMEWHERE\n" + text.partition("\n")[2])
    assert "could not be read" in refusal(text.replace("52.40", "north"))


@pytest.mark.parametrize("text", ["", "\n\n", "<html></html>", "a,b,c\n1,2,3\n"])
def test_what_is_no_epw_is_told(text):
    assert "no EPW" in refusal(text)


def test_a_heading_alone_has_no_hours():
    assert "before its hours begin" in refusal(HEADING.format(offset=0).rstrip())


# The older forms, and finding out which one a file has


def test_the_cold_coast_tells_rain_in_few_hours():
    year = parse_tmy3(SAND_POINT)
    assert year.station.name == "Sand Point"
    assert len(year.notes) == 1
    assert year.notes[0].startswith("It tells rain in 321 of")


def test_tmy2_is_read_in_its_tenths():
    year = parse_tmy2(MIAMI)
    assert (year.station.name, year.station.offset) == ("Miami", -5)
    assert (year.station.latitude, year.station.longitude) == pytest.approx((25.8, -80.267), abs=1e-3)
    # the file's first line by eye: 1 January, hour 1: 20.0 °C, dew point 15.0 °C, 73 %, 7 tenths cloud
    assert year.columns["temperature"][1] == pytest.approx(20.0)
    assert year.columns["dew_point"][1] == pytest.approx(15.0)
    assert year.columns["humidity"][1] == 73
    assert year.columns["cloud"][1] == pytest.approx(0.7)
    assert 23 < np.nanmean(year.columns["temperature"]) < 26
    assert year.notes == ("It tells no rain.",)


def test_a_station_of_two_words_does_not_move_its_longitude():
    named = MIAMI_WEEK.replace("MIAMI                 ", "NEW HOLLOWFIELD       ", 1)
    year = parse_tmy2(named)
    assert year.station.name == "New Hollowfield"
    assert year.station.longitude == pytest.approx(-80.267, abs=1e-3)


@pytest.mark.parametrize(("text", "form"), [(GREENSBORO, "TMY3"), (SAND_POINT, "TMY3"), (MIAMI_WEEK, "TMY2")])
def test_a_file_is_known_by_its_first_line(text, form):
    assert parse_typical_year(text.encode()).form == form


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_an_epw_is_read_in_whatever_way_its_letters_are_written(encoding):
    text = as_epw(steady()).replace("HOLLOWFIELD", "HOLLÖWFIELD").replace("\n", "\r\n")
    assert parse_typical_year(text.encode(encoding)).station.name == "Hollöwfield"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not a typical year's file"),
        (b"hello", "not a typical year's file"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a text file"),
        (b"PK\x03\x04 and so on", "unpack it"),
        (b"1,2,3,4,5,6,7\nDate,Time\n", "no column"),
        (GREENSBORO.replace("01/01/1988", "new year").encode(), "TMY3"),
        (MIAMI_WEEK[:-30].encode(), "TMY2"),
    ],
)
def test_other_files_are_told_what_is_wanted(data, words):
    with pytest.raises(TypicalYearUnreadable, match=words):
        parse_typical_year(data)


@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda text: ("LOCATION," + text).encode()))
def test_whatever_is_handed_in_is_a_year_or_a_reason(data):
    with pytest.raises(TypicalYearUnreadable) as caught:
        parse_typical_year(data)
    assert len(str(caught.value)) > 20


@given(st.lists(st.sampled_from(["1", "13", "-4", "x", "", "1e9", "nan", '"'] * 2), min_size=35, max_size=35))
def test_a_line_of_nonsense_is_a_reason_or_left_out(fields):
    try:
        hours = len(parse_epw(as_epw([*steady(2), ",".join(fields)])))
    except TypicalYearUnreadable:
        hours = 0
    assert hours in (0, 8760, 8784)
