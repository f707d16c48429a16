"""A link by which somebody chooses a new password, for whoever runs the server to hand over."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from finishing.workshops.actions.audit import note
from finishing.workshops.actions.passwords import password_link
from finishing.workshops.models import AuditEntry, User


class Command(BaseCommand):
    help = "Print a link for a new password; it works once, for a day."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("name", help="the name to sign in with")
        parser.add_argument("--address", default="http://127.0.0.1:8000", help="where the site is reached")

    def handle(self, *args: Any, name: str, address: str, **options: Any) -> None:
        person = User.objects.filter(username=name).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {name!r}; the name minds capital letters.")
        note(AuditEntry.What.RESET_LINK, by=person, name="the command line", about=f"for {person}")
        self.stdout.write(address.rstrip("/") + password_link(person))
