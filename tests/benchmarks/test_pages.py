"""The everyday pages of workshops with 30 to 3,000 pieces at work and ten years of closed projects behind them.

Beside them, in the same run, a plain list of a thousand rows by Django itself. Milliseconds are of one processor's
work, so that what else runs on the machine does not count, and warm: the best of a few. A cold page and a phone's
are of the real server, by the clock on the wall.
"""

import gc
import os
import time
import uuid
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.http import HttpResponse
from django.template import Context, Engine
from django.test import override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import path
from playwright.sync_api import sync_playwright

from finishing.air.actions.weather import keep_forecast
from projects.demo.air import Diary, Weather
from projects.management.commands._server import let_garbage_wait
from projects.record.models import Piece
from tests.benchmarks.served import served
from tests.conftest import CHROMIUM
from tests.workshops_at_work import workshop_at_work

NOW = datetime(2026, 5, 12, 9, 20, tzinfo=UTC)
SIZES = [int(size) for size in os.environ.get("PAGES_SIZES", "30 300 1000 3000").split()]
TIMES = 3  # that a page is asked for warm; the best counts
PHONE = {"latency": 150, "downloadThroughput": 1.6e6 / 8, "uploadThroughput": 750e3 / 8}  # slow 4G
SLOWER = 4  # times, a phone's processor
ROWS = Engine().from_string(
    "<!doctype html><table>{% for row in rows %}<tr><td><a href='/pieces/{{ row.pk }}/'>{{ row.mark }}</a></td>"
    "<td>{{ row.part.name }}</td><td>{{ row.project.name }}</td><td>{{ row.place.name }}</td></tr>{% endfor %}</table>"
)


def plain_list(request):
    """As a tutorial would have it."""
    rows = Piece.objects.filter(project__closed=False).select_related("part", "project", "place")[:1000]
    return HttpResponse(ROWS.render(Context({"rows": rows})))


urlpatterns = [path("", plain_list)]


def milliseconds(work, times=TIMES):
    """The least of a few, of this process alone."""
    taken = []
    for _ in range(times):
        begin = time.process_time()
        answer = work()
        taken.append(1000 * (time.process_time() - begin))
    return min(taken), answer


def asked(client, address):
    """A page warm: its milliseconds, queries and uncompressed kilobytes."""
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        client.get(address)
        count = len(queries)
    took, response = milliseconds(lambda: client.get(address))
    assert response.status_code == 200
    return took, count, len(response.content) / 1000


@pytest.fixture
def as_served():
    """Python looks for garbage as it does in the server."""
    before = gc.get_threshold()
    let_garbage_wait()
    yield
    gc.set_threshold(*before)
    gc.unfreeze()


@pytest.fixture
def at_work(db, tmp_path, settings, as_served):
    settings.MEDIA_ROOT = tmp_path

    def made(pieces):
        return workshop_at_work(pieces, NOW)

    with time_machine.travel(NOW, tick=False):
        yield made


@pytest.mark.parametrize("pieces", SIZES)
def test_pages(at_work, pieces):
    made = at_work(pieces)
    client = made.client()
    print()
    for page, address in made.pages.items():
        took, queries, size = asked(client, address)
        name = f"pages.{pieces}.{page}"
        print(f"figure {name}.ms {took:.0f} ms\nfigure {name}.queries {queries} \nfigure {name}.kb {size:.1f} kB")
        if pieces == 1000 and page == "day_sheet":
            day_sheet = took
    if pieces == 1000:
        with override_settings(ROOT_URLCONF=__name__):
            plain, _ = milliseconds(lambda: client.get("/"), 5)
        print(f"figure pages.plain_list_of_1000.ms {plain:.0f} ms")
        print(f"figure pages.1000.day_sheet.to_plain_list {day_sheet / plain:.1f} times")
        after_changes(made, client)


def after_changes(made, client):
    """What a helper meets: a rack of six just logged, and a forecast just come."""
    logged, then = [], []
    for number, rack in enumerate(rack for rack in made.racks if len(rack) == 6):
        took, response = milliseconds(lambda rack=rack: client.post("/log/", coat_of(rack, NOW)), 1)
        if response.status_code == 302:
            logged.append(took)
            then.append(milliseconds(lambda: client.get("/"), 1)[0])
        if len(logged) == 5 or number == 40:
            break
    assert len(logged) == 5
    print(f"figure pages.1000.log_post.ms {min(logged):.0f} ms")
    print(f"figure pages.1000.day_sheet.after_entry_ms {min(then):.0f} ms")
    then = []
    for minute in (1, 2, 3):
        come = NOW + timedelta(minutes=minute)
        with time_machine.travel(come, tick=False):
            weather = Weather(Diary(made.workshop, come), seed=40 + minute, wetness=0.4, season=172)
            hours = weather.hours(come, 240)
            keep_forecast(made.workshop, hours, come, issued_at=come, expires_at=come + timedelta(hours=6))
            then.append(milliseconds(lambda: client.get("/"), 1)[0])
    print(f"figure pages.1000.day_sheet.after_forecast_ms {min(then):.0f} ms")


def coat_of(rack, now):
    """The log's form for a coat on a rack, as a helper fills it in."""
    return {
        "key": str(uuid.uuid4()),
        "kind": "coated",
        "pieces": [str(piece.pk) for piece in rack],
        "happened_at": f"{made_local(rack[0], now):%Y-%m-%dT%H:%M}",
        "air_temperature": "18",
        "humidity": "55",
        "surface_temperature": "17",
        "litres": "0.4",
        "minutes": "70",
        "reason": "no other day",
    }


def made_local(piece, now):
    return now.astimezone(piece.workshop.zone)


def test_pages_of_the_real_server(tmp_path):
    with served(1000, tmp_path) as server:
        begin = time.perf_counter()
        response = server.browser().get(server.address + "/", timeout=60)
        cold = 1000 * (time.perf_counter() - begin)
        assert response.status_code == 200
        print(f"\nfigure pages.1000.day_sheet.cold_ms {cold:.0f} ms")
        paint, tap = on_a_phone(server)
        print(f"largest paint {paint:.2f} s, first tap answered {tap:.2f} s")
        print(f"figure pages.1000.day_sheet.phone_s {max(paint, tap):.2f} s")


LARGEST_PAINT = """new Promise(done => new PerformanceObserver(list => {
  const paints = list.getEntries(); done(paints[paints.length - 1].startTime);
}).observe({type: "largest-contentful-paint", buffered: true}))"""


def on_a_phone(server):
    """Seconds from asking for the day sheet to its largest paint, and until a fold tapped at once lies open."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
        context.add_cookies([{"name": "sessionid", "value": server.session, "url": server.address}])
        page = context.new_page()
        devtools = context.new_cdp_session(page)
        devtools.send("Network.enable")
        devtools.send("Network.emulateNetworkConditions", {"offline": False, **PHONE})
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        begin = time.perf_counter()
        page.goto(server.address + "/", wait_until="commit")
        page.locator("main summary").first.tap()
        page.locator("main details[open]").first.wait_for()
        tap = time.perf_counter() - begin
        page.wait_for_load_state("load")
        page.wait_for_timeout(1500)
        paint = page.evaluate(LARGEST_PAINT) / 1000
        browser.close()
    return paint, tap
