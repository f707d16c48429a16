#!/usr/bin/env python
import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "projects.settings")
    if sys.argv[1:2] == ["demo"]:  # the demo keeps to a folder and a database of its own
        from projects.settings import choose_demo

        choose_demo()

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
