"""The command `fettlebook`, and manage.py in a clone: where the data lies, and that the demonstration has its own."""

import os
import sys
from pathlib import Path

ABOVE = Path(__file__).resolve().parent.parent
CLONE = (ABOVE / "manage.py").exists()
SHIPPED = ABOVE if CLONE else ABOVE / "projects" / "shipped"  # templates and fixtures; a wheel has them in the package
COMMAND = "python manage.py" if CLONE else "fettlebook"


def usual_data() -> Path:
    """In a clone beside the code; else in the person's own folder, wherever the command was given."""
    return ABOVE / ".data" if CLONE else Path.home() / ".fettlebook"


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "projects.settings")
    if sys.argv[1:2] == ["demo"]:
        # Set before the settings are read: the demo keeps to a folder and a database of its own.
        os.environ["FETTLEBOOK_DATA"] = str(usual_data() / "demo")
        for elsewhere in ("DATABASE_URL", "FETTLEBOOK_BACKUPS"):
            os.environ.pop(elsewhere, None)

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
