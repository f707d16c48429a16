"""The demonstration stands as it is told whenever it is started, and no link in it leads nowhere."""

from collections import Counter
from datetime import UTC, datetime
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import Resolver404, resolve, reverse

from finishing.air.models import Forecast, Reading
from finishing.workshops.models import User
from projects.day.domain import Matter, matters, paint_jobs
from projects.demo.actions import PASSWORD, build_demo
from projects.record.models import Follower, Photo, Piece, Step
from projects.record.models.stages import Next, Stage
from projects.work.domain.outlook import outlooks

pytestmark = pytest.mark.django_db

LONDON = ZoneInfo("Europe/London")
STARTS = {
    "a morning in May": datetime(2026, 5, 12, 10, 20),
    "in the evening itself": datetime(2026, 7, 15, 16, 40),
    "at three in the night": datetime(2026, 6, 11, 3, 0),
    "a Monday before Sunday's gap is over": datetime(2026, 12, 28, 8, 5),
    "the Sunday on which clocks go forward": datetime(2026, 3, 29, 12, 6),
    "the Sunday on which clocks go back": datetime(2026, 10, 25, 1, 30),
}
ONE_START = STARTS["a morning in May"]


@pytest.fixture
def start(settings, tmp_path):
    """Builds the demonstration at a moment of its own clock; the clock stands there till the test is over."""
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(datetime(2000, 1, 1, tzinfo=UTC), tick=False) as clock:

        def build(moment):
            now = moment.replace(tzinfo=LONDON).astimezone(UTC)
            clock.move_to(now)
            return build_demo(now), now

        yield build


def ahead_of(workshop, now):
    pieces = Piece.objects.of(workshop).at_work().with_log().in_order()
    return outlooks(workshop, list(pieces), now)


@pytest.mark.parametrize("moment", STARTS.values(), ids=STARTS.keys())
def test_it_stands_as_it_is_told_whenever_it_is_started(start, moment):
    workshop, now = start(moment)
    by_mark = {outlook.piece.mark: outlook for outlook in ahead_of(workshop, now)}

    blasted = by_mark["2-FA"]
    assert blasted.state.bare_since.astimezone(LONDON).hour >= 15
    assert 0 < blasted.bare_left < 4
    assert by_mark["FR"].in_closed_zone
    assert by_mark["WT"].metal_now < by_mark["WT"].air_now
    assert {mark for mark, outlook in by_mark.items() if outlook.overdue} == {"2-TR", "2-TB"}
    wet = {mark for mark, o in by_mark.items() if o.state.wet_at or (o.state.is_bare and o.sweats)}
    assert wet == {"2-TR"}
    attention = {mark: set(matters(outlook)) for mark, outlook in by_mark.items()}
    assert {mark: what for mark, what in attention.items() if what} == {
        "UA": {Matter.BLAST_AGAIN},
        "CJ-2": {Matter.BLAST_AGAIN},
        "FR": {Matter.CLOSED_ZONE},
        "LA": {Matter.TOUCH_UP},
        "WT": {Matter.SWEATS},
        "TB": {Matter.PRESERVED},
        "CK": {Matter.PRESERVED},
        "1-TB": {Matter.PRESERVED},
        "BB": {Matter.NO_SYSTEM},
    }
    all_at_work_within_hours(workshop, now)
    only_these_are_outside()


def all_at_work_within_hours(workshop, now):
    for step in Step.objects.all():
        local = step.happened_at.astimezone(LONDON)
        assert step.happened_at <= now, step
        assert workshop.work_from <= local.time() <= workshop.work_until, step
        assert workshop.work_days[local.weekday()] == "1", step
    assert Reading.objects.filter(taken_at__gt=now).count() == 0


def only_these_are_outside():
    """A wrinkle that had to come, and a coat in the damp with its reason; dampness on the evening needs none."""
    outside = {(step.piece.mark, step.kind): step.reason for step in Step.objects.filter(verdict="outside")}
    assert outside.pop(("2-FA", "blasted"), "") == ""
    assert outside == {("FW", "coated"): "no other day", ("1-TQ", "coated"): "no other day"}


def test_it_has_pieces_at_every_stage_and_every_kind_of_entry_that_it_tells_of(start):
    workshop, now = start(ONE_START)
    ahead = ahead_of(workshop, now)
    assert len(ahead) == 31 + 1  # one casting came good on the order
    stages = Counter(outlook.state.stage for outlook in ahead)
    assert set(stages) == set(Stage)
    waiting_for_letters = [o.piece.mark for o in ahead if o.state.next == Next.LETTER]
    assert sorted(waiting_for_letters) == ["1-FA", "1-FB", "FL"]
    assert any(job.ready for job in paint_jobs(ahead))
    assert {"came clean", "wrinkled", "touched up", "voided", "bloom", "preserved"} <= kinds()
    assert Step.objects.filter(verdict="not checked", kind="coated").count() >= 5
    assert Photo.objects.count() >= 5
    assert set(Reading.objects.values_list("source", flat=True)) == {"logger", "typed"}
    assert set(Forecast.objects.values_list("service", flat=True)) == {"invented"}


def kinds():
    return set(Step.objects.values_list("kind", flat=True))


# Every link


class Links(HTMLParser):
    """The addresses that a page leads to, and the pictures that it shows."""

    WHERE = (("a", "href"), ("img", "src"), ("image", "href"))

    def __init__(self, text):
        super().__init__()
        self.found = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.found |= {given[name] for where, name in self.WHERE if where == tag and given.get(name)}
        self.found |= {given["hx-get"]} if given.get("hx-get") else set()


MOST_OF_A_KIND = 2  # pages of one name that are opened; benchmarks/ open more of them


class Walk:
    """Opens a page and what it leads to, as one person."""

    def __init__(self, client, most=MOST_OF_A_KIND):
        self.client, self.most, self.opened, self.seen, self.wrong = client, most, Counter(), set(), []

    def from_page(self, address):
        waiting = [(address, "the start")]
        while waiting:
            address, found_on = waiting.pop()
            if address not in self.seen:
                self.seen.add(address)
                waiting += [(link, address) for link in self.open(address, found_on)]
        return self

    def open(self, address, found_on):
        try:
            name = resolve(urlsplit(address).path).url_name
        except Resolver404:
            self.wrong.append((address, "leads nowhere", found_on))
            return []
        if self.opened[name] >= self.most:
            return []
        self.opened[name] += 1
        answer = self.client.get(address)
        if answer.status_code in (301, 302):
            return [urljoin(address, answer.url)]
        if answer.status_code != 200:
            self.wrong.append((address, answer.status_code, found_on))
        return self.links(answer, address) if answer.get("Content-Type", "").startswith("text/html") else []

    def links(self, answer, address):
        absolute = {urldefrag(urljoin(address, link)).url for link in Links(answer.content.decode()).found}
        inside = {link for link in absolute if not urlsplit(link).scheme and not link.startswith("/static/")}
        return sorted(inside)


def no_link_leads_nowhere(most=MOST_OF_A_KIND):
    """For anybody, from the day sheet on."""
    for username in ("owner", "helper", "guest"):
        client = Client()
        assert client.login(username=username, password=PASSWORD)
        walk = Walk(client, most).from_page(reverse("day-sheet"))
        assert walk.wrong == [], username
        assert {"day-sheet", "project", "piece", "coating", "system", "weather", "calculator"} <= set(walk.opened)
    assert User.objects.count() == 3


def test_no_link_leads_nowhere_for_anybody(start):
    start(ONE_START)
    no_link_leads_nowhere()


def test_which_month_answers_from_the_years_it_brings(start):
    """At once, for the workshop's own paint and a place in the weather: summer is better than winter."""
    start(ONE_START)
    client = Client()
    assert client.login(username="owner", password=PASSWORD)
    outcome = client.get(reverse("which-month")).context["outcome"]
    assert len(outcome.of.rows) == 10
    assert not outcome.of.system.from_library
    assert outcome.of.place.outdoors
    assert outcome.whole.best
    assert not outcome.whole.best[0].whole_year


def test_a_customer_sees_their_project_and_no_more(start):
    start(ONE_START)
    walk = Walk(Client()).from_page(reverse("follow", args=[Follower.objects.get().token]))
    assert walk.wrong == []
    assert walk.opened["follow"] == 1
    assert walk.opened["follow-thumbnail"]
    asked_to_sign_in, open_to_anybody = {"day-sheet", "sign-in"}, {"sources", "calculators", "calculator"}
    assert set(walk.opened) <= {"follow", "follow-photo", "follow-thumbnail", *asked_to_sign_in, *open_to_anybody}
