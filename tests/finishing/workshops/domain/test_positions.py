"""Coordinates as people write them. Sources beside each: two standards' own examples, and plain conversions by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.workshops.domain.positions import NotAnAngle, read_angle, read_position

HOLLOW = (52.4, -1.9)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("geo:48.2010,16.3695", (48.2010, 16.3695)),  # RFC 5870, the example of section 6.1, without its altitude
        ("geo:-33.9,18.4", (-33.9, 18.4)),
        ("+40.20361-075.00417/", (40.20361, -75.00417)),  # ISO 6709 annex H as recalled from memory: degrees
        ("50°40'46\"N 95°48'26\"W", (50.679444, -95.807222)),  # ISO 6709, the form for people, from memory
        ("52.4, -1.9", HOLLOW),
        ("52.4,-1.9", HOLLOW),
        ("52.4 -1.9", HOLLOW),
        ("52,4 -1,9", HOLLOW),
        ("52,4; -1,9", HOLLOW),
        ("52,4, -1,9", HOLLOW),
        ("52.4 N 1.9 W", HOLLOW),
        ("52.4N, 1.9W", HOLLOW),
        ("N 52.4, W 1.9", HOLLOW),
        ("N52 24 W1 54", HOLLOW),
        ("1.9 W, 52.4 N", HOLLOW),
        ("52°24′ N 1°54′ W", HOLLOW),
        ("52 24 00 N, 1 54 00 W", HOLLOW),
        ("52° 24.0' N, 001° 54.0' W", HOLLOW),
        ("lat 52.4, lon −1.9", HOLLOW),
        ("52.4; 1.9 W", HOLLOW),
        ("33.9 s 18.4 e", (-33.9, 18.4)),
    ],
)
def test_a_position_is_read_in_the_usual_ways(text, meant):
    assert read_position(text) == pytest.approx(meant, abs=1e-6)


@pytest.mark.parametrize("text", ["Ludlow", "Ludlow, United Kingdom", "", "Bad 1", "52.4", "52.4 N", "Newport 52"])
def test_what_is_no_pair_of_coordinates_may_be_a_town(text):
    assert read_position(text) is None


@pytest.mark.parametrize("text", ["95, 10", "52.4, 190", "52 75 N 1 54 W", "52.5 30 N 1 54 W"])
def test_what_cannot_be_on_earth_is_refused(text):
    with pytest.raises(NotAnAngle):
        read_position(text)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_degrees_minutes_and_seconds_come_back(latitude, longitude):
    def written(value, letters):
        seconds = round(abs(value) * 3600)
        return f"{seconds // 3600}°{seconds // 60 % 60}'{seconds % 60}\"{letters[value < 0]}"

    read = read_position(f"{written(latitude, 'NS')} {written(longitude, 'EW')}")
    assert read == pytest.approx((latitude, longitude), abs=0.6 / 3600)


def test_one_angle_with_its_letter_or_sign():
    assert read_angle("1°54'36\" W", "EW") == pytest.approx(-1.91)
    assert read_angle("-1,9", "EW") == -1.9
    assert read_angle("S 33 54.5", "NS") == pytest.approx(-33.908333, abs=1e-6)
    with pytest.raises(NotAnAngle):
        read_angle("nowhere", "NS")
