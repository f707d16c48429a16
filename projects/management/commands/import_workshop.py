"""A workshop of another installation, read in as the same workshop."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from finishing.workshops.actions.audit import note
from finishing.workshops.models import AuditEntry, User
from projects.keeping.actions.workshop_in import NotAWorkshop, person_named, read_workshop


class Command(BaseCommand):
    help = "Read in the file that export_workshop, or the owner's page, made in another installation."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--owner", required=True, help="the name to sign in with of whoever is to own it here")

    def handle(self, *args: Any, file: Path, owner: str, **options: Any) -> None:
        try:
            with file.open("rb") as opened, transaction.atomic():
                person = User.objects.filter(username=owner).first()
                if person is None:  # the one of the file, where it knows that name
                    person = User.objects.create_user(owner, **person_named(opened, owner))
                workshop = read_workshop(opened, keeper=person, trusted=True)
        except NotAWorkshop as error:
            raise CommandError(f"Nothing was read in. {error}") from error
        except OSError as error:
            raise CommandError(f"Nothing was read in: {error}.") from error
        note(
            AuditEntry.What.BROUGHT, by=person, workshop=workshop, about=f"workshop {workshop}", name="the command line"
        )
        self.stdout.write(f"{workshop} is here, owned by {person}.")
        if not person.has_usable_password():
            self.stdout.write(f"To sign in, {person} needs a password: say password_link {owner}.")
