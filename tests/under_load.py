"""A real server in a folder of its own, people who log steps and photos on it, and what is there once it was killed."""

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
import uuid
from contextlib import closing
from pathlib import Path

import psycopg
import requests

from projects.keeping.actions.unclaimed import YOUNG
from tests import factories

ROOT = Path(__file__).resolve().parents[1]
PEOPLE = 3

# Makes a workshop with two pieces and an owner who is signed in, and says what a test must know of them.
BEGIN = """
import json, django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from django.test import Client
from tests import factories
workshop = factories.WorkshopFactory(weather_service="none")
owner = factories.MembershipFactory(workshop=workshop, user__username="owner", role="owner").user
first = factories.PieceFactory(part__design__workshop=workshop)
second = factories.PieceFactory(part=first.part, project=first.project)
client = Client()
client.force_login(owner)
print(json.dumps([client.cookies["sessionid"].value, str(first.pk), str(second.pk)]))
"""


class Yard:
    """A data folder with a workshop in it, and the entries that its people were told are kept."""

    def __init__(self, folder: Path, database_url: str = ""):
        self.folder, self.database_url = folder, database_url
        self.environment = {
            **os.environ,
            "FETTLEBOOK_DATA": str(folder),
            "DATABASE_URL": database_url,
            "FETTLEBOOK_BACKUPS": "",
            "DJANGO_SETTINGS_MODULE": "projects.settings",
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
        }
        self.environment.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
        self.session, *self.pieces = json.loads(self.run(sys.executable, "-c", BEGIN))
        self.sent: list[uuid.UUID] = []
        self.acknowledged: list[uuid.UUID] = []
        self.refused: list[uuid.UUID] = []
        self.over = threading.Event()

    def run(self, *command):
        ended = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False)
        assert ended.returncode == 0, ended.stderr
        return ended.stdout

    def command(self, *words):
        return [sys.executable, "manage.py", *words]

    def start(self):
        """Until it says where it is."""
        self.server = subprocess.Popen(
            self.command("serve", "--port", "0"),
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=(self.folder / "said.log").open("ab"),
            text=True,
        )
        for line in self.server.stdout:
            if line.startswith("Fettlebook: "):
                self.address = line.split()[1].rstrip("/")
            if "Ctrl-C" in line:
                return
        raise AssertionError((self.folder / "said.log").read_text(errors="replace")[-2000:])

    def kill(self):
        """As a pulled plug takes it: no farewell."""
        self.server.kill()
        self._ended()

    def stop(self):
        self.server.send_signal(signal.SIGINT)
        self._ended()

    def _ended(self):
        self.server.wait(30)
        self.server.stdout.close()

    def work(self):
        """People log until `over`; gives their threads once the first entry of them is acknowledged."""
        self.over.clear()
        before, latest = len(self.acknowledged), time.monotonic() + 60
        people = [threading.Thread(target=self._log, args=(number,)) for number in range(PEOPLE)]
        for person in people:
            person.start()
        while len(self.acknowledged) == before:
            assert not self.refused
            assert time.monotonic() < latest
            time.sleep(0.01)
        return people

    def _log(self, number):
        browser = requests.Session()
        browser.cookies.set("sessionid", self.session)
        page, photo = f"{self.address}/log/", factories.grey_photo()
        try:
            browser.get(page, timeout=20)
            while not self.over.is_set():
                key = uuid.uuid4()
                self.sent.append(key)
                form = {"key": str(key), "kind": "noted", "pieces": self.pieces, "note": f"of person {number}"}
                form["happened_at"] = f"{time.strftime('%Y-%m-%dT%H:%M', time.gmtime())}"
                answer = browser.post(
                    page,
                    data=form,
                    files={"photos": ("yard.png", photo)},
                    headers={"X-CSRFToken": browser.cookies["csrftoken"]},
                    allow_redirects=False,
                    timeout=20,
                )
                (self.acknowledged if answer.status_code == 302 else self.refused).append(key)
        except (requests.ConnectionError, requests.Timeout):
            pass  # the server is gone

    def rows(self, query):
        if self.database_url:
            with psycopg.connect(self.database_url) as opened:
                return opened.execute(query).fetchall()
        with closing(sqlite3.connect(self.folder / "fettlebook.sqlite3")) as opened:
            return opened.execute(query).fetchall()

    def entries(self):
        return {str(uuid.UUID(str(pk))) for (pk,) in self.rows("SELECT id FROM projects_step")}

    def lost(self):
        """Entries that somebody was told are kept and that are not there, and such as are there for one piece only."""
        there = self.entries()
        of_key = {key: [str(uuid.uuid5(key, piece)) in there for piece in self.pieces] for key in self.sent}
        gone = [key for key in self.acknowledged if not all(of_key[key])]
        return gone + [key for key, kept in of_key.items() if any(kept) and not all(kept)]

    def unsound(self):
        """What the database itself finds wrong."""
        if self.database_url:
            return []  # it answers only once it has recovered, and it keeps its foreign keys itself
        sound, astray = self.rows("PRAGMA integrity_check"), self.rows("PRAGMA foreign_key_check")
        return [*(row for row in sound if row != ("ok",)), *astray]

    def stray_files(self):
        """Photos that no row names, and what belongs to no finished work."""
        named = {
            name for column in ("image", "thumbnail") for (name,) in self.rows(f"SELECT {column} FROM projects_photo")
        }
        media = self.folder / "media"
        photos = [path for path in media.rglob("*") if path.is_file() and str(path.relative_to(media)) not in named]
        return photos + [
            path for path in self.folder.rglob("*") if path.name.endswith((".unfinished", ".snapshot", ".new"))
        ]

    def grow_older(self, seconds):
        """The files, as if they had been written so long before."""
        for path in (self.folder / "media").rglob("*"):
            written = path.stat().st_mtime - seconds
            os.utime(path, (written, written))

    def processes(self):
        """Those that still work on this folder."""
        mark = f"FETTLEBOOK_DATA={self.folder}".encode()
        found = []
        for process in Path("/proc").glob("[0-9]*"):
            try:
                if mark in (process / "environ").read_bytes().split(b"\0"):
                    found.append(int(process.name))
            except OSError:
                continue  # ended meanwhile
        return found

    def processes_left(self, seconds=60):
        """Those that have not ended by themselves after so long."""
        until = time.monotonic() + seconds
        while (left := self.processes()) and time.monotonic() < until:
            time.sleep(0.1)
        return left


def killed_again_and_again(yard, kills, seed, longest=1.5):
    """Kill the server so many times at random moments under load; what was lost, unsound or left after any of them."""
    moments = random.Random(seed)
    lost, unsound, processes = set(), [], []
    for _ in range(kills):
        yard.start()
        people = yard.work()
        time.sleep(moments.uniform(0, longest))
        yard.kill()
        yard.over.set()
        for person in people:
            person.join()
        processes += yard.processes_left()
        lost |= set(yard.lost())
        unsound += yard.unsound()
    if yard.database_url:  # where others may serve the same workshop, a young file may yet get its row
        yard.grow_older(YOUNG.total_seconds() + 1)
    yard.start()  # what a kill left between a file and its row is cleared at the next start
    yard.stop()
    lost |= set(yard.lost())
    return lost, unsound, [*yard.stray_files(), *processes, *yard.processes_left()]
