"""For somebody who has lost the phone and the recovery codes."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from finishing.workshops.actions.audit import note
from finishing.workshops.actions.one_time_codes import end_codes
from finishing.workshops.models import AuditEntry, User


class Command(BaseCommand):
    help = "Switch somebody's one-time codes off: the password alone lets them in, until they switch them on again."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("name", help="the name to sign in with")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        person = User.objects.filter(username=name).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {name!r}; the name minds capital letters.")
        end_codes(person)
        note(AuditEntry.What.CODES_OFF, by=person, name="the command line", about=f"of {person}")
        self.stdout.write(f"{person} signs in by the password alone.")
