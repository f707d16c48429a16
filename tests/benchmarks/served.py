"""The real server on a made-up workshop in a data folder of its own."""

import json
import math
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import requests

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 240  # seconds until the server answers, where others work on the machine too


@dataclass
class Served:
    port: int
    environment: dict[str, str]
    session: str  # of the owner, signed in
    pages: dict[str, str]
    racks: list[list[str]]
    process: "subprocess.Popen[bytes] | None" = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(command, env=self.environment, cwd=ROOT, stdout=subprocess.DEVNULL)
        _await(self.process, self.port)

    def stop(self) -> None:
        if self.process:
            self.process.terminate()
            self.process.wait(30)
        self.process = None

    def worked(self) -> float:
        """Seconds of a processor that the server's own process has taken so far; NaN where the system does not say."""
        stat = Path(f"/proc/{self.process.pid if self.process else 0}/stat")
        if not stat.exists():
            return math.nan
        user, system = stat.read_text().rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

    def browser(self) -> requests.Session:
        """As a browser asks: it keeps its cookies and takes compressed pages."""
        asking = requests.Session()
        asking.cookies.set("sessionid", self.session)
        return asking


@contextmanager
def served(pieces: int, folder: Path, database: str = "") -> Iterator[Served]:
    """A workshop of so many pieces, served; `database` is an address as DATABASE_URL has it, "" for SQLite."""
    here = {"FETTLEBOOK_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "projects.settings", "PYTHONPATH": str(ROOT)}
    env = {**os.environ, **here, **({"DATABASE_URL": database} if database else {})}
    built = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.build", str(pieces)],
        env=env,
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = Served(port, env, **json.loads(built.stdout.splitlines()[-1]))
    try:
        server.start()
        yield server
    finally:
        server.stop()


def _await(server: "subprocess.Popen[bytes]", port: int) -> None:
    """Until it listens; no page is asked for, so that it is still cold."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until and server.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise RuntimeError("The server does not listen.")
