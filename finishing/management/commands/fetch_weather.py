"""Ask each workshop's weather service once, or again and again beside the server."""

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, close_old_connections
from django.utils import timezone

from finishing.air.actions.weather import Fetched, fetch_forecast
from finishing.workshops.models import Workshop


class Command(BaseCommand):
    help = "Fetch the forecast of every workshop that has a weather service and whose last forecast has expired."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--loop", type=_minutes, metavar="MINUTES", help="go on, looking every so many minutes")

    def handle(self, *args: Any, loop: float | None = None, **options: Any) -> None:
        self.fetch_all()
        while loop:
            time.sleep(loop * 60)
            close_old_connections()
            self.fetch_all()

    def fetch_all(self) -> None:
        for workshop in Workshop.objects.exclude(weather_service=Workshop.WeatherService.NONE):
            try:
                self.stdout.write(f"{workshop}: {_said(fetch_forecast(workshop, timezone.now()))}")
            except DatabaseError as error:  # a busy database now must not end the loop
                self.stderr.write(f"{workshop}: not saved: {error}")


def _minutes(text: str) -> float:
    minutes = float(text)
    if not 1 <= minutes <= 24 * 60:
        raise ValueError
    return minutes


def _said(fetched: Fetched) -> str:
    if fetched.trouble:
        return fetched.trouble
    if not fetched.news:
        return "the last forecast still holds."
    left_out = f", {fetched.left_out} impossible values left out" if fetched.left_out else ""
    return f"a new forecast{left_out}."
