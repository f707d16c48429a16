"""Two servers with a worker each, in folders of their own as if on two machines, on one PostgreSQL and one store that
speaks S3 (moto's): an entry with a photo made on one is seen on the other, a form sent to both is one entry, and
of plans whose worker is killed each is made to its end, by one worker at a time.

POSTGRESQL_SERVER names a server on which a database may be made.
"""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import uuid
from contextlib import ExitStack, contextmanager
from pathlib import Path

import boto3
import psycopg
import pytest
import requests

from tests.benchmarks.served import ROOT, _await
from tests.benchmarks.test_kill import of_its_own
from tests.factories import grey_photo

moto = pytest.importorskip("moto.server", reason="moto is not installed")
PLANS = int(os.environ.get("MACHINES_PLANS", "4"))
PATIENCE = 600  # seconds for all plans, the minute included after which a silent worker is given up


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def server(env, folder):
    port = free_port()
    here = {**env, "FETTLEBOOK_DATA": str(folder)}
    command = [sys.executable, "manage.py", "serve", "--port", str(port)]
    process = subprocess.Popen(command, env=here, cwd=ROOT, stdout=subprocess.DEVNULL)
    try:
        _await(process, port)
        yield process, f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(30)


def worker_of(process):
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    return next(int(pid) for pid in children if b"plan_worker" in Path(f"/proc/{pid}/cmdline").read_bytes())


def test_machines(tmp_path):
    if "POSTGRESQL_SERVER" not in os.environ:
        pytest.skip("POSTGRESQL_SERVER names none")
    url = of_its_own(os.environ["POSTGRESQL_SERVER"])
    store = moto.ThreadedMotoServer(port=0)
    store.start()
    endpoint = "http://{}:{}".format(*store.get_host_and_port())
    keys = {"AWS_ACCESS_KEY_ID": "testing", "AWS_SECRET_ACCESS_KEY": "testing", "AWS_DEFAULT_REGION": "us-east-1"}
    os.environ.update(keys)
    boto3.client("s3", endpoint_url=endpoint).create_bucket(Bucket="yard")
    env = {
        **os.environ,
        **{"DATABASE_URL": url, "S3_BUCKET": "yard", "S3_ENDPOINT": endpoint, "SECRET_KEY": "of both machines" * 4},
        **{"DJANGO_SETTINGS_MODULE": "projects.settings", "PYTHONPATH": str(ROOT)},
    }
    built = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.build", "30"],
        env={**env, "FETTLEBOOK_DATA": str(tmp_path / "built")}, cwd=ROOT, check=True, capture_output=True, text=True,
    )  # fmt: skip
    session = re.search(r'"session": "(\w+)"', built.stdout)[1]
    piece = re.search(r'"piece": "/pieces/([0-9a-f-]+)/"', built.stdout)[1]
    with ExitStack() as stack:
        machines = [stack.enter_context(server(env, tmp_path / name)) for name in ("one", "two")]
        (one, first), (two, second) = machines
        browser = requests.Session()
        browser.cookies.set("sessionid", session)
        entries = rows(url, "SELECT count(*) FROM projects_step")[0][0]
        log_at_both(browser, first, second, piece)
        logged = rows(url, "SELECT count(*) FROM projects_step")[0][0] - entries
        photo = rows(url, "SELECT id FROM projects_photo ORDER BY added_at DESC LIMIT 1")[0][0]
        seen = [browser.get(f"{address}/photos/{photo}/") for address in (first, second)]
        assert seen[0].content == seen[1].content
        assert seen[1].content.startswith(b"\xff\xd8")
        print(f"\nfigure machines.entries_of_a_form_sent_to_both {logged}")
        assert logged == 1
        begun = time.monotonic()
        for number in range(PLANS):
            ask_for_a_plan(browser, machines[number % 2][1])
        os.kill(killed_while_at_work(url, [one, two]), signal.SIGKILL)
        await_all(url)
        states = dict(rows(url, "SELECT state, count(*) FROM projects_planrun WHERE tries > 0 GROUP BY state"))
        tries = [row[0] for row in rows(url, "SELECT tries FROM projects_planrun WHERE tries > 0 ORDER BY tries")]
        print(f"figure machines.plans {sum(states.values())}\nfigure machines.done {states.get('done', 0)}")
        print(f"figure machines.made_once_more {sum(tried == 2 for tried in tries)}")
        print(f"figure machines.seconds {time.monotonic() - begun:.0f} s")
        assert states == {"done": PLANS}
        assert tries == [1] * (PLANS - 1) + [2]
    store.stop()


def rows(url, query):
    with psycopg.connect(url.replace("postgres://", "postgresql://")) as asked:
        return asked.execute(query).fetchall()


def sent(browser, address, page, **typed):
    """As a form of that page is sent."""
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', browser.get(f"{address}{page}").text)[1]
    return {"csrfmiddlewaretoken": token, **typed}


def log_at_both(browser, first, second, piece):
    form = {"key": str(uuid.uuid4()), "kind": "noted", "note": "seen from two", "pieces": piece}
    form["happened_at"] = time.strftime("%Y-%m-%dT%H:%M", time.gmtime(time.time() - 86400))
    for address in (first, second):
        answer = browser.post(
            f"{address}/log/",
            data=sent(browser, address, f"/log/?piece={piece}", **form),
            files={"photos": ("yard.jpg", grey_photo(), "image/jpeg")},
        )
        assert answer.status_code == 200, answer.status_code


def ask_for_a_plan(browser, address):
    """Of all open projects."""
    answer = browser.post(f"{address}/plan/run/", data=sent(browser, address, "/plan/"))
    assert answer.status_code == 200, answer.status_code


def killed_while_at_work(url, processes):
    """One of two workers once both are busy."""
    until = time.monotonic() + PATIENCE
    busy = "SELECT count(*) FROM projects_planrun WHERE state = 'running' AND alive_at > now() - interval '20 s'"
    while time.monotonic() < until:
        if rows(url, busy)[0][0] == 2:
            return worker_of(processes[0])
        time.sleep(0.1)
    raise AssertionError("the workers were never busy both")


def await_all(url):
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        if not rows(url, "SELECT 1 FROM projects_planrun WHERE state IN ('waiting', 'running')"):
            return
        time.sleep(1)
    raise AssertionError("plans are still waited for")
