"""Serve the demonstration: an invented workshop in a folder of its own, built anew around today."""

import shutil
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from finishing.workshops.models import User
from projects.demo.actions import PASSWORD, build_demo
from projects.record.models import Follower

from ._files import database_file
from ._server import ServerCommand


class Command(ServerCommand):
    help = "Build the demonstration workshop with invented weather and serve it until Ctrl-C."

    def add_arguments(self, parser: Any) -> None:
        super().add_arguments(parser)
        parser.add_argument("--keep", action="store_true", help="go on with the demonstration as it was left")

    def prepare(self, **options: Any) -> None:
        refuse_other_data()
        new = not (options["keep"] and database_file().exists())
        if new:
            clear()
        super().prepare()
        if new:
            self.say("Building the demonstration …")
            build_demo(timezone.now())

    def tell(self, addresses: list[str]) -> None:
        self.say(*(f"Fettlebook, demonstration: {address}/" for address in addresses))
        names = ", ".join(User.objects.order_by("date_joined").values_list("username", flat=True))
        self.say(f"Sign in as one of {names}; the password of each is {PASSWORD}")
        for follower in Follower.objects.in_use():
            self.say(f"What a customer sees: {addresses[0]}{reverse('follow', args=[follower.token])}")
        self.say("Maker, people and weather are invented.")


def refuse_other_data() -> None:
    """It deletes what it finds, so it works only where its command has pointed it."""
    if settings.DATA.name != "demo" or connection.vendor != "sqlite":
        raise CommandError(f"The demonstration starts only by `{settings.COMMAND} demo`, in a folder of its own.")


def clear() -> None:
    for left in settings.DATA.glob("fettlebook.sqlite3*"):
        left.unlink()
    for folder in (settings.MEDIA_ROOT, settings.BACKUPS):
        shutil.rmtree(folder, ignore_errors=True)
