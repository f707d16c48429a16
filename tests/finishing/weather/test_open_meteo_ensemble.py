"""An ensemble of the second service, in the shape that it documents.

Shape and names of the members: https://open-meteo.com/en/docs/ensemble-api (read as a stored page). The saved answer is
invented: a control run and nine members, of which the second, fifth and ninth are rained on in two hours of the morrow.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from finishing.weather import WeatherUnavailable, open_meteo
from finishing.weather.open_meteo import get_ensemble, parse_ensemble

SAVED = (Path(__file__).parents[3] / "fixtures" / "weather" / "open_meteo_ensemble.json").read_text()
MORNING = ["2026-05-01T06:00", "2026-05-01T07:00", "2026-05-01T08:00"]


def told(units=None, **variables):
    return json.dumps({"utc_offset_seconds": 0, "hourly_units": units or {}, "hourly": {"time": MORNING, **variables}})


def test_it_asks_for_one_model_s_members_in_our_units_and_in_gmt(service):
    service.will_answer(body=SAVED)
    text = get_ensemble(52.1, -1.2, 75.4, "gfs_seamless", "Fettlebook/0.1", key="ours", base_url=service.url)
    assert text == SAVED
    query, _ = service.asked[0]
    assert (query["models"], query["timezone"], query["wind_speed_unit"]) == (["gfs_seamless"], ["GMT"], ["ms"])
    assert set(query["hourly"][0].split(",")) == set(open_meteo.OF_A_MEMBER)
    assert query["apikey"] == ["ours"]


def test_each_member_becomes_hours_of_its_own_the_control_run_first():
    members = parse_ensemble(SAVED)
    assert len(members) == 10
    assert {str(member.start) for member in members} == {"2026-05-01T00"}
    hourly = json.loads(SAVED)["hourly"]
    assert members[0].temperature[30] == hourly["temperature_2m"][30]
    assert members[7].temperature[30] == hourly["temperature_2m_member07"][30]
    assert np.isnan(members[0].temperature[-1])  # what the service leaves out is not known
    # The rain of 10 to 12 o'clock stands at the ends of its hours, 11:00 being row 35.
    assert [n for n, member in enumerate(members) if member.rain[33] > 0] == [2, 5, 9]
    assert all(member.rain_chance[33] == 0 for member in members)


def test_a_member_without_air_is_left_out_and_one_alone_is_no_ensemble():
    air = {"temperature_2m": [12, 13, 14], "relative_humidity_2m": [60, 60, 60]}
    second = {f"{name}_member01": values for name, values in air.items()}
    empty = {f"{name}_member02": [None] * 3 for name in air}
    assert len(parse_ensemble(told(**air, **second, **empty))) == 2
    with pytest.raises(WeatherUnavailable, match="no ensemble"):
        parse_ensemble(told(**air, **empty))


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"hourly": {"time": []}}', '{"hourly": {"time": ["x"]}}'])
def test_what_is_no_ensemble_is_refused_in_words(text):
    with pytest.raises(WeatherUnavailable):
        parse_ensemble(text)


def test_a_member_in_another_unit_is_refused():
    with pytest.raises(WeatherUnavailable, match="°F"):
        parse_ensemble(told(units={"temperature_2m_member01": "°F"}, temperature_2m=[50, 51, 52]))
