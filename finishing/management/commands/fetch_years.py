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
        found = Workshop.objects.filter(name=workshop) if workshop else Workshop.objects.all()
        if not found:
            raise CommandError(f"There is no workshop called {workshop}." if workshop else "There is no workshop yet.")
        for each in found.order_by("name"):
            self.fetch_all(each)

    def fetch_all(self, workshop: Workshop) -> None:
        now = timezone.now()
        found = progress(workshop, now)
        while not (found.done or found.trouble):
            self.stdout.write(f"{workshop}: {found.missing[0]} …")
            found = fetch_next_year(workshop, now)
        said = found.trouble or "all are here."
        self.stdout.write(f"{workshop}: {found.here} of {len(found.wanted)} years; {said}")
