"""What differs between the two databases, on the other one: the guarded log, and forms that look for rows taken."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import skip_or_fail

ROOT = Path(__file__).resolve().parent.parent
CHOSEN = ["tests/projects/models/test_log_guard.py", "tests/finishing/views/test_settings.py"]


@pytest.mark.postgres
def test_the_log_and_the_forms_hold_on_postgresql():
    url = os.environ.get("FETTLEBOOK_POSTGRES")
    if not url:
        skip_or_fail("postgres", "FETTLEBOOK_POSTGRES names no PostgreSQL server to try")
    run = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *CHOSEN]
    ended = subprocess.run(
        run, cwd=ROOT, env={**os.environ, "DATABASE_URL": url}, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stdout[-4000:] + ended.stderr[-1000:]
