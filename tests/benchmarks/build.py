"""`python -m tests.benchmarks.build PIECES`: a made-up workshop in the data folder, told as a line of JSON."""

import json
import sys

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.utils import timezone  # noqa: E402

from tests.workshops_at_work import workshop_at_work  # noqa: E402

if __name__ == "__main__":
    call_command("migrate", verbosity=0)
    made = workshop_at_work(int(sys.argv[1]), timezone.now())
    racks = [[str(piece.pk) for piece in rack] for rack in made.racks]
    print(json.dumps({"session": made.client().cookies["sessionid"].value, "pages": made.pages, "racks": racks}))
