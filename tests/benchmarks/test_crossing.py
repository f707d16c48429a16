"""A workshop goes as a file from SQLite to PostgreSQL and back to SQLite; each time it is the same, row by row and file
by file. POSTGRESQL_SERVER names a server on which a database may be made, CROSSING_PIECES how many pieces it has (30,
1000)."""

import json
import os
import subprocess
import sys
import zipfile

import pytest

from tests.benchmarks.served import ROOT
from tests.benchmarks.test_kill import of_its_own

PIECES = os.environ.get("CROSSING_PIECES", "30")


def test_crossing_to_postgresql_and_back(tmp_path):
    if "POSTGRESQL_SERVER" not in os.environ:
        pytest.skip("POSTGRESQL_SERVER names none")
    houses = {"first": "", "server": of_its_own(os.environ["POSTGRESQL_SERVER"]), "last": ""}
    came = None
    for house, url in houses.items():
        env = {**os.environ, "FETTLEBOOK_DATA": str(tmp_path / house), "DATABASE_URL": url}
        env |= {"DJANGO_SETTINGS_MODULE": "projects.settings", "PYTHONPATH": str(ROOT)}
        if came is None:
            run(env, "-m", "tests.benchmarks.build", PIECES)
        else:
            run(env, "manage.py", "migrate", "--verbosity", "0")
            run(env, "manage.py", "import_workshop", str(came), "--owner", f"owner{PIECES}")
        came = tmp_path / f"{house}.zip"
        run(env, "manage.py", "export_workshop", name_of(env), str(came))
    whole = [contents(tmp_path / f"{house}.zip") for house in houses]
    differences = [
        (house, name)
        for house, other in zip(list(houses)[1:], whole[1:], strict=True)
        for name in whole[0].keys() | other.keys()
        if whole[0].get(name) != other.get(name)
    ]
    print(f"\nfigure crossing.rows {sum(len(rows) for rows in whole[0].values() if isinstance(rows, list))} rows")
    print(f"figure crossing.files {sum(isinstance(content, bytes) for content in whole[0].values())} files")
    print(f"figure crossing.differences {len(differences)} differences")
    assert not differences


def run(env, *words):
    ended = subprocess.run([sys.executable, *words], env=env, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr[-2000:]
    return ended.stdout


def name_of(env):
    """The one workshop there."""
    begin = "import django; django.setup(); from finishing.workshops.models import Workshop"
    return run(env, "-c", f"{begin}; print(Workshop.objects.get().pk)").strip()


def contents(file):
    """Of each table its rows, of each photo and paper its bytes."""
    with zipfile.ZipFile(file) as archive:
        return {
            name: [json.loads(line) for line in archive.read(name).splitlines()]
            if name.startswith("rows/")
            else archive.read(name)
            for name in archive.namelist()
            if name.startswith(("rows/", "files/"))
        }
