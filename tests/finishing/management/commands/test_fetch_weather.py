from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError

from finishing.air.actions.weather import Fetched
from finishing.management.commands import fetch_weather
from tests.factories import WorkshopFactory

pytestmark = pytest.mark.django_db


def run(*arguments):
    out, err = StringIO(), StringIO()
    call_command("fetch_weather", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.fixture
def fetched(monkeypatch):
    answers = {}

    def fetch(workshop, now):
        answer = answers[workshop.name]
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(fetch_weather, "fetch_forecast", fetch)
    return answers


def test_each_workshop_with_a_service_is_told_of_in_words(fetched):
    for name in ("Far", "Hill", "Mill"):
        WorkshopFactory(name=name, weather_service="met norway")
    WorkshopFactory(name="Readings only", weather_service="none")
    fetched["Far"] = Fetched(None, news=True, left_out=2)
    fetched["Hill"] = Fetched(None)
    fetched["Mill"] = Fetched(None, trouble="MET Norway could not be reached: no connection.")
    out, err = run()
    assert sorted(out.splitlines()) == [
        "Far: a new forecast, 2 impossible values left out.",
        "Hill: the last forecast still holds.",
        "Mill: MET Norway could not be reached: no connection.",
    ]
    assert err == ""


def test_a_database_that_is_busy_does_not_stop_the_others(fetched):
    for name in ("Hill", "Mill"):
        WorkshopFactory(name=name, weather_service="met norway")
    fetched["Hill"] = OperationalError("database is locked")
    fetched["Mill"] = Fetched(None, news=True)
    out, err = run()
    assert out == "Mill: a new forecast.\n"
    assert err.startswith("Hill: not saved")


def test_the_loop_comes_again_after_its_minutes(fetched, monkeypatch):
    WorkshopFactory(name="Mill", weather_service="met norway")
    fetched["Mill"] = Fetched(None)
    waited = []

    def wait(seconds):
        waited.append(seconds)
        if len(waited) == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr(fetch_weather.time, "sleep", wait)
    monkeypatch.setattr(fetch_weather, "close_old_connections", lambda: None)  # the test's own must stay open
    with pytest.raises(KeyboardInterrupt):
        run("--loop", "20")
    assert waited == [1200, 1200, 1200]


@pytest.mark.parametrize("minutes", ["0", "-5", "often", "nan"])
def test_a_loop_without_sense_is_refused(minutes):
    with pytest.raises(CommandError):
        run("--loop", minutes)
