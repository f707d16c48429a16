"""Fetch the past years of weather that are missing, one after another; what has come stays, so it may be broken off."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from finishing.air.actions.years import fetch_next_year, progress
from finishing.workshops.models import Workshop


class Command(BaseCommand):
    help = "Fetch the last ten years of weather for a workshop, or for all of them, from the archive."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--workshop", metavar="NAME", help="only this one")

    def handle(self, *args: Any, workshop: str | None = None, **options: Any) -> None:
        workshops = Workshop.objects.filter(name=workshop) if workshop else Workshop.objects.all()
        if not workshops:
            raise CommandError(f"There is no workshop called {workshop}." if workshop else "There is no workshop yet.")
        for of_workshop in workshops.order_by("name"):
            self.fetch_all(of_workshop)

    def fetch_all(self, workshop: Workshop) -> None:
        now = timezone.now()
        years = progress(workshop, now)
        while not (years.done or years.trouble):
            self.stdout.write(f"{workshop}: {years.missing[0]} …")
            years = fetch_next_year(workshop, now)
        said = years.trouble or "all are here."
        self.stdout.write(f"{workshop}: {years.here} of {len(years.wanted)} years; {said}")
