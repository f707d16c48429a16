"""Serve the demonstration: an invented workshop in a folder of its own, built anew around today."""

import shutil
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection
from django.utils import timezone

from ._demo_scenario import NAME, PASSWORD, build_demo
from ._files import database_file
from ._server import ServerCommand


class Command(ServerCommand):
    help = "Build the demonstration workshop with invented weather and serve it until Ctrl-C."

    def add_arguments(self, parser: Any) -> None:
        super().add_arguments(parser)
        parser.add_argument("--keep", action="store_true", help="go on with the demonstration as it was left")

    def prepare(self, *, keep: bool, **options: Any) -> None:
        refuse_other_data()
        new = not (keep and database_file().exists())
        if new:
            clear()
        super().prepare()
        if new:
            self.say("Building the demonstration …")
            build_demo(timezone.now())

    def tell(self, addresses: list[str]) -> None:
        self.say(*(f"Fettlebook, demonstration: {address}/" for address in addresses))
        self.say(f"Sign in as {NAME} with the password {PASSWORD}", "Maker, people and weather are invented.")
        self.say("Stop with Ctrl-C.")


def refuse_other_data() -> None:
    """It deletes what it finds, so it works only where manage.py has pointed it."""
    if settings.DATA.name != "demo" or connection.vendor != "sqlite":
        raise CommandError("The demonstration starts only by `python manage.py demo`, in a folder of its own.")


def clear() -> None:
    for left in settings.DATA.glob("fettlebook.sqlite3*"):
        left.unlink()
    shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)
