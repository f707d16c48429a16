#!/usr/bin/env python
import os
import sys
from pathlib import Path

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "projects.settings")
    if sys.argv[1:2] == ["demo"]:
        # Set before the settings are read: the demo keeps to a folder and a database of its own.
        os.environ["FETTLEBOOK_DATA"] = str(Path(__file__).resolve().parent / ".data" / "demo")
        for elsewhere in ("DATABASE_URL", "FETTLEBOOK_BACKUPS"):
            os.environ.pop(elsewhere, None)

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
