"""Twenty people on the real server, a thousand pieces: each looks at a page, thinks for five seconds, looks at another.

Meanwhile somebody logs a coat on a rack of six every ten seconds, with the air as he reads it there, and a plan is
being made. Times are by the clock on the wall, so that
the machine should have nothing else to do. LOAD_SECONDS says for how long (120), LOAD_POSTGRES the address of an empty
PostgreSQL database; without it only SQLite is asked.
"""

import os
import random
import re
import threading
import time
import uuid
from collections import defaultdict
from datetime import datetime
from statistics import quantiles
from zoneinfo import ZoneInfo

import pytest
import requests

from tests.benchmarks.served import served

SECONDS = int(os.environ.get("LOAD_SECONDS", "120"))
PIECES = int(os.environ.get("LOAD_PIECES", "1000"))
PEOPLE, THOUGHT, RACK_EVERY = 20, 5.0, 10.0  # people, seconds, seconds
PAGES = ("day_sheet", "project", "piece", "log_form")
DATABASES = {"sqlite": "", **({"postgresql": os.environ["LOAD_POSTGRES"]} if "LOAD_POSTGRES" in os.environ else {})}
LONDON = ZoneInfo("Europe/London")


class Load:
    def __init__(self, server):
        self.server, self.until = server, time.monotonic() + SECONDS
        self.took, self.errors, self.told, self.logged = defaultdict(list), [], threading.Lock(), 0

    def asked(self, browser, page, address, data=None, fine=(200, 302)):
        """The answer, and how long it took; an error is anything but a page or the way to one."""
        begin = time.perf_counter()
        try:
            method = "POST" if data else "GET"
            answer = browser.request(
                method, self.server.address + address, data=data, timeout=60, allow_redirects=False
            )
            wrong = None if answer.status_code in fine else f"{page}: {answer.status_code}"
        except requests.RequestException as error:
            answer, wrong = None, f"{page}: {type(error).__name__}"
        with self.told:
            self.took[page].append(1000 * (time.perf_counter() - begin))
            self.errors += [wrong] if wrong else []
        return answer

    def look(self, number):
        browser, draw = self.server.browser(), random.Random(number)
        time.sleep(THOUGHT * number / PEOPLE)
        while time.monotonic() < self.until:
            page = draw.choice(PAGES)
            self.asked(browser, page, self.server.pages[page])
            time.sleep(THOUGHT)

    def plan(self):
        browser = self.server.browser()
        token = self.token(self.asked(browser, "plan", "/plan/"))
        self.asked(browser, "plan_run", "/plan/run/", {"csrfmiddlewaretoken": token, "key": str(uuid.uuid4())})

    def log(self):
        browser = self.server.browser()
        for rack in self.server.racks:
            if time.monotonic() >= self.until:
                return
            asked = "&".join(f"piece={piece}" for piece in rack)
            token = self.token(self.asked(browser, "log_form", f"/log/?{asked}&kind=coated"))
            sent = {"csrfmiddlewaretoken": token, "key": str(uuid.uuid4()), "pieces": rack, **coat()}
            answer = self.asked(browser, "log_post", "/log/", sent, fine=(302, 422))
            if answer is not None and answer.status_code == 422:  # no coat comes next on it
                self.took["log_post"].pop()
                continue
            self.logged += 1
            time.sleep(RACK_EVERY)

    @staticmethod
    def token(answer):
        found = answer is not None and re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', answer.text)
        return found[1] if found else ""


def coat():
    """As a helper fills in the log's form, with the air of this minute."""
    return {
        "kind": "coated",
        "happened_at": f"{datetime.now(LONDON):%Y-%m-%dT%H:%M}",
        "air_temperature": "18",
        "humidity": "55",
        "surface_temperature": "17",
        "litres": "0.4",
        "minutes": "70",
        "reason": "no other day",
    }


@pytest.mark.parametrize("database", DATABASES)
def test_load(tmp_path, database):
    with served(PIECES, tmp_path, DATABASES[database]) as server:
        load = Load(server)
        load.asked(server.browser(), "first", "/")
        load.took.clear()
        people = [threading.Thread(target=load.look, args=[number]) for number in range(PEOPLE)]
        others = [threading.Thread(target=load.plan), threading.Thread(target=load.log)]
        for thread in [*people, *others]:
            thread.start()
        worked = server.worked()
        for thread in [*people, *others]:
            thread.join()
        busy = 100 * (server.worked() - worked) / SECONDS
    print(f"\nof the machine: load {os.getloadavg()[0]:.1f}, {load.logged} racks logged")
    print(f"figure load.{database}.server_busy {busy:.0f} % of one processor")
    assert load.logged >= SECONDS / RACK_EVERY / 2
    for page in (*PAGES, "log_post"):
        assert load.took[page]
        p95 = quantiles(load.took[page], n=20)[-1] if len(load.took[page]) > 1 else load.took[page][0]
        print(f"figure load.{database}.{page}.p95_ms {p95:.0f} ms")
    print(f"figure load.{database}.errors {len(load.errors)} ")
    assert not load.errors, load.errors[:5]
