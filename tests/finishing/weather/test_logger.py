"""Loggers' files of the kinds that people bring: the headings, separators and dates are common practice, no source."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishing.weather.logger import LoggerUnreadable, parse_logger

PLAIN = "Time,Temperature (°C),Humidity (%)\n2026-05-01 10:00,16.5,62\n2026-05-01 11:00,17.1,60.5\n"


def at(*moment):
    return datetime(*moment, tzinfo=UTC)


def read(text, zone="UTC", day_first=None, encoding="utf-8"):
    return parse_logger(text.encode(encoding), zone, day_first)


def first(text, **how):
    found = read(text, **how)
    assert found.bad_lines == []
    return found.readings[0][:4]  # a logger says no more: not how long it holds, nor whether it rained


def only_line(line, heading="Time;Temperature (°C);Humidity (%);Surface (°C)"):
    """The reason why this line, after one good line, is left out."""
    good = "2026-05-01 09:00;16;60;15"
    found = read(f"{heading}\n{good}\n{line}\n")
    assert len(found.readings) == 1
    assert [bad.number for bad in found.bad_lines] == [3]
    return found.bad_lines[0].reason


def test_a_plain_file_is_read_without_a_word():
    found = read(PLAIN)
    assert [reading[:4] for reading in found.readings] == [
        (at(2026, 5, 1, 10), 16.5, 62.0, None),
        (at(2026, 5, 1, 11), 17.1, 60.5, None),
    ]
    assert found.notes == []
    assert not found.ambiguous_dates


@pytest.mark.parametrize(
    "heading",
    [
        "Date/Time;Temp (°C);RH (%);Surface temperature (°C)",
        "Timestamp;Air temperature [C];Rel. humidity %;Steel temp. °C",
        "Datum/Uhrzeit;Lufttemperatur °C;rel. Luftfeuchte %;Oberflächentemperatur °C",
        "Zeitstempel;Temperatur (°C);Feuchtigkeit (% r.F.);Stahl (°C)",
        "Date et heure;Température (°C);Humidité relative (%);Surface (°C)",
        "Fecha y hora;Temperatura (°C);Humedad (%);Superficie (°C)",
        "Marca de tiempo;Temperatura (°C);HR (%);Superficie (°C)",
        "Tempo;Temperatura (°C);Umidade (%);Superfície (°C)",
        "Data e ora;Temperatura (ºC);Umidità (%);Superficie (ºC)",
        "Datum en tijd;Temperatuur (°C);Luchtvochtigheid (%);Oppervlak (°C)",
        "Tidspunkt;Temperatur (°C);Luftfuktighet (%);Overflate (°C)",
        "Datum och tid;Temperatur (°C);RF (%);Yttemperatur (°C)",
        "Data/godzina;Temperatura (°C);Wilgotność (%);Powierzchnia (°C)",
        "datetime;temperature_c;humidity;surface_c",
        '"Time";"Celsius(°C)";"Humidity(%rh)";"Metal (°C)"',
    ],
)
def test_columns_are_found_in_many_languages(heading):
    assert first(f"{heading}\n2026-05-01 10:00;16,5;62;14,25\n") == (at(2026, 5, 1, 10), 16.5, 62.0, 14.25)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_found(separator):
    assert read(PLAIN.replace(",", separator)).readings[0].humidity == 62.0


def test_a_quoted_decimal_comma_between_commas_is_read():
    assert first('Time,Temp °C,RH %\n"2026-05-01 10:00","16,5","62,25"\n')[1:3] == (16.5, 62.25)


def test_a_bare_decimal_comma_between_commas_is_reported_not_guessed():
    found = read("Time,Temp °C,RH %\n2026-05-01 10:00,16,5,62,0\n")
    assert found.readings == []
    assert "decimal comma" in found.bad_lines[0].reason


def test_fahrenheit_is_found_in_the_heading():
    """32 °F is 0 °C, 68 °F is 20 °C, by definition."""
    heading = "Time,Temp (°F),RH (%),Surface temp (°F)\n"
    assert first(f"{heading}05/13/2026 10:00,68,50,32\n")[1:] == (pytest.approx(20), 50, pytest.approx(0))


def test_units_beside_the_values_are_read():
    found = read("Time,Temperature,Humidity\n2026-05-01 10:00,68 °F,50 %\n2026-05-01 11:00,20 °C,50%RH\n")
    assert [reading.temperature for reading in found.readings] == pytest.approx([20, 20])


def test_a_heading_without_unit_is_said():
    assert read("Time,Temperature,Humidity\n2026-05-01 10:00,20,50\n").notes == [
        "“Temperature” names no unit: read as °C unless a value says °F."
    ]


def test_humidity_comes_from_the_dew_point_where_there_is_no_other():
    """20 °C with a dew point of 12.0 °C is 60 %: published table, coating information sheet 1650, 2013."""
    found = read("Time,Temp (°C),Dew point (°C)\n2026-05-01 10:00,20.0,12.0\n")
    assert found.readings[0].humidity == pytest.approx(60, abs=0.3)
    assert found.notes == ["Humidity was worked out from the dew point."]


def test_columns_of_other_things_are_left_alone():
    heading = "No.,Time,Wet bulb (°C),Battery temp (°C),Temperature (°C),Absolute humidity (g/m³),Humidity (%),Pressure"
    assert first(f"{heading}\n1,2026-05-01 10:00,12,30,16.5,9.1,62,1013\n")[1:3] == (16.5, 62)


def test_lines_before_the_headings_are_passed_over_and_lines_keep_their_numbers():
    found = read(f"sep=,\nLogger: yard\nSerial;4711\n\n{PLAIN}2026-05-01 12:00,warm,60\n")
    assert len(found.readings) == 2
    assert str(found.bad_lines[0]) == "Line 8: temperature “warm” is no number."


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_encoding_is_found(encoding):
    text = "Date et heure;Température (°C);Humidité (%)\r\n2026-05-01 10:00;16,5;62\r\n"
    assert first(text, encoding=encoding)[1:3] == (16.5, 62)


def test_another_encoding_is_said():
    assert "cp1252" in read("Time;Température (°C);RH %\n2026-05-01 10:00;16;62\n", encoding="cp1252").notes[0]


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_lines_end_as_they_like(newline):
    assert len(read(PLAIN.replace("\n", newline)).readings) == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (b"hello\nworld\n", "No line of headings"),
        (b"Time,Temperature\n2026-05-01 10:00,16\n", "humidity or dew point"),
        (b"Temperature,Humidity\n16,60\n", "date and time"),
        (b"PK\x03\x04....", "spreadsheet"),
        (bytes(range(256)) * 40, "No line of headings"),
        (b'"' * 200_000, "No line of headings"),
    ],
)
def test_a_file_that_is_no_log_says_why(data, words):
    with pytest.raises(LoggerUnreadable, match=words):
        parse_logger(data, "UTC")


def test_a_file_too_large_is_refused(monkeypatch):
    monkeypatch.setattr("finishing.weather.logger.LARGEST", 10)
    with pytest.raises(LoggerUnreadable, match="larger"):
        read(PLAIN)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2026-05-01 10:00;hot;60;15", "temperature “hot” is no number"),
        ("2026-05-01 10:00;;60;15", "has no temperature"),
        ("2026-05-01 10:00;16;---;15", "has no humidity"),
        ("2026-05-01 10:00;16", "has no humidity"),
        ("2026-05-01 10:00;999;60;15", "temperature 999 cannot be"),
        ("2026-05-01 10:00;-127;60;15", "temperature -127 cannot be"),
        ("2026-05-01 10:00;16;101;15", "humidity 101 cannot be"),
        ("2026-05-01 10:00;16;-3;15", "humidity -3 cannot be"),
        ("2026-05-01 10:00;16;60;1e3", "surface “1e3” is no number"),
        ("2026-05-01 10:00;1.016,5;60;15", "no number"),
        ("2026-05-01 10:00;16;60;15;7", "5 columns under 4 headings"),
        ("yesterday;16;60;15", "“yesterday” is no date and time"),
        ("2026-05-01;16;60;15", "no date and time"),
        ("2026-02-30 10:00;16;60;15", "no such date"),
        ("0026-05-01 10:00;16;60;15", "no such date"),
        ("2026-05-01 25:00;16;60;15", "25:00 is no time of day"),
        ("2026-05-01 13:00 PM;16;60;15", "no time of day"),
    ],
)
def test_a_bad_line_is_left_out_with_its_reason(line, words):
    assert words in only_line(line)


def test_a_dew_point_above_the_air_cannot_be():
    found = read("Time,Temp (°C),Dew point (°C)\n2026-05-01 10:00,12,20\n")
    assert "above air" in found.bad_lines[0].reason


def test_a_surface_is_not_needed_in_each_line():
    found = read("Time,Temp (°C),RH (%),Surface (°C)\n2026-05-01 10:00,16,60,\n2026-05-01 11:00,16,60,12\n")
    assert [reading.surface_temperature for reading in found.readings] == [None, 12]


def test_a_stray_quotation_mark_costs_one_line():
    found = read(PLAIN + '2026-05-01 12:00,"16,60\n2026-05-01 13:00,16,60\n')
    assert [bad.number for bad in found.bad_lines] == [4]
    assert len(found.readings) == 3


def test_thousands_of_bad_lines_are_told_shortly():
    found = read(PLAIN + "".join(f"2026-05-01 10:00,{n},60\n" for n in range(1000, 3000)))
    assert len(found.bad_lines) == 2000
    report = found.bad_line_report()
    assert len(report) == 21
    assert report[0].startswith("Line 4: temperature 1000 cannot be")
    assert report[-1] == "And 1,980 more lines."
    assert read(PLAIN).bad_line_report() == []


@given(st.lists(st.text(st.characters(codec="utf-8"), max_size=40) | st.sampled_from(PLAIN.splitlines()), max_size=12))
def test_whatever_stands_in_a_file_each_line_is_a_reading_or_has_its_reason(lines):
    found = read("\n".join([PLAIN.splitlines()[0], *lines]))
    assert all(-40 <= reading.temperature <= 50 and 1 <= reading.humidity <= 100 for reading in found.readings)
    times = [reading.time for reading in found.readings]
    assert times == sorted(set(times))
    assert all(bad.reason for bad in found.bad_lines)


@given(st.binary(max_size=400))
def test_bytes_that_are_no_log_are_refused_with_a_word(data):
    with pytest.raises(LoggerUnreadable):
        parse_logger(data, "UTC")
