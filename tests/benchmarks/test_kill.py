"""Fifty kills at random moments while people log steps with photos, on SQLite and, where POSTGRESQL_SERVER names one
on PostgreSQL."""

import os
import time
import uuid

import psycopg
import pytest

from tests.under_load import Yard, killed_again_and_again

KILLS = int(os.environ.get("KILLS", "50"))


@pytest.mark.parametrize("database", ["sqlite", "postgresql"])
def test_kill_loses_nothing(tmp_path, database):
    server = os.environ.get("POSTGRESQL_SERVER", "")
    if database == "postgresql" and not server:
        pytest.skip("POSTGRESQL_SERVER names none")
    url = of_its_own(server) if database == "postgresql" else ""
    yard = Yard(tmp_path, url)
    begun = time.monotonic()
    lost, unsound, stray = killed_again_and_again(yard, KILLS, seed=1)
    print(f"\nfigure kill.{database}.kills {KILLS} kills")
    print(f"figure kill.{database}.acknowledged {len(yard.acknowledged)} entries")
    print(f"figure kill.{database}.lost {len(lost)} entries")
    print(f"figure kill.{database}.unsound {len(unsound)} findings")
    print(f"figure kill.{database}.stray {len(stray)} files_and_processes")
    print(f"figure kill.{database}.seconds {time.monotonic() - begun:.0f} s")
    assert (lost, unsound, stray) == (set(), [], [])
    assert len(yard.acknowledged) > KILLS


def of_its_own(server):
    """A new database on the server."""
    name = f"kills_{uuid.uuid4().hex[:8]}"
    with psycopg.connect(server, autocommit=True) as opened:
        opened.execute(f"CREATE DATABASE {name}")
    return f"{server.rpartition('/')[0]}/{name}"
