"""The server as a person starts it: its first link, a busy port, and its end by Ctrl-C."""

import os
import re
import signal
import socket
import stat
import subprocess
import sys
import time
import zipfile
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
import requests
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from projects.keeping.actions.backups import want_restore
from projects.keeping.domain import BEFORE_UPDATE, DAILY, backups_in, progress_of
from projects.management.commands import _server
from projects.management.commands._files import data_folder

ROOT = Path(__file__).resolve().parents[3]


def started(folder):
    """A real server on a folder of its own and any free port, and the lines it said until it was ready."""
    environment = {**os.environ, "FETTLEBOOK_DATA": str(folder), "DATABASE_URL": "", "PYTHONUNBUFFERED": "1"}
    run = [sys.executable, "manage.py", "serve", "--port", "0"]
    server = subprocess.Popen(run, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
    said = []
    for line in server.stdout:
        said.append(line.strip())
        if "Ctrl-C" in line:
            break
    return server, said


@contextmanager
def serving(folder):
    """A server that ends by Ctrl-C, pressed by somebody impatient; gives the lines it said."""
    server, said = started(folder)
    with server:
        try:
            yield said
        finally:
            server.send_signal(signal.SIGINT)
            time.sleep(0.2)
            server.send_signal(signal.SIGTERM)
            said.append(server.stdout.read().strip())
    assert server.returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="a console's Ctrl-C cannot be sent to one process there")
def test_the_first_start_prints_a_link_that_stays_until_it_is_used(tmp_path):
    with serving(tmp_path) as said:
        link = re.search(r"http://127\.0\.0\.1:\d+(/start/[\w-]+/)", said[0])
        page = requests.get(link[0], timeout=20)
        assert page.status_code == 200
        assert "Begin a workshop" in page.text
        style = requests.get(link[0].replace(link[1], "/static/projects/site.css"), timeout=20)
        assert style.headers["Content-Type"].startswith("text/css")
        hashed = requests.get(
            link[0].replace(link[1], re.search(r'href="(/static/\S+\.css)"', page.text)[1]), timeout=20
        )
        assert hashed.text == style.text
        assert hashed.headers["Content-Encoding"] == page.headers["Content-Encoding"] == "gzip"
        assert {"public", "immutable"} <= set(hashed.headers["Cache-Control"].split(", "))
        foreign = requests.get(link[0], headers={"Host": "elsewhere.example"}, timeout=20)
        assert foreign.status_code == 400
    assert said[-1] == "Stopped."
    with serving(tmp_path) as again:
        assert link[1] in again[0]


def workers_of(server):
    """The processes that this one started, read from the system's table of them."""
    table = subprocess.run(["ps", "-ww", "-eo", "pid,ppid,args"], capture_output=True, text=True, check=True).stdout
    rows = [line.split(maxsplit=2) for line in table.splitlines()[1:]]
    return [int(pid) for pid, parent, args in rows if parent == str(server.pid) and "plan_worker" in args]


def until(seen, seconds=30):
    """What `seen` gives once it gives something."""
    for _ in range(seconds * 10):
        if answer := seen():
            return answer
        time.sleep(0.1)
    raise AssertionError(f"not seen within {seconds} s")


@pytest.mark.skipif(sys.platform == "win32", reason="the system's table of processes is read with ps")
def test_a_killed_worker_has_a_successor_and_none_outlives_a_killed_server(tmp_path):
    server, _ = started(tmp_path)
    with server:
        try:
            (first,) = until(lambda: workers_of(server))
            os.kill(first, signal.SIGKILL)
            (second,) = until(lambda: [pid for pid in workers_of(server) if pid != first])
        finally:
            server.kill()
        until(lambda: not Path(f"/proc/{second}").exists() or "Z" in Path(f"/proc/{second}/stat").read_text())


@pytest.mark.skipif(sys.platform == "win32", reason="a console's Ctrl-C cannot be sent to one process there")
def test_an_update_begins_with_a_backup_a_day_has_one_and_either_is_put_back_while_the_pages_stay(tmp_path, settings):
    """A folder of an older version, served by this one."""
    with zipfile.ZipFile(ROOT / "fixtures" / "backups" / "first-house.zip") as older:
        older.extractall(tmp_path)
    settings.DATA, settings.BACKUPS = tmp_path, tmp_path / "backups"
    with serving(tmp_path) as said:
        assert said[0] == "An update: a backup comes first …"
        address = re.search(r"http://127\.0\.0\.1:\d+/", "".join(said))[0]
        until(lambda: len(backups_in(settings.BACKUPS)) == 2)
        daily, before = backups_in(settings.BACKUPS)
        assert (daily.why, before.why) == (DAILY, BEFORE_UPDATE)
        want_restore(before, by="owner")
        until(lambda: "put back" in progress_of(settings.BACKUPS, timezone.now()).words)
        assert requests.get(address, timeout=20).url.startswith(f"{address}sign-in/")
    (aside,) = tmp_path.glob("before-restore-*")
    assert {path.name for path in aside.iterdir()} >= {"fettlebook.sqlite3", "media"}
    assert not list(settings.BACKUPS.glob("*.unfinished")) + list(settings.BACKUPS.glob("*.snapshot"))
    call_command("verify", daily.path)
    call_command("verify", before.path)


def test_a_busy_port_is_told_before_anything_is_touched(tmp_path, settings):
    settings.DATA = tmp_path / "data"
    with closing(socket.socket()) as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} .* cannot be had .* --port"):
            call_command("serve", port=port)
    assert not settings.DATA.exists()


@pytest.mark.parametrize(("host", "port"), [("no.such.host.invalid", 0), ("127.0.0.1", 99999)])
def test_an_address_that_cannot_be_is_told(host, port):
    with pytest.raises(CommandError, match="cannot be had"):
        _server.take_port(host, port)


def test_a_host_by_name_is_allowed_by_that_name_and_everywhere_by_this_machine_s_names(monkeypatch):
    monkeypatch.setattr(_server, "address_on_network", lambda: "10.0.0.5")
    monkeypatch.setattr(_server.socket, "gethostname", lambda: "anvil")
    assert _server.names_of("10.0.0.7") == ["10.0.0.7"]
    assert _server.names_of("::1") == ["[::1]"]
    assert _server.names_of("0.0.0.0") == ["anvil", "anvil.local", "10.0.0.5"]
    assert _server.shown_names("0.0.0.0") == ["127.0.0.1", "10.0.0.5"]


def test_a_data_folder_that_cannot_be_made_is_told(tmp_path, settings):
    (tmp_path / "file").touch()
    settings.DATA = tmp_path / "file" / "data"
    with pytest.raises(CommandError, match="cannot be made"), data_folder():
        pass


def test_a_second_copy_on_the_same_folder_is_told(tmp_path, settings):
    settings.DATA = tmp_path
    with data_folder(), pytest.raises(CommandError, match="Another copy"), data_folder():
        pass
    with data_folder():
        assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o700


def test_the_demonstration_deletes_nothing_outside_its_own_folder(tmp_path, settings):
    settings.DATA = tmp_path
    kept = tmp_path / "fettlebook.sqlite3"
    kept.touch()
    with pytest.raises(CommandError, match="folder of its own"):
        call_command("demo", port=0)
    assert kept.exists()
